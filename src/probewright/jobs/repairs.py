"""What was repaired, line by line: new parts, old ones put back, what was mended in place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from probewright.jobs.cases import Case, Line
from probewright.jobs.known_files import file_of
from probewright.machine import Machine
from probewright.readings.setups import mended_in_words, whole


@dataclass(frozen=True)
class Fitting:
    """A part that a line fitted, of units in one case the case. event: number of the line; back: the old one again."""

    event: int
    at: str
    text: str
    part: str
    back: bool = False


def fittings(case: Case) -> Iterator[Fitting]:
    """Every part that a line fitted or put back and that was not taken back, in the order of the lines."""
    machine, before = file_of(case), Counter[str]()
    for line in case.live:
        if line.bench is not None:
            now = Counter(line.bench.fitted)
            yield from _of(line, now - before, machine, back=False)
            yield from _of(line, before - now, machine, back=True)
            before = now


def _of(line: Line, parts: Counter[str], machine: Machine | None, back: bool) -> Iterator[Fitting]:
    for part in sorted({whole(part, machine) for part in parts}):  # the old one put back ends every new one before it
        yield Fitting(line.event, line.at, line.text, part, back)


def repair_lines(case: Case) -> Iterator[Line]:
    """Lines that told of a repair: a new part, the old one again, something mended."""
    now: tuple[tuple[str, ...], ...] = ((), ())
    for line in case.live:
        if line.bench is not None and (stands := (line.bench.fitted, line.bench.mended)) != now:
            now = stands
            yield line


def repaired_at(case: Case) -> int:
    """Number of the last line that told of a repair; 0 for none."""
    return max((line.event for line in repair_lines(case)), default=0)


def first_repaired_at(case: Case) -> int:
    """Number of the first line that told of a repair; 0 for none."""
    return next((line.event for line in repair_lines(case)), 0)


def stands_repaired(case: Case) -> tuple[str, ...]:
    """What was fitted and is not out again, and what was mended, in words; none where nothing was repaired."""
    own = (one.part for one in case.parts_told if one.event == one.line)
    fitted = dict.fromkeys((*case.bench.fitted, *own))
    mended = (words for _, _, words in case.safety_told.mended)
    return (*(f"{part} fitted" for part in fitted), *mended_in_words(case.bench.mended, file_of(case)), *mended)
