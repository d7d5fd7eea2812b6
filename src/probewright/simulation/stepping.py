"""A circuit in time: the trapezoidal rule on all variants together, each step closed by Newton's method."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from probewright.machine.waves import Course
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.newton import Sheet, keep, settle
from probewright.simulation.pattern import back_substitute, eliminate
from probewright.simulation.resting import come_to_rest
from probewright.simulation.storing import Kept, after, at_rest, within

BLOCK = (
    2048  # variants that go through time together: what a step costs whatever its size outweighs the cache; measured
)
MOVED_VOLTS = 1e-4  # a last step no longer than this: Newton's error is its square over two thermal volts, 0.2 uV
MOVED_SHARE = 1e-6  # ... or than this share of the highest volts
# Chosen: from every node to ground, a pin and some track. A floating winding would else be held by the leaks of diodes
# alone, lost in the rounding of a stiff source's amps; and what goes over within a step goes over in some time.
STRAY_FARADS = 10e-12
ITERATIONS = 12  # from a close start three do; more is a sign that the step is too long; measured: 24 cost a fifth more
HALVINGS = 8  # a step that Newton's method does not close is halved so often, then settled
STRIDE_HALVINGS = 4  # ... one in which a part strides too far, so often; it is then taken as it is
EVE = 1e-6  # share of a step: figures are taken so much before its end, and a jump at its end counts for the next
JOINED = 1e-6  # share of a step: corners closer than this are one
SHEETS = 12  # lengths of step, and states of switches, that are kept stamped
RING_VOLTS, RING_SHARE = 0.02, 0.01  # chosen: a node that turns back by more than this twice running rings
SOFT_STEPS = 2  # backward-Euler steps after a corner


class Tick(NamedTuple):
    """One step: its end and length in s; soft: by backward Euler; fresh: just after a corner."""

    stop: float
    seconds: float
    soft: bool
    fresh: bool


def ticks(courses: Sequence[Course], start: float, stop: float, step: float) -> list[Tick]:
    """The steps from start to stop, none longer than `step`, each corner of a wave at the end of one.

    What follows a corner begins with two soft steps of a quarter and one of a half, so that what jumped is damped
    before the trapezoidal rule would carry it on to and fro (Rannacher, Numer. Math. 43, 1984).
    """
    found: list[Tick] = []
    bends = sorted(t for course in courses for wave in course.waves() for t in wave.corners(start, stop))
    marks = [start]
    for bend in [*bends, stop]:
        if bend - marks[-1] > JOINED * step:
            marks.append(bend)
    for begin, end in zip(marks, marks[1:], strict=False):
        count = max(1, int(np.ceil((end - begin) / step - 1e-9)))
        whole = float(f"{(end - begin) / count:.9e}")  # one length for gaps that differ by rounding alone
        for share, soft in ((0.25, True), (0.5, True), (1.0, False)):
            seconds = whole * (0.5 if share == 1.0 else 0.25)
            found.append(Tick(begin + share * (end - begin) / count, seconds, soft, share == 0.25))
        found += [Tick(begin + (end - begin) * n / count, whole, False, False) for n in range(2, count + 1)]
    return found


@dataclass(frozen=True)
class Moment:
    """Where a batch stands at one instant: all that the next step needs.

    volts (node + 1, variant); slope: likewise, V/s over the step before; memory: controls of each group; kept: by group
    number, what its branches keep; lagging: by group number, (part, variant); turned (node, variant), where the step
    before turned back; soft: (variant,) how many soft steps a ringing variant still takes; solved (variant,), False
    for ever once a step was not closed.
    """

    volts: np.ndarray
    slope: np.ndarray
    memory: dict[int, Any]
    kept: dict[int, Kept]
    lagging: dict[int, np.ndarray]
    turned: np.ndarray
    soft: np.ndarray
    solved: np.ndarray

    def take(self, chosen: np.ndarray) -> Moment:
        """The moment of these variants."""
        return Moment(
            self.volts[:, chosen],
            self.slope[:, chosen],
            keep(self.memory, chosen, len(self.solved)),
            {which: one.take(chosen) for which, one in self.kept.items()},
            {which: one[:, chosen] for which, one in self.lagging.items()},
            self.turned[:, chosen],
            self.soft[chosen],
            self.solved[chosen],
        )

    def put(self, chosen: np.ndarray, other: Moment) -> Moment:
        """The same with these variants replaced by the other's."""

        def mixed(mine: np.ndarray, theirs: np.ndarray) -> np.ndarray:
            found = mine.copy()
            found[..., chosen] = theirs
            return found

        return Moment(
            mixed(self.volts, other.volts),
            mixed(self.slope, other.slope),
            put(self.memory, chosen, other.memory, len(self.solved)),
            {which: one.put(chosen, other.kept[which]) for which, one in self.kept.items()},
            {which: mixed(one, other.lagging[which]) for which, one in self.lagging.items()},
            mixed(self.turned, other.turned),
            mixed(self.soft, other.soft),
            mixed(self.solved, other.solved),
        )


