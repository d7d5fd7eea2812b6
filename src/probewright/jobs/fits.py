"""Parts taken out and put in, as the record tells it: packages said, steps ticked, how often which pads were hot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from probewright.record import Event

if TYPE_CHECKING:
    from probewright.jobs.cases import Case


@dataclass(frozen=True)
class FitSaid:
    """What a person says of a part. package: "DIP-16", "" for nothing said; board: its kind, "" for nothing said; kept:
    it shall live, so that no leg is cut."""

    event: int
    part: str
    package: str = ""
    board: str = ""
    kept: bool = False


@dataclass(frozen=True)
class FitTick:
    """A step done, or a pin tried. answer: "ok" or "bad"; words: what was seen."""

    event: int
    at: str
    part: str
    item: str
    answer: str = "ok"
    words: str = ""


@dataclass(frozen=True)
class Heated:
    """Pads that were hot. event: of the line or the word; pad: of one pin, "" for all; times: how often; hand: it was
    said by hand; once: mark of the form it came by."""

    event: int
    at: str
    part: str
    times: int = 1
    words: str = ""
    pad: str = ""
    hand: bool = False
    once: str = ""


@dataclass(frozen=True)
class Fits:
    """All that was said of parts that come out and go in."""

    said: tuple[FitSaid, ...] = ()
    ticks: tuple[FitTick, ...] = ()
    heated: tuple[Heated, ...] = ()
    anew: Mapping[str, int] | None = None  # part -> event from which on its ticks count

    def last_tick(self, part: str, item: str) -> FitTick | None:
        """What was last said of this step, in this round; None where nothing was."""
        since = (self.anew or {}).get(part, 0)
        mine = (one for one in reversed(self.ticks) if (one.part, one.item) == (part, item) and one.event > since)
        return next(mine, None)


def heatings(case: Case, part: str, units: Collection[str]) -> tuple[Heated, ...]:
    """Each time that pads of a part were hot: a leg lifted or put back, a new part fitted or the old one put back, a
    joint resoldered, and what was said by hand. units: names of the parts in its case."""
    by_hand = (one for one in case.fits.heated if one.part == part)
    return tuple(sorted((*_from_lines(case, part, units), *by_hand), key=lambda one: one.event))


def how_often(some: Collection[Heated]) -> int:
    """How often the pads that were hot oftenest were hot."""
    pads: Counter[str] = Counter()
    for one in some:
        pads[one.pad] += one.times
    return pads.pop("", 0) + max(pads.values(), default=0)


def _from_lines(case: Case, part: str, units: Collection[str]) -> Iterator[Heated]:
    """What the lines of the bench tell."""
    lifted: set[str] = set()
    fitted, joints = 0, Counter[str]()
    for line in case.live:
        if line.bench is None:
            continue
        setup, own = line.bench.setup, {part, *units}
        now = {one for one in setup.lifted if one.rpartition(".")[0] in own}
        new = max((Counter(line.bench.fitted)[one] for one in own), default=0)
        soldered = Counter(one for one in line.bench.mended if one.rpartition(".")[0] in own)
        if new != fitted:
            yield Heated(line.event, line.at, part, 1, f"{'new' if new > fitted else 'old'} {part} fitted")
        else:
            for pad in sorted(now ^ lifted):
                yield Heated(line.event, line.at, part, 1, f"{pad} {'lifted' if pad in now else 'back'}", pad)
        for pad in sorted((soldered - joints).elements()):
            yield Heated(line.event, line.at, part, 1, f"{pad} resoldered", pad)
        lifted, fitted, joints = now, new, soldered


# Events --------------------------------------------------------------------------------------


def after(fits: Fits, event: Event) -> Fits:
    """All of it after one more of these events."""
    return FOLDS[event.kind](fits, event)


def _said(fits: Fits, event: Event) -> Fits:
    return replace(fits, said=(*fits.said, FitSaid(event.number, **event.payload)))


def _ticked(fits: Fits, event: Event) -> Fits:
    return replace(fits, ticks=(*fits.ticks, FitTick(event.number, event.at, **event.payload)))


def _heated(fits: Fits, event: Event) -> Fits:
    return replace(fits, heated=(*fits.heated, Heated(event.number, event.at, hand=True, **event.payload)))


def _anew(fits: Fits, event: Event) -> Fits:
    return replace(fits, anew={**(fits.anew or {}), event.payload["part"]: event.number})


def _gone(fits: Fits, event: Event) -> Fits:
    gone = event.payload["event"]
    return replace(
        fits,
        said=tuple(one for one in fits.said if one.event != gone),
        ticks=tuple(one for one in fits.ticks if one.event != gone),
        heated=tuple(one for one in fits.heated if one.event != gone),
    )


FOLDS: Mapping[str, Callable[[Fits, Event], Fits]] = {
    "fit said": _said, "fit ticked": _ticked, "pads heated": _heated, "fit anew": _anew, "fit gone": _gone,
}  # fmt: skip
