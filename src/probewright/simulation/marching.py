"""A batch taken through time by compiled loops, on all cores; where it stands is a `Moment` as ever."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from probewright.machine.waves import Course
from probewright.simulation import stepping
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.compiled import Ready, left_out, make_ready, wanted
from probewright.simulation.newton import Sheet
from probewright.simulation.resting import controls_of, plan_of, rest_limits, side_by_side, with_controls
from probewright.simulation.stepping import Moment, Stepper, Tick
from probewright.simulation.storing import Kept

if TYPE_CHECKING:
    from probewright.simulation.loops import Limits

KEPT = ("amps", "charged", "pushed")  # what branches keep, as in `storing.Kept`


def march_of(stepper: Stepper) -> March | None:
    """The stepper in compiled loops; None where they are not wanted or a law of it cannot be compiled."""
    if not stepper.marches:
        march = None
        if stepper.origin is None:
            ready = _ready(stepper.circuit, stepper.batch, stepper.courses)
            march = None if ready is None else March(stepper, ready, {})
        elif (whole := march_of(stepper.origin[0])) is not None:
            march = March(stepper, whole.ready.take(stepper.origin[1]), whole.timetables, whole)
        stepper.marches.append(march)
    found: March | None = stepper.marches[0]
    return found


def _ready(circuit: Circuit, batch: Batch, courses: Sequence[Course], trusting: bool = False) -> Ready | None:
    return make_ready(Sheet(circuit, batch, 0.0, left_out(circuit, courses)), courses, trusting) if wanted() else None


class Timetable:
    """The steps of a run: ticks (tick, [length, soft, fresh, 0]); waves (tick, part, wave): where every wave stands at
    the end of each step, and of its halves and their halves where they are known (tick,)."""

    def __init__(self, courses: Sequence[Course], steps: Sequence[Tick], start: float) -> None:
        self.steps, self.begins = steps, [start, *(tick.stop for tick in steps)]
        self._waves = [wave for course in courses for wave in course.waves()]
        self.ticks = np.array([(tick.seconds, tick.soft, tick.fresh, 0.0) for tick in steps]).reshape(-1, 4)
        self.waves = np.empty((len(steps), 2 ** (stepping.HALVINGS + 1) - 1, len(self._waves)))
        self.known = np.zeros(len(steps), bool)
        for n, tick in enumerate(steps):
            self.waves[n, 0] = self._at(tick.stop, tick.seconds)

    def _at(self, stop: float, seconds: float) -> list[float]:
        """Where every wave stands in a step of so many seconds that stops then."""
        return [wave.at(stop - stepping.EVE * seconds) for wave in self._waves]

    def know(self, n: int) -> None:
        """Find where the waves stand in all parts of a step."""
        begin, tick, row = self.begins[n], self.steps[n], 1
        for depth in range(1, stepping.HALVINGS + 1):
            share = 1.0 / 2**depth
            for part in range(2**depth):
                stop = begin + (part + 1) * share * (tick.stop - begin)
                self.waves[n, row] = self._at(stop, share * tick.seconds)
                row += 1
        self.known[n] = True


class March:
    """A stepper whose batch goes in compiled loops."""

    def __init__(
        self, stepper: Stepper, ready: Ready, timetables: dict[Any, Timetable], whole: March | None = None
    ) -> None:
        """timetables: by what they hold, shared by all that go on from one another; whole: that it was taken from."""
        self.circuit, self.batch, self.courses = stepper.circuit, stepper.batch, stepper.courses
        self.ready, self.timetables, self._lock = ready, timetables, threading.Lock()
        self._whole, self._chosen = whole, None if stepper.origin is None else stepper.origin[1]
        self._trusting: Ready | None = None

    def run(
        self, moment: Moment, places: Sequence[str], steps: Sequence[Tick], start: float, since: int
    ) -> tuple[np.ndarray, Moment]:
        """(place, variant, time) V of the instants from number `since` on, the start being the first, and the last
        moment."""
        table, lanes, solved = self._timetable(steps, start), self._lanes(moment), moment.solved.copy()
        nodes = np.array([self.circuit.at(place) for place in places]) % (self.circuit.size + 1)
        spare = [] if self.circuit.spare is None else [self.circuit.spare]
        rows = np.unique([*nodes, *spare])
        seen = np.empty((len(rows), self.batch.size, len(steps) + 1 - since))
        if since == 0:
            seen[:, :, 0] = moment.volts[rows]
        side_by_side(lambda some: self._go(some, lanes, solved, table, rows, seen, since), self.batch.size)
        volts = seen[np.searchsorted(rows, nodes)]
        for one, place in zip(volts, places, strict=True):
            for free in self.batch.freed_at.get(self.circuit.pin_named(place), ()):
                here = slice(free.start, free.stop)
                one[here] = seen[np.searchsorted(rows, spare[0]), here]
        return volts, self._moment(moment, lanes, solved)

    def _go(
        self, some: slice, lanes: np.ndarray, solved: np.ndarray, table: Timetable, rows: np.ndarray,
        seen: np.ndarray, since: int,
    ) -> None:  # fmt: skip
        """Some variants, from the first step to the last."""
        from probewright.simulation import loops

        chosen = np.arange(some.start, some.stop)
        ready = (self._trusting or self.ready).take(chosen)
        plan, limits = plan_of(ready), _limits()
        ready.lanes[: ready.state] = lanes[:, some]
        mine, failed = solved[some].copy(), np.zeros(len(chosen), bool)
        out = np.empty((len(rows), len(chosen), len(table.steps) + 1 - since))
        n, why = 0, -1
        while why != loops.DONE:
            n, why = loops.march(
                plan, limits, ready.lanes, ready.base, ready.pushed, table.ticks, table.waves, table.known, n, why >= 0,
                failed, mine, rows, out, since,
            )  # fmt: skip
            if why == loops.NEEDS_WAVES:
                table.know(n)
            elif why == loops.NEEDS_TRUST:
                plan = plan_of(self._with_trust().take(chosen))
        first = max(1 - since, 0)
        seen[:, some, first:] = out[:, :, first:]
        lanes[:, some], solved[some] = ready.lanes[: ready.state], mine

    def _with_trust(self) -> Ready:
        """The loops with those for a start that is trusted, made when they are first needed."""
        with self._lock:
            if self._trusting is None and self._whole is not None and self._chosen is not None:
                self._trusting = self._whole._with_trust().take(self._chosen)
            elif self._trusting is None:
                self._trusting = _ready(self.circuit, self.batch, self.courses, True)
            assert self._trusting is not None, "a law that bends can be trusted too (`compiled.laws_of`)"
            return self._trusting

    def _timetable(self, steps: Sequence[Tick], start: float) -> Timetable:
        """That of these steps; kept for the next period."""
        key = (start, *steps[:1], *steps[-1:], len(steps))
        if key not in self.timetables:
            self.timetables.clear()
            self.timetables[key] = Timetable(self.courses, steps, start)
        return self.timetables[key]

    # where it stands

    def _rows_of(self, which: int, name: str) -> slice:
        """Rows of one control of a group, or of what its branches keep."""
        first = self.ready.rows.first["control", which, name]
        return slice(first, first + len(self.circuit.groups[which].parts))

    def _lanes(self, now: Moment) -> np.ndarray:
        """(row, variant) the part of `lanes` that a step changes, as it is at this moment."""
        nodes, first = self.circuit.size, self.ready.rows.first
        memory = now.memory
        if any(name not in memory.get(which, {}) for which, name in controls_of(self.ready)):  # before a first step
            *_, memory, _ = Sheet(self.circuit, self.batch).linearise(now.volts, {})
        lanes = with_controls(self.ready, now.volts, memory)
        lanes[first["slope",] :][: nodes + 1] = now.slope
        lanes[first["turned",] :][:nodes] = now.turned
        lanes[first["soft",]] = now.soft
        for which, kept in now.kept.items():
            for what in KEPT:
                for branch, values in enumerate(getattr(kept, what)):
                    lanes[self._rows_of(which, f"{what}_{branch}")] = values
        for which, drive in now.lagging.items():
            lanes[self._rows_of(which, "drive")] = drive
        return lanes

    def _moment(self, before: Moment, lanes: np.ndarray, solved: np.ndarray) -> Moment:
        """The moment of such lanes."""
        nodes, first = self.circuit.size, self.ready.rows.first
        memory: dict[int, dict[str, np.ndarray]] = {}
        for which, name in controls_of(self.ready):
            memory.setdefault(which, {})[name] = lanes[self._rows_of(which, name)]
        kept = {}
        for which, one in before.kept.items():
            branches = range(len(one.amps))
            kept[which] = Kept(
                *(np.stack([lanes[self._rows_of(which, f"{what}_{n}")] for n in branches]) for what in KEPT)
            )
        lagging = {which: lanes[self._rows_of(which, "drive")] for which in before.lagging}
        return Moment(
            lanes[: nodes + 1], lanes[first["slope",] :][: nodes + 1], memory, kept, lagging,
            lanes[first["turned",] :][:nodes] > 0.0, lanes[first["soft",]].astype(int), solved,
        )  # fmt: skip


def _limits() -> Limits:
    from probewright.simulation.loops import Limits

    return Limits(
        rest_limits(), stepping.ITERATIONS, stepping.HALVINGS, stepping.STRIDE_HALVINGS, stepping.SOFT_STEPS,
        stepping.MOVED_VOLTS, stepping.MOVED_SHARE, stepping.STRAY_FARADS, stepping.RING_VOLTS, stepping.RING_SHARE,
    )  # fmt: skip
