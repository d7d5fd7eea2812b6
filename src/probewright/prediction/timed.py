"""What goes on in time: one run of the draws of a bank in one set-up, and every figure read off it."""

from __future__ import annotations

import math
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Figure, Machine, Part
from probewright.machine.stimuli import Followed
from probewright.machine.waves import Course, Later, Wave, never_repeats
from probewright.prediction.bank import Bank
from probewright.readings import DRAWN, SCOPED, Look, Question, Setup
from probewright.readings.instruments import Law, law
from probewright.simulation import scope
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.meters import Shown
from probewright.simulation.newton import source_ohms
from probewright.simulation.repeating import repeat
from probewright.simulation.resting import come_to_rest
from probewright.simulation.stepping import figures_at
from probewright.simulation.tracing import trace

USUAL = Look()
PLAIN = ("dc", "size of dc", "pp", "rms", "level")  # what a rest and a small signal know as well
TRACED = (*PLAIN, *SCOPED)
POINTS = 100  # chosen: steps of a period or a window at least; a ripple is then right to 1 %: with 64, to 2 %
FINE = 32  # chosen: steps of the quickest wave at least
MOST_STEPS = 4000  # chosen: of one run; what needs more is not followed
KEPT = 256  # chosen: instants of a run that are kept
# Chosen: what a run keeps. 200 cells of 8 draws with 40 nets and 200 instants are 51 MB in single precision; where it
# would be more, fewer instants are kept.
MOST_BYTES = 100e6
AT_ONCE = 40e6  # chosen, bytes: what is held in double precision while it is made
REPEATS = 3  # a settled period is laid in a row so often: a period is told by two rises
MOST_PERIODS = 20  # chosen: what has not settled by then is not judged; it is one draw in two hundred
SETTLE = 12  # chosen: periods that go by before something happens once: then a reservoir is charged
AC_HERTZ = 5.0  # an input coupled for alternating volts takes off what is slower: 10 Hz at most, common practice
# Chosen: an instrument that takes more of the volts than this is put into the circuit: it moves times too, and what it
# takes at the crests it need not take at others. At 0.1 the mean of a floating winding was 1 % off.
HEAVY = 0.02
SLOWED = 0.01  # chosen: ... and one whose R C is more of the time a swing takes; an exponential is late by twice that
LOOKED_AT = 16  # chosen: instants of a period among which the crests are sought
PROBED = ("leak", "capacitance")  # the figures by which probes differ
_TAKING = threading.Lock()  # a page asks for draws while another thread works ahead
NO_HERTZ = 1e-9  # Hz: where nothing repeats
SEEN = 5e-3  # chosen, V: what moves less is a line on the screen, of which nobody reads a period or a shape


@dataclass
class Run:
    """What the draws of a bank did in one set-up.

    row_of (variant,): which row stands for each, -1 where it was not followed; seconds (time,); volts (node + 1, row,
    time), ground last; solved (row,); ohms (node + 1, row): source resistances at the crests; circuit: theirs;
    last (state, row): of the first draws of a settled period, all that is carried on from it.
    """

    circuit: Circuit
    row_of: np.ndarray
    seconds: np.ndarray
    volts: np.ndarray
    solved: np.ndarray
    variants: np.ndarray
    ohms: np.ndarray | None = None
    last: np.ndarray | None = None

    def take_up(self, variants: np.ndarray, seconds: np.ndarray, volts: np.ndarray, solved: np.ndarray) -> None:
        """More draws beside those it has, at its own instants: a larger bank keeps fewer. What another thread has
        brought meanwhile stays."""
        with _TAKING:
            new = self.row_of[variants] < 0
            self._take_up(variants[new], seconds, volts[:, new], solved[new])

    def _take_up(self, variants: np.ndarray, seconds: np.ndarray, volts: np.ndarray, solved: np.ndarray) -> None:
        if len(self.solved) and not np.array_equal(seconds, self.seconds):
            volts = np.stack([scope.at(seconds, one, self.seconds) for one in volts]).astype(np.float32)
            seconds = self.seconds
        self.row_of[variants] = len(self.solved) + np.arange(len(variants))
        self.volts = volts if not len(self.solved) else np.concatenate([self.volts, volts], axis=1)
        self.seconds, self.solved = seconds, np.concatenate([self.solved, solved])
        self.variants, self.ohms = np.concatenate([self.variants, variants]), None


