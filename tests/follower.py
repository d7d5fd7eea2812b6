"""A machine with a part that cannot be had again; invented."""

from __future__ import annotations

FOLLOWER = """
machine: Follower of a tide clock
extras:
  PSU: source 12V 2% series 0.5R limit 1A  VP > GND
known good: [PSU]
rare: [U1]
parts:
  U1: opamp  vplus=VP vminus=GND plus=IN minus=OUT out=OUT
  R1: resistor 10k 1%  VP > IN
  R2: resistor 10k 1%  IN > GND
  C1: capacitor 10n film  OUT > GND
  R3: resistor 10k  OUT > GND
stimuli:
  on: {do: switch it on}
works:
  hand: OUT dc at on; below 60% of healthy = stands; above 140% of healthy = runs away
"""
# What is typed until only the owner stands before a new U1: its output dead, both parts of its load lifted.
ITS_LOAD_LIFTED = (
    "hand: bad",
    "OUT 0.0 V",
    "IN 5.99 V",
    "set-up: power on, lift C1.1",
    "OUT 0.0 V",
    "set-up: power on, lift C1.1, lift R3.1",
    "OUT 5.99 V",
    "set-up: power off, lift C1.1, lift R3.1",
    "R3.2 to R3.1 10 kohm",
)
