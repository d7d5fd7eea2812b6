"""Two like parts in each other's place: "swapped U4 with U5: fault followed"."""

from __future__ import annotations

import re
from dataclasses import replace

from probewright.machine.kinds import KINDS
from probewright.machine.model import Machine
from probewright.machine.saying import nearest
from probewright.readings import EXCHANGE, Question, Reading
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure
from probewright.readings.items import DESIGNATOR
from probewright.readings.provoking import words
from probewright.readings.setups import find

MEND = "write `swapped U4 with U5: fault followed`, `fault stayed` or `fault gone`"
SHAPE = re.compile(
    r"(?i)\s*(?:i\s+)?(?:swapped|swap|exchanged|exchange|interchanged)\s+(?P<one>\S+)\s+(?:with|and|for|<->)\s+"
    r"(?P<other>[^\s:,;]+)(?P<back>\s+back(?:\s+again)?)?\s*[:,;]?\s*(?P<answer>.*?)\s*\.?\s*"
)
FAULT = re.compile(r"(?i)(?:and\s+)?(?:(?:the\s+)?fault\s+|it\s+)?(?:has\s+|is\s+)?")


def to_exchange(text: str, context: Context) -> Reading | None:
    """Two parts exchanged and what the fault did; None when the line tells of none.

    Unsure for a part that the file does not know, for parts of two kinds, and without an answer.
    """
    found = SHAPE.fullmatch(text)
    if found is None or not all(_is_part(found[end], context.machine) for end in ("one", "other")):
        return None
    one, other = (_named(found[end], context.machine, found.start(end)) for end in ("one", "other"))
    _alike(one, other, context.machine, found.start("other"))
    answer = words("exchange").get(" ".join(FAULT.sub("", found["answer"], count=1).casefold().split()), "")
    if not answer:
        raise Unsure(
            "unclear", f"{one} and {other} changed places: what did the fault do?", MEND, found.start("answer")
        )
    setup = replace(context.bench.setup, power="on")
    return Reading(Question(EXCHANGE, min(one, other), max(one, other), setup), answer, "")


def _is_part(said: str, machine: Machine | None) -> bool:
    """Called as parts are, or a part of the file that is no lead or extra."""
    if machine is not None and (part := find(said, machine.parts)):
        return machine.parts[part[0]].role != "extra"
    designator = DESIGNATOR.fullmatch(said)
    return designator is not None and not designator["rest"]


def _named(said: str, machine: Machine | None, start: int) -> str:
    if machine is None:
        return said.upper()
    if part := find(said, machine.parts):
        return part[0]
    raise Unsure("place", f"the machine file has no part {said!r}", nearest(said, machine.parts), start)


def _alike(one: str, other: str, machine: Machine | None, start: int) -> None:
    """Only like parts can change places."""
    if one == other:
        raise Unsure("unclear", f"{one} with itself", "name the two parts", start)
    if machine is None:
        return
    kinds = [KINDS[machine.parts[part].kind].name for part in (one, other)]
    if kinds[0] != kinds[1]:
        raise Unsure("unclear", f"{one} is a {kinds[0]}, {other} a {kinds[1]}", "only like parts change places", start)
