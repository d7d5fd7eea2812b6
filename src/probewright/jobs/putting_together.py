"""Putting a machine together again: layer by layer, each thing ticked as it goes back, each layer looked at before the
next one hides it, nothing left over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from probewright.jobs import strips
from probewright.jobs.bench import append, complaint, machine_of, readable, still_open
from probewright.jobs.cases import Case
from probewright.jobs.strips import BAD, COOLING, OK, Back, Count, Strip, Taken, items_of, said
from probewright.jobs.view import SCHEMA
from probewright.machine import Machine
from probewright.machine.layers import COUNTED, Loose
from probewright.machine.model import GROUND
from probewright.machine.opening import how_shut
from probewright.machine.opening_words import MOST
from probewright.planning.rails import feeding_nets
from probewright.planning.refitting import retests, uncooled
from probewright.readings import echo
from probewright.record import Book
from probewright.units import with_capital

RAILS = 5  # chosen: rails to read at a board


@dataclass(frozen=True)
class BackView:
    """Something that goes back, or is looked at. number: "2.1", of its layer and in it; check: looked at; needed: how
    many, 0 where that means nothing; done: "", "ok" or "bad"; count: how many went back; event: to take it back."""

    number: str
    key: str
    says: str
    check: bool
    needed: int
    done: str
    count: int
    at: str
    event: int
    words: str


@dataclass(frozen=True)
class RefitLayerView:
    """A layer on its way back. number: as it came off; back: all of it is in its place; checked: and looked at."""

    number: int
    event: int
    name: str
    items: tuple[BackView, ...]
    photos: tuple[str, ...]
    back: bool
    checked: bool


@dataclass(frozen=True)
class RefitView:
    """How far a machine is together again.

    standing: "nothing apart", "apart", "left over", "to be checked" or "together"; layers: last off, first; counts:
    fixings of each kind; left_over: what does not add up, in words; out_of_order: layers that went back too early;
    power_waits: what has to be back before power is on, or is on for long; explained: what became of what is left
    over, as somebody said; done: nothing is to be done any more; says: where it stands, in a sentence.
    """

    job: int
    standing: str
    layers: tuple[RefitLayerView, ...]
    counts: tuple[Count, ...]
    left_over: tuple[str, ...]
    out_of_order: tuple[str, ...]
    power_waits: tuple[str, ...]
    explained: str
    done: bool
    says: str
    schema: str = SCHEMA


# What a person says --------------------------------------------------------------------------


def put_back(book: Book, case: Case, which: str, now: str, count: int | None = None, words: str = "") -> Case:
    """A layer, or one thing of it, is back, or was looked at and is well. which: "2" or "2.3" as listed; count: how
    many screws went in, None for all; words: what was seen. BadInput for what is not listed."""
    readable(words)
    view, keys = _listed(case, which)
    if count is not None and (len(keys) != 1 or not keys[0].needed):
        counted = next((one for one in view.items if one.needed), None)
        mend = f"write `--back {counted.number} --count {counted.needed}`" if counted else "leave the number out"
        raise complaint("how many went back is said of one kind of screw or nut at a time", mend)
    if count is not None and not 0 <= count <= MOST:
        raise complaint(f"{count} cannot have gone back", "count what went in")
    for one in keys:
        told = {"layer": view.event, "item": one.key, "count": count, "words": words.strip()}
        case = append(book, case, "layer back", told, now)
    return case


def looked_at(book: Book, case: Case, which: str, answer: str, words: str, now: str) -> Case:
    """Something was looked at. which: "2.3" as listed; answer: OK or BAD; words: what was seen."""
    readable(words)
    view, keys = _listed(case, which)
    if answer not in (OK, BAD) or len(keys) != 1 or not keys[0].check:
        check = next((one.number for one in view.items if one.check), "")
        mend = (
            f"to be looked at are those with [?], like {check}" if check else f"say that it is back: `--back {which}`"
        )
        raise complaint(f"{which!r} is nothing to look at", mend)
    payload = {"layer": view.event, "item": keys[0].key, "answer": answer, "words": words.strip()}
    return append(book, case, "layer back", payload, now)


def explain(book: Book, case: Case, words: str, now: str) -> Case:
    """What became of what is left over or not back; holds until something else changes."""
    still_open(case)
    readable(words)
    if not words.strip():
        raise complaint("the words are missing", 'write what became of it, like "one screw was missing when it came"')
    if not strips.still_apart(case.strip, machine_of(case)):
        raise complaint("nothing is left over or not well", "nothing is to be said")
    return append(book, case, "left over", {"words": words.strip()}, now)


def which_of(case: Case, event: int, key: str) -> str:
    """What `put_back` and `looked_at` are told, of the layer of this event: the thing of this key, "" for all of it.
    BadInput where it is not listed any more."""
    number = strips.number_of(case.strip, event)
    if not key:
        return str(number)
    layer = next(one for one in refit(case).layers if one.event == event)
    found = next((one.number for one in layer.items if one.key == key), None)
    if found is None:
        raise complaint(f"this is not listed with {layer.name} any more", "look at the list as it is now")
    return found


def _listed(case: Case, which: str) -> tuple[RefitLayerView, tuple[BackView, ...]]:
    """A layer and the things of it that are meant; of a whole layer all but what is looked at, ticked by itself."""
    still_open(case)
    view = refit(case)
    layer, dot, _ = which.strip().partition(".")
    found = next((one for one in view.layers if str(one.number) == layer), None)
    things = (
        tuple(one for one in found.items if (one.number == which.strip() if dot else not one.check)) if found else ()
    )
    if found is None or not things:
        raise complaint(f"{which!r} is not listed", "take its number from `probewright strip --refit`")
    return found, things


# Where it stands -----------------------------------------------------------------------------


def refit(case: Case) -> RefitView:
    """How far the machine is together again: what goes back, in which order, what is looked at, what is left over."""
    machine, strip = machine_of(case), case.strip
    rails = _rails(case, machine)
    taken = list(enumerate(strip.taken, 1))
    layers = tuple(_refit_layer(case, number, one, machine, rails) for number, one in reversed(taken))
    left = strips.left_over(strip)
    explained = strips.explained(strip)
    standing = _standing(layers, () if explained else left)
    return RefitView(
        case.number, standing, layers, strips.counts(strip), left, tuple(_out_of_order(strip)),
        tuple(_power_waits(strip, machine)), explained, standing in ("nothing apart", "together"),
        _says(standing, layers, left),
    )  # fmt: skip


def _rails(case: Case, machine: Machine | None) -> Mapping[str, str]:
    """Rails of the machine file with their ohms to ground as read first, "" where nobody did."""
    if machine is None:
        return {}
    read: dict[str, str] = {}
    for reading in case.readings:
        ask = reading.question
        if (ask.instrument, ask.black, ask.setup.sister) == ("ohms", GROUND, False):
            read.setdefault(machine.net_of(ask.red) if machine.has_place(ask.red) else ask.red, echo.figure(reading))
    return {net: read.get(net, "") for net in feeding_nets(machine)}


def _refit_layer(
    case: Case, number: int, taken: Taken, machine: Machine | None, rails: Mapping[str, str]
) -> RefitLayerView:
    strip, layer = case.strip, taken.layer
    things = [(key, _back_says(taken, one), False, _needed(one)) for key, one in items_of(layer)]
    few = dict(list(rails.items())[:RAILS])
    checks = [(one.key, one.says, True, 0) for one in retests(layer, machine, few)]
    items = tuple(
        _item(strip.last_back(taken.event, key), f"{number}.{n}", key, says, check, needed)
        for n, (key, says, check, needed) in enumerate((*things, *checks), 1)
    )
    back = strips.is_back(strip, taken)
    checked = back and all(one.done == OK for one in items if one.check)
    return RefitLayerView(number, taken.event, said(taken), items, photos_of(case, taken), back, checked)


def _item(told: Back | None, number: str, key: str, says: str, check: bool, needed: int) -> BackView:
    """A thing, with what was last said of it."""
    if told is None:
        return BackView(number, key, says, check, needed, "", 0, "", 0, "")
    count = needed if told.count is None else told.count
    return BackView(number, key, says, check, needed, told.answer, count, told.at, told.event, told.words)


def _back_says(taken: Taken, one: Loose | None) -> str:
    """How a thing goes back."""
    if one is None:
        return f"{with_capital(said(taken))} in its place"
    says = one.says
    if one.sort == COUNTED:
        where = f", {one.where}" if one.where else ""
        return f"{strips.many(one.count, one.kind)}{where}" + (f", from {one.put}" if one.put else "")
    if one.sort == "cable":
        shut = how_shut(one.lock)
        return f"{says}: {shut}" if shut else f"{says}: back, and its lock shut"
    if one.sort == "between":
        return f"{says}: clean both faces; new paste or a whole pad, insulation and bushes as they were"
    if one.sort == "heatsink":
        return f"Heatsink of {one.name or 'its part'} back, screw tight"
    return f"{says}: back as it was"


def _needed(one: Loose | None) -> int:
    return one.count if one is not None and one.sort == COUNTED else 0


def _out_of_order(strip: Strip) -> Iterator[str]:
    """Layers that went back before one that came off after them."""
    for number, taken in enumerate(strip.taken):
        mine = [one.event for one in strip.back if one.layer == taken.event and one.item in dict(items_of(taken.layer))]
        for later in strip.taken[number + 1 :] if mine else ():
            ticks = [strip.first_back(later.event, key) for key, _ in items_of(later.layer)]
            if any(one is None or one.event > min(mine) for one in ticks):
                yield f"{said(taken)} went back before {said(later)}, which came off after it"


def _power_waits(strip: Strip, machine: Machine | None) -> Iterator[str]:
    for taken in strip.taken:
        seconds, off = taken.layer.seconds, not strips.is_back(strip, taken)
        if off and seconds is not None:
            much = f"at most {seconds:g} s of" if seconds else "no"
            yield f"{much} power before {said(taken)} is back"
        for part in uncooled_now(strip, taken, machine):
            yield f"{part} has no heatsink on: power only as long as the card says"


def _standing(layers: Sequence[RefitLayerView], left: Sequence[str]) -> str:
    if not layers:
        return "nothing apart"
    if not all(one.back for one in layers):
        return "apart"
    return "left over" if left else "together" if all(one.checked for one in layers) else "to be checked"


def _says(standing: str, layers: Sequence[RefitLayerView], left: Sequence[str]) -> str:
    """Where it stands, in a sentence."""
    off = [one for one in layers if not one.back]
    return {
        "nothing apart": "Nothing was taken apart.",
        "apart": f"{len(off)} of {len(layers)} layers still to go back; next: {off[0].name}." if off else "",
        "left over": f"All layers are back, but: {'; '.join(left)}. Find where it belongs before power comes on.",
        "to be checked": "All layers are back, and some are not looked at yet, or not well.",
        "together": f"All is back and looked at; {'what is left over is told' if left else 'nothing is left over'}.",
    }[standing]


def photos_of(case: Case, taken: Taken) -> tuple[str, ...]:
    """Names of the job's pictures that show a layer."""
    there = {one.name for one in case.photos}
    return tuple(one.photo for one in case.strip.tied if one.layer == taken.event and one.photo in there)


def uncooled_now(strip: Strip, taken: Taken, machine: Machine | None) -> tuple[str, ...]:
    """Parts that a layer leaves without what cools them, as long as that is off."""
    cools = [key for key, one in items_of(taken.layer) if one is None or one.sort in COOLING]
    again = all(strip.last_back(taken.event, key) for key in cools)
    return () if again else uncooled(taken.layer, machine)
