"""What keeps a part cool, and how warm it is: heatsinks off and on, watts somebody worked out, a finger, a bead."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from probewright.errors import NotAValue
from probewright.machine.model import Machine
from probewright.readings import Question, Reading
from probewright.readings.bench import Bench
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure
from probewright.readings.repairing import DESIGNATOR
from probewright.readings.setups import ACTS, Draft, Piece, bare_in_words, find, take_bare, take_clip, take_covered
from probewright.units import read_value, write_reading

WATTS, CELSIUS, LOOK = "watts", "celsius", "look"  # instruments of what is kept and not weighed
QUIESCENT = 5e-3  # A that a fixed regulator takes for itself: data sheet of the LM78XX (Fairchild, rev 1.3.1), typical
TAB = r"(?:'s|’s)?(?:\s+(?:tab|case|top|body))?\s+(?:is\s+|reads\s+|at\s+)?(?:now\s+)?"
FIGURE = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
STATED = re.compile(
    rf"(?P<part>\S+?)(?:\s+regulator)?:?\s+(?P<above>{FIGURE}\s?V)(?:\s+in)?\s*(?:to|,)\s+(?P<below>{FIGURE}\s?V)(?:\s+out)?"
    rf"\s*(?:,|at)\s+(?P<amps>{FIGURE}\s?[mµu]?A)",
    re.IGNORECASE,
)
BURNS = re.compile(rf"(?P<part>\S+?){TAB}(?P<watts>{FIGURE}\s?m?W)", re.IGNORECASE)
DEGREES = re.compile(
    rf"(?P<part>\S+?){TAB}(?P<celsius>{FIGURE})\s?(?:°\s?C|deg\.?\s?C?|degrees(?:\s+(?:C|celsius))?|C|celsius)",
    re.IGNORECASE,
)
TOUCHED = re.compile(rf"(?P<part>\S+?){TAB}(?P<word>\D+)", re.IGNORECASE)


@dataclass(frozen=True)
class Bare:
    """A part that runs without its heatsink. clip: K/W of one clipped on instead, 0 for none; watts: that somebody
    worked out and typed, None where nobody did."""

    part: str
    clip: float = 0.0
    watts: float | None = None


@cache
def finger_words() -> Mapping[str, bool]:
    """What is said of a case that was touched -> whether a finger bore it."""
    text = files(__package__).joinpath("data/touch-words.csv").read_text("utf-8")
    return {row["word"]: row["means"] == "borne" for row in csv.DictReader(text.splitlines())}


def borne(reading: Reading) -> bool | None:
    """Whether a finger could stay on a case; None where the reading says nothing of it."""
    if reading.question.instrument != LOOK or not isinstance(reading.answer, str):
        return None
    return finger_words().get(" ".join(reading.answer.casefold().split()))


def to_cooling(piece: Piece, bench: Bench, machine: Machine | None) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after "heatsink of U1 off", "screen back on" or "clip-on heatsink on U1", and what to say; None for any
    other line.

    Whoever turns screws has the power off, and nobody has said that it is on again. BadInput for an unknown part.
    """
    line = Piece(piece.text.rstrip(" .!"), piece.line, piece.column, piece.file)
    acts = [(form, take) for form, take in ACTS if take in (take_bare, take_covered, take_clip)]
    for form, take in acts:
        if found := re.fullmatch(form, line.text, re.IGNORECASE):
            draft = Draft(machine, bare=dict(bench.setup.bare))
            what = line.cut(*found.span(next(group for group, text in found.groupdict().items() if text)))
            for one in [what] if take is take_clip else what.split(r"\s*(?:,|\band\b)\s*"):
                take(one, draft)
            setup = replace(bench.setup, bare=tuple(sorted(draft.bare.items())))
            return replace(bench, setup=setup, disturbed=True), _said(draft.bare)
    return None


def _said(bare: Mapping[str, float]) -> tuple[str, ...]:
    if not bare:
        return ("every heatsink is on",)
    return (f"{', '.join(bare_in_words(bare.items()))} from here on, until you say that it is on again",)


def to_warmth(text: str, context: Context) -> Reading | None:
    """ "U1 60 C", "U1 too hot to touch", "U1 1.6 W" or "U1 9V to 5V at 0.4A" as a reading of a part; None for any other
    line. Unsure where a regulator would give more than it gets."""
    line = " ".join(text.strip(" .").split())
    for form, make in ((STATED, _stated), (BURNS, _burns), (DEGREES, _degrees), (TOUCHED, _touched)):
        found = form.fullmatch(line)
        part = _part(found["part"], context.machine) if found else ""
        if found and part and (reading := make(part, found, context)):
            return reading
    return None


def _part(word: str, machine: Machine | None) -> str:
    """The part or case meant; "" where no part is spoken of."""
    word = re.sub(r"(?:'s|’s)$", "", word)
    if machine is None:
        return word if DESIGNATOR.fullmatch(word) else ""
    cases = [one.package for one in machine.parts.values() if one.package]
    return next(iter(find(word, (*machine.parts, *cases))), "")


def _reading(instrument: str, part: str, answer: float | str, context: Context) -> Reading:
    return Reading(Question(instrument, part, setup=context.bench.setup), answer, "")


def _stated(part: str, found: re.Match[str], context: Context) -> Reading:
    above, below, amps = (_value(found[name], unit) for name, unit in (("above", "V"), ("below", "V"), ("amps", "A")))
    if above <= below:
        raise Unsure(
            "unclear", f"{write_reading(above, 'V')} in is not above {write_reading(below, 'V')} out",
            f"write the input first: `{part} 9V to 5V at 0.4A`", found.start("above"),
        )  # fmt: skip
    return _reading(WATTS, part, (above - below) * amps + above * QUIESCENT, context)


def _burns(part: str, found: re.Match[str], context: Context) -> Reading:
    return _reading(WATTS, part, _value(found["watts"], "W"), context)


def _degrees(part: str, found: re.Match[str], context: Context) -> Reading:
    return _reading(CELSIUS, part, float(found["celsius"].replace(",", ".")), context)


def _touched(part: str, found: re.Match[str], context: Context) -> Reading | None:
    word = " ".join(found["word"].casefold().split())
    return _reading(LOOK, part, word, context) if word in finger_words() else None


def _value(typed: str, unit: str) -> float:
    try:
        return read_value(typed.replace(",", "."), unit).si
    except NotAValue as bad:
        raise Unsure("unclear", bad.text, bad.mend) from None
