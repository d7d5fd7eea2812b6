"""From a reading entered to an answer and the next proposal, on the recorded readings of the mixer."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from functools import partial

from benchmarks.circuits import demo
from benchmarks.table import Row, seconds
from probewright import jobs
from probewright.readings import echo


def answering(name: str = "lm-2", readings: int | None = None) -> Iterator[Row]:
    """Cold start, then each recorded reading: quick answer, refined answer, `look`; readings: at most so many."""
    loaded, said = demo(name)
    said = said[:readings]

    def cold() -> None:
        assert jobs.look(jobs.enter_readings(jobs.open_search(loaded), said[:1])).actions

    yield Row("cold start: job opened, first reading, first proposal", seconds(cold, 1), "s", 2.0, "<=")
    job = jobs.open_search(loaded)
    quick, refined, looks, draws, shown = [], [], [], [], []
    for number, reading in enumerate(said, 1):
        quick.append(1e3 * seconds(partial(jobs.quick_look, job, [reading]), 1))
        start = time.perf_counter()
        job = jobs.enter_readings(job, [reading])
        refined.append(1e3 * (time.perf_counter() - start))
        looks.append(1e3 * seconds(partial(jobs.look, job), 1))
        draws.append(job.belief.quality[0])
        times = f"quick {quick[-1]:.0f} ms, refined {refined[-1]:.0f} ms, look {looks[-1]:.0f} ms"
        shown.append(Row(f"  after {number}, {echo.say(reading, loaded)}"[:66], draws[-1], "eff. draws", note=times))
    median = f"median of {len(said)} readings"
    yield Row(f"quick answer, {median}", statistics.median(quick), "ms", 30.0, "<=")
    yield Row(f"refined answer, {median}", statistics.median(refined), "ms")
    yield Row(f"view with the next reading (look), {median}", statistics.median(looks), "ms")
    both = [one + other for one, other in zip(refined, looks, strict=True)]
    yield Row(f"refined answer and next reading together, {median}", statistics.median(both), "ms", 600.0, "<=")
    yield Row("effective draws after a reading, least", min(draws))
    yield Row("effective draws after a reading, median", statistics.median(draws))
    yield from shown
