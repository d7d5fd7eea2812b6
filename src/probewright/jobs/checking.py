"""Warnings about a machine file that need its healthy operating point."""

from __future__ import annotations

from probewright.jobs.view import WarningView
from probewright.machine import Machine
from probewright.machine.kinds import KINDS
from probewright.prediction.bank import Bank
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.outcomes import chance_works, show
from probewright.readings import Question, Setup
from probewright.units import write_reading

WRONG_WAY = 0.3  # V: a polarised capacitor bears about this much the wrong way; common practice, no source
DISAGREES = 0.15  # chosen: a printed figure this far outside the computed range deserves a look


def healthy_warnings(machine: Machine, laws: Laws) -> list[WarningView]:
    """Parts the wrong way round, functions that fail when healthy, printed figures that disagree.

    laws: the healthy machine alone, with draws of its tolerances.
    """
    middle = laws.base.middle
    found: list[WarningView] = []
    if not middle.solved(Setup()).rest.solved[0]:
        return [
            WarningView(
                1, 1, "no operating point was found for the healthy machine", "check supplies, grounds and values"
            )
        ]
    return [*found, *_wrong_way(machine, middle), *_fails_healthy(machine, middle), *_printed(machine, laws)]


def _wrong_way(machine: Machine, middle: Bank) -> list[WarningView]:
    """Electrolytics and tantalums with minus above plus."""
    found = []
    for part in machine.parts.values():
        if KINDS[part.kind].polar and part.kind == "capacitor" and {"electrolytic", "tantalum"} & set(part.classes):
            volts = float(show(middle, Question("dc", f"{part.name}.1", f"{part.name}.2")).value[0])
            if volts < -WRONG_WAY:
                plus, minus = part.pins["1"], part.pins["2"]
                found.append(WarningView(
                    part.spot.line,
                    part.spot.column,
                    f"{part.name} stands the wrong way round: its plus is {write_reading(-volts, 'V')} below its minus",
                    f"plus comes first: write {minus} > {plus}",
                ))  # fmt: skip
    return found


def _fails_healthy(machine: Machine, middle: Bank) -> list[WarningView]:
    """Functions whose limits the healthy machine breaks."""
    found = []
    for works in machine.works:
        good, judged = chance_works(middle, works, Setup())
        if judged[0] and good[0] < 0.5:
            found.append(
                WarningView(
                    works.spot.line,
                    works.spot.column,
                    f"{works.name!r} does not work on the healthy machine",
                    "check the limit and the stimulus",
                )
            )
    return found


def _printed(machine: Machine, laws: Laws) -> list[WarningView]:
    """Figures printed on the drawing that lie outside the computed healthy range."""
    found = []
    for printed in machine.printed:
        low, middle, high = laws.healthy(
            Question(printed.quantity, printed.place, setup=Setup(stimulus=printed.stimulus))
        )
        slack = DISAGREES * abs(middle)
        if not low - slack <= printed.value <= high + slack:
            found.append(WarningView(
                printed.spot.line, printed.spot.column,
                f"{printed.place} is printed as {write_reading(printed.value, printed.unit)}, "
                f"computed {write_reading(middle, printed.unit)}",
                "check the parts round it, or the figure",
            ))  # fmt: skip
    return found
