"""A machine taken apart and put together again, as the record tells it: what came off, what went back, what is left."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from probewright.errors import complaint
from probewright.machine import Machine
from probewright.machine.layers import COUNTED, Layer, Loose
from probewright.machine.opening import read_layer
from probewright.planning.refitting import retests
from probewright.record import Event
from probewright.units import counted

OK, BAD = "ok", "bad"
COOLING = ("heatsink", "screen")  # sorts that are a layer by themselves
TO_LOOK = ("earth earth", "screen", "heatsink tab")  # checks of `planning.refitting` for what can hurt or short
RAIL = "board rails "
OFF = re.compile(r" (?:off|out|away|loose)$", re.IGNORECASE)  # how a thing came is no part of its name
ITSELF = "layer"  # key of the layer itself among what goes back


@dataclass(frozen=True)
class Taken:
    """A layer that came off. event: its number; name, text: as it was said; before: the event of the layer that it
    came off before, 0 for the last one so far; planned: its place, from 1, in a list that was followed, 0 for none;
    once: mark of the form it came by."""

    event: int
    at: str
    text: str
    name: str = ""
    before: int = 0
    planned: int = 0
    once: str = ""

    @cached_property
    def layer(self) -> Layer:
        """What was understood."""
        return read_layer(self.text, self.name)


@dataclass(frozen=True)
class Back:
    """One thing back in its place, or one thing looked at. layer: event of its layer; item: its key; count: how many of
    them, None for as many as came out; answer: OK or BAD; words: what was seen."""

    event: int
    at: str
    layer: int
    item: str
    count: int | None = None
    answer: str = OK
    words: str = ""


@dataclass(frozen=True)
class Followed:
    """The layers of another job, taken over as what to do. layers: name and text of each."""

    event: int
    at: str
    job: int
    layers: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Explained:
    """What became of what was left over, in a person's words."""

    event: int
    at: str
    words: str


@dataclass(frozen=True)
class Tied:
    """A picture that shows a layer. photo: its name."""

    event: int
    layer: int
    photo: str


@dataclass(frozen=True)
class Strip:
    """All that was taken apart. taken: in the order in which it came off."""

    taken: tuple[Taken, ...] = ()
    back: tuple[Back, ...] = ()
    followed: tuple[Followed, ...] = ()
    explained: tuple[Explained, ...] = ()
    tied: tuple[Tied, ...] = ()
    last: int = 0  # number of the last event that changed what is out or back

    def last_back(self, layer: int, item: str) -> Back | None:
        """What was last said of this thing; None where nothing was."""
        return next((one for one in reversed(self.back) if (one.layer, one.item) == (layer, item)), None)

    def first_back(self, layer: int, item: str) -> Back | None:
        """What was first said of this thing; None where nothing was."""
        return next((one for one in self.back if (one.layer, one.item) == (layer, item)), None)


@dataclass(frozen=True)
class Count:
    """Fixings of one kind. out: as many came out; back: as many went in again."""

    kind: str
    out: int
    back: int


def items_of(layer: Layer) -> Iterator[tuple[str, Loose | None]]:
    """Key and thing of what goes back with a layer, in the order in which it goes back: what lies between first, then
    the layer itself (None), then the rest as it came loose, last first."""
    keyed = [(f"{one.sort} {number}", one) for number, one in enumerate(layer.loose, 1)]
    yield from ((key, one) for key, one in keyed if one.sort == "between")
    if layer.name or not keyed:
        yield ITSELF, None
    yield from ((key, one) for key, one in keyed if one.sort in COOLING)
    yield from ((key, one) for key, one in reversed(keyed) if one.sort not in ("between", *COOLING))


def is_back(strip: Strip, taken: Taken) -> bool:
    """Whether all of a layer is in its place again."""
    return all(strip.last_back(taken.event, key) for key, _ in items_of(taken.layer))


def counts(strip: Strip) -> tuple[Count, ...]:
    """Fixings of every kind, in the order in which they were first named."""
    sums: dict[str, Count] = {}
    for taken in strip.taken:
        for key, one in items_of(taken.layer):
            if one is None or one.sort != COUNTED:
                continue
            told = strip.last_back(taken.event, key)
            back = 0 if told is None else one.count if told.count is None else told.count
            before = sums.get(one.kind, Count(one.kind, 0, 0))
            sums[one.kind] = replace(before, out=before.out + one.count, back=before.back + back)
    return tuple(sums.values())


def still_apart(strip: Strip, machine: Machine | None) -> tuple[str, ...]:
    """As `troubles`; empty once somebody said what became of them, until something else changes."""
    return () if explained(strip) else troubles(strip, machine)


def troubles(strip: Strip, machine: Machine | None) -> tuple[str, ...]:
    """What is not as it was, in words: layers that are off, fixings too few or too many, what was looked at and is not
    well, an earth or a short that nobody looked for."""
    off = [said(one) for one in reversed(strip.taken) if not is_back(strip, one)]
    told = (f"{' and '.join(off)} {'is' if len(off) == 1 else 'are'} not wholly back",) if off else ()
    return (*told, *left_over(strip), *dict.fromkeys(_not_well(strip, machine)))


