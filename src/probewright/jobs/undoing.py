"""What stands repaired on the bench, also once a line that told of a repair was taken back.

A line keeps the bench as it stood when it was entered. So each line holds what it changed itself, and the bench of
those after a line that was taken back is worked out anew without it.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace

from probewright.readings import Reading, Setup
from probewright.readings.bench import Bench

# Versions that worked out a line's bench from the one before it with all that had been taken back still in it.
TOOK_IT_ALONG = re.compile(r"0\.[0-6]\.")


@dataclass(frozen=True)
class Change:
    """What a line repaired, a name for each time. fitted: new parts; out: new ones that made way for the old again;
    mended: in place."""

    fitted: tuple[str, ...] = ()
    out: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()


NO_CHANGE = Change()


def change(before: Bench, after: Bench) -> Change:
    """What was repaired between two stands of the bench."""
    if (before.fitted, before.mended) == (after.fitted, after.mended):
        return NO_CHANGE  # as after nearly every line, and a book has thousands
    fitted, mended = _less(after.fitted, before.fitted), _less(after.mended, before.mended)
    return Change(fitted, _less(before.fitted, after.fitted), mended)


def repaired_by(bench: Bench, told: Change) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """New parts and what is mended after one more change."""
    if told == NO_CHANGE:
        return bench.fitted, bench.mended
    return _less((*bench.fitted, *told.fitted), told.out), tuple(sorted((*bench.mended, *told.mended)))


def as_stands(bench: Bench, fitted: tuple[str, ...], mended: tuple[str, ...]) -> Bench:
    """The bench with just these new parts and mended places, in its set-up too."""
    if (bench.fitted, bench.mended) == (fitted, mended):
        return bench
    return replace(bench, setup=_setup(bench.setup, bench, fitted, mended), fitted=fitted, mended=mended)


def as_taken(reading: Reading, bench: Bench, fitted: tuple[str, ...], mended: tuple[str, ...]) -> Reading:
    """A reading of a line as with just these; bench: of its line as it was taken to stand. Nothing is fitted in a
    sister."""
    ask = reading.question
    if ask.setup.sister or (bench.fitted, bench.mended) == (fitted, mended):
        return reading
    return replace(reading, question=replace(ask, setup=_setup(ask.setup, bench, fitted, mended)))


def _setup(setup: Setup, bench: Bench, fitted: tuple[str, ...], mended: tuple[str, ...]) -> Setup:
    new, places = _instead(setup.replaced, bench.fitted, fitted), _instead(setup.mended, bench.mended, mended)
    return replace(setup, replaced=new, mended=places)


def _instead(names: tuple[str, ...], was: tuple[str, ...], now: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted((*_less(names, _less(was, now)), *_less(now, was))))


def _less(names: tuple[str, ...], others: tuple[str, ...]) -> tuple[str, ...]:
    """The names without the others, each as often as it is left over; sorted."""
    return tuple(sorted((Counter(names) - Counter(others)).elements()))