@dataclass(frozen=True)
class Sight:
    """What is looked at: two places, in which setup, how followed, and how the instrument is set."""

    red: str
    black: str
    setup: Setup
    way: Followed
    look: Look = field(default_factory=Look)


# How it is followed --------------------------------------------------------------------------


def way_of(bank: Bank, setup: Setup, quantity: str, look: Look = USUAL) -> Followed | None:
    """How a quantity is followed in time in this set-up; None where it is found at rest or by a small signal.

    One sweep over a window begins when the power comes on, whatever repeats later; without a window nobody knows when
    it was caught, and it shows what repeats.
    """
    if setup.power != "on" or quantity not in TRACED:
        return None
    known = bank.model.followed(setup)
    if look.single and look.window is not None and known.in_time and not happens_once(known):
        known = replace(known, switched_on=True, read=look.window)
    shaped = quantity not in PLAIN or look.window is not None or (look != USUAL and quantity in ("pp", "rms", "level"))
    return known if known.in_time or (known.courses and shaped and quantity != "level") else None


def takes_time(bank: Bank, ask: Question) -> bool:
    """The question, or a function that it is about, is read off a run in time."""
    model = bank.model
    if not model.in_time and ask.instrument not in SCOPED:
        return False
    if ask.instrument == "works":
        works = [one for one in model.machine.works if one.name == ask.red]
        measures = [one for work in works for one in (work.measure, work.second) if one is not None]
        return any(way_of(bank, replace(ask.setup, stimulus=one.stimulus), one.quantity) for one in measures)
    if ask.instrument in ("swap", "share"):
        return model.in_time
    return way_of(bank, ask.setup, "dc" if ask.instrument == DRAWN else ask.instrument, ask.look) is not None


def _ends(way: Followed) -> tuple[float, float] | None:
    """The window of what happens once, None where it repeats for ever."""
    if not (way.switched_on or never_repeats(way.courses)) and way.period < math.inf:
        return None
    return way.read or (0.0, 1.0)  # chosen: a free oscillator that nothing starts is watched for a second


def _quickest(way: Followed) -> float:
    """The shortest period of any wave, s."""
    return min((wave.period for one in way.courses for wave in one.waves()), default=math.inf)


def _step(way: Followed) -> float | None:
    """Length of a step, s; None where there would be too many."""
    window = _ends(way)
    span = way.period if window is None else window[1]
    own = span if window is None else min(span, 2.0 * (window[1] - window[0]))
    step = max(min(own / POINTS, _quickest(way) / FINE), span / MOST_STEPS)
    return None if step > 2.0 * _quickest(way) / FINE else step


# One run -------------------------------------------------------------------------------------


def follow(bank: Bank, setup: Setup, way: Followed, variants: np.ndarray, probe: Part | None = None) -> Run:
    """The run of a bank in this set-up, with these draws in it; kept with the bank. probe: what hangs on it besides."""
    setup = as_typed(bank, setup)
    hangs = None if probe is None else (*probe.pins.items(), *(probe.figures[one].nominal for one in PROBED))
    key = (setup, way, hangs)
    if key not in bank.runs:
        circuit = bank.circuit(as_fitted(bank, setup), probe)
        none = np.zeros(0, int)
        volts = np.zeros((circuit.size + 1, 0, 0), np.float32)
        bank.runs[key] = Run(circuit, np.full(bank.size, -1), np.zeros(0), volts, np.zeros(0, bool), none)
    run: Run = bank.runs[key]
    missing = np.unique(variants[run.row_of[variants] < 0])
    missing = _borrowed(bank, key, run, missing)
    if missing.size:
        begin = None if probe is not None else _like(bank, setup, way, run.circuit)
        *found, last = _followed(bank, setup, way, run.circuit, missing, begin)
        run.take_up(missing, *found)
        run.last = last if run.last is None else run.last
    return run


def _like(bank: Bank, setup: Setup, way: Followed, circuit: Circuit) -> np.ndarray | None:
    """Where draws begin that are to be settled: as the middling sound machine is carried on, (state,)."""
    if _ends(way) is not None or bank.size == 1 or bank.absent != bank.middle.absent:
        return None
    calm = follow(bank.middle, setup, way, np.zeros(1, int))
    alike = [group.parts for group in calm.circuit.groups] == [group.parts for group in circuit.groups]
    if calm.last is None or not calm.solved[0] or not alike:
        return None
    carried = calm.last[: len(calm.last) - calm.circuit.size, 0]
    nodes = np.zeros(circuit.size)
    for name, index in circuit.node.items():
        if index >= 0 and name in calm.circuit.node:
            nodes[index] = calm.last[len(carried) + calm.circuit.node[name], 0]
    return np.concatenate([carried, nodes])


