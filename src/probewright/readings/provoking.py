"""Provoke and see: "tapped C4 area: fault shows", "freeze U4: cured", "works while I probe R12".

What was done, where, and what the fault did. Every word is a row of `data/provoking-words.csv`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files

from probewright.machine.model import Machine
from probewright.machine.saying import nearest
from probewright.readings import PROVOKE, Question, Reading
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure
from probewright.readings.naming import known_place
from probewright.readings.setups import find

MEND = "write `tapped C4: fault comes`, `fault goes` or `same`"
AROUND = re.compile(r"(?i)(?:near|around|round|beside|next to|close to|by)\s+(?:to\s+)?")
LEADING = re.compile(r"(?i)^(?:(?:on|at|down|over|the|board|pcb|with|a|joint|of)\s+)+")
REGION = re.compile(r"(?i)\s+(?:area|region|corner|end of the board)$")
BEHIND = r"\s*(?::|,|;|->|=>|=|\s-\s|\sand\s)\s*(?:and\s+)?"
WHOLE_BOARD = ("", "board", "the board", "pcb", "chassis", "case", "cabinet", "it")


@cache
def words(about: str) -> Mapping[str, str]:
    """Words for "how", "answer" or "exchange" and what they stand for."""
    text = files(__package__).joinpath("data/provoking-words.csv").read_text("utf-8")
    return {row["word"]: row["means"] for row in csv.DictReader(text.splitlines()) if row["about"] == about}


@cache
def _shapes() -> tuple[re.Pattern[str], ...]:
    """The two orders in which people say it; the longest word first."""
    how, answer = ("|".join(sorted(map(re.escape, words(about)), key=len, reverse=True)) for about in ("how", "answer"))
    done = rf"(?:(?:when|while|if)\s+)?(?:i\s+)?(?P<how>{how})\b\s*(?P<place>.*?)"
    said = rf"(?:it\s+|the\s+)?(?P<answer>{answer})"
    return (
        re.compile(rf"(?i){done}(?:{BEHIND}|\s+){said}\s*\.?"),
        re.compile(rf"(?i){said}\s+(?:when|while|if|as)\s+(?:i\s+)?(?P<how>{how})\b\s*(?P<place>.*?)\s*\.?"),
    )


def to_provocation(text: str, context: Context) -> Reading | None:
    """What a provocation did; None when the line tells of none.

    Unsure where the place is not said or not known, where the answer is no word for it, and with power off.
    """
    found = next(filter(None, (shape.fullmatch(text.strip()) for shape in _shapes())), None)
    if found is None:
        _unanswered(text)
        return None
    start = len(text) - len(text.lstrip()) + found.start("place")
    place = _place(found["place"].strip(" :,"), context.machine, start)
    if context.bench.setup.power == "off":
        raise Unsure("unclear", "whether the fault comes or goes is seen with power on", "write `power on:` before it")
    how = words("how")[found["how"].casefold()]
    answer = words("answer")[" ".join(found["answer"].casefold().split())]
    return Reading(Question(PROVOKE, place, how, replace(context.bench.setup, power="on")), answer, "")


def to_answer(text: str, context: Context) -> Reading | None:
    """A bare "comes", "goes" or "same" where the card asks for a provocation; None for anything else."""
    ask, said = context.asked, " ".join(text.casefold().strip(" .").split()).removeprefix("it ").removeprefix("the ")
    if ask is None or ask.instrument != PROVOKE or said not in words("answer"):
        return None
    return Reading(ask, words("answer")[said], "")


def _unanswered(text: str) -> None:
    """Ask where something was provoked and no known answer stands behind a colon; a figure is a reading."""
    head, colon, answer = text.partition(":")
    first, _, rest = head.strip().partition(" ")
    if colon and rest and first.casefold() in words("how") and not re.search(r"\d", answer):
        raise Unsure("unclear", f"what did the fault do: {answer.strip()!r}?", MEND, len(head) + 1)


def _place(said: str, machine: Machine | None, start: int) -> str:
    """A part, a case, a pin or a net as the file has it, or "near " and one of them; as said without a file."""
    bare = LEADING.sub("", REGION.sub("", said.replace("'s ", " ")), count=1)
    around = AROUND.match(bare)
    bare = LEADING.sub("", bare[around.end() :], count=1) if around else bare
    if bare.casefold() in WHOLE_BOARD:
        mend = "name the part, pin or net nearest to it: `tapped near C4: fault comes`"
        raise Unsure("unclear", "where on it?", mend, start)
    name = _of_file(bare, machine, start) if machine else bare
    return f"near {name}" if around or REGION.search(said) else name


def _of_file(said: str, machine: Machine, start: int) -> str:
    """The name that the file has for it."""
    cases = tuple(dict.fromkeys(part.package for part in machine.parts.values() if part.package))
    whole = find(said, (*machine.parts, *cases))
    if whole and not find(said, machine.nets):
        return whole[0]
    if place := known_place(said, machine):
        return place
    every = (*machine.parts, *cases, *machine.points, *machine.nets)
    raise Unsure("place", f"the machine file has no place {said!r}", nearest(said, every), start)
