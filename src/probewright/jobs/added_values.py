"""Which values to take: for a divider, a gain, an adjustable regulator, a delay, a resistor nobody has."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from probewright.errors import NotAValue
from probewright.jobs.bench import complaint
from probewright.jobs.placed_circuits import Placing
from probewright.jobs.view import SCHEMA
from probewright.machine.saying import nearest
from probewright.planning import preferred
from probewright.planning.preferred import Law, Pick, best, made, nearest_two
from probewright.units import Value, read_value, write_reading, write_value

HALF_SUPPLY = 0.5  # share at which the comparator of the library lets go
# share of the supply to which the capacitor of a hc gate at 5 V is charged when the gate turns: 1.9..3.1 V, the lower
# threshold 2.1 V when the line is low at first, the upper 2.9 V when it is high: middle figures of the kind
FALLING, RISING = 1.0 - 2.1 / 5.0, 2.9 / 5.0
# form of a reset -> share of the supply to which its capacitor is charged when it lets go; of a transistor nobody knows
LETS_GO = {
    "": HALF_SUPPLY, "comparator": HALF_SUPPLY, "comparator-high": HALF_SUPPLY,
    "schmitt": FALLING, "schmitt-high": RISING,
}  # fmt: skip
EXACT, NEARLY = 5e-6, 1e-3  # chosen: shares below which nobody can tell, or need care
TEN_PER_CENT = 0.1  # chosen: what capacitors are good to where nobody says
AN_UPPER = 240.0  # ohm from output to adjusting pin, as data sheets of adjustable regulators draw it


@dataclass(frozen=True)
class Sum:
    """One kind of sum.

    parts: names of its values, with their unit; unit: of what it gives; law: of the values; free: which one a single
    choice is for, the other being told; about: what that is where nobody says; what: the law in words.
    """

    parts: tuple[tuple[str, str], ...]
    unit: str
    law: Law
    free: int
    about: float
    what: str


OHM_OHM, OHM_FARAD = (("upper", "ohm"), ("lower", "ohm")), (("resistor", "ohm"), ("capacitor", "F"))
AT_HALF = preferred.delay(HALF_SUPPLY)
SUMS: Mapping[str, Sum] = {
    "divider": Sum(OHM_OHM, "1", preferred.divider, 1, preferred.ABOUT, "share that a divider passes on"),
    "gain": Sum((("gain", "ohm"), ("feedback", "ohm")), "1", preferred.gain, 1, preferred.ABOUT, "gain of an op-amp"),
    "adjust": Sum(OHM_OHM, "V", preferred.adjusted, 1, AN_UPPER, "volts of an adjustable regulator"),
    "delay": Sum(OHM_FARAD, "s", AT_HALF, 0, 1e-6, "delay of a resistor and a capacitor"),
    "resistor": Sum((("resistor", "ohm"),), "ohm", preferred.alone, 0, preferred.ABOUT, "a resistor that nobody has"),
}


@dataclass(frozen=True)
class PickView:
    """Values to take. values: by name, SI; low, high: every part at the worse end of its tolerance; most: share to
    either side, tolerances straying independently; off: share above the target; says: in a line."""

    how: str
    values: Mapping[str, float]
    result: float
    off: float
    low: float
    high: float
    most: float
    says: str


@dataclass(frozen=True)
class ValuesView:
    """What to take for a target.

    kind: of `SUMS`; unit: of target and results; series: "E24" or "E96"; tolerance: of the resistors; single: one value
    chosen, the other as told or usual; pairs: both chosen.
    """

    kind: str
    target: float
    unit: str
    series: str
    tolerance: float
    single: tuple[PickView, ...]
    pairs: tuple[PickView, ...]
    schema: str = SCHEMA


def values_for(
    kind: str, target: str, series: str = "E24", tolerance: str = "", with_: str = "", share: str = ""
) -> ValuesView:
    """Best single value and best pair for a target. BadInput for what is none.

    with_: the other value of a single choice, and about what a pair is; share: of the charging volts at which a delay
    ends.
    """
    if kind not in SUMS:
        raise complaint(f"{kind!r} is no sum", nearest(kind, list(SUMS)))
    sum_, name = SUMS[kind], series.strip().upper()
    if name not in preferred.SERIES:
        raise complaint(f"{series!r} is no series", "write E24 or E96")
    wanted = _figure("target", target, sum_.unit).si
    _possible(kind, wanted)
    ohms = made(preferred.SERIES[name], preferred.LEAST, preferred.MOST)
    own = (
        _below_whole("tolerance", tolerance, _figure("tolerance", tolerance, "%").si)
        if tolerance.strip()
        else preferred.USUAL_TOLERANCE[name]
    )
    if kind == "resistor":
        single, pairs = _resistor(ohms, wanted, own)
    else:
        law = preferred.delay(_share(share)) if kind == "delay" else sum_.law
        single, pairs = _of_two(replace(sum_, law=law), ohms, wanted, own, with_)
    return ValuesView(kind, wanted, sum_.unit, name, own, single, pairs)


Picks = tuple[PickView, ...]


def _of_two(sum_: Sum, ohms: np.ndarray, wanted: float, own: float, with_: str) -> tuple[Picks, Picks]:
    """One value chosen, the other being told or usual; and both chosen."""
    tolerances = [own if unit == "ohm" else TEN_PER_CENT for _, unit in sum_.parts]
    other, known = 1 - sum_.free, sum_.about
    if with_.strip():
        told = _figure("with", with_, sum_.parts[other][1])
        known = told.si
        if told.tolerance is not None:
            tolerances[other] = _below_whole("with", with_, told.tolerance)
    strays = preferred.REFERENCE_SPREAD if sum_.law is preferred.adjusted else 0.0
    single = nearest_two(sum_.law, [known], ohms, wanted, tolerances, sum_.free, strays)
    about = known if sum_.free else preferred.ABOUT
    pairs = best(sum_.law, _choices(sum_, ohms, known), wanted, tolerances, about, strays)
    return tuple(_view("", one, sum_, wanted) for one in single), tuple(_view("", one, sum_, wanted) for one in pairs)


def _possible(kind: str, wanted: float) -> None:
    """BadInput for a target that no values give."""
    least = {"gain": 1.0, "adjust": preferred.REFERENCE}.get(kind, 0.0)
    if not least < wanted < (1.0 if kind == "divider" else math.inf):
        band = {"divider": "between 0 and 1, like 0.4", "gain": "above 1, like 3.2", "adjust": "above 1.25 V, like 8V"}
        raise complaint(f"no {kind} gives {wanted:g}", f"write a figure {band.get(kind, 'above 0')}")


def _share(typed: str) -> float:
    share = _figure("share", typed, "%").si if typed.strip() else HALF_SUPPLY
    if not 0.0 < share < 1.0:
        raise complaint(f"share: {typed!r} is no part of the charging volts", "write for example 63%")
    return share


def _below_whole(name: str, typed: str, tolerance: float) -> float:
    """BadInput for a tolerance that would let a part be nothing at all."""
    if tolerance >= 1.0:
        raise complaint(f"{name}: {typed!r} has a tolerance of 100 % or more", "write one below that, like 5%")
    return tolerance


def _figure(name: str, typed: str, unit: str) -> Value:
    try:
        value = read_value(typed.strip(), unit)
    except NotAValue as problem:
        raise complaint(f"{name}: {problem.text}", problem.mend) from problem
    if value.unknown or value.low is not None or value.si <= 0.0:
        raise complaint(f"{name}: {typed!r} is not one figure above nought", "write one value, like 10k")
    return value


def _choices(sum_: Sum, ohms: np.ndarray, known: float) -> list[np.ndarray]:
    """What is to be chosen from for each value of a pair: about what is told, and any."""
    low, high = known / preferred.REACH, known * preferred.REACH
    if sum_.parts[1][1] == "F":
        return [ohms, made(preferred.CAPACITORS, max(low, preferred.LEAST_FARADS), min(high, preferred.MOST_FARADS))]
    return [ohms[(ohms >= low) & (ohms <= high)], ohms]


def _resistor(ohms: np.ndarray, wanted: float, tolerance: float) -> tuple[Picks, Picks]:
    """One, and two in series or parallel."""
    one = SUMS["resistor"]
    single = tuple(
        _view("", pick, one, wanted) for pick in best(preferred.alone, [ohms], wanted, [tolerance], wanted)[:2]
    )
    pairs = []
    for how, law, near in (("in series", preferred.in_series, 0.5), ("in parallel", preferred.in_parallel, 2.0)):
        found = best(law, [ohms, ohms], wanted, [tolerance, tolerance], near * wanted)
        pairs += [_view(how, pick, one, wanted) for pick in found[:2]]
    return single, tuple(sorted(pairs, key=lambda pick: abs(pick.off)))


def _view(how: str, pick: Pick, sum_: Sum, wanted: float) -> PickView:
    names = [name for name, _ in sum_.parts] if len(pick.values) == len(sum_.parts) else ["first", "second"]
    units = [unit for _, unit in sum_.parts] if len(pick.values) == len(sum_.parts) else ["ohm", "ohm"]
    every = zip(names, pick.values, units, strict=True)
    written = ", ".join(f"{name} {write_value(value, unit)}" for name, value, unit in every)
    figures = [write_reading(one, sum_.unit) for one in (pick.result, pick.low, pick.high)]
    size = abs(pick.off)
    off = "exactly" if size < EXACT else "less than 0.1 % off" if size < NEARLY else f"{100.0 * pick.off:+.2g} %"
    says = (
        f"{written}{' ' + how if how else ''}: {figures[0]}, {off}; at the worst {figures[1]} to {figures[2]}, "
        f"mostly within {100.0 * pick.most:.2g} %"
    )
    told = dict(zip(names, pick.values, strict=True))
    return PickView(how, told, pick.result, pick.off, pick.low, pick.high, pick.most, says)


# For a circuit of the library --------------------------------------------------------------------


def chosen_values(placing: Placing, wants: Mapping[str, Value]) -> dict[str, str]:
    """Values of E24 for what a circuit has to do, as far as nobody typed them."""
    form, given = placing.values.get("form", ""), placing.values
    match placing.circuit, form:
        case "op-amp-buffer", "gain" if "gain" in wants and wants["gain"].si > 1.0:
            return _both("gain", wants["gain"].si, given, "gain", "feedback")
        case "regulator", "adjustable" if "dc" in wants and wants["dc"].si > preferred.REFERENCE:
            return _both("adjust", wants["dc"].si, given, "upper", "lower")
        case "regulator", "" | "fixed" if "dc" in wants and "output" not in given:
            return {"output": write_value(wants["dc"].si, "V")}
        case "reset-generator", _ if form in LETS_GO and "delay" in wants and "resistor" not in given:
            farads = _known(given, "capacitor", "F", 1e-6)
            law, tolerances = preferred.delay(LETS_GO[form]), [preferred.USUAL_TOLERANCE["E24"], TEN_PER_CENT]
            pick = nearest_two(law, [farads], _drawer(), wants["delay"].si, tolerances, 0)[0]
            return {"resistor": write_value(pick.values[0], "ohm")}
    return {}


def _drawer() -> np.ndarray:
    """(value,) ohm of E24."""
    return made(preferred.SERIES["E24"], preferred.LEAST, preferred.MOST)


def _both(kind: str, target: float, given: Mapping[str, str], told: str, free: str) -> dict[str, str]:
    """Both of two resistors of 1 % where neither was typed, else the one that is missing."""
    sum_ = SUMS[kind]
    if free in given:
        return {}
    if told in given:
        known = _known(given, told, "ohm", sum_.about)
        pick = nearest_two(sum_.law, [known], _drawer(), target, [0.01, 0.01], sum_.free)[0]
        return {free: f"{write_value(pick.values[1], 'ohm')} 1%"}
    pick = best(sum_.law, _choices(sum_, _drawer(), sum_.about), target, [0.01, 0.01], sum_.about)[0]
    return {told: f"{write_value(pick.values[0], 'ohm')} 1%", free: f"{write_value(pick.values[1], 'ohm')} 1%"}


def _known(given: Mapping[str, str], name: str, unit: str, usual: float) -> float:
    """A value as it was typed; what is usual where nobody did, or cannot be read: that is complained of elsewhere."""
    try:
        value = read_value(given[name], unit) if name in given else None
    except NotAValue:
        return usual
    return usual if value is None or value.unknown else value.si
