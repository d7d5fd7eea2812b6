"""Cases of parts: how heat leaves them, from a table with its sources."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from probewright.machine.model import Part

CLIP = "clip-on heatsink"
REGULATOR = "TO-220"  # chosen: the usual case of a three-terminal regulator of an ampere
# chosen: the usual case of a transistor of each class; a small one has no heatsink to lose
BY_CLASS: Mapping[str, str] = {"power": "TO-220", "medium": "TO-126", "small-signal": "TO-92"}


@dataclass(frozen=True)
class Band:
    """A figure with the ends between which it lies, in the unit of its row; reliability: A to D, source: where from."""

    low: float
    usual: float
    high: float
    reliability: str = ""
    source: str = ""


@cache
def _rows() -> dict[tuple[str, str], Band]:
    text = files(__package__).joinpath("data/packages.csv").read_text("utf-8")
    return {
        (row["package"], row["figure"]): Band(
            float(row["low"]), float(row["usual"]), float(row["high"]), row["reliability"], row["source"]
        )
        for row in csv.DictReader(text.splitlines())
    }  # fmt: skip


def packages() -> tuple[str, ...]:
    """Names of the cases that parts come in."""
    return tuple(dict.fromkeys(name for name, _ in _rows() if name != CLIP))


def band(package: str, figure: str) -> Band:
    """One figure of a case: "junction to case", "junction to air" (K/W), "heat capacity" (J/K), "limit" (°C); of CLIP
    "to air", "case to sink" and "heat capacity". KeyError where there is no such row."""
    return _rows()[package, figure]


def usual_package(part: Part | None) -> str:
    """The case that a part most probably comes in, where nobody says; a regulator where the part is not known."""
    if part is None or "regulator" in part.kind:
        return REGULATOR
    return next((BY_CLASS[one] for one in part.classes if one in BY_CLASS), REGULATOR)
