"""What an oscilloscope reads off a trace: pure functions of seconds (time,) and volts (variant, time).

Steps need not be alike; between two instants a trace is a straight line. Every answer is (variant,). A variant without
an answer, because it was not solved or what is asked never happens, has NaN, which for a time means "never".
"""

from __future__ import annotations

import numpy as np

ARMED = (
    0.1  # chosen: share of peak to peak that a trace must come back by before it can cross again, as a trigger has it
)
EDGES = 0.05  # chosen: share of a flat top that is left out at each end, for its edges
HARMONICS = 10  # chosen: further ones of a clipped sine add less than a hundredth to the distortion
PER_PERIOD = 256  # chosen: points of one period that components are reckoned from


def mean(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """Mean over the whole trace, V; what a meter on direct volts settles at. One instant alone is its own mean."""
    if len(seconds) < 2:
        return volts[:, -1]
    return np.trapezoid(volts, seconds, axis=1) / (seconds[-1] - seconds[0])


def rms(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """Root of the mean square of what varies, the mean left out, V."""
    varying = volts - mean(seconds, volts)[:, None]
    a, b = varying[:, :-1], varying[:, 1:]
    square = np.sum((a * a + a * b + b * b) / 3.0 * np.diff(seconds), axis=1)  # of a straight line, exactly
    return np.sqrt(square / (seconds[-1] - seconds[0]))


def top(volts: np.ndarray) -> np.ndarray:
    """Highest volts."""
    return np.max(volts, axis=1)


def valley(volts: np.ndarray) -> np.ndarray:
    """Lowest volts."""
    return np.min(volts, axis=1)


def peak_to_peak(volts: np.ndarray) -> np.ndarray:
    """Highest less lowest, V."""
    return top(volts) - valley(volts)


def at(seconds: np.ndarray, volts: np.ndarray, instants: np.ndarray) -> np.ndarray:
    """(variant, instant) volts at instants (instant,) or (variant, instant), s; NaN for a NaN and outside the trace."""
    where = np.broadcast_to(instants, (len(volts), np.shape(instants)[-1]))
    after = np.clip(np.searchsorted(seconds, where), 1, len(seconds) - 1)
    share = (where - seconds[after - 1]) / (seconds[after] - seconds[after - 1])
    row = np.arange(len(volts))[:, None]
    found = volts[row, after - 1] + share * (volts[row, after] - volts[row, after - 1])
    slack = 1e-9 * (seconds[-1] - seconds[0])
    return np.where((where >= seconds[0] - slack) & (where <= seconds[-1] + slack), found, np.nan)


def within(
    seconds: np.ndarray, volts: np.ndarray, begin: float, end: float
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Seconds (time,) and volts (variant, time) of the trace from one instant to another, with the points at its ends;
    as much of it as there is."""
    begin, end = max(begin, float(seconds[0])), min(end, float(seconds[-1]))
    inside = seconds[(seconds > begin) & (seconds < end)]
    instants = np.array([begin, *inside, end]) if end > begin else np.array([begin, begin + 1e-12])
    return instants, at(seconds, volts, np.clip(instants, seconds[0], seconds[-1]))


def crossings(seconds: np.ndarray, volts: np.ndarray, level: np.ndarray | float, rising: bool = True) -> np.ndarray:
    """(variant, crossing) s at which the trace goes through a level, V or (variant,); NaN behind the last.

    It counts once it has come from the other side by ARMED of its peak to peak, so that a wobble at the level is one
    crossing; where it begins on the other side, by whatever it does.
    """
    way = 1.0 if rising else -1.0
    above = way * (volts - np.broadcast_to(level, len(volts))[:, None])
    needs = ARMED * peak_to_peak(volts)
    rows, before = np.nonzero((above[:, 1:] >= 0.0) & (above[:, :-1] < 0.0))
    if not len(rows):
        return np.full((len(volts), 1), np.nan)
    first = np.diff(rows, prepend=-1) > 0  # the first of its variant
    flat = rows * volts.shape[1] + before + 1
    since = np.where(first, rows * volts.shape[1], np.concatenate([[0], flat[:-1]]))  # the last one, or the beginning
    lowest = np.minimum.reduceat(above.ravel(), np.stack([since, flat], axis=1).ravel())[::2]
    armed = (lowest <= -needs[rows]) | (first & (above[rows, 0] < 0.0))
    rows, before = rows[armed], before[armed]
    a, b = above[rows, before], above[rows, before + 1]
    found = seconds[before] + a / (a - b) * (seconds[before + 1] - seconds[before])
    count = np.bincount(rows, minlength=len(volts))
    whole = np.full((len(volts), max(1, int(count.max()))), np.nan)
    whole[rows, np.arange(len(rows)) - np.repeat(np.cumsum(count) - count, count)] = found
    return whole


def rise_through(seconds: np.ndarray, volts: np.ndarray, level: np.ndarray | float) -> np.ndarray:
    """First instant at which it rises through a level, s; NaN: never, or it was above from the start."""
    return crossings(seconds, volts, level)[:, 0]


def fall_through(seconds: np.ndarray, volts: np.ndarray, level: np.ndarray | float) -> np.ndarray:
    """First instant at which it falls through a level, s; NaN: never, or it was below from the start."""
    return crossings(seconds, volts, level, rising=False)[:, 0]


def middle(volts: np.ndarray) -> np.ndarray:
    """Half way between top and valley, V."""
    return 0.5 * (top(volts) + valley(volts))


def period(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """Mean time from one rise through the middle to the next, s; NaN: fewer than two rises, it does not repeat."""
    rises = crossings(seconds, volts, middle(volts))
    count = np.sum(np.isfinite(rises), axis=1)
    last = rises[np.arange(len(rises)), np.maximum(count - 1, 0)]
    return np.where(count > 1, (last - rises[:, 0]) / np.maximum(count - 1, 1), np.nan)


def frequency(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """1 / period, Hz; NaN where there is none."""
    return 1.0 / period(seconds, volts)


def unsteady(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """How much the last period differs from the one before, as a share; NaN: fewer than three rises.

    The test that an oscillator has settled: small.
    """
    gaps = np.diff(crossings(seconds, volts, middle(volts)), axis=1)
    count = np.sum(np.isfinite(gaps), axis=1)
    row = np.arange(len(gaps))
    if gaps.shape[1] < 2:
        return np.full(len(volts), np.nan)
    last, before = gaps[row, np.maximum(count - 1, 0)], gaps[row, np.maximum(count - 2, 0)]
    return np.where(count > 1, np.abs(last - before) / last, np.nan)


def duty(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """Share of its period that it stands above the middle, over whole periods; NaN where it does not repeat."""
    half = middle(volts)
    rises, falls = crossings(seconds, volts, half), crossings(seconds, volts, half, rising=False)
    high, whole = np.zeros(len(volts)), np.zeros(len(volts))
    for n in range(rises.shape[1] - 1):
        begin, end = rises[:, n], rises[:, n + 1]
        inside = (falls > begin[:, None]) & (falls < end[:, None])
        fall = np.max(np.where(inside, falls, -np.inf), axis=1)
        counts = np.isfinite(end) & np.isfinite(fall)
        high += np.where(counts, np.where(counts, fall, 0.0) - begin, 0.0)
        whole += np.where(counts, end - begin, 0.0)
    return np.where(whole > 0.0, high / np.maximum(whole, 1e-300), np.nan)


def component(seconds: np.ndarray, volts: np.ndarray, hertz: float, times: int = 1) -> np.ndarray:
    """Complex amplitude at so many times a frequency, peak V, over the last whole periods of that frequency.

    Its angle is that of a cosine at the beginning of those periods. NaN: the trace is shorter than one.
    """
    whole = np.floor((seconds[-1] - seconds[0]) * hertz * (1.0 + 1e-9))
    if whole < 1.0:
        return np.full(len(volts), np.nan + 0j)
    count = int(PER_PERIOD * whole)
    instants = seconds[-1] - whole / hertz * (1.0 - np.arange(count) / count)
    turn = np.exp(-2j * np.pi * times * whole * np.arange(count) / count)
    return 2.0 / count * at(seconds, volts, np.maximum(instants, seconds[0])) @ turn


def level_at(seconds: np.ndarray, volts: np.ndarray, hertz: float) -> np.ndarray:
    """Size of what it carries at one frequency, peak V; NaN: the trace is shorter than one period."""
    return np.abs(component(seconds, volts, hertz))


def once_or_twice(seconds: np.ndarray, volts: np.ndarray, mains: float) -> np.ndarray:
    """What it carries at the mains frequency over what it carries at twice that, Hz of the mains given.

    Next to nothing: it hums at twice mains, both halves of the rectifier work. One or more: once, one half is lost.
    NaN: the trace is shorter than a period of the mains, or there is no ripple at all.
    """
    once, twice = (np.abs(component(seconds, volts, mains, times)) for times in (1, 2))
    ripple = np.maximum(once, twice) > 1e-9
    return np.where(ripple, once / np.maximum(twice, 1e-12), np.nan)


def distortion(seconds: np.ndarray, volts: np.ndarray, hertz: float) -> np.ndarray:
    """Root of the sum of squares of the harmonics over the fundamental, as a share; NaN: no fundamental."""
    first = level_at(seconds, volts, hertz)
    rest = sum(np.abs(component(seconds, volts, hertz, n)) ** 2 for n in range(2, HARMONICS + 1))
    return np.where(first > 1e-9, np.sqrt(rest) / np.maximum(first, 1e-12), np.nan)


def tilt(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """How much the last whole flat top of a square falls, as a share of the height of the edge before it.

    Positive: it falls; the straight line between two points EDGES from its ends is drawn out to both. NaN: no
    top lies whole in the trace.
    """
    half = middle(volts)
    rises, falls = crossings(seconds, volts, half), crossings(seconds, volts, half, rising=False)
    ends = np.sum(np.isfinite(falls), axis=1)
    end = falls[np.arange(len(falls)), np.maximum(ends - 1, 0)]
    begin = np.max(np.where(rises < end[:, None], rises, -np.inf), axis=1)
    begin = np.where(np.isfinite(begin), begin, np.nan)
    length = end - begin
    first, last = (at(seconds, volts, (begin + share * length)[:, None])[:, 0] for share in (EDGES, 1.0 - EDGES))
    slope = (first - last) / (1.0 - 2.0 * EDGES)
    before = at(seconds, volts, (begin - EDGES * length)[:, None])[:, 0]
    low = np.where(np.isfinite(before), before, valley(volts))
    return slope / (first + EDGES * slope - low)


def sag(seconds: np.ndarray, volts: np.ndarray, begin: float, end: float) -> np.ndarray:
    """V by which it falls from one instant to another, as what is held falls between two refreshes; NaN: outside."""
    first, last = at(seconds, volts, np.array([begin, end])).T
    return first - last


def limited(seconds: np.ndarray, volts: np.ndarray, hertz: float) -> np.ndarray:
    """(variant, time) the trace behind a bandwidth limit: one pole at `hertz`, settled at the first instant."""
    return _one_pole(seconds, volts, hertz, volts[:, 0])


def coupled(seconds: np.ndarray, volts: np.ndarray, hertz: float) -> np.ndarray:
    """(variant, time) the trace on an input coupled for alternating volts: one pole at `hertz`, charged to the mean."""
    return volts - _one_pole(seconds, volts, hertz, mean(seconds, volts))


def _one_pole(seconds: np.ndarray, volts: np.ndarray, hertz: float, begin: np.ndarray) -> np.ndarray:
    """(variant, time) dy/dt = 2 pi f (volts - y) from y = begin (variant,) on, exact for straight lines."""
    rate = 2.0 * np.pi * hertz
    found = np.empty_like(volts)
    found[:, 0] = begin
    for n, step in enumerate(np.diff(seconds)):
        lag = (volts[:, n + 1] - volts[:, n]) / step / rate  # by which a pole follows a straight line
        found[:, n + 1] = volts[:, n + 1] - lag + (found[:, n] - volts[:, n] + lag) * np.exp(-rate * step)
    return found