def as_fitted(bank: Bank, setup: Setup) -> Setup:
    """The set-up with the boards out that none of the bank's machines has."""
    return replace(setup, unplugged=tuple(sorted({*setup.unplugged, *bank.absent})))


def at_hand(bank: Bank, setup: Setup, way: Followed) -> bool:
    """The draws of this bank, or those that they came from, have been followed in this set-up."""
    lenders = () if bank.lenders is None else bank.lenders.banks
    setup = as_typed(bank, setup)
    return any((setup, way, None) in one.runs for one in (bank, *lenders))


def as_typed(bank: Bank, setup: Setup) -> Setup:
    """The set-up without its stimulus, where that leaves everything as it is."""
    return replace(setup, stimulus="") if setup.stimulus in plain_stimuli(bank.model.machine) else setup


def plain_stimuli(machine: Machine) -> list[str]:
    """Stimuli that leave everything as it is typed."""
    plain = [one for one in machine.stimuli.values() if not (one.edits or one.courses or one.switched_on or one.read)]
    return [one.name for one in plain if not one.playing]


def happens_once(way: Followed) -> bool:
    """It is followed from a switch-on or to a step, and does not repeat."""
    return _ends(way) is not None


def _borrowed(bank: Bank, key: Any, run: Run, missing: np.ndarray) -> np.ndarray:
    """Take what the banks that these draws came from have followed already; what is left to do."""
    if bank.lenders is None or not missing.size:
        return missing
    begin = 0
    for lender in bank.lenders.banks:
        theirs: Run | None = lender.runs.get(key)
        origin = bank.lenders.origin[missing] - begin
        here = (origin >= 0) & (origin < lender.size)
        begin += lender.size
        if theirs is None or not here.any() or theirs.volts.shape[0] != run.volts.shape[0]:
            continue
        stands = lender.stands_for[np.where(here, origin, 0)]
        row = np.where(stands >= 0, theirs.row_of[stands], -1)
        got = np.flatnonzero(here & (row >= 0))
        if got.size:
            run.take_up(missing[got], theirs.seconds, theirs.volts[:, row[got]], theirs.solved[row[got]])
            left = np.ones(len(missing), bool)
            left[got] = False
            missing = missing[left]
    return missing


def _followed(
    bank: Bank, setup: Setup, way: Followed, circuit: Circuit, variants: np.ndarray, like: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray | None]:
    """(time,) s, (node + 1, variant, time) V, solved (variant,) and what is carried on (state, variant) of these draws
    (ascending); like (state,): where they begin."""
    step, courses = _step(way), _moving(circuit, way)
    if step is None:
        nothing = np.zeros((circuit.size + 1, len(variants), 1), np.float32)
        return np.zeros(1), nothing, np.zeros(len(variants), bool), None
    here = bank.part(variants, None)
    batch = here.batch(circuit, as_fitted(bank, setup))
    window = _ends(way)
    points = min(MOST_STEPS, int((way.period if window is None else window[1]) / step) + 1)
    some = max(64, int(AT_ONCE / (8.0 * circuit.size * points)))
    found = []
    for first in range(0, len(variants), some):
        chosen = np.arange(first, min(first + some, len(variants)))
        found.append(_one_go(circuit, batch.take(chosen), courses, way, step, like))
    seconds = found[0][0]
    kept = _kept(seconds, way, circuit.size, bank.size)
    volts = np.concatenate([one[1][:, :, kept] for one in found], axis=1).astype(np.float32)
    return seconds[kept], volts, np.concatenate([one[2] for one in found]), found[0][3]


