"""What capacitors keep once the power is off, and how it is taken out of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.inference.belief import Belief
from probewright.machine.model import Machine, Part
from probewright.planning.danger import highest, is_low, plausible
from probewright.prediction.bank import Bank
from probewright.prediction.circuit_laws import Laws
from probewright.readings import Question, Setup
from probewright.units import write_reading

# Highest volts of class ES1 on a charged capacitor by its farads, IEC 62368-1 table 5; linear between the rows.
ES1_CHARGED = (
    (0.4e-9, 10000.0), (0.8e-9, 5000.0), (1.6e-9, 2500.0), (4e-9, 1000.0), (8e-9, 500.0), (12e-9, 350.0),
    (18e-9, 250.0), (28e-9, 200.0), (41e-9, 150.0), (61e-9, 125.0), (91e-9, 100.0), (170e-9, 75.0), (300e-9, 60.0),
)  # fmt: skip
BURNS = 20.0  # J at 2 V or more: burns and metal spatter, IEC 60950-1 1.2.8.10, from memory
TOLERANCE = 1.2  # an electrolytic may have a fifth more than is printed, common practice, no source
LEFT = 5.0  # V, chosen: what may be left; an ohmmeter wants less, and is asked about then
RESISTORS = (22.0, 47.0, 100.0, 220.0, 470.0, 1e3, 2.2e3, 4.7e3, 10e3)  # ohm, chosen: what a bench has of them
PATIENT = 3.0  # s, chosen: how long a hand holds a resistor there
GENTLE = 100.0  # W, chosen: what a wire-wound of some 10 W stands for as long


@dataclass(frozen=True)
class Charge:
    """A capacitor as it is left when the power goes: volts, J, and ohms to discharge it through, with the most watts
    in them and the seconds down to LEFT."""

    part: str
    volts: float
    joules: float
    ohms: float
    watts: float
    seconds: float

    def __str__(self) -> str:
        ohms = write_reading(self.ohms, "ohm")
        return (
            f"{self.part} may keep {self.volts:.0f} V ({self.joules:.2g} J): discharge it through {ohms}, wire-wound,"
            f" {self.watts:.0f} W at first, for {math.ceil(self.seconds)} s or more,"
            " and leave that clipped on between readings."
        )

    @property
    def step(self) -> str:
        """What to do about it."""
        ohms = write_reading(self.ohms, "ohm")
        return f"Clip {ohms}, wire-wound, across {self.part} for {math.ceil(self.seconds)} s or more; leave it on."


PROVE = "Prove the meter on something live, measure that it is gone, prove the meter again. Never short it out."


def emptied(kept: Sequence[Charge]) -> tuple[str, ...]:
    """How these are emptied, step by step, the meter proved before and after; () where there are none."""
    if not kept:
        return ()
    gone = " and ".join(one.part for one in kept)
    return (
        *(one.step for one in kept),
        "Prove the meter on something live.",
        f"Read {gone}: must be below {write_reading(LEFT, 'V')}.",
        "Prove the meter again. The resistor comes off while ohms are read, and before the power goes on.",
    )


def charges(belief: Belief[Laws], live: Setup, among: Sequence[Bank]) -> list[Charge]:
    """What is left in each capacitor that can hurt or burn, the worst first; live: the set-up in which the machine ran.

    The highest volts that any plausible suspect leaves there, whatever should empty it: a load that is open empties
    nothing.
    """
    machine = belief.laws.model.machine
    if is_low(machine, live):
        return []
    cells = plausible(belief)
    found = []
    for part, farads in _capacitors(machine):
        one, other = part.pins.values()
        volts = float(np.max(highest(among, Question("dc", one, other, live), cells), initial=0.0))
        if volts > harmless_volts(farads) or (volts >= 2.0 and 0.5 * farads * volts**2 >= BURNS):
            found.append(charge(part.name, volts, farads))
    return sorted(found, key=lambda one: -one.joules)


def _capacitors(machine: Machine) -> Iterator[tuple[Part, float]]:
    """Capacitors on two nets of the board, with the most farads they may have."""
    for part in machine.parts.values():
        if part.kind == "capacitor" and len(set(part.pins.values())) == 2:
            yield part, TOLERANCE * part.figures["capacitance"].nominal


def harmless_volts(farads: float) -> float:
    """Volts up to which a charged capacitor is of class ES1."""
    sizes, volts = zip(*ES1_CHARGED, strict=True)
    return float(np.interp(farads, sizes, volts))


def charge(part: str, volts: float, farads: float) -> Charge:
    """How a capacitor is emptied: through the largest resistor that does it within PATIENT, unless that takes more than
    GENTLE at first; then through the smallest that does not. V = V0 exp(-t / RC)."""
    decades = math.log(max(volts / LEFT, 1.0 + 1e-9))
    quick = [ohms for ohms in RESISTORS if ohms * farads * decades <= PATIENT]
    gentle = [ohms for ohms in RESISTORS if volts**2 / ohms <= GENTLE]
    ohms = max(quick) if quick and volts**2 / max(quick) <= GENTLE else min(gentle, default=RESISTORS[-1])
    return Charge(part, volts, 0.5 * farads * volts**2, ohms, volts**2 / ohms, ohms * farads * decades)
