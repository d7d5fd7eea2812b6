"""Lamp: a filament that is many times hotter, and of many times the resistance, when lit."""

import numpy as np

from probewright.machine.kinds import (
    Companion,
    Draft,
    Kind,
    Parameter,
    Stay,
    Strain,
    Values,
    assumed,
    last_control,
    register,
)
from probewright.machine.model import Figure

# Amps of a lit filament go with volts^0.55 (usual fit of lamp makers near the rated volts, from memory),
# so its ohms go with volts^0.45.
OHMS_EXPONENT = 0.45
COLD_SHARE = 0.1  # tungsten at room warmth has 1/10 to 1/15 of its resistance at 2500 K, from memory


def _ratio(a: Figure, b: Figure, unit: str, reason: str) -> Figure:
    """a / b, a range where one of both is one."""
    if "range" in (a.law, b.law):
        low, high = (a.low or a.nominal) / (b.high or b.nominal), (a.high or a.nominal) / (b.low or b.nominal)
        return assumed(a.nominal / b.nominal, unit, reason, law="range", low=low, high=high)
    return assumed(a.nominal / b.nominal, unit, reason, law="tolerance", spread=0.1)


def rated_amps(draft: Draft) -> Figure:
    """Amps at the rated volts, from the ohms when those were typed."""
    if "resistance" in draft.figures:
        return assumed(draft.figures["volts"].nominal / draft.figures["resistance"].nominal, "A", "volts by ohms")
    return assumed(0.1, "A", "a small indicator lamp, from memory")


def hot(draft: Draft) -> Figure:
    """Ohms when lit at the rated volts."""
    return _ratio(draft.figures["volts"], draft.figures["amps"], "ohm", "rated volts by rated amps")


def cold_share(draft: Draft) -> Figure:
    """Ohms before it glows, as a share of those when lit."""
    return assumed(COLD_SHARE, "%", "tungsten, from memory", law="tolerance", spread=0.3)


def held_cold(across, last):
    """Volts to linearise at, and where the step was shortened: one across nought stops there.

    The current rises as a root of the volts; a tangent far out meets small currents beyond nought on
    the other side, and Newton's method swings to and fro between the two.
    """
    if last is None:
        return across, False
    if isinstance(last, Stay):
        return last.at, last.at != across
    crossed = across * last < 0.0
    return np.where(crossed, 0.0, across), crossed


def filament(v, p: Values, memory) -> Companion:
    """i = v / R, R^2 = cold^2 + (hot^2 - cold^2) (v^2 / rated^2)^0.45: cold at nought, hot at the rated volts.

    di/dv = (1 - 0.45 share) / R with share the lit part of R^2, so the current always rises.
    """
    across = v[0] - v[1]
    at, held = held_cold(across, last_control(memory, "at"))
    hot_ohms = p["resistance"] * p["worn"]
    cold = p["cold"] * hot_ohms
    lit = (hot_ohms**2 - cold**2) * ((at / p["volts"]) ** 2) ** OHMS_EXPONENT
    square = cold**2 + lit
    g = 1.0 / np.sqrt(square)
    slope = g * (1.0 - OHMS_EXPONENT * lit / square)
    amps = g * at + slope * (across - at)
    return Companion(
        {"1": amps, "2": -amps},
        {("1", "1"): slope, ("1", "2"): -slope, ("2", "1"): -slope, ("2", "2"): slope},
        {"at": at},
        held,
    )


register(
    Kind(
        name="lamp",
        synonyms=("bulb",),
        pins=("1", "2"),
        parameters=(
            Parameter(
                "volts",
                "V",
                low=1.0,
                high=260.0,
                default=assumed(12.0, "V", "no volts typed: those of many panel lamps"),
            ),
            Parameter("amps", "A", low=0.005, high=20.0, default=rated_amps, spread=0.1),
            Parameter("resistance", "ohm", low=0.05, high=5e4, default=hot, spread=0.1),
            Parameter("worn", "1", word="-", default=assumed(1.0, "1", "a filament as new")),
            Parameter("cold", "%", word="cold", low=0.02, high=1.0, default=cold_share, spread=0.3, law="tolerance"),
        ),
        stress_units=("W",),
        tame=True,
        strains=(Strain("volts", ("1", "2"), how="rms", either=True),),
        symbol="lamp",
        nonlinear=filament,
        hangs=True,
        dial="resistance",
    )
)
