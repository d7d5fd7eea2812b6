"""Readings in one go: what a list of them adds to working out an answer, and what taking it whole does to a repair."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from dataclasses import replace

from benchmarks.circuits import DEMOS, demo
from benchmarks.table import Row
from probewright import jobs
from probewright.inference.drawn import DrawnPopulation
from probewright.jobs.rehearsing import Rehearsals, Terms, _Course
from probewright.jobs.scoring import Rehearsed
from probewright.jobs.searching import Search
from probewright.jobs.telling import decide
from probewright.machine import read
from probewright.planning.actions import Action
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.groups import Group, group
from probewright.planning.ways import ways
from probewright.readings import Reading
from probewright.readings.as_told import AsTold
from probewright.readings.cooling import Bare

HOT = """
machine: Video board with the heatsink off its regulator
parts:
  VIN: source 9V 5% series 0.5R limit 1A  RAW > GND
  C1: capacitor 1000u electrolytic  RAW > GND
  U1: regulator fixed 5V  in=RAW out=V5 com=GND
  C2: capacitor 100u electrolytic  V5 > GND
  R1: resistor 8R2 5W  V5 > GND
  R2: resistor 10k  V5 > B
  R3: resistor 10k  B > GND
  Q1: npn  c=V5 b=B e=OUT
  R4: resistor 470R  OUT > GND
works:
  picture: OUT dc at run; below 1.2V = dark; above 2.6V = pale
stimuli:
  run: {}
known good: [VIN]
heat:
  U1: {package: TO-220, with heatsink: 8 K/W}
"""
BARE = (Bare("U1", 0.0, None),)
ADDED = 0.25  # share of the time that a refined answer takes without, the goal
CASES = 2  # chosen: made-up repairs of each machine; four took seven of the thirty minutes that all may take


def together(cases: int = CASES) -> Iterator[Row]:
    """Time added to a refined answer on both demos; minutes of repairs with and without."""
    added = [one for name in DEMOS for one in added_time(name)]
    what = f"refined answer: time added by readings in one go, median of {len(added)}"
    yield Row(what, statistics.median(added), "of it", ADDED, "<=", note=f"most {max(added):.2f}")
    machines = [(name, demo(name)[0], ()) for name in DEMOS] + [("a board with its heatsink off", read(HOT), BARE)]
    for what, machine, bare in machines:
        rehearsals = Rehearsals(machine, Terms("in one go", brought=True, quick=True))
        ways_ = (False, True)
        pairs = [tuple(Course(rehearsals, n, bare, way).run(n) for way in ways_) for n in range(cases)]
        yield from compared(what, pairs)


def compared(what: str, pairs: list[tuple[Rehearsed, ...]]) -> Iterator[Row]:
    """Minutes and readings, in one go to one by one, and how often each names what is broken."""
    for name, figure in (("minutes", lambda one: one.minutes), ("readings", lambda one: float(one.readings))):
        ratio = sum(figure(two) for _, two in pairs) / max(sum(figure(one) for one, _ in pairs), 1e-9)
        mean = statistics.mean(figure(one) for one, _ in pairs)
        note = f"{mean:.1f} one by one, {len(pairs)} repairs"
        yield Row(f"{what}: {name} in one go, to one by one", ratio, "times", note=note)
    for way, name in enumerate(("one by one", "in one go")):
        yield Row(f"{what}: leads rightly, {name}", sum(pair[way].right for pair in pairs) / len(pairs), "of all")


def added_time(name: str) -> Iterator[float]:
    """After each recorded reading the time of the group, as a share of all that the answer took besides."""
    loaded, said = demo(name)
    job = jobs.open_search(loaded)
    for reading in said:
        begun = time.perf_counter()
        job = jobs.enter_readings(job, [reading])
        _, _, _, choices = decide(job.belief, job.population)
        whole, how = time.perf_counter() - begun, ways(job.population)
        begun = time.perf_counter()
        if isinstance(job.population, DrawnPopulation) and isinstance(how, CircuitWays):
            group(job.population, how, choices)
        yield (time.perf_counter() - begun) / whole


class Course(_Course):
    """A made-up repair with a heatsink off or none, and what is worth reading in one go read in one go, or not."""

    def __init__(self, rehearsals: Rehearsals, number: int, bare: tuple[Bare, ...], in_one_go: bool) -> None:
        super().__init__(rehearsals, rehearsals.bench(number))
        self.as_told, self.in_one_go = AsTold(bare=bare), in_one_go
        self.search = replace(self.search, as_told=self.as_told)

    def _entered(self, said: tuple[Reading, ...]) -> Search:
        return replace(super()._entered(said), as_told=self.as_told)

    def _do(self, action: Action) -> None:
        found = self._group(action) if self.in_one_go else None
        if found is None:
            super()._do(action)
            return
        asks = [one.action.ask for one in found.choices if one.action.ask is not None]
        said = [reading for ask in asks for reading in self.bench.answers(ask)]
        self.tried |= {(one.action.kind, one.action.item) for one in found.choices}
        self.readings += len(said)
        self.search = self._entered(tuple(said))
        self._spend(found.minutes, f"{len(said)} readings in one go")

    def _group(self, action: Action) -> Group | None:
        """What is worth reading in one go with this step."""
        population = self.search.population
        if not isinstance(population, DrawnPopulation):
            return None
        choices = decide(self.search.belief, population)[3]
        first = [one for one in choices if one.action == action]
        return group(population, CircuitWays(population), [*first[:1], *choices]) if first else None
