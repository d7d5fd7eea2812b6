"""Taking a machine apart, layer by layer, as it was typed or as the machine file or another job names it.

What is typed here moves no belief. A heatsink that comes off with a layer is proposed as a line for the bench and
entered by a person alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from probewright.jobs import strips
from probewright.jobs.bench import append, complaint, enter_line, every_case, machine_of, owned, readable, still_open
from probewright.jobs.cases import Case
from probewright.jobs.picturing import photo_of
from probewright.jobs.putting_together import RefitView, photos_of, refit, uncooled_now
from probewright.jobs.strips import Taken, said
from probewright.jobs.view import SCHEMA
from probewright.machine import Machine
from probewright.machine.layers import Care, Layer
from probewright.machine.opening import read_layer, uncounted
from probewright.machine.opening_words import ANY_FIXING, MOST_LETTERS
from probewright.planning.refitting import uncooled
from probewright.record import Book
from probewright.units import counted

LIVE = "The last word is that power is on. "
FIRST = "Pull the plug first, and empty what holds a charge, before a screw is turned."


@dataclass(frozen=True)
class PlannedView:
    """A layer that the machine file or another job names. number: from 1; done: it came off, whoever named it."""

    number: int
    name: str
    says: str
    done: bool
    cares: tuple[Care, ...]


@dataclass(frozen=True)
class LayerView:
    """A layer that came off. number: from 1, as they came off; event: to take it back; remarks: what was not
    understood, and how to say it; photos: names of pictures that show it."""

    number: int
    event: int
    at: str
    name: str
    text: str
    cares: tuple[Care, ...]
    remarks: tuple[str, ...]
    photos: tuple[str, ...]
    back: bool


@dataclass(frozen=True)
class ProposalView:
    """A line for the bench that follows from a layer, for a person to enter. why: which layer."""

    line: str
    why: str


@dataclass(frozen=True)
class OfferView:
    """Another job of the model that was opened. says: "job 12 opened one: 6 steps"."""

    job: int
    layers: int
    says: str


@dataclass(frozen=True)
class StripView:
    """How a machine was taken apart. ahead: what the machine file or another job names, followed: that job, 0 for the
    file; offers: jobs that could be followed; proposals: lines for the bench; caution: before the first screw."""

    job: int
    layers: tuple[LayerView, ...]
    ahead: tuple[PlannedView, ...]
    followed: int
    offers: tuple[OfferView, ...]
    proposals: tuple[ProposalView, ...]
    caution: str
    refit: RefitView
    schema: str = SCHEMA


# What a person says --------------------------------------------------------------------------


def take_off(book: Book, case: Case, text: str, now: str, before: int = 0, once: str = "") -> Case:
    """Enter a layer that came off, as it was typed. before: number of the layer that came off after it, where this one
    was forgotten; 0 for the last one so far; once: mark of the form, which counts once however often it is sent.
    BadInput for an empty line, or for a number of what is nearly a thing to be counted."""
    still_open(case)
    readable(text)
    text = " ".join(text.split())
    if not text.strip(" ,;."):
        raise complaint("the line is empty", "write what came loose, like `4 screws 12 mm bottom, tray A`")
    if len(text) > MOST_LETTERS:
        raise complaint(f"this line has {len(text)} letters", f"write at most {MOST_LETTERS}: a layer a line")
    if once and any((one.once, one.text) == (once, text) for one in case.strip.taken):
        return case
    if asked := uncounted(read_layer(text)):
        mend = f"write what it is, like `4 screws 12 mm`, or as a remark: `note {asked[0]}`"
        raise complaint(f"{asked[0]!r} is not understood, and would not be counted", mend)
    later = _taken(case, before).event if before else 0
    return append(book, case, "layer off", {"text": text, "before": later, **({"once": once} if once else {})}, now)


def take_off_planned(book: Book, case: Case, now: str, number: int = 0) -> Case:
    """A layer of the list that is followed came off. number: which, 0 for the next. BadInput where there is none."""
    still_open(case)
    machine = machine_of(case)
    still_on = [one for one in ahead(case) if not one.done]
    found = next((one for one in still_on if number in (0, one.number)), None)
    if found is None:
        raise complaint(
            f"layer {number} is not among what is to come off" if number else "no layer is named that is still on",
            "see what there is: `probewright strip`, or type what came off",
        )
    name, text = _list(case, machine)[found.number - 1]
    payload = {"text": text, "name": name, "planned": found.number}
    return append(book, case, "layer off", payload, now)


def ahead(case: Case) -> tuple[PlannedView, ...]:
    """The layers that the machine file or another job names."""
    return tuple(_ahead(case, machine_of(case)))


def follow(book: Book, case: Case, job: int, now: str) -> Case:
    """Take over the layers of another job as what to do here. BadInput for one that opened nothing."""
    still_open(case)
    other = next((one for one in every_case(book) if one.number == job and job != case.number), None)
    if other is None or not other.strip.taken:
        offers = ", ".join(f"`probewright strip --follow {one.job}`" for one in _offers(book, case))
        raise complaint(
            f"job {job} opened nothing that could be followed", offers or "type what came off, layer by layer"
        )
    layers = [{"name": one.name, "text": one.text} for one in other.strip.taken]
    return append(book, case, "opening followed", {"job": job, "layers": layers}, now)


def tie_photo(book: Book, case: Case, number: int, photo: str, now: str) -> Case:
    """Say that a picture of the job shows a layer. number: of the layer; photo: its name."""
    still_open(case)
    layer = _taken(case, number).event
    photo_of(case, photo)
    if any((one.layer, one.photo) == (layer, photo) for one in case.strip.tied):
        return case
    return append(book, case, "layer photo", {"layer": layer, "photo": photo}, now)


def take_back(book: Book, case: Case, event: int, now: str) -> Case:
    """A layer, a tick, a list that was followed, an explanation or a picture of a layer, entered by mistake."""
    still_open(case)
    strip = case.strip
    known = {
        one.event for some in (strip.taken, strip.back, strip.followed, strip.explained, strip.tied) for one in some
    }
    if event not in known:
        raise complaint(f"job {case.number} has nothing {event} to take back", "see its numbers: `probewright strip`")
    return append(book, case, "layer gone", {"event": event}, now)


def say_proposed(book: Book, case: Case, now: str) -> Case:
    """Enter the proposed lines at the bench: a person said so."""
    lines = [one.line for one in _proposals(case, machine_of(case))]
    if not lines:
        raise complaint("no line is proposed", "see `probewright strip`")
    for line in lines:
        case = enter_line(book, case, line, now)
    return case


def _taken(case: Case, number: int) -> Taken:
    """The layer of this number. BadInput when there is none."""
    if not 1 <= number <= len(case.strip.taken):
        raise complaint(f"job {case.number} has no layer {number}", "see its layers: `probewright strip`")
    return case.strip.taken[number - 1]


# Where it stands -----------------------------------------------------------------------------


def strip_down(book: Book, case: Case) -> StripView:
    """What came off, what is to come off, what goes back. BadInput for a practice."""
    owned(case)
    machine, strip = machine_of(case), case.strip
    followed = strip.followed[-1].job if strip.followed else 0
    offers = () if strip.taken or strip.followed else tuple(_offers(book, case))
    layers = tuple(_layer(case, number, one) for number, one in enumerate(strip.taken, 1))
    proposals = tuple(_proposals(case, machine))
    live = case.bench.power_said and case.bench.setup.power == "on"
    return StripView(
        case.number, layers, ahead(case), followed, offers, proposals, f"{LIVE}{FIRST}" if live else FIRST, refit(case)
    )


def _layer(case: Case, number: int, taken: Taken) -> LayerView:
    layer = taken.layer
    return LayerView(
        number, taken.event, taken.at, said(taken), taken.text, layer.cares, tuple(_remarks(layer)),
        photos_of(case, taken), strips.is_back(case.strip, taken),
    )  # fmt: skip


def _remarks(layer: Layer) -> Iterator[str]:
    """What a layer's line left open."""
    for note in layer.notes:
        if ANY_FIXING.search(note):
            yield f"{note}: how many? Not counted until you say so, like `4 screws 12 mm`"
        else:
            yield f"kept as a note: {note}"


