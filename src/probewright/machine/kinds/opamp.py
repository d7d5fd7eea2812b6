"""Op-amp: large gain between rails, a current limit, one pole."""

import numpy as np

from probewright.machine.kinds import (
    Companion,
    Draft,
    Kind,
    Lag,
    Parameter,
    Strain,
    Values,
    assumed,
    last_control,
    register,
)
from probewright.machine.kinds.saturating import FLAT, UNDECIDED, freed, held_across, levelled, positive_part
from probewright.machine.model import Figure

# class -> (open-loop gain, bandwidth Hz, headroom high V, headroom low V, offset V, meaning);
# typical figures of general-purpose parts, from memory of data sheets.
CLASSES = {
    "generic": (1e5, 2e6, 1.5, 1.5, 5e-3, "general-purpose dual-supply part"),
    "single-supply": (1e5, 1e6, 1.5, 0.02, 5e-3, "output reaches the lower rail"),
    "rail-to-rail": (1e5, 2e6, 0.05, 0.05, 5e-3, "output reaches both rails"),
}
LEAST_HALF = 0.2  # chosen, V: swing left to an amplifier without enough supply, so that its gain fades
ALIVE_VOLTS = 0.5  # chosen: swing at which the output stage is awake
FULL = 3.0  # chosen: drive in halves of the swing at which, in time, the output is at its rail: tanh is 0.995 there
AT_A_RAIL = 1.0  # chosen: drive in halves of the swing beyond which an output is on its way to a rail
STRIDE = (
    0.1  # chosen: how far, in the same measure, a drive may come off a rail in one step; measured: 0.3 % of a period
)
IDLE_AMPS = 1e-3  # chosen: half of it crosses both output transistors when nothing is asked


def of_class(column: int, unit: str, spread: float, law: str = "tolerance"):
    """Default that reads one column of CLASSES."""

    def default(draft: Draft) -> Figure:
        value = float(CLASSES[draft.classes[0]][column])
        return assumed(value, unit, f"{draft.classes[0]} op-amp, from memory", law=law, spread=spread)

    return default


def offset(draft: Draft) -> Figure:
    """Input offset: nought, within the class's limit either way."""
    return assumed(
        0.0, "V", "limit of general-purpose parts, from memory", law="offset", spread=CLASSES[draft.classes[0]][4]
    )


def rails(v, p: Values, memory) -> Companion:
    """E = middle + half tanh(u) / tanh(reach), u = A vd / half + stuck as far as it reaches, behind R_out, current
    levelled at the limit."""
    plus, minus, out, high, low = v
    top, top_slope = positive_part((high - low) - p["headroom_high"] - p["headroom_low"], 0.05)
    half = 0.5 * top
    fade = np.sqrt(half * half + LEAST_HALF * LEAST_HALF)  # so that the gain fades with the swing
    middle = 0.5 * (high - p["headroom_high"] + low + p["headroom_low"])
    drive = p["gain"] * (plus - minus + p["offset"]) / fade
    control, reach = drive + p["stuck"], p["reach"]
    at, jumped = held_across(np.clip(control, -reach, reach), last_control(memory, "at", rest=UNDECIDED))
    flat, steep = levelled(at)
    steep = np.where(np.abs(control) > reach, np.where(jumped, steep, 0.0), steep)
    level, steep = (flat + steep * (control - at)) / np.tanh(reach), steep / np.tanh(reach)
    volts = middle + half * level
    # d volts by each pin: the straight line through `at`
    by_input = p["gain"] * half / fade * steep
    by_top = 0.5 * (level - half * steep * drive * half / (fade * fade)) * top_slope
    by_high, by_low = 0.5 + by_top, 0.5 - by_top

    push = (volts - out) / (p["r_out"] * p["limit"])
    at_push, jumped_push = held_across(push, last_control(memory, "push", rest=UNDECIDED))
    at_push = freed(at_push, jumped, memory, "push")  # a step in the middle of the gain needs the output free to follow
    flat_push, steep_push = levelled(at_push)
    awake, awake_slope = levelled(top / ALIVE_VOLTS)
    fed, fed_slope = levelled((high - low) / 1.0)
    # squares: without supply, or with it the wrong way round, the output lets go
    alive = awake * awake * fed * fed
    alive_slope = 2.0 * awake * fed * (awake_slope * top_slope / ALIVE_VOLTS * fed + awake * fed_slope)
    full = p["limit"] * (flat_push + steep_push * (push - at_push))
    amps = full * alive
    g = steep_push / p["r_out"] * alive
    by_alive = full * alive_slope
    # output current comes from one supply or the other, both idle a little
    crossing = IDLE_AMPS * alive
    root = np.sqrt(amps * amps + crossing * crossing + 1e-24)
    from_high, high_share = 0.5 * (amps + root), 0.5 * (1.0 + amps / root)
    quiet = p["supply_current"] * fed

    slope = {}
    rise = {  # d amps / d volts of each pin
        "plus": g * by_input,
        "minus": -g * by_input,
        "out": -g,
        "vplus": g * by_high + by_alive,
        "vminus": g * by_low - by_alive,
    }
    for pin, d in rise.items():
        slope["out", pin] = -d
        slope["vplus", pin] = high_share * d
        slope["vminus", pin] = (1.0 - high_share) * d
    quiet_slope = p["supply_current"] * fed_slope + 0.5 * crossing / root * IDLE_AMPS * alive_slope
    for pin, sign in (("vplus", 1.0), ("vminus", -1.0)):
        slope["vplus", pin] = slope["vplus", pin] + sign * quiet_slope
        slope["vminus", pin] = slope["vminus", pin] - sign * quiet_slope
    input_siemens = 1.0 / p["input"]
    for a, b in (("plus", "minus"), ("minus", "plus")):
        slope[a, a] = input_siemens
        slope[a, b] = -input_siemens
    differential = input_siemens * (plus - minus)
    return Companion(
        {
            "plus": differential,
            "minus": -differential,
            "out": -amps,
            "vplus": from_high + quiet,
            "vminus": (amps - from_high) - quiet,
        },
        slope,
        {"at": at, "push": at_push},
        jumped | jumped_push,
    )


