"""How warm a part gets that runs without its heatsink, burst after burst: closed forms, and nothing of circuits.

The die follows its case within milliseconds, so the junction stands `to_case` times the watts above the case at once.
The case with its heat capacity warms the air through one resistance, or a sink that has a capacity of its own:

    C1 dT1/dt = P - (T1 - T2) / R1,   C2 dT2/dt = (T1 - T2) / R1 - T2 / R2,   junction = air + T1 + to_case P

all T in K above the air. With constant watts that is a steady state and as many exponentials as there are stages.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from probewright.machine.model import Heat
from probewright.machine.packages import CLIP, Band, band

AIR = 25.0  # °C, chosen: a room
# K, chosen: that the plan stays below the limit of the part: a warm room, and air that the board has warmed
MARGIN = 10.0
PAIN, PAIN_SD = 60.0, 5.0  # °C that a finger bears on a case, from memory, and how far people differ, chosen
BURN = 55.0  # °C of bare metal that burns within 10 s, ISO 13732-1:2006, from memory
TOUCH = 48.0  # °C, the same within 10 min: what may be held
THERMOMETER_SD = 4.0  # K, chosen: a bead held against a case reads low by so much, more or less
SPREAD = 2.0  # standard deviations from the likely figure to the worst
LEAST_SD = 2.0  # K, chosen: nobody knows the warmth of a case better than that from arithmetic
FOREVER = 86400.0  # s, chosen: what takes more than a day does not happen
EXACT = 1e-12  # chosen: share of its span that a bisection stops at


@dataclass(frozen=True)
class Path:
    """One way out for the heat.

    to_case: junction to case, K/W; ohms (stage,): thermal resistance from each stage to the next, the last to the
    air, K/W; capacity (stage,): J/K. The first stage is the case, a second one its sink.
    """

    to_case: float
    ohms: tuple[float, ...]
    capacity: tuple[float, ...]

    @cached_property
    def _modes(self) -> tuple[np.ndarray, np.ndarray]:
        """(mode,) 1/s and (stage, mode) shapes, mass-normalised: C^-1/2 G C^-1/2 is symmetric."""
        count = len(self.ohms)
        siemens = np.zeros((count, count))
        for stage, ohms in enumerate(self.ohms):
            siemens[stage, stage] += 1.0 / ohms
            if stage + 1 < count:
                siemens[stage + 1, stage + 1] += 1.0 / ohms
                siemens[stage, stage + 1] = siemens[stage + 1, stage] = -1.0 / ohms
        root = np.sqrt(self.capacity)
        rates, shapes = np.linalg.eigh(siemens / np.outer(root, root))
        return rates, shapes

    @property
    def whole(self) -> float:
        """K/W from the junction to the air."""
        return self.to_case + sum(self.ohms)

    def steady(self, watts: float) -> np.ndarray:
        """(stage,) K above the air, where it settles."""
        return watts * np.cumsum(self.ohms[::-1])[::-1]

    def after(self, rises: Sequence[float], watts: float, seconds: float) -> np.ndarray:
        """(stage,) K above the air, so many seconds after `rises`."""
        rates, shapes = self._modes
        root, end = np.sqrt(self.capacity), self.steady(watts)
        start = shapes.T @ (root * (np.asarray(rises) - end))
        return np.asarray(end + (shapes @ (np.exp(-rates * seconds) * start)) / root)

    def until(self, rises: Sequence[float], watts: float, rise: float) -> float:
        """Seconds until the case has risen to `rise` K above the air; nought if it has, inf if it never does."""
        if rises[0] >= rise:
            return 0.0
        rates, shapes = self._modes
        root, end = np.sqrt(self.capacity), self.steady(watts)
        share = shapes[0] * (shapes.T @ (root * (np.asarray(rises) - end))) / root[0]
        if len(rates) == 1:
            left = (rise - end[0]) / (rises[0] - end[0]) if rises[0] != end[0] else math.inf
            return -math.log(left) / float(rates[0]) if 0.0 < left < 1.0 else math.inf

        def at(seconds: float) -> float:
            return float(end[0] + np.sum(share * np.exp(-rates * seconds))) - rise

        # two exponentials turn once at most; up to there and from there on it goes one way
        slopes = share * rates
        turn = -slopes[1] / slopes[0] if slopes[0] else 0.0
        turns = [math.log(turn) / float(rates[1] - rates[0])] if turn > 0.0 and rates[1] != rates[0] else []
        for upto in (*(one for one in turns if 0.0 < one < FOREVER), FOREVER):
            if at(upto) >= 0.0:
                return _first(at, upto)
        return math.inf


def _first(at: Callable[[float], float], upto: float) -> float:
    """Where a function that rises from below nought to above it within [0, upto] gets to nought, never too late."""
    low, high = 0.0, upto
    while high - low > EXACT * upto:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if at(middle) >= 0.0 else (middle, high)
    return low


def settled(watts: float, whole: float) -> float:
    """°C that a junction settles at; whole: K/W from it to the air."""
    return AIR + whole * watts


@dataclass(frozen=True)
class Warmth:
    """K above the air of each stage (stage,): as is likely, and at the worst."""

    likely: tuple[float, ...]
    worst: tuple[float, ...]

    @property
    def case(self) -> float:
        """°C of the case, as is likely."""
        return AIR + self.likely[0]

    @property
    def worst_case(self) -> float:
        """°C of the case at the worst."""
        return AIR + self.worst[0]


@dataclass(frozen=True)
class Body:
    """A part and its way out for heat, as far as it is known.

    usual: figures in the middle; corners: ends of their bands that bound every path between them from above; limit:
    °C that the junction may reach, the margin taken off.
    """

    usual: Path
    corners: tuple[Path, ...]
    limit: float

    @property
    def cold(self) -> Warmth:
        """As warm as the air."""
        none = (0.0,) * len(self.usual.ohms)
        return Warmth(none, none)

    def after(self, warmth: Warmth, likely: float, worst: float, seconds: float) -> Warmth:
        """After so many seconds with so many watts in it; worst: at the worst.

        The worst of a burst is that of the corner which ends warmest, stage by stage: more resistance is always
        warmer, and of capacities the least warms and the most cools most slowly.
        """
        ends = [path.after(warmth.worst, worst, seconds) for path in self.corners]
        top = np.max(ends, axis=0)
        middle = np.minimum(self.usual.after(warmth.likely, likely, seconds), top)
        return Warmth(tuple(map(float, middle)), tuple(map(float, top)))

    def junction(self, warmth: Warmth, watts: float) -> float:
        """°C of the junction at the worst, with so many watts in it."""
        return AIR + warmth.worst[0] + watts * max(path.to_case for path in self.corners)

    def settles(self, watts: float) -> float:
        """°C that the junction settles at, at the worst."""
        return max(settled(watts, path.whole) for path in self.corners)

    def about(self, watts: float) -> float:
        """°C that the junction settles at, with figures in the middle."""
        return settled(watts, self.usual.whole)

    def seconds(self, warmth: Warmth, watts: float) -> float:
        """How long so many watts may run from here, at the worst; inf for ever."""
        return min(path.until(warmth.worst, watts, self._most(path, watts)) for path in self.corners)

    def _most(self, path: Path, watts: float) -> float:
        """K above the air that the case may rise to."""
        return self.limit - AIR - watts * path.to_case

    def wait(self, warmth: Warmth, watts: float, seconds: float) -> float:
        """How long it must cool, power off, until so many watts may run for so many seconds; inf: it never may."""
        if self.seconds(warmth, watts) >= seconds:
            return 0.0
        if self.seconds(self.cold, watts) <= seconds:
            return math.inf

        def allows(pause: float) -> bool:
            return self.seconds(self.after(warmth, 0.0, 0.0, pause), watts) >= seconds

        high = 1.0
        while not allows(high):
            high *= 2.0
            if high > FOREVER:
                return math.inf
        low = 0.5 * high if high > 1.0 else 0.0
        while high - low > 0.1:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if allows(middle) else (middle, high)
        return high


# What a part is ---------------------------------------------------------------------------------


def bare(package: str, told: Heat | None = None) -> Body:
    """A part in this case that nothing cools; told: what the machine file says of it."""
    to_case, to_air, capacity = (
        band(package, name) for name in ("junction to case", "junction to air", "heat capacity")
    )
    if told is not None and told.bare is not None:
        to_air = Band(told.bare, told.bare, told.bare)
    return _body(package, told, to_case, (_less(to_air, to_case),), (capacity,))


def clipped(package: str, ohms: float = 0.0, told: Heat | None = None) -> Body:
    """The same with a sink clipped on. ohms: of the sink to the air, K/W; nought: one of the usual kind."""
    pad, to_air, mass = (band(CLIP, name) for name in ("case to sink", "to air", "heat capacity"))
    if ohms:
        to_air = Band(ohms, ohms, ohms)
    to_case, capacity = band(package, "junction to case"), band(package, "heat capacity")
    return _body(package, told, to_case, (pad, to_air), (capacity, mass))


def _less(whole: Band, part: Band) -> Band:
    """What is left of a resistance from junction to air beyond the case."""
    low, usual, high = whole.low - part.high, whole.usual - part.usual, whole.high - part.low
    return Band(max(low, 1.0), max(usual, 1.0), max(high, 1.0))


def _body(package: str, told: Heat | None, to_case: Band, ohms: Sequence[Band], capacity: Sequence[Band]) -> Body:
    limit = told.limit if told is not None and told.limit is not None else band(package, "limit").usual
    most = tuple(one.high for one in ohms)
    corners = (tuple(one.low for one in capacity), tuple(one.high for one in capacity))
    return Body(
        Path(to_case.usual, tuple(one.usual for one in ohms), tuple(one.usual for one in capacity)),
        tuple(Path(to_case.high, most, each) for each in corners),
        limit - MARGIN,
    )


# What a finger or a thermometer says --------------------------------------------------------------


def with_thermometer(warmth: Warmth, celsius: float) -> Warmth:
    """After a thermometer read so much on the case: two normal laws multiplied."""
    middle, sd = warmth.case, _sd(warmth)
    precision = 1.0 / sd**2 + 1.0 / THERMOMETER_SD**2
    return _believed(warmth, (middle / sd**2 + celsius / THERMOMETER_SD**2) / precision, precision**-0.5)


def with_finger(warmth: Warmth, borne: bool) -> Warmth:
    """After a finger could be held on the case, or could not.

    Where it gives up is normal about PAIN: the case is above it, or below. Mean and variance of a normal law times a
    normal distribution function: Rasmussen and Williams, Gaussian processes for machine learning (2006), 3.9.
    """
    middle, sd, side = warmth.case, _sd(warmth), -1.0 if borne else 1.0
    whole = math.hypot(sd, PAIN_SD)
    z = side * (middle - PAIN) / whole
    below = max(0.5 * math.erfc(-z / math.sqrt(2.0)), 1e-12)
    ratio = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi) / below
    mean = middle + side * sd**2 * ratio / whole
    variance = sd**2 - sd**4 * ratio * (z + ratio) / whole**2
    return _believed(warmth, mean, math.sqrt(max(variance, 1e-3)))


def _sd(warmth: Warmth) -> float:
    """Standard deviation of the case, K: the worst lies SPREAD of them above the likely."""
    return max((warmth.worst[0] - warmth.likely[0]) / SPREAD, LEAST_SD)


def _believed(warmth: Warmth, celsius: float, sd: float) -> Warmth:
    """The case at so many degrees; a sink behind it moves in proportion."""
    likely, worst = max(celsius - AIR, 0.0), max(celsius - AIR + SPREAD * sd, 0.0)
    return replace(warmth, likely=_moved(warmth.likely, likely), worst=_moved(warmth.worst, worst))


def _moved(rises: tuple[float, ...], case: float) -> tuple[float, ...]:
    share = case / rises[0] if rises[0] > 0.0 else 1.0
    return (case, *(one * share for one in rises[1:]))
