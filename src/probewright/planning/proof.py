"""How long a repair has to hold before it counts as proven: a few laws of chance, and nothing of circuits.

A fault that comes and goes shows in some share of the tries, or so often in an hour. Nobody knows either: it was seen
a few times before the repair. So the question is not "is the chance nought?" but "would it have shown by now, were it
still there?", weighed over every chance that what was seen before leaves open.
"""

from __future__ import annotations

import math
from collections.abc import Callable

PROVEN = 0.95  # chosen: what the trade of reliability demonstrations takes, IEC 61124 and MIL-HDBK-781A among others
HALF = 0.5  # Jeffreys' prior of a share and of a rate: Jeffreys, Theory of probability (1961), 3.10
MOST = 100_000  # chosen: tries that nobody makes


def passes_tries(seen: int, tries: int, clean: int) -> float:
    """Chance that a machine which showed its fault in `seen` of `tries` passes `clean` more without, nothing repaired.

    E[(1 - p)^n] for p ~ Beta(seen + 1/2, tries - seen + 1/2).
    """
    a, b = seen + HALF, tries - seen + HALF
    return math.exp(math.lgamma(b + clean) + math.lgamma(a + b) - math.lgamma(b) - math.lgamma(a + b + clean))


def passes_hours(seen: int, hours: float, clean: float) -> float:
    """Chance that a machine which showed its fault `seen` times in so many hours runs `clean` more without.

    E[exp(-rate t)] for rate ~ Gamma(seen + 1/2, hours).
    """
    return float((hours / (hours + clean)) ** (seen + HALF))


def tries_needed(seen: int, tries: int, sure: float = PROVEN) -> int:
    """The fewest clean tries after which an uncured machine would have shown itself, this surely."""
    low, high = 0, 1
    while passes_tries(seen, tries, high) > 1.0 - sure:
        low, high = high, 2 * high
        if high > MOST:
            return MOST
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if passes_tries(seen, tries, middle) > 1.0 - sure else (low, middle)
    return high


def hours_needed(seen: int, hours: float, sure: float = PROVEN) -> float:
    """The fewest clean hours of running, the same."""
    return float(hours * ((1.0 - sure) ** (-1.0 / (seen + HALF)) - 1.0))


def tries_at(chance: float, sure: float = PROVEN) -> int:
    """Clean tries needed where the chance of each is known: n = ln(1 - sure) / ln(1 - chance)."""
    return math.ceil(math.log(1.0 - sure) / math.log1p(-chance) - 1e-9)


def highest_chance(seen: int, tries: int, sure: float = PROVEN) -> float:
    """The largest chance of a try that what was seen does not rule out; Clopper and Pearson, Biometrika 26 (1934)."""
    if seen >= tries:
        return 1.0
    return _where(lambda p: _at_most(seen, tries, p) - (1.0 - sure))


def highest_rate(seen: int, hours: float, sure: float = PROVEN) -> float:
    """The most times in an hour that what was seen does not rule out: chi-square(sure; 2 seen + 2) / (2 hours)."""

    def left(mean: float) -> float:
        return sum(math.exp(-mean + n * math.log(mean) - math.lgamma(n + 1.0)) for n in range(seen + 1)) - (1.0 - sure)

    top = 1.0
    while left(top) > 0.0:
        top *= 2.0
    return _where(lambda share: left(top * share) if share else 1.0) * top / hours


def _at_most(seen: int, tries: int, chance: float) -> float:
    """Chance of so many or fewer in so many tries."""
    if chance in (0.0, 1.0):
        return 1.0 - chance
    logs = math.log(chance), math.log1p(-chance)
    ways = (math.lgamma(tries + 1.0) - math.lgamma(n + 1.0) - math.lgamma(tries - n + 1.0) for n in range(seen + 1))
    return sum(math.exp(way + n * logs[0] + (tries - n) * logs[1]) for n, way in enumerate(ways))


def _where(falls: Callable[[float], float]) -> float:
    """Where in 0..1 a function that falls is nought."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if falls(middle) > 0.0 else (low, middle)
    return 0.5 * (low + high)
