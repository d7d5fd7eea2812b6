"""What each step costs in minutes, and how high it stands in the order of risk."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import cache
from typing import TYPE_CHECKING

from probewright.planning import tables
from probewright.readings import SCOPED, Setup
from probewright.readings.kit import UNTOLD, Kit

if TYPE_CHECKING:
    import numpy as np

# Order of risk, least first (docs/method.md). Only the rungs that can be proposed now have a cost.
RUNGS = (
    "ask and look", "swap outside", "unpowered", "limited power", "passive probing", "inner nodes",
    "provoke", "reversible disconnection", "injection", "substitution", "irreversible",
)  # fmt: skip
SHORTEST = 0.1  # min; chosen: nothing is done in less
LEAST, MOST = 0.5, 2.0  # chosen: how far the minutes of another bench may be from the table


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["what"]: row for row in tables.rows("minutes")}


def rows() -> Mapping[str, str]:
    """Every step and change that has a cost, with what it is."""
    return {what: row["reason"] for what, row in _rows().items()}


def minutes(what: str, kit: Kit = UNTOLD) -> float:
    """Minutes of one step or change on this bench: as it told, else from data/minutes.csv; KeyError when there is no
    such row."""
    row = held(what)
    return kit.minutes.get(row, float(_rows()[row]["minutes"]))


def varied(dice: np.random.Generator) -> Kit:
    """A bench on which every row of the table takes LEAST to MOST times as long, evenly in the logarithm, each drawn by
    itself: how far does what was found hang on the table?"""
    return Kit(
        minutes={what: minutes(what) * math.exp(dice.uniform(math.log(LEAST), math.log(MOST))) for what in _rows()}
    )


def rung(what: str) -> int:
    """Place of a step, or of a rung by its name, in the order of risk: an index of RUNGS."""
    return RUNGS.index(what) if what in RUNGS and what not in _rows() else int(_rows()[held(what)]["rung"])


def held(instrument: str) -> str:
    """The row of an instrument: all that an oscilloscope shows is read with the same probe."""
    return "pp" if instrument in SCOPED else instrument


def change(before: Setup | None, after: Setup, instrument: str, last: str, kit: Kit = UNTOLD) -> float:
    """Minutes to bring the bench from one set-up and instrument to another; None: nothing is set up."""
    return sum(minutes(row, kit) for row in changes(before, after, instrument, last))


def changes(before: Setup | None, after: Setup, instrument: str, last: str) -> Iterator[str]:
    """What is changed on the way from one set-up and instrument to another, each a row of the table."""
    if before is None or before.power != after.power:
        yield "power off" if after.power == "off" else "power on"
    if before is not None and before.supplied and not after.supplied and before.power == after.power:
        yield "power off"  # the bench supply is taken off, and what it charged is discharged
    if after.power == "on" and before is not None and before.stimulus != after.stimulus:
        yield "stimulus"
    if last and held(last) != held(instrument):
        yield "instrument"
