"""Fixed three-terminal regulator: holds its voltage until drop-out or its current limit."""

import numpy as np

from probewright.machine.kinds import Companion, Kind, Parameter, Values, assumed, last_control, register
from probewright.machine.kinds.saturating import UNDECIDED, freed, held_across, levelled, one_way

ROUNDING_VOLTS = 0.05  # chosen: how gently regulation gives way to drop-out
KNEE = 0.02  # chosen: rounding of the corner at no load, as a share of the limit


def regulate(v, p: Values, memory) -> Companion:
    """i = limit f((E - v_out) / (r limit)), E the smaller of the set voltage and input less drop."""
    source, out, com = v
    room = source - com - p["drop"]
    # between no input at all (-2) and more than enough (+2) the output follows the input
    follow = 4.0 * (room / p["volts"] - 0.5)
    at_follow, moved = held_across(follow, last_control(memory, "follow"))
    at_room = (0.25 * at_follow + 0.5) * p["volts"]
    soft = np.logaddexp(-p["volts"] / ROUNDING_VOLTS, -at_room / ROUNDING_VOLTS)
    least = -ROUNDING_VOLTS * soft
    by_room = np.exp(np.minimum(-at_room / ROUNDING_VOLTS - soft, 0.0))
    lowest = ROUNDING_VOLTS * np.logaddexp(0.0, least / ROUNDING_VOLTS)
    share = np.exp(np.minimum(least / ROUNDING_VOLTS, 0.0) - np.logaddexp(0.0, -np.abs(least / ROUNDING_VOLTS)))
    by_room = by_room * share
    lowest = lowest + by_room * (room - at_room)

    push = (lowest + com - out) / (p["r_out"] * p["limit"])
    at, jumped = held_across(push, last_control(memory, "at", rest=UNDECIDED), middle=0.5)
    at = freed(at, moved, memory, "at", middle=0.5)  # a step between the regions needs the output free to follow
    flat, steep = one_way(at, KNEE)
    amps = p["limit"] * (flat + steep * (push - at))
    g = steep / p["r_out"]
    quiet_flat, quiet_steep = levelled((source - com) / 2.0)
    quiet, quiet_slope = p["quiescent"] * quiet_flat, p["quiescent"] * quiet_steep / 2.0

    by = {"in": g * by_room, "out": -g, "com": g * (1.0 - by_room)}
    slope = {}
    for pin, d in by.items():
        slope["in", pin], slope["out", pin] = d, -d
    slope["in", "in"] = slope["in", "in"] + quiet_slope
    slope["in", "com"] = slope["in", "com"] - quiet_slope
    slope["com", "in"], slope["com", "com"] = -quiet_slope, quiet_slope
    memory = {"at": at, "follow": at_follow}
    return Companion({"in": amps + quiet, "out": -amps, "com": -quiet}, slope, memory, jumped | moved)


register(
    Kind(
        name="regulator",
        pins=("in", "out", "com"),
        aliases={"gnd": "com", "common": "com", "1": "in", "2": "com", "3": "out"},
        order=("in", "com", "out"),
        parameters=(
            Parameter("volts", "V", low=1.0, high=60.0, spread=0.04),
            Parameter(
                "drop",
                "V",
                word="drop",
                low=0.05,
                high=5.0,
                spread=0.25,
                default=assumed(
                    2.0, "V", "fixed regulator data sheets: 2 V typical at 1 A", law="tolerance", spread=0.25
                ),
            ),
            Parameter(
                "limit",
                "A",
                word="limit",
                low=0.01,
                high=20.0,
                spread=0.3,
                default=assumed(1.5, "A", "1 A class, from memory"),
            ),
            Parameter(
                "r_out",
                "ohm",
                word="output",
                low=1e-4,
                high=10.0,
                spread=0.3,
                default=assumed(0.02, "ohm", "1 A class: 17 mohm at 1 kHz, from memory"),
            ),
            Parameter(
                "quiescent",
                "A",
                word="quiescent",
                low=1e-6,
                high=0.1,
                spread=0.4,
                default=assumed(5e-3, "A", "fixed regulator data sheets: 4 to 8 mA"),
            ),
        ),
        classes={"fixed": "positive fixed voltage"},
        default_class="fixed",
        stress_units=("W", "°C"),
        symbol="voltage regulator",
        nonlinear=regulate,
    )
)
