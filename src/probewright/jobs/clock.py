"""The clock of a bench with a heatsink off: how long the power may still be on, or must be off, and what comes then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from probewright.jobs.heat_words import at_least, at_most
from probewright.jobs.view import BurstView, ClockView, HeatView, SpellView
from probewright.planning.bursts import Hot, burst
from probewright.planning.heat import Warmth
from probewright.planning.minutes import minutes

READY, RUNNING, OVER, COOLING = "ready", "running", "over", "cooling"
NEVER, UNKNOWN, OPEN = "never", "unknown", "open"
State = tuple[HeatView, Hot, Warmth]  # a part without its heatsink, the same as the plan has it, how warm it is now


def clock_of(states: Sequence[State], step: BurstView | None, now: str) -> ClockView | None:
    """The clock now; None where no limit is near. step: the burst of the step to take, None where none is limited."""
    hot = [one for one in states if not one[0].known or one[0].cold < math.inf]
    if not hot:
        return None
    if not all(one.known for one, _, _ in hot):
        return _unknown(hot, now)
    return _on(hot, step, now) if any(one.on for one, _, _ in hot) else _off(hot, step, now)


def open_clock(parts: Sequence[str], past: Sequence[SpellView], now: str) -> ClockView:
    """The clock while nobody has worked out yet how long; past: when the power was on."""
    named, on = _named(parts), bool(past) and past[-1].on
    says = f"{named}: how long the power may be on is being worked out" + ("" if on else "; leave it off till then")
    return ClockView(OPEN, tuple(parts), now, since(past) if on else "", "", math.inf, says, "")


def since(past: Sequence[SpellView]) -> str:
    """When the power came on, or went off, as it is now; "" where it never was on."""
    if not any(spell.on for spell in past):
        return ""
    begun = past[-1].at
    for spell in reversed(past):
        if spell.on != past[-1].on:
            break
        begun = spell.at
    return begun


def _unknown(hot: Sequence[State], now: str) -> ClockView:
    """Nobody knows the watts: it counts up while the power is on, which should be off."""
    named = _named([one.part for one, _, _ in hot if not one.known])
    on = any(one.on for one, _, _ in hot)
    do = "switch off" if on else "leave the power off"
    says = f"Nobody knows the watts of {named}, so nobody knows for how long: {do}"
    return ClockView(UNKNOWN, _parts(hot), now, since(hot[0][0].past) if on else "", "", math.inf, says, "")


def _on(hot: Sequence[State], step: BurstView | None, now: str) -> ClockView | None:
    """The power is on, with the watts of the set-up that it is on in."""
    left = min(one.left for one, _, _ in hot)
    if left == math.inf:
        return None
    need = step.need if step is not None else _least()
    then = max(_cooling(state, max(left, 0.0), need) for state in hot)
    named, off = _named(_parts(hot)), at_least(then) if then < math.inf else ""
    over = f"{named} is at its limit by the clock" + (f", then it needs {off} to cool" if off else "")
    says = f"{named}: power left" + (f", then {off} off" if off else "")
    state, until = (RUNNING, _later(now, left)) if left > 0.0 else (OVER, now)
    return ClockView(state, _parts(hot), now, since(hot[0][0].past), until, then, says if left > 0.0 else over, over)


def _cooling(state: State, left: float, need: float) -> float:
    """Seconds off after the power was on for so long from now, until it may be on for `need` again."""
    one, part, warmth = state
    spell = one.past[-1]
    warm = part.body.after(warmth, spell.likely, spell.worst, left)
    wait = part.wait(warm, need)
    return float(math.ceil(wait)) if wait < math.inf else math.inf


def _off(hot: Sequence[State], step: BurstView | None, now: str) -> ClockView:
    """The power is off: it may come on, or must wait."""
    if step is None:
        spell = burst([part for _, part, _ in hot], [warmth for _, _, warmth in hot], _least())
        wait, seconds = spell.wait, spell.seconds
    else:
        wait, seconds = step.wait, step.seconds
    named, begun = _named(_parts(hot)), since(hot[0][0].past)
    if wait == math.inf:
        says = f"{named} would get too hot at once"
        return ClockView(NEVER, _parts(hot), now, begun, "", 0.0, says, "")
    ready = f"{named}: on for so long at most"
    if not wait:
        return ClockView(READY, _parts(hot), now, begun, "", seconds, ready, "")
    says = f"{named} cools, then power for {at_most(seconds)}"
    return ClockView(COOLING, _parts(hot), now, begun, _later(now, wait), seconds, says, ready)


def _least() -> float:
    """Seconds that the shortest step takes with power on."""
    return 60.0 * minutes("burst meter")


def _parts(hot: Sequence[State]) -> tuple[str, ...]:
    return tuple(one.part for one, _, _ in hot)


def _named(parts: Sequence[str]) -> str:
    return " and ".join(parts)


def _later(now: str, seconds: float) -> str:
    return (datetime.fromisoformat(now) + timedelta(seconds=seconds)).isoformat(timespec="seconds")
