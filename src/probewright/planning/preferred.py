"""Which resistors and capacitors to take for a figure: values that are made, alone and in pairs, with their spread.

The values are those of IEC 60063 (`units.E24`, `units.E96`). A law is a short function of one or two values; it rises
or falls with each of them throughout, so that its ends lie where every part is at an end of its tolerance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from probewright.units import E24, E96

SERIES: Mapping[str, tuple[int, ...]] = {"E24": E24, "E96": E96}
USUAL_TOLERANCE = {"E24": 0.05, "E96": 0.01}  # what these series are made for, IEC 60063
LEAST, MOST = 10.0, 10e6  # ohm, chosen: what lies in a drawer
LEAST_FARADS, MOST_FARADS = 1e-9, 470e-6  # chosen: the same
CAPACITORS = (10, 15, 22, 33, 47, 68)  # E6, IEC 60063: what capacitors are made in
ABOUT = 10e3  # ohm, chosen: about what one of a pair is, where nobody says
REACH = math.sqrt(10.0)  # chosen: half a decade to either side of that
SHOWN = 3  # chosen: so many picks of a sort
REFERENCE_SPREAD = 0.04  # share by which the reference strays: 1.2 to 1.3 V in the data sheets, as in the kind
REFERENCE, ADJUST = 1.25, 50e-6  # V and A of an adjustable regulator, as in the kind: data sheets
ALIKE = 0.1  # chosen: picks whose distances differ by less than a tenth of a tolerance are equally near
EDGE = 1e-6  # share: a value at the very end of a band is inside

Law = Callable[..., np.ndarray]


def divider(upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    """Share that a divider passes on, without load: lower / (upper + lower)."""
    return lower / (upper + lower)


def gain(lower: np.ndarray, feedback: np.ndarray) -> np.ndarray:
    """Gain of an op-amp that does not invert: 1 + feedback / lower."""
    return 1.0 + feedback / lower


def adjusted(upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    """V of an adjustable regulator: 1.25 V (1 + lower / upper) + 50 uA lower."""
    return REFERENCE * (1.0 + lower / upper) + ADJUST * lower


def delay(share: float) -> Law:
    """s until a capacitor has this share of the volts that charge it: R C ln(1 / (1 - share))."""
    factor = math.log(1.0 / (1.0 - share))
    return lambda ohms, farads: factor * ohms * farads


def in_series(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """ohm of two behind each other."""
    return one + other


def in_parallel(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """ohm of two beside each other."""
    return one * other / (one + other)


def alone(one: np.ndarray) -> np.ndarray:
    """The value itself."""
    return one


@dataclass(frozen=True)
class Pick:
    """Values to take. values: SI, in the order of the law; result: what they give; off: its share above the target;
    low, high: with every part at the worse end of its tolerance; most: its share to either side if they stray
    independently, as the root of the sum of squares."""

    values: tuple[float, ...]
    result: float
    off: float
    low: float
    high: float
    most: float


def made(series: Sequence[int], low: float, high: float) -> np.ndarray:
    """(value,) every value of a series from low to high, ascending, SI."""
    digits = len(str(series[0])) - 1
    decades = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
    found = np.array([float(f"{one}e{decade - digits}") for decade in decades for one in series])
    return found[(found >= low * (1.0 - EDGE)) & (found <= high * (1.0 + EDGE))]


def pick(law: Law, values: Sequence[float], target: float, tolerances: Sequence[float], own: float = 0.0) -> Pick:
    """What these values give against a target. tolerances: a share for each value; own: a share by which the result
    strays besides, as with the reference of a regulator."""
    result = float(law(*values))
    ends = [
        float(law(*(one * end for one, end in zip(values, corner, strict=True))))
        for corner in product(*((1.0 - one, 1.0 + one) for one in tolerances))
    ]
    each = []
    for n, tolerance in enumerate(tolerances):
        strayed = [one * (1.0 + tolerance) if m == n else one for m, one in enumerate(values)]
        each.append(float(law(*strayed)) / result - 1.0)
    low, high = min(ends) * (1.0 - own), max(ends) * (1.0 + own)
    return Pick(tuple(values), result, result / target - 1.0, low, high, math.hypot(*each, own))


def best(
    law: Law, choices: Sequence[np.ndarray], target: float, tolerances: Sequence[float], about: float = ABOUT,
    own: float = 0.0,
) -> tuple[Pick, ...]:  # fmt: skip
    """The nearest of all choices (value,) of each part, nearest first; of equally near ones those about so large.

    own: as in `pick`.
    """
    grid = [one.ravel() for one in np.meshgrid(*choices, indexing="ij")]
    if law in (in_series, in_parallel):  # the two can change places: each pair once
        grid = [one[grid[0] <= grid[1]] for one in grid]
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.abs(law(*grid) / target - 1.0)
    far = np.abs(np.log(grid[0] / about))
    order = np.lexsort((off, far, np.floor(off / (ALIKE * max(tolerances)))))[:SHOWN]
    return tuple(pick(law, [float(one[n]) for one in grid], target, tolerances, own) for n in order)


def nearest_two(
    law: Law, known: Sequence[float], choices: np.ndarray, target: float, tolerances: Sequence[float], at: int,
    own: float = 0.0,
) -> tuple[Pick, ...]:  # fmt: skip
    """The two nearest choices for the value at this position, the others being known. own: as in `pick`."""
    fixed = [np.array([one]) for one in known]
    return best(law, [*fixed[:at], choices, *fixed[at:]], target, tolerances, own=own)[:2]