def to_the_rail(v, p: Values):
    """Peak volts from where the output rests to the nearer of its rails, never less than a millivolt."""
    _, _, out, high, low = v
    return np.maximum(np.minimum(high - p["headroom_high"] - out, out - low - p["headroom_low"]), 1e-3)


def one_pole(p: Values, slope, omega: float):
    """Gain falls as 1 / (1 + j w A / (2 pi GBW)): only what the inputs do passes the pole."""
    roll = 1.0 / (1.0 + 1j * omega * p["gain"] / (2.0 * np.pi * p["bandwidth"]))
    return {
        (row, pin): (value * roll if row in ("out", "vplus", "vminus") and pin in ("plus", "minus") else value)
        for (row, pin), value in slope.items()
    }


def lagging(p: Values, seconds):
    """Share of the way to its inputs that the lagging drive goes in a step: dy/dt = (2 pi GBW / A) (vd - y), backward
    Euler, which rings nowhere however fast the feedback makes the part."""
    turn = 2.0 * np.pi * p["bandwidth"] / p["gain"] * seconds
    return turn / (1.0 + turn)


def late(p: Values, drive, seconds) -> Values:
    """Gain and offset that make the law at rest that of one step: A (y + share (vd - y) + offset), as far as FULL."""
    share = lagging(p, seconds)
    offset = (p["offset"] + (1.0 - share) * drive) / share
    return {**p, "gain": p["gain"] * share, "offset": offset, "reach": np.full_like(offset, FULL)}


def measure(v, p: Values):
    """Drive that takes the output by one half of its swing, V, were it straight."""
    half = 0.5 * positive_part((v[3] - v[4]) - p["headroom_high"] - p["headroom_low"], 0.05)[0]
    return np.sqrt(half * half + LEAST_HALF * LEAST_HALF) / p["gain"]


def comes_off(v, p: Values, before, drive):
    """Whether the output left a rail, or came close to that, in one stride: a part that feeds itself back hangs there
    for a while, and backward Euler would let it go at once."""
    one = measure(v, p)
    return (np.abs(before + p["offset"]) > AT_A_RAIL * one) & (np.abs(drive - before) > STRIDE * one)


def caught_up(v, p: Values, drive, seconds):
    """The lagging drive after the step, V; no further than FULL takes it, or it would leave a rail late."""
    most = FULL * measure(v, p)
    return np.clip(drive + lagging(p, seconds) * (v[0] - v[1] - drive), -most - p["offset"], most - p["offset"])


register(
    Kind(
        name="opamp",
        synonyms=("op-amp",),
        pins=("plus", "minus", "out", "vplus", "vminus"),
        aliases={"+": "plus", "-": "minus", "v+": "vplus", "v-": "vminus"},
        units_share=("vplus", "vminus"),
        parameters=(
            Parameter("gain", "1", word="gain", default=of_class(0, "1", 0.0, "exact"), low=10.0, high=1e8, spread=0.8),
            Parameter("offset", "V", word="offset", default=offset, low=-0.1, high=0.1, law="offset"),
            Parameter(
                "bandwidth",
                "Hz",
                word="bandwidth",
                default=of_class(1, "Hz", 0.0, "exact"),
                low=1e3,
                high=1e9,
                spread=0.3,
            ),
            Parameter(
                "headroom_high",
                "V",
                word="headroom high",
                default=of_class(2, "V", 0.25),
                low=0.0,
                high=10.0,
                spread=0.25,
            ),
            Parameter(
                "headroom_low",
                "V",
                word="headroom low",
                default=of_class(3, "V", 0.25),
                low=0.0,
                high=10.0,
                spread=0.25,
            ),
            Parameter(
                "r_out",
                "ohm",
                word="output",
                low=0.1,
                high=1e4,
                spread=0.3,
                default=assumed(75.0, "ohm", "general-purpose part, from memory"),
            ),
            Parameter(
                "limit",
                "A",
                word="limit",
                low=1e-4,
                high=10.0,
                spread=0.3,
                default=assumed(0.025, "A", "general-purpose part, from memory"),
            ),
            Parameter(
                "supply_current",
                "A",
                word="supply",
                low=1e-6,
                high=0.5,
                spread=0.4,
                default=assumed(1.5e-3, "A", "per amplifier, from memory"),
            ),
            Parameter(
                "input",
                "ohm",
                word="input",
                low=1e3,
                high=1e13,
                spread=0.5,
                default=assumed(1e9, "ohm", "field-effect or bootstrapped inputs, from memory"),
            ),
            Parameter("stuck", "1", word="-", default=assumed(0.0, "1", "not stuck")),
            Parameter("reach", "1", word="-", default=assumed(FLAT, "1", "at rest any drive is heard")),
        ),
        classes={name: row[5] for name, row in CLASSES.items()},
        default_class="generic",
        strains=(Strain("supply volts", ("vplus", "vminus")),),
        symbol="amplifier",
        inputs=("plus", "minus"),
        nonlinear=rails,
        alternating=one_pole,
        lag=Lag(lambda v, p: v[0] - v[1], late, caught_up, comes_off),
        swing=to_the_rail,
    )
)
