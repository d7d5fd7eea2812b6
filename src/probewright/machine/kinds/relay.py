"""Relay: a coil, and a contact that goes over as the volts on the coil pass its pull-in."""

import numpy as np

from probewright.machine.kinds import Companion, Draft, Kind, Parameter, Values, assumed, last_control, register
from probewright.machine.kinds.saturating import held_across, levelled
from probewright.machine.model import Figure

OPEN_SIEMENS = 1e-9  # chosen: as an open switch
CLEAR = 0.02  # chosen: at ten times this share from its pull-in nothing is left of a contact; sharp, yet smooth
COIL_WATTS = 0.45  # small relays take 0.36 to 0.53 W at their rated volts, from memory
LEAST_VOLTS = 1e-3  # chosen: rounds the sign of the coil's volts
FORCED = 1e3  # chosen: a finger on the armature outweighs any coil


def coil_ohms(draft: Draft) -> Figure:
    """Resistance of a small coil for these volts."""
    volts = draft.figures["volts"]
    reason = "a coil of 0.45 W, from memory"
    if volts.law == "range":
        low, high = volts.low**2 / COIL_WATTS, volts.high**2 / COIL_WATTS
        return assumed(volts.nominal**2 / COIL_WATTS, "ohm", reason, law="range", low=low, high=high)
    return assumed(volts.nominal**2 / COIL_WATTS, "ohm", reason, law="tolerance", spread=0.3)


def coil(p: Values):
    """The coil's wire; what it does to a signal is left out."""
    return [("coil1", "coil2", "coil1", "coil2", 1.0 / (p["coil"] * p["broken"]))]


def armature(v, p: Values, memory) -> Companion:
    """Share over = (1 + tanh x) / 2, x = (|v_coil| / pull-in - 1) / CLEAR; the make contact has this share of
    its conductance, the break contact the rest.

    Volts stand for ampere turns: a coil with shorted turns draws as much more as it has turns less. A broken one
    has none.
    """
    on_coil = (v[0] - v[1]) / p["broken"]
    size = np.sqrt(on_coil * on_coil + LEAST_VOLTS**2)
    level = p["pull"] * p["volts"]
    x = (size / level - 1.0) / CLEAR + p["finger"] - p["stuck"]
    at, moved = held_across(x, last_control(memory, "at", rest=-1.0 / CLEAR))
    flat, steep = levelled(at)
    # past the end of the band the line through its middle would carry thousands of amps
    past = np.clip(x - at, -1.0, 1.0)
    per_volt = np.where(past == x - at, on_coil / size / (level * CLEAR * p["broken"]), 0.0)
    amps = {pin: 0.0 * x for pin in ("coil1", "coil2", "com", "no", "nc")}
    slope: dict[tuple[str, str], object] = {("com", "com"): 0.0, ("com", "coil1"): 0.0, ("com", "coil2"): 0.0}
    for pin, row, way, extra in (("no", 3, 1.0, "make"), ("nc", 4, -1.0, "break")):
        most = 1.0 / (p["contact"] + p[extra])
        g = OPEN_SIEMENS + 0.5 * (1.0 + way * flat) * most
        bend = 0.5 * way * steep * most * (v[2] - v[row])  # d amps / d x
        through = g * (v[2] - v[row]) + bend * past
        amps["com"], amps[pin] = amps["com"] + through, -through
        slope["com", "com"], slope["com", pin] = slope["com", "com"] + g, -g
        slope[pin, "com"], slope[pin, pin] = -g, g
        slope["com", "coil1"] = slope["com", "coil1"] + bend * per_volt
        slope["com", "coil2"] = slope["com", "coil2"] - bend * per_volt
        slope[pin, "coil1"], slope[pin, "coil2"] = -bend * per_volt, bend * per_volt
    return Companion(amps, slope, {"at": at}, moved)


register(
    Kind(
        name="relay",
        pins=("coil1", "coil2", "com", "no", "nc"),
        optional_pins={"no": "nc", "nc": "nc"},
        aliases={"a1": "coil1", "a2": "coil2", "11": "com", "14": "no", "12": "nc"},
        parameters=(
            Parameter("volts", "V", low=1.0, high=250.0),
            Parameter("coil", "ohm", word="coil", low=1.0, high=1e5, spread=0.1, default=coil_ohms),
            Parameter(
                "contact",
                "ohm",
                word="contact",
                low=1e-3,
                high=10.0,
                spread=0.5,
                default=assumed(0.1, "ohm", "a clean contact, from memory", law="tolerance", spread=0.5),
            ),
            Parameter(
                "pull",
                "%",
                word="pull",
                low=0.02,
                high=1.0,
                default=assumed(
                    0.47,
                    "%",
                    "must pull in at 75 % and let go at 10 %; rising or falling, it goes over in between, from memory",
                    law="range",
                    low=0.3,
                    high=0.75,
                ),
            ),
            Parameter("broken", "1", word="-", default=assumed(1.0, "1", "an unbroken coil")),
            Parameter("finger", "1", word="-", default=assumed(0.0, "1", "nobody touches the armature")),
            Parameter("stuck", "1", word="-", default=assumed(0.0, "1", "the armature moves freely")),
            Parameter("make", "ohm", word="-", default=assumed(0.0, "ohm", "a clean make contact")),
            Parameter("break", "ohm", word="-", default=assumed(0.0, "ohm", "a clean break contact")),
        ),
        stress_units=("W", "A", "°C"),
        symbol="relay",
        across=(("coil1", "coil2"), ("com", "nc")),
        linear=coil,
        nonlinear=armature,
        settings={"energised": ("finger", FORCED), "released": ("finger", -FORCED)},
    )
)
