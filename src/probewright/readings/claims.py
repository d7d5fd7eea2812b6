"""Which answer belongs to which place: the order of words on the bench, one segment after another."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from probewright.readings.doubts import Unsure, unclear
from probewright.readings.items import Item
from probewright.readings.segments import (
    apart,
    bare_answer,
    channels,
    groups,
    located_at,
    one_pin,
    only_channel,
    only_pin,
    only_words,
    opens,
    other_side,
    praised,
    refuse,
    repeated,
    runs,
    segments,
    starts_with_prep,
    trimmed,
    well,
)
from probewright.readings.spots import Ends, Spot, ends
from probewright.readings.survey import Surveyed

ACROSS = (["across"], ["across it"])
NAMES_ENOUGH = (
    "in",
    "out",
    "input",
    "output",
    "outp",
    "inp",
    "primary",
    "secondary",
    "heater",
    "heaters",
    "tip",
    "ring",
    "sleeve",
)


@dataclass(frozen=True)
class Claim:
    """One answer at one place. ends: None when no place was said; turned: probes exchanged."""

    ends: Ends | None
    answer: Item
    turned: bool = False


@dataclass
class Pairing:
    """The work on one line. topic: part last named; base: place that the next channel or sub-place belongs to."""

    topic: str
    line: Surveyed
    before: Spot | None = None
    claims: list[Claim] = field(default_factory=list)
    waiting: list[Item] = field(default_factory=list)
    used: bool = False
    place_only: list[Item] = field(default_factory=list)


def pair(line: Surveyed, topic: str, before: Spot | None = None) -> tuple[Claim, ...]:
    """Every claim of a line. before: the place of the last reading. Unsure when an answer or a place is left over."""
    work = Pairing(topic, line, before)
    for segment in segments(line.items):
        take_segment(segment, work)
    attach(work)
    return tuple(work.claims)


def take_segment(segment: list[Item], work: Pairing) -> None:
    """Pair the places and answers between two breaks."""
    refuse(segment)
    if any(one.kind == "reverse" for one in segment):
        return turned(segment, work)
    places, answers = runs(segment)
    if not answers:
        return no_answer(segment, work)
    if praised(answers, places) or (well(answers[-1]) and bare_answer(places, answers) and figures(work)):
        work.line.remarks.append(answers.pop().text)
        places.pop()
    if not answers:
        return None
    hanging(places, len(answers))
    return order(set_aside(across_behind(places, answers), answers, work), answers, work)


def hanging(places: Sequence[Sequence[Item]], count: int) -> None:
    """Ask about "24 V in": a preposition without its place, which must not be lost."""
    for run in places:
        behind = count == 1 and run is places[-1] and [one.means for one in run] in ACROSS
        if any(one.kind == "prep" for one in run) and not trimmed(run) and not behind:
            raise unclear(run[0].text, run[0].start)


def across_behind(places: list[list[Item]], answers: Sequence[Item]) -> list[list[Item]]:
    """ "R101 22 mV across": the word behind the figure belongs to the place."""
    if len(answers) == 1 and [one.means for one in places[-1]] in ACROSS:
        return [[replace(places[-1][0], means="across"), *places[0]], []]
    return places


def set_aside(places: list[list[Item]], answers: Sequence[Item], work: Pairing) -> list[list[Item]]:
    """What stands behind the last answer and is no place of its own: the place of all channels, or talk."""
    tail = places[-1]
    if len(answers) > 1 and all(only_channel(trimmed(one)) for one in places[:-1]) and starts_with_prep(tail):
        work.place_only.extend(tail)
        return [*places[:-1], []]
    if trimmed(places[0]) and only_words(tail):
        work.line.remarks.append(" ".join(one.text for one in tail))
        return [*places[:-1], []]
    return places


def order(places: list[list[Item]], answers: list[Item], work: Pairing) -> None:
    """Place first, answer first, or one place with others inside it; else ask."""
    head, tail = trimmed(places[0]), trimmed(places[-1])
    rest = all(trimmed(one) for one in places[1:])
    if len(answers) == 1 and (whole := one_pin(head, places[1:])):
        return join([whole], answers, work)
    figures_first = not work.waiting and all(one.kind == "figure" for one in answers)
    if not head and rest and (opens(places[1:]) or figures_first):
        return join(places[1:], answers, work)
    if not head and not tail and len(answers) == 1:
        return alone(answers[0], work)
    if head and not tail and all(trimmed(one) for one in places[:-1]) and not any(map(located_at, places[1:-1])):
        return join(places[:-1], answers, work)
    if head and rest and opens(places[1:]):
        return compound(head, places[1:], answers, work)
    if head and not any(trimmed(one) for one in places[1:]) and (repeated(places, answers) or apart(answers)):
        count = 1 if repeated(places, answers) else len(answers)
        return join([head] * count, answers[:count], work)
    leftover = next((one for one in (*places[1:], places[0]) if trimmed(one)), answers)
    raise unclear(" ".join(one.text for one in leftover), leftover[0].start)


def figures(work: Pairing) -> bool:
    """Whether the claim before has a figure."""
    return bool(work.claims) and work.claims[-1].answer.kind in ("figure", "over", "beep") and not work.waiting


# The orders ----------------------------------------------------------------------------------


def join(places: Sequence[Sequence[Item]], answers: Sequence[Item], work: Pairing) -> None:
    """One place, or several with "and", to each answer."""
    for run, answer in zip(places, answers, strict=True):
        for each in located(run, work):
            claim(each, answer, work)


def located(run: Sequence[Item], work: Pairing, base: Sequence[Item] = ()) -> tuple[Ends, ...]:
    """The ends a run names, a channel alone at the base of the one before."""
    unknown = trimmed(run)
    if work.claims and unknown and unknown[0].kind == "word":
        raise unclear(unknown[0].text, unknown[0].start)
    if any(one.kind == "other channel" for one in unknown):
        return (opposite(unknown, work),)
    short = only_channel(unknown) or only_pin(unknown)
    ahead = [*work.waiting, *run] if short else list(run)
    work.used = work.used or (short and bool(work.waiting))
    found = ends([*base, *ahead], work.topic)
    found = tuple(beside(one, work) for one in found)
    for one in found:
        for end in (one.red, one.black):
            work.topic = end.part if end and end.part else work.topic
    return found


def beside(one: Ends, work: Pairing) -> Ends:
    """ "RV2 top 5 wiper 2.3", "one end of R12 9 V, other end 0": another side of the thing said before."""
    red = one.red
    if red.part or red.function or not red.name or not groups(red.name):
        return one
    before = next((each.ends.red for each in reversed(work.claims) if each.ends), None)
    unlike = before is not None and bool(red.channel) and not before.channel
    name = before and not unlike and other_side(before.name, red.name)
    if not name and red.name.casefold() in NAMES_ENOUGH:
        return one
    if before is None or not name:
        raise Unsure("place", f"the {red.name} of what?", f"name the thing too: `RV2 {red.name} 5 V`", red.start)
    words = tuple(name.casefold().split())
    return replace(one, red=replace(before, name=name, words=words, pin="", channel=red.channel or before.channel))


def opposite(items: Sequence[Item], work: Pairing) -> Ends:
    """The place of the reading before, on the other channel."""
    before = next((one.ends.red for one in reversed(work.claims) if one.ends), work.before)
    if before is None or not before.channel or any(one.kind not in ("other channel", "both") for one in items):
        raise Unsure(
            "place", "the other channel of what?", "name the place: `right preamp out 0.3 Vpp`", items[0].start
        )
    return Ends(replace(before, channel={"left": "right", "right": "left"}[before.channel]))


def claim(each: Ends, answer: Item, work: Pairing) -> None:
    """Add one claim, a lone channel at the place of the claim before it."""
    before = work.claims[-1].ends if work.claims else None
    if not each.red.name and each.red.channel and before and before.red.channel and before.red.name and not each.across:
        each = replace(each, red=replace(before.red, channel=each.red.channel))
    if answer.kind == "same":
        answer = same_as(answer, work)
    work.claims.append(Claim(each, answer))


def same_as(answer: Item, work: Pairing) -> Item:
    """The answer of the claim before, where there is one in this line."""
    return replace(work.claims[-1].answer, start=answer.start) if work.claims else answer


def alone(answer: Item, work: Pairing) -> None:
    """An answer without a place: at the place said before the comma, else nowhere."""
    if work.waiting:
        run, work.waiting = work.waiting, []
        return join([run], [answer], work)
    if work.claims and work.claims[-1].ends and not work.claims[-1].turned and apart([work.claims[-1].answer, answer]):
        work.claims.append(Claim(work.claims[-1].ends, answer))  # "TP1 4.8 Vpp, 1.2 MHz"
        return None
    work.claims.append(Claim(None, answer))


def compound(head: Sequence[Item], places: Sequence[Sequence[Item]], answers: Sequence[Item], work: Pairing) -> None:
    """ "12 rail 11.8 at reg 10.9 at the lamp": one rail at several places."""
    if len(places) == 1 and channels(head):
        return join([[one, *places[0]] for one in head if one.kind == "channel"], [*answers, *answers], work)
    if all(only_channel(trimmed(run)) for run in places) and not any(one.kind == "channel" for one in head):
        return join([[*head, *trimmed(run)] for run in places], answers, work)
    railed = only_channel(trimmed(head)) or re.search(
        r"(?i)^[-+\d]|\b(?:rail|supply|line|feed|bus|ht|vcc|vdd|b\+)$", " ".join(one.text for one in trimmed(head))
    )
    for run, answer in zip(places, answers, strict=True):
        sub = trimmed(run)
        if not railed:
            raise Unsure(
                "place",
                f"is it read at {' '.join(one.text for one in run)!r} or at the place said first?",
                "write one place for each figure",
                run[0].start,
            )
        if any(one.kind in ("part", "pin number", "pin", "ground") for one in sub) or any(
            one.kind == "part" for one in head
        ):
            what = " ".join(one.text for one in run)
            raise Unsure(
                "place",
                f"is it read at {what!r} or at the place said first?",
                "write one place for each figure",
                run[0].start,
            )
        for each in ends([*trimmed(head), *run], work.topic):
            claim(each, answer, work)


def no_answer(segment: list[Item], work: Pairing) -> None:
    """A place by itself waits for an answer, or is where the channels said before were read."""
    if any(one.kind in ("swap answer", "swap verb", "put back", "look") for one in segment):
        raise unclear(" ".join(one.text for one in segment), segment[0].start)
    if all(one.kind in ("word", "prep", "and") for one in segment):
        if any(one.kind == "word" for one in segment):
            work.line.remarks.append(" ".join(one.text for one in segment))
        return
    if work.waiting and not work.used:
        raise unclear(" ".join(one.text for one in work.waiting), work.waiting[0].start)
    pending = work.claims and all(one.ends is not None and not one.ends.red.name for one in work.claims)
    if pending:
        work.place_only.extend(segment)
    else:
        work.waiting, work.used = segment, False
        work.topic = next((one.text for one in reversed(segment) if one.kind == "part"), work.topic)


def turned(segment: list[Item], work: Pairing) -> None:
    """ "leads other way OL": the claim before with its probes exchanged."""
    places, answers = runs([one for one in segment if one.kind != "reverse"])
    if len(answers) != 1 or any(trimmed(one) for one in places) or not work.claims or work.claims[-1].ends is None:
        if len(answers) == 2 and segment[-1].kind == "reverse" and trimmed(places[0]) and not trimmed(places[1]):
            join(places[:1], answers[:1], work)
            answers = answers[1:]
        else:
            raise Unsure("unclear", "the other way round of what?", "write both places: `B to A OL`", segment[0].start)
    answer = same_as(answers[0], work) if answers[0].kind == "same" else answers[0]
    work.claims.append(replace(work.claims[-1], answer=answer, turned=not work.claims[-1].turned))


def attach(work: Pairing) -> None:
    """Channels without a place belong to the place said by itself, or to the one said last with another channel."""
    named_so = {
        one.ends.red.name: one.ends.red
        for one in work.claims
        if one.ends and one.ends.red.name and one.ends.red.channel
    }
    if len(named_so) == 1 and not work.place_only:
        (where,) = named_so.values()
        lone = [
            one
            for one in work.claims
            if one.ends and not one.ends.red.name and one.ends.red.channel not in ("", where.channel)
        ]
        work.claims = [at_place(one, where) if one in lone else one for one in work.claims]
    if work.place_only:
        found = ends(work.place_only, work.topic)
        if len(found) != 1 or found[0].black or found[0].across or found[0].red.channel:
            raise unclear(" ".join(one.text for one in work.place_only), work.place_only[0].start)
        if any(one.ends is None or one.ends.red.name for one in work.claims):
            raise unclear(" ".join(one.text for one in work.place_only), work.place_only[0].start)
        work.claims = [at_place(one, found[0].red) for one in work.claims]
    if work.waiting and not work.used:
        what = " ".join(one.text for one in work.waiting)
        raise Unsure("unclear", f"no answer for {what!r}", "write the figure behind the place", work.waiting[0].start)


def at_place(one: Claim, where: Spot) -> Claim:
    """A claim of a channel at that place."""
    assert one.ends is not None
    return replace(one, ends=replace(one.ends, red=replace(where, channel=one.ends.red.channel)))