def _not_well(strip: Strip, machine: Machine | None) -> Iterator[str]:
    for taken in (one for one in strip.taken if is_back(strip, one)):
        for check in retests(taken.layer, machine, {}):
            what, last = check.says.partition(":")[0], strip.last_back(taken.event, check.key)
            if last is None and check.key.startswith(TO_LOOK):
                yield f"{what}: not looked at"
        for one in (last for last in _last_looks(strip, taken) if last.answer == BAD):
            yield f"{_looked(one, taken, machine)}: not well" + (f" ({one.words})" if one.words else "")


def _last_looks(strip: Strip, taken: Taken) -> Iterator[Back]:
    """The last word on each thing of a layer, as they were first named."""
    keys = dict.fromkeys(one.item for one in strip.back if one.layer == taken.event)
    yield from (last for key in keys if (last := strip.last_back(taken.event, key)))


def _looked(one: Back, taken: Taken, machine: Machine | None) -> str:
    """What was looked at, in few words; of a rail its net."""
    rail = one.item.removeprefix(RAIL)
    rails = {rail: ""} if rail != one.item else {}
    says = (check.says for check in retests(taken.layer, machine, rails) if check.key == one.item)
    return next((words.partition(":")[0] for words in says), said(taken))


def explained(strip: Strip) -> str:
    """What somebody said became of what is left over or not back; "" where nobody did since something changed."""
    last = strip.explained[-1] if strip.explained else None
    return last.words if last is not None and last.event > strip.last else ""


def left_over(strip: Strip) -> tuple[str, ...]:
    """Kinds of which not as many went in as came out, among the layers that are back; in words."""
    here = replace(strip, taken=tuple(one for one in strip.taken if is_back(strip, one)))
    short = ((one.kind, one.out - one.back) for one in counts(here) if one.out != one.back)
    return tuple(
        f"{many(missing, kind)} left over" if missing > 0 else f"{many(-missing, kind)} more in than came out"
        for kind, missing in short
    )


def many(count: int, kind: str) -> str:
    """ "2 screws M3 12 mm"."""
    noun, _, rest = kind.partition(" ")
    return f"{counted(count, noun)} {rest}".strip()


def number_of(strip: Strip, event: int) -> int:
    """The number that the layer of this event has now. BadInput when it was taken back."""
    found = next((number for number, one in enumerate(strip.taken, 1) if one.event == event), None)
    if found is None:
        raise complaint("this layer is not in the list any more", "look at the list as it is now")
    return found


def said(taken: Taken) -> str:
    """What a layer is called: by its name, else by what came loose first, else by all that was said."""
    layer = taken.layer
    return layer.name or (OFF.sub("", layer.loose[0].says) if layer.loose else taken.text)


# Events --------------------------------------------------------------------------------------


def after(strip: Strip, event: Event) -> Strip:
    """All that was taken apart, after one more of these events."""
    return FOLDS[event.kind](strip, event)


def _taken(strip: Strip, event: Event) -> Strip:
    new = Taken(event.number, event.at, **event.payload)
    at = next((n for n, one in enumerate(strip.taken) if one.event == new.before), len(strip.taken))
    return replace(strip, taken=(*strip.taken[:at], new, *strip.taken[at:]), last=event.number)


def _back(strip: Strip, event: Event) -> Strip:
    return replace(strip, back=(*strip.back, Back(event.number, event.at, **event.payload)), last=event.number)


def _followed(strip: Strip, event: Event) -> Strip:
    layers = tuple((one["name"], one["text"]) for one in event.payload["layers"])
    new = Followed(event.number, event.at, event.payload["job"], layers)
    return replace(strip, followed=(*strip.followed, new))


def _explained(strip: Strip, event: Event) -> Strip:
    new = Explained(event.number, event.at, event.payload["words"])
    return replace(strip, explained=(*strip.explained, new))


def _tied(strip: Strip, event: Event) -> Strip:
    return replace(strip, tied=(*strip.tied, Tied(event.number, **event.payload)))


def _gone(strip: Strip, event: Event) -> Strip:
    """One of these events taken back, with all that hangs on it."""
    gone = event.payload["event"]
    changes = gone in {one.event for one in strip.taken} | {one.event for one in strip.back}  # what is out, or back
    return Strip(
        tuple(one for one in strip.taken if one.event != gone),
        tuple(one for one in strip.back if gone not in (one.event, one.layer)),
        tuple(one for one in strip.followed if one.event != gone),
        tuple(one for one in strip.explained if one.event != gone),
        tuple(one for one in strip.tied if gone not in (one.event, one.layer)),
        event.number if changes else strip.last,
    )


FOLDS: Mapping[str, Callable[[Strip, Event], Strip]] = {
    "layer off": _taken, "layer back": _back, "opening followed": _followed, "left over": _explained,
    "layer photo": _tied, "layer gone": _gone,
}  # fmt: skip
