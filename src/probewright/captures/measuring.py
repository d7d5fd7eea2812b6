"""What a trace reads: each figure with how far it can be off, and whether the screen cut it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.captures.capture import Capture
from probewright.readings import NEVER
from probewright.readings.instruments import law
from probewright.simulation import scope

REPEATS = 0.05  # chosen: periods that scatter by more of their mean do not repeat
FEWEST_RISES = 3  # chosen: two periods, or nobody can see that it repeats
TIMEBASE = 1e-4  # limit of a scope's time base as a share, 100 ppm: common practice, no source
SMOOTHINGS = (1, 5, 25)  # points, chosen: noise goes down to less than a half and to a fifth
LONGER = 10  # chosen: times the smoothing that a period lasts, so that its shape stays
STILL = 8  # chosen, points: so many alike in a row are no chance where others wobble by a step
WOBBLES = 0.7  # chosen, steps: noise from which neighbouring points are seldom alike
LEVELS = 4096  # chosen: more different figures than 12 bits have are not steps of a converter
WEIGHTS = np.array([1.0, -4.0, 6.0, -4.0, 1.0])  # fourth differences: what a smooth trace leaves of itself is small
MIDDLE = 0.6745  # median of the size of a normal law, in standard deviations


@dataclass(frozen=True)
class Figure:
    """One figure of a trace. quantity: as in `Question.instrument`; value: V, s, Hz or a share; NEVER for a level that
    is not gone through; error: its standard deviation; low, high: between what it lies when noise or the edge of
    the screen leaves it open, else both are the value."""

    quantity: str
    value: float
    error: float
    low: float
    high: float


@dataclass(frozen=True)
class Measured:
    """What a trace reads. interval: mean seconds between points; step: volts between two neighbouring figures, 0 where
    nobody can see it; noise: standard deviation, V; periods: whole ones seen, 0 where it does not repeat; cut: "top",
    "bottom" where the edge of the screen cuts it; level: V that an edge goes through, None where none is asked."""

    figures: tuple[Figure, ...]
    points: int
    interval: float
    step: float
    noise: float
    periods: int
    cut: tuple[str, ...]
    level: float | None = None

    def of(self, quantity: str) -> Figure | None:
        """One of the figures; None where the trace has none of this quantity."""
        return next((one for one in self.figures if one.quantity == quantity), None)


def measure(capture: Capture, channel: int = 0, level: float | None = None, edge: str = "rise") -> Measured:
    """All that one channel, counted from 0, reads; level: volts of a rise that is asked for, or of a fall by `edge`.

    A trace that repeats is averaged over its whole periods.
    """
    seconds, volts = capture.trace(channel)
    step, noise = step_of(volts), noise_of(volts)
    cut = _cut(volts, step, noise, capture.beyond[channel])
    interval = float((seconds[-1] - seconds[0]) / (len(seconds) - 1))
    points, rises = _rises(seconds, volts)
    periods = max(len(rises) - 1, 0)
    whole = slice(*np.searchsorted(seconds, rises[[0, -1]])) if periods else slice(None)
    figures = [*_volts(seconds[whole], volts[whole], volts, step, noise, cut)]
    if periods:
        figures += _rhythm(seconds, smoothed(volts, points), rises, interval, noise / np.sqrt(points))
    if level is not None:
        figures.append(_edge(edge, seconds, volts, level, interval, noise))
    return Measured(tuple(figures), len(volts), interval, step, noise, periods, cut, level)


def step_of(volts: np.ndarray) -> float:
    """Volts between two neighbouring figures of the converter, by the smallest difference there is; 0: too many.

    volts (time,). A file that prints more digits than the converter has steps shows them all the same.
    """
    different = np.unique(np.round(volts, 12))
    if not 2 <= len(different) <= LEVELS:
        return 0.0
    gaps = np.diff(different)
    return float(np.min(gaps[gaps > 1e-6 * (different[-1] - different[0])], initial=different[-1] - different[0]))


def noise_of(volts: np.ndarray) -> float:
    """Standard deviation of what goes from point to point, V; volts (time,).

    From the middle size of the fourth differences, which edges and slow shapes hardly move. Where the trace stands on
    its outermost figures the screen may have cut the noise, so that these points are left out where others remain.
    """
    if len(volts) < 2 * len(WEIGHTS):
        return 0.0
    wobble = np.convolve(volts, WEIGHTS, mode="valid")
    outermost = np.convolve((volts == volts.min()) | (volts == volts.max()), np.ones(len(WEIGHTS)), mode="valid") > 0.5
    if np.sum(~outermost) >= 2 * len(WEIGHTS):
        wobble = wobble[~outermost]
    return float(np.median(np.abs(wobble)) / MIDDLE / np.sqrt(np.sum(WEIGHTS**2)))


def smoothed(volts: np.ndarray, points: int) -> np.ndarray:
    """Mean over an odd number of points, (time,) as before; the ends keep their own figures."""
    points += 1 - points % 2
    if points == 1 or len(volts) < points:
        return volts
    half = points // 2
    inner = np.convolve(volts, np.full(points, 1.0 / points), mode="valid")
    return np.concatenate([volts[:half], inner, volts[len(volts) - half :]])


def _rises(seconds: np.ndarray, volts: np.ndarray) -> tuple[int, np.ndarray]:
    """Over how many points noise had to be smoothed, and when it then rises through the middle (rise,), s.

    No rises where it does not repeat: their distances scatter, or a period is hardly longer than the smoothing.
    """
    for points in SMOOTHINGS:
        even = smoothed(volts, points)
        rises = scope.crossings(seconds, even[None], scope.middle(even[None]))[0]
        rises = rises[np.isfinite(rises)]
        gaps = np.diff(rises)
        steady = len(rises) >= FEWEST_RISES and np.std(gaps) <= REPEATS * np.mean(gaps)
        if steady and np.sum(seconds < rises[1]) - np.sum(seconds < rises[0]) >= LONGER * (points - 1):
            return points, rises
    return 1, np.empty(0)


def _cut(volts: np.ndarray, step: float, noise: float, beyond: tuple[int, int]) -> tuple[str, ...]:
    """Where the edge of the screen cuts: said by the file, or the trace stands still on its outermost figure.

    It tells nothing of a machine that limits: there the converter still wobbles. Where nothing wobbles anywhere,
    nobody can tell the two apart, and nothing is said.
    """
    low, high = (count > 0 for count in beyond)
    if step > 0.0 and noise >= WOBBLES * step and np.ptp(volts) > STILL * step:
        low |= _longest(volts == volts.min()) >= STILL
        high |= _longest(volts == volts.max()) >= STILL
    return ("bottom",) * low + ("top",) * high


def _longest(here: np.ndarray) -> int:
    """Most points in a row that are True; here (time,)."""
    ends = np.flatnonzero(np.diff(np.concatenate([[0], here.astype(np.int8), [0]])))
    return int(np.max(ends[1::2] - ends[::2], initial=0))


def _volts(
    seconds: np.ndarray, whole: np.ndarray, every: np.ndarray, step: float, noise: float, cut: tuple[str, ...]
) -> list[Figure]:  # fmt: skip
    """Mean and rms over (time,) whole periods, peak to peak, top and valley of every point."""
    of, row = law("pp"), every[None]
    span = float(scope.peak_to_peak(row)[0])
    reading = float(np.hypot(of.floor_sd, of.own_gain_sd * span))
    digit = step / np.sqrt(12.0)
    peak = noise * np.sqrt(2.0 * np.log(max(len(every), 2)))  # about how far the noise alone reaches, JCGM has no word
    above, below = NEVER if "top" in cut else 0.0, NEVER if "bottom" in cut else 0.0

    def figure(quantity: str, value: float, own: float, less: float = 0.0, more: float = 0.0) -> Figure:
        error = float(np.sqrt((of.gain_sd * value) ** 2 + reading**2 + own**2))
        return Figure(quantity, value, error, float(value - less), float(value + more))

    mean = float(scope.mean(seconds, whole[None])[0])
    top, valley = float(scope.top(row)[0]), float(scope.valley(row)[0])
    open_ = NEVER if cut else 0.0
    return [
        figure("dc", mean, noise / np.sqrt(len(whole)), below, above),
        figure("pp", span, np.sqrt(2.0) * digit, min(2.0 * peak, span), open_),
        figure("top", top, digit, peak, above),
        figure("valley", valley, digit, below, peak),
        figure("rms", float(scope.rms(seconds, whole[None])[0]), digit, 0.0, open_),
    ]


def _rhythm(
    seconds: np.ndarray, volts: np.ndarray, rises: np.ndarray, interval: float, noise: float
) -> list[Figure]:  # fmt: skip
    """Period, frequency and duty of a trace that repeats; rises (rise,), s."""
    gaps = np.diff(rises)
    period = float(scope.period(seconds, volts[None])[0])
    span = np.ptp(volts)
    near = float(np.mean(np.abs(volts - scope.middle(volts[None])[0]) < scope.ARMED * span))  # twice in each period
    wobble = noise / span * near * period / (4.0 * scope.ARMED)  # by which the noise moves a crossing
    edge = np.sqrt(2.0) * max(np.hypot(wobble, interval / np.sqrt(12.0)), np.std(gaps) / np.sqrt(2.0)) / len(gaps)
    share = float(np.hypot(edge / period, TIMEBASE / np.sqrt(3.0)))
    duty = float(scope.duty(seconds, volts[None])[0])
    own = float(edge / period * np.sqrt(len(gaps)))
    shown = ((("period", period, share * period)), ("frequency", 1.0 / period, share / period), ("duty", duty, own))
    return [Figure(what, value, error, value, value) for what, value, error in shown]


def _edge(edge: str, seconds: np.ndarray, volts: np.ndarray, level: float, interval: float, noise: float) -> Figure:
    """When it first rises or falls through a level, s from nought of the file's own times; NEVER where it does not."""
    if edge == "fall":  # a fall is a rise of the trace upside down
        volts, level = -volts, -level
    found = float(scope.rise_through(seconds, volts[None], level)[0])
    if np.isnan(found):
        return Figure(edge, NEVER, 0.0, NEVER, NEVER)
    jitter = noise * _steepness(seconds, volts, level, found, max(4.0 * noise, 0.5 * scope.ARMED * np.ptp(volts)))
    error = float(np.sqrt(interval**2 / 12.0 + jitter**2 + (TIMEBASE * found) ** 2 / 3.0))
    return Figure(edge, found, error, found, found)


def _steepness(seconds: np.ndarray, volts: np.ndarray, level: float, at: float, either: float) -> float:
    """Seconds a volt takes around a crossing, from where it was last so far below to where it is first so far above."""
    before = np.flatnonzero((seconds <= at) & (volts <= level - either))
    after = np.flatnonzero((seconds >= at) & (volts >= level + either))
    begin = seconds[before[-1]] if len(before) else seconds[0]
    end = seconds[after[0]] if len(after) else seconds[-1]
    return float((end - begin) / (2.0 * either)) if either > 0.0 else 0.0
