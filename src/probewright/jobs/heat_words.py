"""What runs without its heatsink, how long it may, and what else could be done, in the repairer's words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from probewright.jobs.view import BurstView, HeatView
from probewright.machine.model import Heat, Machine
from probewright.machine.packages import band
from probewright.planning.bursts import ASKS, Allowance, Burst, Hot, heat_of
from probewright.planning.heat import BURN, FOREVER, MARGIN, PAIN, TOUCH, Body, Warmth, clipped, settled
from probewright.planning.minutes import minutes
from probewright.readings.kit import Kit
from probewright.units import write_reading, write_value

SUPPLY_LIMIT = 0.5  # A, chosen: where a bench supply behind a regulator is set to begin with
FUMES = "If anything smells or smokes: power off first, then look."
NO_WATTS = 1e-3  # W, chosen: below it a part in any case stays within half a degree of the air
LONG = 120.0  # s, chosen: from here on in minutes


def heat_view(hot: Hot, because: str, machine: Machine | None, kit: Kit) -> HeatView:
    """A part without its heatsink, cold; because: what gives the worst watts."""
    told = heat_of(machine, hot.part)
    return HeatView(
        hot.part, hot.clip, hot.package, band(hot.package, "junction to air").source,
        hot.likely, hot.worst, because, hot.known, hot.body.limit + MARGIN,
        hot.body.about(hot.likely), hot.body.settles(hot.worst), hot.seconds(hot.body.cold),
        tuple(_instead(hot, machine, told, kit)), cautions(hot, hot.body.cold), _says(hot, because),
    )  # fmt: skip


def _says(hot: Hot, because: str) -> str:
    """The part, its watts, where it would settle, and how long it may run from cold."""
    how = f"with a sink of {write_value(hot.clip, 'K/W')} clipped on" if hot.clip else "without its heatsink"
    head = f"{hot.part} ({hot.package}) runs {how}"
    if not hot.known:
        return f"{head}, and nobody knows its watts. {ASKS.format(hot.part)}"
    watts = _watts(hot.likely)
    if hot.worst > 1.02 * hot.likely and hot.worst >= NO_WATTS:
        watts += f", at worst {_watts(hot.worst)}" + (f" ({because})" if because else "")
    settles = hot.body.settles(hot.worst)
    if hot.seconds(hot.body.cold) == math.inf:
        return f"{head}: {watts}. At worst its junction settles at {settles:.0f} °C: it may stay on."
    return (
        f"{head}: {watts}. At worst its junction would go to {settles:.0f} °C, and it must stay below "
        f"{hot.body.limit:.0f}: from cold {at_most(hot.seconds(hot.body.cold))} at most."
    )


def _watts(watts: float) -> str:
    """Watts in words; nobody feels, or reads, less than a milliwatt."""
    return write_reading(watts, "W") if watts >= NO_WATTS else "next to nothing"


def _instead(hot: Hot, machine: Machine | None, told: Heat | None, kit: Kit) -> Iterator[str]:
    """What lets the power stay on longer, the best first."""
    if not hot.clip and hot.known and hot.seconds(hot.body.cold) == math.inf:
        return
    yield f"{_refitted(hot, told)}; about {minutes('heatsink', kit):.0f} min"
    if not hot.clip:
        lasts = _lasts(clipped(hot.package, told=told), hot.worst) if hot.known else ""
        yield f"clip a heatsink on, and say `clip-on heatsink on {hot.part}`{lasts}"
    yield from _supplied(hot, machine)


def _lasts(body: Body, watts: float) -> str:
    """How long a part may run so, from cold."""
    seconds = body.seconds(body.cold, watts)
    return ": it may stay on" if seconds == math.inf else f": {at_most(seconds)} from cold"


def _refitted(hot: Hot, told: Heat | None) -> str:
    what = told.sink if told is not None and told.sink else "heatsink"
    said = f"fasten the {what} to {hot.part} again, outside the case, and say `heatsink of {hot.part} refitted`"
    if told is None or told.with_heatsink is None or not hot.known:
        return said
    return f"{said}: then the junction settles at {settled(hot.worst, told.with_heatsink):.0f} °C"


def _supplied(hot: Hot, machine: Machine | None) -> Iterator[str]:
    """A bench supply in a regulator's place."""
    part = machine.parts.get(hot.part) if machine is not None else None
    if part is None or "regulator" not in part.kind or "out" not in part.pins or "volts" not in part.figures:
        return
    volts, limit = part.figures["volts"].nominal, part.figures["limit"].nominal
    volts = -abs(volts) if "negative" in part.kind else volts
    if "adjustable" in part.kind:
        return  # what it is set to is not in its line
    yield (
        f"leave the power off and feed what lies behind it: `set-up: power off, lift {part.name}.out, bench supply "
        f"{write_value(volts, 'V')} limit {write_value(min(limit, SUPPLY_LIMIT), 'A')} on {part.pins['out']}`"
    )


def cautions(hot: Hot, warmth: Warmth) -> tuple[str, ...]:
    """A case that burns by the end of the next burst, and fumes."""
    if not hot.known:
        return (FUMES,)
    seconds = hot.seconds(warmth)
    if seconds == math.inf:
        case = max(hot.body.settles(hot.worst) - hot.worst * hot.body.usual.to_case, warmth.worst_case)
    else:
        case = hot.body.after(warmth, hot.likely, hot.worst, seconds).worst_case
    if case <= TOUCH:
        return (FUMES,)
    burns = f"above {BURN:.0f} °C it burns within seconds, and from about {PAIN:.0f} °C no finger stays on it"
    return (f"Hot: the case of {hot.part} may reach {case:.0f} °C; {burns}.", FUMES)


def burst_view(one: Burst, allowed: Allowance, on: bool = False) -> BurstView | None:
    """A burst of a step in words; None where power may stay on. on: the power is on now."""
    if one.seconds == math.inf and not one.wait:
        return None
    parts, worst = tuple(each.part for each in allowed.hot), tuple(each.worst for each in allowed.hot)
    says = _burst(one, allowed.clipped, parts, on)
    return BurstView(one.seconds, one.wait, one.again, allowed.clipped, parts, worst, says, allowed.need)


def _burst(one: Burst, clip: bool, parts: Sequence[str], on: bool) -> str:
    named = " and ".join(parts)
    if one.wait == math.inf:
        return f"Not with power on: {named} would get too hot."
    said = []
    if one.wait:
        said.append(f"{'Switch off and let' if on else 'Let'} {named} cool for {at_least(one.wait)} first.")
    if clip:
        said.append("Clip the probes on with the power off.")
    said.append(f"Power off after {at_most(one.seconds)} at most, for {named} gets hot")
    said[-1] += f"; next burst after {at_least(one.again)}." if one.again else "."
    return " ".join(said)


def at_most(seconds: float) -> str:
    """A time that must not be exceeded, to the second as the clock shows it, rounded down: 45 s, 3 min 34 s."""
    return _counted(seconds, math.floor)


def at_least(seconds: float) -> str:
    """A time to wait, rounded up."""
    return _counted(seconds, math.ceil)


def _counted(seconds: float, rounded: Callable[[float], int]) -> str:
    if seconds < LONG:
        return f"{rounded(seconds)} s"
    if seconds < FOREVER:
        minutes, rest = divmod(rounded(seconds), 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return "a day"
