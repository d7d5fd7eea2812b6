"""What was repaired, line by line: new parts, old ones put back, what was mended in place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from probewright.jobs.cases import UNDONE, Case, Line


@dataclass(frozen=True)
class Fitting:
    """A part that a line fitted. event: number of the line; back: it is the old one again."""

    event: int
    at: str
    text: str
    part: str
    back: bool = False


def fittings(case: Case) -> Iterator[Fitting]:
    """Every part that a line fitted or put back and that was not taken back, in the order of the lines.

    A line's bench was worked out from the line before it, or from an earlier one where that was taken back by then;
        what differs from both is the line's own.
    """
    before: Counter[str] = Counter()
    standing: Counter[str] = Counter()
    for line in case.lines:
        if line.bench is None:
            continue
        now = Counter(line.bench.fitted)
        if line.status != UNDONE:
            yield from _of(line, (now - before) & (now - standing), back=False)
            yield from _of(line, (before - now) & (standing - now), back=True)
            standing = now
        before = now


def _of(line: Line, parts: Counter[str], back: bool) -> Iterator[Fitting]:
    for part in sorted(parts):  # putting the old one back takes out every new one before it
        yield Fitting(line.event, line.at, line.text, part, back)


def repaired_at(case: Case) -> int:
    """Number of the last line that told of a repair; 0 for none."""
    found = 0
    now: tuple[tuple[str, ...], ...] = ((), ())
    for line in case.live:
        if line.bench is not None and (stands := (line.bench.fitted, line.bench.mended)) != now:
            found, now = line.event, stands
    return found