def put(
    memory: Mapping[int, Any], chosen: np.ndarray, other: Mapping[int, Any], width: int
) -> dict[int, dict[str, Any]]:
    """Controls (part, variant) with these variants replaced by the other's."""
    found: dict[int, dict[str, Any]] = {}
    for which, controls in other.items():
        found[which] = {}
        for name, theirs in controls.items():
            mine = memory.get(which, {}).get(name, 0.0)
            whole = np.array(np.broadcast_to(mine, (*np.shape(theirs)[:-1], width)), float)
            whole[..., chosen] = theirs
            found[which][name] = whole
    return found


def figure_at(batch: Batch, course: Course, seconds: float) -> Any:
    """The figure of a course at one instant, SI, a number or (variant,)."""
    value = batch.figures[course.part, course.figure]
    if course.share is not None:
        value = value * course.share.at(seconds)
    if course.swing is not None:
        value = value + batch.figures[course.part, course.size] * course.swing.at(seconds)
    return value


def figures_at(batch: Batch, courses: Sequence[Course], seconds: float) -> Batch:
    """The batch with the figures of the courses as they are at one instant."""
    moved = {(course.part, course.figure): figure_at(batch, course, seconds) for course in courses}
    return replace(batch, figures={**batch.figures, **moved})


def _group_of(circuit: Circuit, part: str) -> int:
    """Number of the group that a part stands in."""
    return next(n for n, group in enumerate(circuit.groups) if part in group.parts)


class Stamped(NamedTuple):
    """One step made ready: its sheet, with what is kept pushing on it; rate and even as `history` takes them; the
    figures before those of lagging parts were made ready for the step."""

    sheet: Sheet
    rate: Any
    even: Any
    figures: list[dict[str, Any]]