def _ahead(case: Case, machine: Machine | None) -> Iterator[PlannedView]:
    for number, (name, text) in enumerate(_list(case, machine), 1):
        layer = read_layer(text, name)
        done = any(
            (one.planned, one.name, one.text) == (number, name, text) or said(one).casefold() == layer.name.casefold()
            for one in case.strip.taken
        )
        yield PlannedView(number, layer.name, text, done, layer.cares)


def _list(case: Case, machine: Machine | None) -> tuple[tuple[str, str], ...]:
    """Name and text of every layer that another job which is followed names, else the machine file."""
    if case.strip.followed:
        return case.strip.followed[-1].layers
    return tuple((one.name, one.text) for one in machine.opening) if machine is not None else ()


def _offers(book: Book, case: Case) -> Iterator[OfferView]:
    """Jobs of the same model, or with the same machine file, that were opened."""
    mine = _models(case)
    for other in every_case(book):
        if count := len(other.strip.taken) if other.number != case.number and mine & _models(other) else 0:
            yield OfferView(other.number, count, f"job {other.number} opened one: {counted(count, 'step')}")


def _models(case: Case) -> set[str]:
    """What the model is called: at the intake, and in the machine file."""
    machine = machine_of(case)
    names = (case.intake.model, machine.name if machine is not None else "")
    return {" ".join(one.casefold().split()) for one in names if one.strip()}


def _proposals(case: Case, machine: Machine | None) -> Iterator[ProposalView]:
    """Heatsinks that are off or on again, where the set-up says otherwise."""
    bare = {name for name, _ in case.bench.setup.bare}
    off = {part: one for one in case.strip.taken for part in uncooled_now(case.strip, one, machine)}
    for part, taken in off.items():
        if part not in bare:
            yield ProposalView(f"heatsink of {part} off", f"{said(taken)} is off")
    for taken in case.strip.taken:
        for part in uncooled(taken.layer, machine):
            if part in bare and part not in off:
                yield ProposalView(f"heatsink of {part} refitted", f"{said(taken)} is back")