def _one_go(
    circuit: Circuit, batch: Batch, courses: Sequence[Course], way: Followed, step: float, like: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray | None]:
    """(time,) s, (node + 1, variant, time) V, solved (variant,) and what is carried on of one batch."""
    names = {name: index for name, index in circuit.node.items() if index >= 0}
    if circuit.spare is not None:
        names[" spare"] = circuit.spare  # the metal of a pin that has come off
    open_ = replace(circuit, node={**circuit.node, **names})
    window, last = _ends(way), None
    if window is None:
        settled = repeat(open_, batch, courses, list(names), way.period, step, like, MOST_PERIODS)
        one, last, begin = settled.trace, settled.last, 0.0
    else:
        repeats = [wave.period for c in courses for wave in c.waves() if wave.period < math.inf]
        begin = 0.0 if way.switched_on or not repeats else SETTLE * max(repeats)
        if begin:
            courses = [_delayed(course, begin) for course in courses]
        one = trace(
            open_, batch, courses, list(names), begin + window[1], step, from_nought=way.switched_on, since=begin
        )  # fmt: skip
    volts = np.zeros((circuit.size + 1, batch.size, len(one.seconds)), np.float32)
    for name, index in names.items():
        volts[index] = one.volts[name]
    return one.seconds - begin, volts, one.solved, last


def _delayed(course: Course, seconds: float) -> Course:
    """The course, what happens once in it so much later; what repeats repeats."""

    def later(wave: Wave | None) -> Wave | None:
        return wave if wave is None or wave.period < math.inf else Later(wave, seconds)

    return replace(course, share=later(course.share), swing=later(course.swing))


def _moving(circuit: Circuit, way: Followed) -> list[Course]:
    """The courses of parts that are there."""
    present = {name for group in circuit.groups for name in group.parts}
    return [one for one in way.courses if one.part in present]