class Stepper:
    """Takes one batch from moment to moment."""

    def __init__(
        self, circuit: Circuit, batch: Batch, courses: Sequence[Course], part: tuple[Stepper, np.ndarray] | None = None
    ) -> None:
        """part: the stepper that the variants of the batch belong to and which of its variants they are."""
        self.circuit, self.batch, self.courses, self.part = circuit, batch, courses, part
        # a law drawn anew in every step of Newton's method takes its figures there; the others are stamped with them
        self.where = [_group_of(circuit, course.part) for course in courses]
        kinds = [circuit.groups[which].kind for which in self.where]
        straight = [kind.linear is not None or kind.storing is not None for kind in kinds]
        self.stamped = [course for course, one in zip(courses, straight, strict=True) if one]
        self.origin: tuple[Stepper, np.ndarray] | None = None  # the stepper it was taken from, and which variants it is
        self.marches: list[Any] = []  # its way through compiled loops, once it was asked for (`marching`)
        self._sheets: dict[tuple[Any, ...], Sheet] = {}
        self._parts: dict[bytes, Stepper] = {}

    def take(self, chosen: np.ndarray) -> Stepper:
        """A stepper for these variants, ascending, that goes on without the others."""
        found = Stepper(self.circuit, self.batch.take(chosen), self.courses)
        found.origin, found.carried = (self, chosen), self.carried
        return found

    # where it begins

    @np.errstate(divide="ignore", invalid="ignore", over="ignore")
    def at_rest(self, seconds: float) -> Moment:
        """Everything settled at the figures of this instant."""
        batch = figures_at(self.batch, self.courses, seconds)
        rest = come_to_rest(self.circuit, batch, in_time=True)
        sheet, volts = Sheet(self.circuit, batch), np.where(rest.solved, rest.volts, 0.0)
        *_, memory, _ = sheet.linearise(volts, None)
        kept = {which: at_rest(store, self._across(sheet, which, volts)) for which, (store, _) in sheet.stores.items()}
        lagging = {
            which: lag.at_rest(sheet.pin_volts(which, volts), sheet.figures[which])
            for which, group in enumerate(self.circuit.groups)
            if (lag := group.kind.lag) is not None
        }
        return self._moment(volts, memory, kept, lagging, rest.solved)

    def at_nought(self) -> Moment:
        """Everything discharged, no current flowing."""
        at = np.zeros((self.circuit.size + 1, self.batch.size))
        sheet = Sheet(self.circuit, self.batch, 1.0)
        kept = {}
        for which, (store, _) in sheet.stores.items():
            none = np.zeros((len(store.ends), len(self.circuit.groups[which].parts), self.batch.size))
            kept[which] = Kept(none, none, none)
        lagging = {
            which: np.zeros((len(group.parts), self.batch.size))
            for which, group in enumerate(self.circuit.groups)
            if group.kind.lag is not None
        }
        return self._moment(at, {}, kept, lagging, np.ones(self.batch.size, bool))

    def _moment(self, volts: np.ndarray, memory: Any, kept: Any, lagging: Any, solved: np.ndarray) -> Moment:
        still = np.zeros(self.batch.size, int)
        calm = np.zeros((self.circuit.size, self.batch.size), bool)
        return Moment(volts, np.zeros_like(volts), memory, kept, lagging, calm, still, solved.copy())

    # what is carried from one period to the next

    @cached_property
    def carried(self) -> list[tuple[int, str]]:
        """(group number, name in `Kept`) of all that branches carry on; lagging inputs and nodes stand behind."""
        found = []
        for which, (store, _) in Sheet(self.circuit, self.batch.take(np.arange(1)), 1.0).stores.items():
            found += [(which, "charged")] if store.per_farad else []
            found += [(which, "amps")] if store.henry else []
        return found

    def state(self, now: Moment) -> tuple[np.ndarray, np.ndarray]:
        """(state, variant) all that is carried on, V or A; and (state,) "V" or "A", or "node" for what follows them."""
        rows = [getattr(now.kept[which], name).reshape(-1, self.batch.size) for which, name in self.carried]
        units = ["V" if name == "charged" else "A" for _, name in self.carried] + ["V"] * len(now.lagging) + ["node"]
        rows += [*now.lagging.values(), now.volts[:-1]]
        return np.concatenate(rows), np.repeat(units, [len(row) for row in rows])

    def with_state(self, now: Moment, state: np.ndarray) -> Moment:
        """The same moment with another state, in the order of `state`; nothing is foretold from the steps before."""
        at, kept = 0, {which: replace(one, pushed=np.zeros_like(one.pushed)) for which, one in now.kept.items()}
        for which, name in self.carried:
            shape = getattr(kept[which], name).shape
            count = shape[0] * shape[1]
            kept[which] = replace(kept[which], **{name: state[at : at + count].reshape(shape)})
            at += count
        lagging = {}
        for which, drive in now.lagging.items():
            lagging[which] = state[at : at + len(drive)]
            at += len(drive)
        still, none = np.zeros_like(now.soft), np.zeros_like(now.slope)
        volts, calm = np.concatenate([state[at:], now.volts[-1:]]), np.zeros_like(now.turned)
        return replace(now, volts=volts, slope=none, kept=kept, lagging=lagging, turned=calm, soft=still)

    # one step

    def advance(self, now: Moment, begin: float, tick: Tick, depth: int = 0) -> Moment:
        """The moment at the end of a step; variants whose step is not closed take it in halves, or settle within it."""
        later, closed, strides = self._step(now, tick)
        if depth < STRIDE_HALVINGS:
            closed &= ~strides
        failed = np.flatnonzero(now.solved & ~closed)
        if not failed.size:
            return later
        few, before = self._part(failed), now.take(failed)
        after = replace(before, solved=np.zeros(failed.size, bool))
        if depth < HALVINGS:
            half, middle = 0.5 * tick.seconds, 0.5 * (begin + tick.stop)
            after = few.advance(before, begin, Tick(middle, half, True, True), depth + 1)
            after = few.advance(after, middle, Tick(tick.stop, half, True, False), depth + 1)
        if not after.solved.all():
            # a latch goes over: in a short step it stands on the brink, where nothing closes; a longer one is past it
            stuck = np.flatnonzero(~after.solved)
            after = after.put(stuck, few._part(stuck)._settled(before.take(stuck), tick))
        return later.put(failed, after)

    def _part(self, chosen: np.ndarray) -> Stepper:
        """A stepper for these variants, kept for the next time they are alone."""
        key = chosen.tobytes()
        if key not in self._parts:
            if len(self._parts) >= SHEETS:
                self._parts.pop(next(iter(self._parts)))
            self._parts[key] = Stepper(self.circuit, self.batch.take(chosen), self.courses, (self, chosen))
        return self._parts[key]

    @np.errstate(divide="ignore", invalid="ignore", over="ignore")
    def _step(self, now: Moment, tick: Tick) -> tuple[Moment, np.ndarray, np.ndarray]:
        """One step of Newton's method to the end of a tick; which variants it closed, and which went too far in it."""
        ready = self._ready(now, tick)
        guess = now.volts if tick.fresh else now.volts + now.slope * tick.seconds
        volts, memory, closed = _close_in(ready.sheet, guess, now.memory, now.solved)
        later = self._after(now, tick, ready, volts, memory)
        strides = np.zeros(self.batch.size, bool)
        for which, drive in now.lagging.items():
            lag = self.circuit.groups[which].kind.lag
            assert lag is not None
            far = lag.strides(ready.sheet.pin_volts(which, volts), ready.figures[which], drive, later.lagging[which])
            strides |= np.any(far, axis=0)
        return later, closed, strides

    @np.errstate(divide="ignore", invalid="ignore", over="ignore")
    def _settled(self, now: Moment, tick: Tick) -> Moment:
        """A step that no halving closes: the nodes run down to where they come to rest within the step."""
        ready = self._ready(now, tick)
        volts, solved = settle(ready.sheet, now.volts)
        *_, memory, _ = ready.sheet.linearise(volts, None)
        later = self._after(now, tick, ready, volts, memory)
        return replace(later, slope=np.zeros_like(volts), solved=now.solved & solved)

    def _ready(self, now: Moment, tick: Tick) -> Stamped:
        """One step with what is kept pushing on its sheet."""
        seconds = tick.stop - EVE * tick.seconds
        soft = now.soft > 0
        even: Any
        if tick.soft or soft.all():
            found, even = self._stamp(seconds, tick.seconds, 0.0), 0.0
        elif not soft.any():
            found, even = self._stamp(seconds, tick.seconds, 1.0), 1.0
        else:
            found, even = self._mixed(seconds, tick.seconds, soft)
        sheet, rate = copy(found), (1.0 + even) / tick.seconds
        figures = self._figures(sheet, seconds)
        sheet.figures = self._late(figures, now, tick.seconds)
        sheet.pushed = sheet.pushed + STRAY_FARADS / tick.seconds * now.volts[:-1]
        for which, (store, siemens) in sheet.stores.items():
            amps = within(store, siemens, now.kept[which], rate, even)
            into: dict[str, Any] = {}
            for n, (a, b) in enumerate(store.ends):
                into[a], into[b] = into.get(a, 0.0) + amps[n], into.get(b, 0.0) - amps[n]
            sheet.stamp_amps(sheet.pushed, which, into)
        return Stamped(sheet, rate, even, figures)

    def _stamp(self, seconds: float, length: float, even: float) -> Sheet:
        """The straight parts for steps of this length."""
        turns = [wave.at(seconds) for course in self.stamped for wave in course.waves()]
        key = (length, even, *turns)
        if key not in self._sheets:
            if len(self._sheets) >= SHEETS:
                self._sheets.pop(next(iter(self._sheets)))
            if self.part is not None:  # stamped once for all parts that take steps so short
                whole, chosen = self.part
                sheet = whole._stamp(seconds, length, even).take(chosen, self.batch)
            else:
                batch = figures_at(self.batch, self.stamped, seconds)
                sheet = Sheet(self.circuit, batch, (1.0 + even) / length)
                sheet.base[: self.circuit.size] += STRAY_FARADS / length
            self._sheets[key] = sheet
        return self._sheets[key]

    def _mixed(self, seconds: float, length: float, soft: np.ndarray) -> tuple[Sheet, np.ndarray]:
        """Some variants by backward Euler, the others by the trapezoidal rule."""
        sheet, other = copy(self._stamp(seconds, length, 1.0)), self._stamp(seconds, length, 0.0)
        sheet.base = np.where(soft, other.base, sheet.base)
        sheet.stores = {
            which: (store, np.where(soft, other.stores[which][1], siemens))
            for which, (store, siemens) in sheet.stores.items()
        }
        return sheet, np.where(soft, 0.0, 1.0)

    def _figures(self, sheet: Sheet, seconds: float) -> list[dict[str, Any]]:
        """Figures of every group, those of the courses as they are at this instant."""
        found = list(sheet.figures)
        for which, course in zip(self.where, self.courses, strict=True):
            value, before = figure_at(self.batch, course, seconds), found[which][course.figure]
            whole = np.array(np.broadcast_to(before, (len(before), max(np.size(value), before.shape[1]))))
            whole[self.circuit.groups[which].parts.index(course.part)] = value
            found[which] = {**found[which], course.figure: whole}
        return found

    def _late(self, figures: list[dict[str, Any]], now: Moment, seconds: float) -> list[dict[str, Any]]:
        """Figures of every group, those of lagging parts as the law at rest needs them for a step."""
        found = list(figures)
        for which, drive in now.lagging.items():
            lag = self.circuit.groups[which].kind.lag
            assert lag is not None
            found[which] = dict(lag.within(figures[which], drive, seconds))
        return found

    def _after(self, now: Moment, tick: Tick, ready: Stamped, volts: np.ndarray, memory: dict[int, Any]) -> Moment:
        """All that the next step needs, from where this one ends."""
        sheet, rate, even, figures = ready
        kept = self._keep_on(now.kept, ready, volts)
        lagging = {}
        for which, drive in now.lagging.items():
            lag = self.circuit.groups[which].kind.lag
            assert lag is not None
            lagging[which] = lag.after(sheet.pin_volts(which, volts), figures[which], drive, tick.seconds)
        slope = (volts - now.volts) / tick.seconds
        far = np.abs(volts - now.volts) > RING_VOLTS + RING_SHARE * np.max(np.abs(volts), axis=0)
        turned = ((slope * now.slope < 0.0) & far)[:-1]
        rings = np.any(turned & now.turned, axis=0)
        soft = np.where(rings, SOFT_STEPS, np.maximum(now.soft - 1, 0))
        return Moment(volts, slope, memory, kept, lagging, turned, soft, now.solved)

    def _keep_on(self, kept: Mapping[int, Kept], ready: Stamped, volts: np.ndarray) -> dict[int, Kept]:
        """What every branch keeps when a step ends at these volts."""
        sheet, rate, even, _ = ready
        return {
            which: Kept(
                *map(np.array, after(store, siemens, kept[which], rate, even, self._across(sheet, which, volts)))
            )
            for which, (store, siemens) in sheet.stores.items()
        }

    @staticmethod
    def _across(sheet: Sheet, which: int, volts: np.ndarray) -> np.ndarray:
        """Volts across each branch of a group that keeps something, (branch, part, variant)."""
        at, index = sheet.pin_volts(which, volts), sheet.circuit.groups[which].pin_index
        return np.stack([at[index[a]] - at[index[b]] for a, b in sheet.stores[which][0].ends])


