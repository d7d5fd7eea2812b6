"""How a figure goes in time: sine, pulse, ripple, a step at switch-on, a timed switch."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from probewright.errors import NotAValue


class Wave(Protocol):
    """A shape without a unit, a frozen value. Whoever plays it says how many volts it stands for."""

    @property
    def period(self) -> float:
        """Seconds after which it repeats; inf where it never does."""
        ...

    def at(self, seconds: float) -> float:
        """Where it stands; at a jump, where it comes from."""
        ...

    def corners(self, start: float, stop: float) -> list[float]:
        """Seconds in start <= t < stop at which it jumps or bends."""
        ...


def _above_nought(value: float, what: str, unit: str) -> None:
    """Refuse a length of time or a frequency that is none. NotAValue."""
    if not 0.0 < value < math.inf:
        raise NotAValue(f"{what} of {value:g} {unit} is none", f"give a {what} above nought")


def _again(first: float, period: float, start: float, stop: float) -> list[float]:
    """first + n period, within start <= t < stop."""
    begin = math.ceil((start - first) / period - 1e-9)
    end = math.ceil((stop - first) / period - 1e-9)
    return [first + n * period for n in range(begin, end)]


@dataclass(frozen=True)
class Sine:
    """sin (2 pi f t + phase), from -1 to 1."""

    hertz: float
    degrees: float = 0.0

    def __post_init__(self) -> None:
        _above_nought(self.hertz, "frequency", "Hz")

    @property
    def period(self) -> float:
        """1 / f, s."""
        return 1.0 / self.hertz

    def at(self, seconds: float) -> float:
        """The sine there."""
        return math.sin(2.0 * math.pi * math.fmod(self.hertz * seconds, 1.0) + math.radians(self.degrees))

    def corners(self, start: float, stop: float) -> list[float]:
        """None."""
        return []


@dataclass(frozen=True)
class Pulse:
    """Nought, and one for `high` seconds of each period; from the first rise at `delay` on, edges `edge` s long.

    A square has high = period / 2. high counts from the middle of one edge to the middle of the next; without
    an edge it jumps. It has been going for ever, before delay too.
    """

    period: float
    high: float
    delay: float = 0.0
    edge: float = 0.0

    def __post_init__(self) -> None:
        _above_nought(self.period, "period", "s")
        if not self.edge <= self.high <= self.period - self.edge:
            raise NotAValue(
                f"{self.high:g} s with edges of {self.edge:g} s do not fit into {self.period:g} s",
                "give a shorter pulse, or a longer period",
            )

    def at(self, seconds: float) -> float:
        """Where it stands, a jump counted to what was before it."""
        turn = (seconds - self.delay) / self.period
        here = (turn - math.ceil(turn) + 1.0) * self.period  # 0 < here <= period
        if self.edge == 0.0:
            return 1.0 if here <= self.high else 0.0
        return min(1.0, here / self.edge) - min(1.0, max(0.0, (here - self.high) / self.edge))

    def corners(self, start: float, stop: float) -> list[float]:
        """Begin and end of every edge."""
        ends = {self.delay, self.delay + self.edge, self.delay + self.high, self.delay + self.high + self.edge}
        return sorted(t for end in ends for t in _again(end, self.period, start, stop))


CHARGING = 0.2  # chosen: a small mains supply charges its reservoir for about a fifth of the time between two crests


@dataclass(frozen=True)
class Ripple:
    """What a rectifier leaves on its reservoir, from -1/2 to 1/2: up along the crest of a sine, down along a line.

    hertz of the mains; full: a crest in each half of its period, once or twice mains as a scope says it.
    """

    hertz: float
    full: bool = True

    def __post_init__(self) -> None:
        _above_nought(self.hertz, "frequency", "Hz")

    @property
    def period(self) -> float:
        """Seconds from crest to crest."""
        return 1.0 / (self.hertz * (2.0 if self.full else 1.0))

    def at(self, seconds: float) -> float:
        """Down over the first part of its period, then up to the crest."""
        here = math.fmod(seconds / self.period, 1.0) % 1.0
        if here <= 1.0 - CHARGING:
            return 0.5 - here / (1.0 - CHARGING)
        return math.sin(0.5 * math.pi * (here - 1.0 + CHARGING) / CHARGING) - 0.5

    def corners(self, start: float, stop: float) -> list[float]:
        """Where charging begins and ends."""
        turns = (0.0, (1.0 - CHARGING) * self.period)
        return sorted(t for first in turns for t in _again(first, self.period, start, stop))


@dataclass(frozen=True)
class Step:
    """Nought until `moment`, then one, along a line of `rise` seconds: a switch-on, or a step."""

    moment: float = 0.0
    rise: float = 0.0

    @property
    def period(self) -> float:
        """It never repeats."""
        return math.inf

    def at(self, seconds: float) -> float:
        """Where it stands, a jump counted to what was before it."""
        if self.rise == 0.0:
            return 1.0 if seconds > self.moment else 0.0
        return min(1.0, max(0.0, (seconds - self.moment) / self.rise))

    def corners(self, start: float, stop: float) -> list[float]:
        """Begin and end of the rise."""
        return [t for t in sorted({self.moment, self.moment + self.rise}) if start <= t < stop]


@dataclass(frozen=True)
class Turned:
    """Another wave that stands at `first` where that one is nought and at `last` where it is one."""

    wave: Wave
    first: float = 1.0
    last: float = 0.0

    @property
    def period(self) -> float:
        """As the other one."""
        return self.wave.period

    def at(self, seconds: float) -> float:
        """Where it stands."""
        return self.first + (self.last - self.first) * self.wave.at(seconds)

    def corners(self, start: float, stop: float) -> list[float]:
        """As the other one."""
        return self.wave.corners(start, stop)


@dataclass(frozen=True)
class Later:
    """Another wave that begins so many seconds later."""

    wave: Wave
    seconds: float

    @property
    def period(self) -> float:
        """As the other one."""
        return self.wave.period

    def at(self, seconds: float) -> float:
        """Where it stands."""
        return self.wave.at(seconds - self.seconds)

    def corners(self, start: float, stop: float) -> list[float]:
        """As the other one, later."""
        return [one + self.seconds for one in self.wave.corners(start - self.seconds, stop - self.seconds)]


def together(periods: Iterable[float]) -> float:
    """Seconds after which all of these repeat at once, as exactly as they can be told; inf where none repeats."""
    found = [Fraction(one).limit_denominator(10**12) for one in periods if one < math.inf]
    if not found:
        return math.inf
    return math.lcm(*(one.numerator for one in found)) / math.gcd(*(one.denominator for one in found))


@dataclass(frozen=True)
class Course:
    """How one figure of one part goes in time: figure x share(t) + size x swing(t).

    share: a switch-on or a timed switch; swing: a signal on top; size: the figure of the part that says
    how large it is. Amplitudes so keep their tolerances, and only the shape is told here.
    """

    part: str
    figure: str = "volts"
    share: Wave | None = None
    swing: Wave | None = None
    size: str = "signal"

    def waves(self) -> list[Wave]:
        """What it is made of."""
        return [wave for wave in (self.share, self.swing) if wave is not None]


def never_repeats(courses: Iterable[Course]) -> bool:
    """Something in these happens once."""
    return any(wave.period == math.inf for one in courses for wave in one.waves())
