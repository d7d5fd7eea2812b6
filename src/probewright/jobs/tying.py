"""Free names and ticks tied to a machine file: a proposal for each, for the person to confirm."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from probewright.jobs.cases import Case
from probewright.machine import Machine
from probewright.machine.model import GROUND
from probewright.readings import EXCHANGE, KEPT, PROVOKE
from probewright.readings.hearing import Context, hear

LEG = re.compile(r"(?i)(?:left|right|top|bottom|upper|lower|one|other)?\s*(?:leg|end|side)$")
PRINTED = re.compile(r"(?i)[a-z]{1,3}\d+[a-z]?")  # a part as it is printed on a board
WORDS = re.compile(r"[a-z]+|\d+")

NO_PLACES = ("works", "swap", "swap back", "test", "look", PROVOKE, EXCHANGE)  # they name functions, extras and parts


@dataclass(frozen=True)
class Match:
    """What a free name may be. place: the proposal, "" when there is none; others: further candidates."""

    name: str
    place: str
    others: tuple[str, ...] = ()


def free_places(case: Case, machine: Machine) -> tuple[str, ...]:
    """Names in the job's readings that the machine file does not know as they stand."""
    names = case.known.names if case.known else {}
    found: dict[str, None] = {}
    for reading in case.readings:
        ask = reading.question
        if ask.instrument in (*NO_PLACES, *KEPT):
            continue
        for place in (ask.red, ask.black, *ask.setup.lifted):
            if not machine.has_place(names.get(place, place)):
                found[place] = None
    return tuple(found)


def propose(case: Case, machine: Machine) -> tuple[Match, ...]:
    """A match for every free name, in the order they were read."""
    return tuple(match(name, machine) for name in free_places(case, machine))


def match(name: str, machine: Machine) -> Match:
    """The place that a free name most likely is: what the parser makes of it, else the likeliest names."""
    heard = hear(f"{name} 1.00 V", Context(machine=machine, sure=True))
    if len(heard.readings) == 1 and not heard.doubts:
        return Match(name, heard.readings[0].question.red)
    if LEG.search(name) and PRINTED.fullmatch(LEG.sub("", name).strip()):
        return Match(name, "", legs(name, machine))  # a leg of a part is no net, even where they share a figure
    ranked = sorted(likely(name, machine), key=lambda one: (-one[0], one[1]))
    places = [place for _, place in ranked[:4]]
    sure = ranked and (len(ranked) == 1 or ranked[0][0] > ranked[1][0])
    return Match(name, places[0], tuple(places[1:])) if sure else Match(name, "", tuple(places))


def legs(name: str, machine: Machine) -> tuple[str, ...]:
    """Both pins of "R31 left leg": only the person knows which way the board lies."""
    part = LEG.sub("", name).strip().casefold()
    found = [p for p in machine.parts.values() if p.name.casefold() == part and LEG.search(name)]
    return tuple(f"{found[0].name}.{pin}" for pin in found[0].pins) if found else ()


def likely(name: str, machine: Machine) -> Iterable[tuple[float, str]]:
    """Nets and points that share words or figures with the name, with how much they share."""
    said = set(WORDS.findall(name.casefold()))
    for place in (*machine.nets, *machine.points):
        if place == GROUND:
            continue
        theirs = set(WORDS.findall(place.casefold()))
        if shared := said & theirs:
            yield len(shared) / len(said | theirs), place


def match_functions(ticks: Sequence[str], machine: Machine) -> dict[str, str]:
    """Ticks tied to functions of the file where only one can be meant: by channel word, then by shared words."""
    labels = {label.casefold() for label in machine.channels.values()}
    found = {}
    for tick in ticks:
        words = set(WORDS.findall(tick.casefold()))
        channel = words & labels
        fitting = []
        for works in machine.works:
            theirs = set(WORDS.findall(works.name.casefold())) | ({machine.channels.get(works.channel, "")} - {""})
            if (theirs & labels) == channel and (channel or words & theirs):
                fitting.append((len(words & theirs), works.name))
        best = [name for score, name in fitting if score == max(fitting)[0]] if fitting else []
        if len(best) == 1:
            found[tick] = best[0]
    return found
