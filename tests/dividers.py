"""A machine that is quick to practise on, for tests. Invented: a fuse, two dividers, one behind the other."""

DIVIDERS = """\
machine: Two dividers
extras:
  SUPPLY: source 12V 2% series 1R       VIN > GND
known good: [SUPPLY]
parts:
  F1: fuse 0.5A                         VIN > RAW
  R1: resistor 10k                      RAW > MID
  R2: resistor 10k                      MID > GND
  R3: resistor 22k                      MID > OUT
  R4: resistor 47k                      OUT > GND
stimuli:
  idle: {do: switch it on}
works:
  output: OUT dc at idle; below 70% of healthy = low; above 130% of healthy = high
"""
