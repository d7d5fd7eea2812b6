"""Leads exchanged, things seen, tests of a table answered: what is said without a probe in hand."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from probewright.readings import Question, Reading
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure, unclear
from probewright.readings.items import ANSWERS, PLACES, Item
from probewright.readings.naming import known_place, spoken
from probewright.readings.segments import segments, trimmed
from probewright.readings.spots import spot
from probewright.readings.survey import Surveyed
from probewright.readings.work import Settling

BOTH_WAYS = re.compile(r"(?i)\s*(?:(?P<swap>[^:]+):\s*)?cured,? and (?P<end>back with the old one|stays so)\s*\.?\s*")
PUT_BACK = re.compile(
    r"(?i)\s*(?:put\s+)?(?:the\s+)?(?:old\s+)?(?P<what>[^:,]+?)\s+(?:is\s+|was\s+)?(?:put\s+|plugged\s+)?back"
    r"(?:\s+in|\s+on)?\s*[:,]\s*(?P<said>.+)"
)
AGAIN = re.compile(
    r"(?i)(?:(?:it|fault)\s+(?:is\s+)?)?(?:dead|silent|bad|faulty|fails|no sound|no picture)\s+again\s*\.?\s*"
)
SWAP_MEND = "write `swapped the lead, same`, `better` or `cured`"


# Leads and extras ----------------------------------------------------------------------------


def is_swap(line: Surveyed) -> bool:
    """Whether a line tells of something exchanged."""
    return any(one.kind in ("swap verb", "put back") for one in line.items)


def old_put_back(text: str, context: Context) -> str:
    """ "adaptor put back: dead again" as "old adaptor back: fault back"; a line of no lead or extra as it is."""
    found = PUT_BACK.fullmatch(text)
    said = set(found["what"].casefold().split()) if found else set()
    if not found or not any(said <= set(name.split()) for name in _every_extra(context)):
        return text
    return f"old {found['what']} back: {'fault back' if AGAIN.fullmatch(found['said']) else found['said']}"


def swap(line: Surveyed, work: Settling) -> Reading:
    """What a known good lead or extra did to the complaint."""
    back = any(one.kind == "put back" for one in line.items)
    left = [one for one in line.items if one.kind not in ("swap verb", "put back", "break", "prep", "and")]
    what = [one for one in left if one.kind in (*PLACES,) and one.kind not in ("function", "word")]
    answers = [one for one in left if one.kind in (*ANSWERS, "swap answer", "not", "hedge")]
    start = line.items[0].start
    inner = next((one for one in what if one.kind not in ("extra", "channel", "noun")), None)
    if not what or inner is not None:
        named_so = inner.text if inner else "what"
        mend = "after fitting a new part write `fitted a new Q7`; a swap is of a lead or an extra"
        raise Unsure("unclear", f"{named_so} exchanged for a good one: is it a lead or an extra?", mend, start)
    name = extra_name(" ".join(one.text.casefold() for one in what), work.context, start)
    beside = (one.text for one in left if one.kind in ("word", "function"))
    line.remarks.extend(one for one in beside if one.casefold() not in ("put", "back"))  # of "put the old lead back"
    return swap_reading(name, back, answers, start, work)


def swap_reading(name: str, back: bool, answers: Sequence[Item], start: int, work: Settling) -> Reading:
    """The reading of one exchange."""
    if len(answers) != 1 or answers[0].kind not in ("same", "swap answer"):
        raise Unsure("unclear", f"what did the other {name} do to the complaint?", SWAP_MEND, start)
    means = "same" if answers[0].kind == "same" else answers[0].means
    if (means in ("back", "away")) != back:
        raise Unsure(
            "unclear", f"what did the {'old' if back else 'other'} {name} do to the complaint?", SWAP_MEND, start
        )
    if work.power == "off":
        raise Unsure("unclear", "a swap is judged with power on", "write `power on:` before it", start)
    setup = replace(work.context.bench.setup, power="on")
    return Reading(Question("swap back" if back else "swap", name, setup=setup), means, "")


def extra_name(said: str, context: Context, start: int) -> str:
    """The extra meant: of the machine file or of this kind of machine, else as said."""
    machine, every = context.machine, _every_extra(context)
    if said in every or not every:
        return every.get(said, said)
    near = sorted(
        {
            name
            for low, name in every.items()
            if set(said.split()) <= set(low.split()) or set(low.split()) <= set(said.split())
        }
    )
    if len(near) == 1:
        return near[0]
    if near:
        raise Unsure("place", f"which {said}: {', '.join(near)}?", "write its whole name, with the channel", start)
    if machine:
        raise Unsure(
            "place",
            f"{said!r} is not one of the machine's leads and extras",
            f"write one of: {', '.join(every.values())}",
            start,
        )
    return said


def _every_extra(context: Context) -> dict[str, str]:
    """What an extra goes by, in small letters -> its name; of the machine file and of this kind of machine."""
    machine = context.machine
    every = {name.casefold(): name for name in context.extras}
    for part in machine.parts.values() if machine else ():
        if part.role == "extra":
            label = machine.channels.get(part.channel, "") if machine else ""
            every |= {one: part.name for one in (part.name.casefold(), f"{label} {spoken(part)}".strip().casefold())}
    return every


# Looks ---------------------------------------------------------------------------------------


def looks(line: Surveyed, work: Settling, topic: str) -> tuple[Reading, ...]:
    """Things seen, smelt or felt, taken out of the line; beside a figure they are remarks."""
    found: list[Reading] = []
    kept: list[Item] = []
    for segment in segments(line.items):
        seen = [one for one in segment if one.kind == "look"]
        if seen and not any(one.kind in ANSWERS for one in segment):
            found.append(look(segment, seen, line, work, topic))
            continue
        between(segment)
        line.remarks.extend(one.text for one in seen)
        kept.extend(
            (*[one for one in segment if one.kind != "look"], Item("break", ",", segment[-1].end, segment[-1].end))
        )
    line.items = kept
    return tuple(one for one in found if one.question.red)


def between(segment: Sequence[Item]) -> None:
    """Ask about "J4 cracked joint and D5 0.62 V": something seen, and then another place with its figure."""
    for at, one in enumerate(segment):
        behind = [each.kind for each in segment[at + 1 :]]
        ahead = [each.kind for each in segment[:at]]
        read = next((k for k, kind in enumerate(ahead) if kind in ANSWERS), -1)
        other = read > 0 and ahead[-1] in PLACES and any(kind in PLACES for kind in ahead[:read])
        if one.kind == "look" and (other or any(kind in PLACES for kind in behind)):
            raise Unsure(
                "unclear", "something seen and something read in one breath", "put a comma between them", one.start
            )


def look(segment: Sequence[Item], seen: Sequence[Item], line: Surveyed, work: Settling, topic: str) -> Reading:
    """One thing seen at one place."""
    others = [
        one
        for one in segment
        if one.kind != "look" and one.text.casefold() not in ("under", "above", "below", "over", "round")
    ]
    if any(one.kind in ("hedge", "not", "swap verb", "reverse") for one in others):
        raise unclear(" ".join(one.text for one in segment), segment[0].start)
    words = " ".join(one.text.casefold() for one in seen)
    line.remarks.extend(one.text for one in others if one.kind == "word")
    where = trimmed([one for one in others if one.kind != "word"])
    setup = replace(work.context.bench.setup, power=work.power, stimulus=work.line.stimulus)
    if not where:
        line.remarks.append(words)
        return Reading(Question("look", ""), words, "")
    place = spot(where, topic)
    machine = work.context.machine
    known = (
        machine is None
        or place.part in machine.parts
        or any(spoken(p).casefold() == place.name for p in machine.parts.values())
    )
    name = place.text if known or machine is None else known_place(place.text, machine) or place.text
    return Reading(Question("look", name, setup=setup), words, "")


# Tests of a table, and swaps the card asked for -------------------------------------------------


def to_table(text: str, context: Context) -> Reading | None:
    """A test of the table answered: "lead test: ok", or one of its words when the card asked it."""
    name, colon, answer = text.partition(":")
    test = next((one for one in context.tests if colon and one.casefold() == name.strip().casefold()), "")
    asked = context.asked
    if not test and (asked is None or asked.instrument != "test" or asked.red not in context.tests):
        return None
    said = (answer if test else text).strip(" .").casefold()
    ask = Question("test", test) if test else asked
    assert ask is not None
    words = context.tests[ask.red]
    found = [one for one in words if one.casefold() == said] or [
        one for one in words if said and one.casefold().startswith(said)
    ]
    if len(found) == 1:
        return Reading(ask, found[0], "")
    if test:
        raise Unsure(
            "unclear",
            f"{answer.strip()!r} is not an answer to {test}",
            f"write one of: {', '.join(words)}",
            len(name) + 1,
        )
    return None


def both_ways(text: str, context: Context) -> tuple[str, str] | None:
    """ "cured and back with the old one" or "cured and stays so", as the card offers it: the swap as a line, and what
    the old one did; None for any other line, or where nobody said what was exchanged."""
    found, ask = BOTH_WAYS.fullmatch(text), context.asked
    if found is None:
        return None
    asked = f"swapped {ask.red}" if ask is not None and ask.instrument == "swap" else ""
    swapped = found["swap"] or asked
    end = "fault back" if found["end"].casefold().startswith("back") else "stays away"
    return (f"{swapped}: cured", end) if swapped else None


def to_swap(line: Surveyed, work: Settling) -> Reading | None:
    """A bare "same", "better" or "cured" where the card asked for a swap."""
    ask = work.context.asked
    if ask is None or ask.instrument not in ("swap", "swap back") or is_swap(line):
        return None
    if any(one.kind not in ("same", "swap answer", "break") for one in line.items) or not line.items:
        return None
    answers = [one for one in line.items if one.kind != "break"]
    if not answers:
        return None
    made = swap_reading(ask.red, ask.instrument == "swap back", answers, answers[0].start, work)
    return replace(made, question=ask)
