"""A small supply with a regulator, for tests of what kills a part. Invented."""

RAIL = """
machine: {name}
extras:
  ADAPTOR: source 12V 5% series 0.5R limit 1A  RAW > GND
  LOAD: load 47R  V5 > GND
parts:
  C1: capacitor 470u 20% 16V electrolytic  RAW > GND
  U1: regulator fixed 5V 4%  in=RAW out=V5 com=GND
  C2: capacitor 100u 20% 6.3V electrolytic  V5 > GND
"""
