"""What each step costs in minutes, and how high it stands in the order of risk."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from probewright.planning import tables
from probewright.planning.reach import lies
from probewright.readings import SCOPED, Setup, is_live
from probewright.readings.boards import OUT, TOP
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


@dataclass(frozen=True)
class Stand:
    """How the bench stands. setup: None before anything is set up; tool: the instrument in hand, "" for none; side: of
    the board that lies up, see reach."""

    setup: Setup | None = None
    tool: str = ""
    side: str = TOP

    def reading(self, setup: Setup, tool: str, side: str = "") -> Stand:
        """How it stands once that was read; side: from which the place is reached, "" where nobody said."""
        return Stand(setup, tool, lies(self.side, side))


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


def change(before: Stand, after: Stand, kit: Kit = UNTOLD) -> float:
    """Minutes to bring the bench from one stand to another, in which something is set up."""
    return sum(minutes(row, kit) for row in changes(before, after))


def changes(before: Stand, after: Stand) -> Iterator[str]:
    """What is changed on the way from one stand to another, in which something is set up: rows of the table."""
    was, now = before.setup, after.setup
    assert now is not None
    if after.side != before.side:
        if was is not None and is_live(was) and is_live(now):
            yield from ("power off", "power on")  # nobody turns a board that is live
        yield "board out" if after.side == OUT else "turn over"
    if was is None or was.power != now.power:
        yield "power off" if now.power == "off" else "power on"
    if was is not None and was.supplied and not now.supplied and was.power == now.power:
        yield "power off"  # the bench supply is taken off, and what it charged is discharged
    if now.power == "on" and was is not None and was.stimulus != now.stimulus:
        yield "stimulus"
    if before.tool and after.tool and held(before.tool) != held(after.tool):
        yield "instrument"
