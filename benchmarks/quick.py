"""The cards of the bench page: the first, the rough one at once after a line, the refined one that replaces it."""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Iterator, Sequence

from benchmarks.circuits import demo
from benchmarks.table import Row
from probewright import jobs
from probewright.readings import echo

FIRST, QUICK, REFINED = 2000.0, 150.0, 800.0  # ms, the goals of the bench page


def cards(name: str = "lm-2", readings: int | None = None) -> Iterator[Row]:
    """The first card; after each recorded reading the rough and the refined card; readings: at most so many.

    Nothing is worked ahead: the line is typed as soon as the card before it is there, which is the worst case.
    """
    loaded, said = demo(name)
    said = said[:readings]
    start = time.perf_counter()
    job = jobs.open_search(loaded)
    jobs.look(job)
    first = _since(start)
    quick, refined, shown = [], [], []
    for number, reading in enumerate(said, 1):
        offered = reading.question in {action.ask for action in jobs.look(job).actions}
        start = time.perf_counter()
        jobs.glance(jobs.quick_look(job, [reading]), job)
        quick.append(_since(start))
        start = time.perf_counter()
        job = jobs.enter_readings(job, [reading])
        jobs.look(job)
        refined.append(_since(start))
        note = f"refined {refined[-1]:.0f} ms{'' if offered else ', not what was offered'}"
        shown.append(Row(f"  rough card {number}, {echo.say(reading, loaded)}"[:66], quick[-1], "ms", note=note))
    yield Row("first card", first, "ms", FIRST, "<=")
    yield from _both("rough card", quick, QUICK)
    yield from _both("refined card", refined, REFINED)
    yield from shown


def _since(start: float) -> float:
    return 1e3 * (time.perf_counter() - start)


def _both(what: str, times: Sequence[float], goal: float) -> Iterator[Row]:
    """Median and 95 % of some times in ms; the goal is for the median."""
    yield Row(f"{what}, median of {len(times)} readings", statistics.median(times), "ms", goal, "<=")
    yield Row(f"{what}, 19 in 20 are quicker", nearly_all(times), "ms")


def nearly_all(times: Sequence[float]) -> float:
    """The time that 19 in 20 do not pass, by nearest rank: the longest where there are fewer than 20."""
    return sorted(times)[math.ceil(0.95 * len(times)) - 1]
