"""Ohm's law, shared by every kind that is a plain resistance."""

from probewright.machine.kinds import Values


def ohm(p: Values):
    """i = v / R between pins 1 and 2."""
    return [("1", "2", "1", "2", 1.0 / p["resistance"])]
