"""What comes before a reading where power, heat or charge count, and what takes the place of the card."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.jobs.case_view import BenchView
from probewright.jobs.powering import is_left_off
from probewright.jobs.view import ActionView
from probewright.jobs.warming import STOP
from probewright.machine import Machine
from probewright.readings import DRAWN, Setup, echo
from probewright.readings.instruments import METERED
from probewright.web import setting
from probewright.web.clock import Clock, off_line

PROBED = (*(one for one in METERED if one != DRAWN), "beep")  # questions with a black and a red probe
KEPT = "What you typed is kept."


@dataclass(frozen=True)
class Beforehand:
    """What to do before a step, one by one. line: of the set-up, that says it is done, "" where nothing is to be said;
    done: what that is called."""

    steps: tuple[str, ...] = ()
    line: str = ""
    done: str = ""


def beforehand(view: BenchView, action: ActionView, now: Setup, machine: Machine | None) -> Beforehand:
    """What to do before a step of this view.

    Where heat counts and the power is on but must go off first, that is entered by itself: the clock needs to know.
    """
    ask = action.ask
    if ask is None or ask.instrument not in PROBED or action.kind != "reading":
        out = (setting.POWER_OUT,) if action.before and now.power == "on" else ()
        return Beforehand((*out, *action.before), off_line(now) if out else "", "Power is off")
    first = setting.steps(now, ask.setup, machine, action.before, _clips(view, action, now, machine), action.turned)
    if not first:
        return Beforehand()
    if action.burst and now.power == "on" and first[0] in (setting.POWER_OUT, setting.POWER_FIRST["off"]):
        return Beforehand(first, off_line(now), "Power is off")
    there = setting.wanted(now, ask.setup)
    line = "" if there == now else setting.line_of(there)
    return Beforehand(first, line, "Power is on" if line and first[-1] == setting.POWER_FIRST["on"] else "It is so")


def _clips(view: BenchView, action: ActionView, now: Setup, machine: Machine | None) -> str:
    """Where the probes are clipped on with the power off, those of the whole group in one go; "" where they are held.

    In a burst that is under way they are on: nobody could fit them now.
    """
    ask, burst, group = action.ask, action.burst, view.search.group
    if ask is None or not action.live or (burst and now.power == "on" and not burst.wait):
        return ""
    if group is not None and group.clips and action == view.card and action.do == group.steps[0].do:
        return f"Clip {', '.join(group.clips)}."
    if not action.clips:
        return ""
    return f"Clip black to {echo.spot(ask.black, machine)}, red to {echo.spot(ask.red, machine)}."


def first_choice(view: BenchView | None, now: Setup) -> int:
    """Which of what is offered comes first: what waits behind "Switch off now" once the power is off."""
    if view is None or view.card is None or not is_left_off(view.card, now):
        return 0
    return 1 if any(one != view.card for one in view.search.actions) else 0


@dataclass(frozen=True)
class OffNow:
    """What takes the place of card and entry box while the power must go off. line: of the set-up, with the power off;
    at_once: now, not only once the time is up."""

    says: str
    waits: str
    line: str
    at_once: bool


def off_now(view: BenchView | None, now: Setup, clock: Clock | None) -> OffNow | None:
    """The same; None where the power may stay on as long as one likes."""
    card, on = None if view is None else view.card, clock is not None and clock.on
    if card is not None and card.kind == STOP and (now.power == "on" or on):
        return OffNow(" ".join(filter(None, [card.why, card.caution])), KEPT, off_line(now), True)
    if clock is None or not on:
        return None
    waits = f"The reading at {card.where} waits. {KEPT}" if card is not None and card.kind == "reading" else KEPT
    return OffNow(f"{clock.after or clock.says}.", waits, off_line(now), clock.must_end)
