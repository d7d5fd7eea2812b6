"""Zones: "leak around C14 C15 R22", "liquid near J3", "resoldered: U4 U5 R31".

What acted there, whether round the places named or on them alone, and the places. Every word is a row of
`data/zone-words.csv`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from probewright.machine.model import Machine, Zone
from probewright.machine.saying import nearest
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure
from probewright.readings.items import DESIGNATOR
from probewright.readings.naming import known_place
from probewright.readings.setups import part_meant, part_names

MEND = "name the parts, pins or nets: `leak around C14 C15`, `liquid near J3`, `resoldered: U4 U5`"
BOARD = ("board", "the board", "pcb", "everything", "everywhere", "the pcb")
NAME = re.compile(r"[^\s,]+")
SKIPPED = ("and", "the", "part", "parts")


@cache
def words(about: str) -> Mapping[str, str]:
    """Words for "kind" or "how" and what they stand for."""
    text = files(__package__).joinpath("data/zone-words.csv").read_text("utf-8")
    return {row["word"]: row["means"] for row in csv.DictReader(text.splitlines()) if row["about"] == about}


@cache
def _shape() -> re.Pattern[str]:
    """A kind, how its places are meant, the places; the longest word first."""
    kind, how = ("|".join(sorted(map(re.escape, words(about)), key=len, reverse=True)) for about in ("kind", "how"))
    return re.compile(
        rf"(?i)\s*(?:an?\s+|the\s+)?(?P<kind>{kind})\s*(?P<how>(?<=\s)(?:{how})(?=\s|$)|:)\s*(?P<names>.*?)\s*\.?\s*"
    )


def to_zone(text: str, context: Context) -> Zone | None:
    """The zone that a line tells of; None when it tells of none. Unsure where it names no place that is known."""
    found = _shape().fullmatch(text)
    if found is None:
        return None
    start = found.start("names")
    named = [one for one in NAME.finditer(found["names"]) if one[0].casefold() not in SKIPPED]
    if not named or found["names"].casefold() in BOARD:
        raise Unsure("unclear", "where on it?", MEND, start)
    places = tuple(dict.fromkeys(_place(one[0], context.machine, start + one.start()) for one in named))
    kind, how = (words(about)[" ".join(found[about].casefold().split())] for about in ("kind", "how"))
    return Zone(kind, places, how == "around")


def _place(said: str, machine: Machine | None, start: int) -> str:
    """The name that the file has for it; without a file a name such as parts have."""
    if machine is None:
        if not DESIGNATOR.fullmatch(said.partition(".")[0]):
            raise Unsure("place", f"{said!r} is not the name of a part", MEND, start)
        return said.upper() if "." not in said else said
    if place := place_in(said, machine):
        return place
    raise Unsure(
        "place", f"the machine file has no place {said!r}", nearest(said, (*part_names(machine), *machine.nets)), start
    )


def place_in(said: str, machine: Machine) -> str:
    """The part, case, net or pin of the file that is meant; "" when there is none."""
    return part_meant(said, machine) or known_place(said, machine)


def say(zone: Zone) -> str:
    """A zone in words: "leak around C14, C15", "earlier work on U4"."""
    return f"{zone.kind} {'around' if zone.around else 'on'} {', '.join(zone.places)}"
