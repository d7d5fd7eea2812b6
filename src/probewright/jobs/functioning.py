"""What the functions of a machine file come to on the healthy machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.machine.model import GROUND, Measure, Works
from probewright.machine.sentences import THROUGH, UNITS
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.outcomes import chance_works, works_value
from probewright.readings import Setup
from probewright.units import write_reading

QUANTITIES = {
    "dc": "direct volts", "size of dc": "size of direct volts", "pp": "peak to peak", "rms": "rms",
    "level": "level, rms", "last": "volts at the end", "drift": "drift", "sag": "sag", "top": "highest volts",
    "valley": "lowest volts", "rise": "rise through", "fall": "fall through",
    **{one: one for one in ("period", "frequency", "duty", "distortion", "tilt")},
}  # fmt: skip


@dataclass(frozen=True)
class FunctionRow:
    """A function when nothing is wrong. says: what it is judged by; low..high hold 19 healthy machines in 20.

    unit: of the figures, "%" where one is judged over another; works: None where no answer was found.
    """

    name: str
    says: str
    low: float
    mid: float
    high: float
    unit: str
    works: bool | None


def read_functions(laws: Laws) -> tuple[FunctionRow, ...]:
    """Every function of the file, in its order. laws: the healthy machine alone."""
    return tuple(_row(laws, works) for works in laws.model.machine.works)


def _row(laws: Laws, works: Works) -> FunctionRow:
    middle, sound = laws.base.middle, works_value(laws.sound, works, Setup())
    mid = float(works_value(middle, works, Setup()).value[0])
    value = sound.value[sound.judged]
    low, high = np.quantile(value, (0.025, 0.975), method="nearest") if value.size else (mid, mid)
    good, judged = chance_works(middle, works, Setup())
    unit = "%" if works.combine == "over" else UNITS[works.measure.quantity]
    return FunctionRow(
        works.name, _judged_by(works), float(low), mid, float(high), unit,
        bool(good[0] >= 0.5) if judged[0] else None,
    )  # fmt: skip


def _judged_by(works: Works) -> str:
    """ "END direct volts at tone", "OUTA level, rms at tone over OUTB ..."."""
    said = [_measured(works.measure)]
    if works.second is not None:
        said += [works.combine, _measured(works.second)]
    return " ".join(said)


def _measured(one: Measure) -> str:
    other = "" if one.other == GROUND else f" to {one.other}"
    at = f" at {one.stimulus}" if one.stimulus else ""
    through = f" {write_reading(one.level, 'V')}" if one.quantity in THROUGH else ""
    within = "" if one.window is None else " from {} to {}".format(*(write_reading(t, "s") for t in one.window))
    return f"{one.place}{other}, {QUANTITIES[one.quantity]}{through}{at}{within}"
