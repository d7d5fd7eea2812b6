"""The law of every three-terminal regulator, of either sign, fixed or adjustable; each kind is a file of its own."""

from typing import Any

import numpy as np

from probewright.machine.kinds import Companion, Parameter, Values, assumed, last_control
from probewright.machine.kinds.saturating import UNDECIDED, freed, held_across, levelled, one_way, rounded

ROUNDING_VOLTS = 0.05  # chosen: how gently regulation gives way to drop-out
KNEE = 0.02  # chosen: rounding of the corner at no load, as a share of the limit
LETS_GO = 0.4  # chosen, share of the limit: twenty knees below the corner a part in 1e9 of it is left; with all of
# the limit a supply of four rails was left unsolved more often


def regulate(v, p: Values, memory) -> Companion:
    """i = limit f((E - v_out) / (r limit)), E the smaller of the set voltage and input less drop.

    Without input E lies below com by what LETS_GO of the limit drops in r: the corner at no load is left behind,
    and a board without power is pushed by nothing.
    """
    source, out, com = v
    set_volts = np.abs(p["volts"])
    room = source - com - p["drop"]
    # between no input at all (-2) and more than enough (+2) the output follows the input
    follow = 4.0 * (room / set_volts - 0.5)
    at_follow, moved = held_across(follow, last_control(memory, "follow"))
    at_room = (0.25 * at_follow + 0.5) * set_volts
    past, by_room = rounded((set_volts - at_room) / ROUNDING_VOLTS)
    least = set_volts - ROUNDING_VOLTS * past
    above, share = rounded(least / ROUNDING_VOLTS)
    reach = p["r_out"] * p["limit"]
    lowest = ROUNDING_VOLTS * above - LETS_GO * reach * (1.0 - share)
    by_room = by_room * share * (1.0 + LETS_GO * reach * (1.0 - share) / ROUNDING_VOLTS)
    lowest = lowest + by_room * (room - at_room)

    push = (lowest + com - out) / reach
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


def regulate_adjustable(v, p: Values, memory) -> Companion:
    """As `regulate`, com being the adjusting pin.

    Its own current runs out of the output, so that a lesser load lifts it.
    """
    found = regulate(v, p, memory)
    at, jumped = held_across(v[0] - v[1], last_control(memory, "idle"))
    flat, steep = levelled(at)
    g = p["idle"] * steep
    amps = p["idle"] * flat + g * (v[0] - v[1] - at)
    slope = dict(found.slope)
    for pin, sign in (("in", 1.0), ("out", -1.0)):
        slope[pin, "in"] = slope[pin, "in"] + sign * g
        slope[pin, "out"] = slope[pin, "out"] - sign * g
    into = {"in": found.amps["in"] + amps, "out": found.amps["out"] - amps, "com": found.amps["com"]}
    return Companion(into, slope, {**found.memory, "idle": at}, found.held | jumped)


def turned(law):
    """The same law with every volt and amp turned over: a negative regulator."""

    def negative(v, p: Values, memory) -> Companion:
        found = law(-v, p, memory)
        return Companion({pin: -amps for pin, amps in found.amps.items()}, found.slope, found.memory, found.held)

    return negative


def drop(volts: float, reason: str) -> Parameter:
    """Least volts between input and output."""
    usual = assumed(volts, "V", reason, law="tolerance", spread=0.25)
    return Parameter("drop", "V", word="drop", low=0.05, high=5.0, spread=0.25, default=usual)


def limit(amps: float, reason: str, **more: Any) -> Parameter:
    """Most amps it gives."""
    usual = assumed(amps, "A", reason, **more)
    return Parameter("limit", "A", word="limit", low=0.01, high=20.0, spread=0.3, default=usual)


def output(ohms: float, reason: str) -> Parameter:
    """Resistance of the output while it regulates."""
    usual = assumed(ohms, "ohm", reason)
    return Parameter("r_out", "ohm", word="output", low=1e-4, high=10.0, spread=0.3, default=usual)