def _close_in(
    sheet: Sheet, start: np.ndarray, memory: dict[int, Any], tried: np.ndarray
) -> tuple[np.ndarray, dict[int, Any], np.ndarray]:
    """Newton's method from a close start: volts, controls, and which variants it closed.

    tried (variant,): the others are left where they are. Those that are done go on in the batch until they are most of
    it, which costs less than taking them out one by one.
    """
    width, pattern = sheet.width, sheet.circuit.pattern
    final, closed, controls = start.copy(), ~tried, memory
    left, volts, done = np.arange(width), start.copy(), ~tried
    for _ in range(ITERATIONS):
        before = memory
        matrix, right, memory, held = sheet.linearise(volts, memory)
        eliminate(pattern, matrix, right)
        back_substitute(pattern, matrix, right)
        moved = np.max(np.abs(right - volts[:-1]), axis=0)
        size = np.max(np.abs(right), axis=0)
        # what is done stays, so that no variant depends on how long its neighbours take
        np.copyto(volts[:-1], right, where=~done)
        memory = _stay(before, memory, done)
        done = done | (~held & np.isfinite(size) & (moved <= MOVED_VOLTS + MOVED_SHARE * size))
        if done.all():
            break
        if 3 * np.count_nonzero(done) > 2 * len(left) and len(left) > 32:
            going = np.flatnonzero(~done)
            final[:, left], closed[left] = volts, done
            controls = put(controls, left, memory, width) if len(left) < width else memory
            sheet, volts, memory = sheet.take(going), volts[:, going], keep(memory, going, len(left))
            left, done = left[going], done[going]
    if len(left) == width:
        return volts, memory, done
    final[:, left], closed[left] = volts, done
    return final, put(controls, left, memory, width), closed


def _stay(before: Mapping[int, Any], memory: dict[int, Any], done: np.ndarray) -> dict[int, Any]:
    """Controls with those of the variants that are done as they were."""
    if not done.any() or not all(which in before for which in memory):
        return memory
    return {
        which: {name: np.where(done, before[which][name], one) for name, one in controls.items()}
        for which, controls in memory.items()
    }