def _kept(seconds: np.ndarray, way: Followed, nodes: int, variants: int) -> np.ndarray:
    """Which instants are kept: all, or as many as there is room for, half of them in the window."""
    most = int(np.clip(MOST_BYTES / (4.0 * (nodes + 1) * max(variants, 1)), 32, KEPT))
    if len(seconds) <= most:
        return np.arange(len(seconds))
    begin = 0.0 if _ends(way) is None or way.read is None else way.read[0]
    before, within = np.flatnonzero(seconds < begin), np.flatnonzero(seconds >= begin)

    def thinned(some: np.ndarray, count: int) -> np.ndarray:
        return some[np.unique(np.linspace(0, len(some) - 1, min(count, len(some))).round().astype(int))]

    if not before.size:
        return thinned(within, most)
    return np.concatenate([thinned(before, most // 2), thinned(within, most - most // 2)])


# What is read off it -------------------------------------------------------------------------


def show_in_time(bank: Bank, ask: Question, way: Followed, loading: bool = True) -> Shown:
    """What the instrument of a question shows in every draw, (variant,).

    loading: with what the instrument takes from the place; False: good enough for choosing.
    """
    sight = Sight(ask.red, ask.black, ask.setup, way, ask.look)
    return _read_off(bank, sight, ask.instrument, law(ask.instrument) if loading else None)


def quantity_in_time(bank: Bank, sight: Sight, quantity: str) -> Shown:
    """The same for a quantity without an instrument; a share of what is not there is judged by nobody."""
    found = _read_off(bank, sight, quantity, None)
    there = np.isfinite(found.value) | (SCOPED.get(quantity) != "1")
    return Shown(np.where(there, found.value, 0.0), found.judged & there)


def _read_off(bank: Bank, sight: Sight, quantity: str, tool: Law | None) -> Shown:
    variants = np.unique(bank.stands_for[bank.stands_for >= 0])
    if not variants.size:
        return Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
    run = follow(bank, sight.setup, sight.way, variants)
    if tool is None:
        value, solved = _figures(bank, sight, quantity, run, variants, np.ones(len(variants)))
    else:
        value, solved = _loaded(bank, sight, quantity, run, variants, tool)
    whole, judged = np.zeros(bank.size), np.zeros(bank.size, bool)
    there = bank.stands_for >= 0
    at = np.searchsorted(variants, bank.stands_for[there])
    whole[there], judged[there] = value[at], solved[at]
    return Shown(whole, judged)


def _figures(
    bank: Bank, sight: Sight, quantity: str, run: Run, variants: np.ndarray, left: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """The figure (variant,) and solved (variant,); left (variant,): share of the volts that the instrument leaves."""
    rows = run.row_of[variants]
    seconds, volts = waveform(bank, sight, run, variants)
    found = _figure(quantity, seconds, volts * left[:, None], sight)
    solved = run.solved[rows]
    with np.errstate(invalid="ignore"):
        found = np.where(np.isnan(found), _without(quantity), found)
    return np.where(solved, found, 0.0), solved.copy()


def waveform(bank: Bank, sight: Sight, run: Run, variants: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(time,) s and (variant, time) V between two places as the scope is set; what repeats is laid in a row."""
    rows = run.row_of[variants]
    volts = _at(bank, run, sight.red, variants, rows) - _at(bank, run, sight.black, variants, rows)
    seconds, window = run.seconds, sight.look.window
    if _ends(sight.way) is None:
        last = max(REPEATS, math.ceil(window[1] / sight.way.period) if window else 0)
        volts = np.concatenate([volts, *([volts[:, 1:]] * (last - 1))], axis=1)
        seconds = np.concatenate([seconds, *(seconds[1:] + n * sight.way.period for n in range(1, last))])
    if sight.look.limit:
        volts = scope.limited(seconds, volts, sight.look.limit)
    if sight.look.coupling == "ac":
        volts = scope.coupled(seconds, volts, AC_HERTZ)
    return seconds, volts


def _at(bank: Bank, run: Run, place: str, variants: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """(variant, time) V of a place; a pin that has come off has its own."""
    volts = run.volts[run.circuit.at(place)][rows].astype(float)
    spot = run.circuit.pin_named(place)
    part, _, pin = spot.rpartition(".")
    if part and run.circuit.spare is not None:
        off = bank.has_freed(part, pin)[variants]
        volts[off] = run.volts[run.circuit.spare][rows[off]]
    return volts


def _figure(quantity: str, seconds: np.ndarray, volts: np.ndarray, sight: Sight) -> np.ndarray:
    """(variant,) what is read off a trace (variant, time); NaN where there is no such figure."""
    way, look = sight.way, sight.look
    if quantity in ("rise", "fall"):
        cut = scope.within(seconds, volts, *(look.window or (0.0, seconds[-1])))
        return (scope.rise_through if quantity == "rise" else scope.fall_through)(*cut, look.level)
    if quantity in ("period", "frequency", "duty", "tilt"):
        window = look.window or way.read if _ends(way) is not None else look.window
        return _seen(_SHAPES[quantity](*(scope.within(seconds, volts, *window) if window else (seconds, volts))), volts)
    seconds, volts = scope.within(seconds, volts, *_window(seconds, sight))
    hertz = look.hertz or way.hertz or (0.0 if way.period == math.inf else 1.0 / way.period)
    if quantity in ("level", "distortion"):
        if not hertz:
            return np.full(len(volts), np.nan)
        if quantity == "level":
            return scope.level_at(seconds, volts, hertz) * 0.5**0.5
        return _seen(scope.distortion(seconds, volts, hertz), volts)
    return _SIZES[quantity](seconds, volts)


def _seen(figure: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """A figure of a shape, where there is one to be seen; else NaN."""
    return np.where(scope.peak_to_peak(volts) > SEEN, figure, np.nan)


_SHAPES = {"period": scope.period, "frequency": scope.frequency, "duty": scope.duty, "tilt": scope.tilt}
_SIZES: Mapping[str, Any] = {
    "dc": scope.mean,
    "size of dc": lambda seconds, volts: np.abs(scope.mean(seconds, volts)),
    "rms": scope.rms,
    "pp": lambda seconds, volts: scope.peak_to_peak(volts),
    "top": lambda seconds, volts: scope.top(volts),
    "valley": lambda seconds, volts: scope.valley(volts),
    "last": lambda seconds, volts: volts[:, -1],
    "drift": lambda seconds, volts: volts[:, -1] - volts[:, 0],
    "sag": lambda seconds, volts: volts[:, 0] - volts[:, -1],
}


def _window(seconds: np.ndarray, sight: Sight) -> tuple[float, float]:
    """Begin and end of what is looked at, s: as the scope is set, as the stimulus says, or one settled period."""
    if sight.look.window is not None:
        return sight.look.window
    if _ends(sight.way) is None:
        return (sight.way.period, 2.0 * sight.way.period)  # past what a limit or a coupling does at the beginning
    return sight.way.read or (float(seconds[0]), float(seconds[-1]))


def _without(quantity: str) -> float:
    """What stands for a figure that is not there: never, no repeating, or no such thing to read."""
    return NO_HERTZ if quantity == "frequency" else np.inf


# What the instrument takes -------------------------------------------------------------------


def _loaded(
    bank: Bank, sight: Sight, quantity: str, run: Run, variants: np.ndarray, tool: Law
) -> tuple[np.ndarray, np.ndarray]:
    """The figure (variant,) and solved (variant,) with the instrument on: corrected by its share of the volts, or,
    where it is heavy or slows what it sees, followed once more with it in the circuit."""
    ohms = _ohms(bank, sight, run, variants)
    share, slowed = ohms / (ohms + tool.input_ohms), ohms * tool.input_farads / _moving_time(bank, sight, run, variants)
    felt = (share >= HEAVY) | (slowed >= SLOWED)
    value, solved = _figures(bank, sight, quantity, run, variants, np.where(felt, 1.0, 1.0 - share))
    if felt.any():
        anew = follow(bank, sight.setup, sight.way, variants[felt], _probe(bank, sight, tool))
        value[felt], solved[felt] = _figures(bank, sight, quantity, anew, variants[felt], np.ones(felt.sum()))
    return value, solved


def _ohms(bank: Bank, sight: Sight, run: Run, variants: np.ndarray) -> np.ndarray:
    """(variant,) source resistance between the probes, at the crests of what moves."""
    ohms = run.ohms  # another thread may take up more draws meanwhile
    if ohms is None or ohms.shape[1] < len(run.solved):
        ohms = run.ohms = _source_ohms(bank, sight, run)
    rows, places = run.row_of[variants], [place for place in (sight.red, sight.black) if place != GROUND]
    return np.sum([np.abs(ohms[run.circuit.at(place)][rows]) for place in places], axis=0, dtype=float)


def _moving_time(bank: Bank, sight: Sight, run: Run, variants: np.ndarray) -> np.ndarray:
    """(variant,) s that a swing between the probes takes: its length over the mean slope along its way, and a part in
    POINTS of the run at least, for no edge is told to be shorter; inf where nothing moves.

    Of an exponential 2 R C, of a sine 0.4 of its period.
    """
    rows, seconds = run.row_of[variants], run.seconds
    volts = _at(bank, run, sight.red, variants, rows) - _at(bank, run, sight.black, variants, rows)
    steps, swing = np.abs(np.diff(volts, axis=1)), scope.peak_to_peak(volts)
    slope = np.sum(steps**2 / np.diff(seconds), axis=1) / np.maximum(np.sum(steps, axis=1), SEEN)
    taken = np.maximum(swing / np.maximum(slope, 1e-300), (seconds[-1] - seconds[0]) / POINTS)
    return np.where(swing > SEEN, taken, np.inf)


def _source_ohms(bank: Bank, sight: Sight, run: Run) -> np.ndarray:
    """(node + 1, row) source resistance of every node, where all stands as at the crests of what moves."""
    order = np.argsort(run.variants)
    here = bank.part(run.variants[order], None)
    courses = _moving(run.circuit, sight.way)
    batch = figures_at(here.batch(run.circuit, as_fitted(bank, sight.setup)), courses, _crest(sight.way))
    found = source_ohms(run.circuit, batch, come_to_rest(run.circuit, batch, in_time=True))
    whole = np.empty(found.shape, np.float32)
    whole[:, order] = np.minimum(np.nan_to_num(found, nan=1e12), 1e12)
    return whole


def _crest(way: Followed) -> float:
    """When most of what moves stands at its furthest, s."""
    window = _ends(way)
    if window is not None:
        return window[1]
    instants = way.period * (np.arange(LOOKED_AT) + 0.5) / LOOKED_AT
    size = [sum(abs(wave.at(t)) for one in way.courses for wave in one.waves()) for t in instants]
    return float(instants[int(np.argmax(size))])


def _probe(bank: Bank, sight: Sight, tool: Law) -> Part:
    """The instrument as a part of the circuit: its resistance, and its capacitance beside it."""
    ends = [one if one == GROUND else bank.model.machine.net_of(one) for one in (sight.red, sight.black)]
    kind = KINDS["capacitor"]
    rest = {one.name: one.default for one in kind.parameters if isinstance(one.default, Figure)}
    told = {
        "capacitance": Figure(max(tool.input_farads, 1e-12), "F"),
        "leak": Figure(tool.input_ohms, "ohm"),
        "esr": Figure(1.0, "ohm"),
    }
    return Part("the probe", "capacitor", dict(zip(kind.pins, ends, strict=True)), {**rest, **told}, known_good=True)
