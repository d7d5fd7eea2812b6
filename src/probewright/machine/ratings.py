"""What a part may bear: as its line says, else what such parts usually bear, from a table with its sources."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from probewright.machine.kinds import KINDS, Strain
from probewright.machine.model import Part

WATTS, CELSIUS = "watts", "junction"
UNITS = {WATTS: "W", CELSIUS: "°C"}
TYPED = "as its line says"
ROUNDING = 1e-9  # 1000 uF typed as 1 mF must not fall below 1000 uF
# V; usual rated voltages of electrolytics and tantalums (R5 and R10 series of ISO 3 with steps between), from memory
STEPS = (4, 6.3, 10, 16, 25, 35, 40, 50, 63, 80, 100, 160, 200, 250, 350, 400, 450, 500)
BY_STEPS = ("electrolytic", "tantalum")
NEXT_STEP = "not typed: chosen, the next usual step above what a sound machine puts on it"


@dataclass(frozen=True)
class Rated:
    """The most that a part may bear of one thing, in its unit; source: where that is from; typed: by the file."""

    value: float
    source: str
    typed: bool


def strains_of(part: Part) -> tuple[Strain, ...]:
    """What a part must bear besides watts, in the order of its kind."""
    kind = KINDS.get(part.kind)
    if kind is None:
        return ()
    return tuple(one for one in kind.strains if not one.classes or set(one.classes) & set(part.classes))


def unit_of(what: str) -> str:
    """Unit of a rating: V, A, W or °C."""
    return UNITS.get(what) or ("V" if what.endswith("volts") else "A")


def rated(part: Part, what: str) -> Rated | None:
    """The most that this part may bear; None where neither its line nor the table says."""
    for one in part.ratings:
        if named(part, one.unit) == what:
            return Rated(one.value, TYPED, True)
    if what == "amps" and part.kind == "fuse":
        return Rated(part.figures["rated"].nominal, TYPED, part.figures["rated"].typed)
    rows = [(row, value) for row, value in _rows_of(part.kind, what) if _fits(part, row)]
    if not rows:
        return None
    row, value = max(rows, key=lambda one: (bool(one[0]["class"]), float(one[0]["at_least"] or 0.0)))
    return Rated(value, row["source"], False)


def named(part: Part, unit: str) -> str:
    """What a rating with this unit and no name is of: watts, °C, or the first strain of its kind in that unit."""
    by_unit = {of: what for what, of in UNITS.items()}
    if unit in by_unit:
        return by_unit[unit]
    return next((one.what for one in strains_of(part) if one.unit == unit), "")


def next_step(part: Part, what: str, most: float) -> Rated | None:
    """The rated voltage that an electrolytic without one most probably has; most: V that a sound machine puts on it."""
    if what != "volts" or not set(BY_STEPS) & set(part.classes):
        return None
    step = next((one for one in STEPS if one >= most), None)
    return None if step is None else Rated(float(step), NEXT_STEP, False)


def _fits(part: Part, row: dict[str, str]) -> bool:
    first = next(iter(part.figures.values()), None)
    large = not row["at_least"] or (first is not None and first.nominal >= float(row["at_least"]) * (1.0 - ROUNDING))
    return row["class"] in ("", *part.classes) and large


@cache
def _rows_of(kind: str, what: str) -> tuple[tuple[dict[str, str], float], ...]:
    return tuple((row, float(row["value"])) for row in _rows() if (row["kind"], row["what"]) == (kind, what))


def _rows() -> Iterator[dict[str, str]]:
    text = files(__package__).joinpath("data/ratings.csv").read_text("utf-8")
    return csv.DictReader(text.splitlines())
