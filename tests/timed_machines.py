"""Small machines whose faults show in time only; invented."""

from __future__ import annotations

from probewright import machine
from probewright.machine import Machine

SUPPLY = """\
machine: Bench supply
parts:
  TR1: source mains 9V rms 50Hz series 1R  W1 > W2
  D1: bridge  ac1=W1 ac2=W2 plus=RAW minus=GND
  C1: capacitor 1000u electrolytic  RAW > GND
  R1: resistor 100R  RAW > GND
works:
  quiet: RAW pp at run below 2V
stimuli:
  run: {}
"""

RESET = """\
machine: Reset of an egg timer
parts:
  V1: source 5V series 0.2R  VCC > GND
  R1: resistor 10k  VCC > RC
  D1: diode small-signal  RC > VCC
  C1: capacitor 10u electrolytic  RC > GND
  U1: schmitt hct  in=RC out=RES vcc=VCC gnd=GND
  R2: resistor 4k7  RES > GND
works:
  starts: RES fall through 2.5V at on between 20ms and 200ms; above 250ms = starts late; never = does not start
stimuli:
  on: {power: switch-on rise 2ms, read: 0s..600ms}
"""

STAGE = """\
machine: Stage of a doorbell
parts:
  VP: source 12V series 0.5R  VCC > GND
  V1: source 0V series 600R  IN > GND
  C1: capacitor 10u electrolytic  B > IN
  R1: resistor 47k  VCC > B
  R2: resistor 10k  B > GND
  Q1: npn small-signal gain 100..400  c=C b=B e=E
  R3: resistor 3k3  VCC > C
  R4: resistor 1k  E > GND
works:
  clean: C distortion at tone below 5%; above 8% = distorted
stimuli:
  tone: {V1: sine 0.9V peak 1kHz}
"""

HOLD = """\
machine: Keyer of a fan
parts:
  VP: source 12V series 0.5R  VCC > GND
  VN: source -12V series 0.5R  VEE > GND
  V1: source 2V series 100R  IN > GND
  S1: switch 100R  IN > HOLD
  C1: capacitor 100n leak 200M  HOLD > GND
  U1: opamp offset 1mV  plus=HOLD minus=OUT out=OUT vplus=VCC vminus=VEE
  R1: resistor 10k  OUT > GND
works:
  holds: OUT sag at play from 3ms to 19ms below 50mV; above 100mV = creeps
stimuli:
  play: {S1: pulse open..closed 2ms of 20ms}
"""


def read(text: str) -> Machine:
    return machine.read(text, "made up")
