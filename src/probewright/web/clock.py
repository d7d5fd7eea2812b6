"""The clock of a bench with a heatsink off, as the page lays it out: figure, twelve blocks, time of day, button."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from probewright.jobs.clock import COOLING, NEVER, OPEN, OVER, READY, RUNNING, UNKNOWN
from probewright.jobs.view import ClockView
from probewright.readings import Setup
from probewright.report.times import of_day
from probewright.web import setting

BLOCKS = 12
LAST = 30.0  # s, chosen: so long before the end the clock is hatched
TITLES = {
    READY: "Power may come on", RUNNING: "Power is on", OVER: "Switch off now", COOLING: "Cooling, power off",
    NEVER: "Leave the power off", UNKNOWN: "Limit not known", OPEN: "Not worked out yet",
}  # fmt: skip


@dataclass(frozen=True)
class Clock:
    """What is shown. figure: minutes and seconds, "" for none; full: how many of the BLOCKS are; by: the same by the
    time of day; line, button: the set-up line that a tap enters and what it is called, "" for none; at, since, until:
    ms since 1970, "" for none; then: s, "" where nobody knows; last: the end is near."""

    state: str
    title: str
    figure: str
    says: str
    after: str
    full: int
    by: str
    line: str
    button: str
    at: str
    since: str
    until: str
    then: str
    last: bool = False

    @property
    def on(self) -> bool:
        """The power is on by the clock."""
        return self.state in (RUNNING, OVER) or (self.state in (UNKNOWN, OPEN) and bool(self.since))

    @property
    def must_end(self) -> bool:
        """The power is on and has to go off before anything else."""
        return self.on and self.state in (OVER, UNKNOWN)


def clock(view: ClockView, now: Setup, wanted: str, at: float) -> Clock:
    """The clock for the page. now: the set-up as it is; wanted: the line of the set-up that the card wants with power
    on, "" for the one there is; at: seconds since 1970."""
    state, since, until = view.state, _seconds(view.since), _seconds(view.until)
    if state == RUNNING and until is not None and at >= until:  # between working out and showing
        state = OVER
    whole, left = _span(view, since, until, at)
    says = view.after if state != view.state else view.says
    shown = Clock(
        state, TITLES[state], "", says, view.after, 0, _by(view, at), "", "",
        _ms(at), _ms(since), _ms(until), "" if view.then == math.inf else f"{view.then:.0f}",
    )  # fmt: skip
    if left is not None:
        full = math.ceil(BLOCKS * left / whole) if whole > 0.0 else 0
        near = state == RUNNING and left <= LAST
        shown = replace(shown, figure=figure(left), full=min(full, BLOCKS), last=near)
    elif since is not None and shown.on:
        shown = replace(shown, figure=figure(at - since))
    if shown.on:
        return replace(shown, line=off_line(now), button="Power is off")
    if state == READY:
        return replace(shown, line=wanted or setting.line_of(replace(now, power="on")), button="Power is on")
    return shown


def off_line(now: Setup) -> str:
    """The set-up line that says that nothing feeds the machine any more."""
    return setting.line_of(replace(now, power="off", supplied=()))


def figure(seconds: float) -> str:
    """Minutes and seconds, never more than there are."""
    whole = max(math.floor(seconds), 0)
    return f"{whole // 60}:{whole % 60:02d}"


def _span(view: ClockView, since: float | None, until: float | None, at: float) -> tuple[float, float | None]:
    """Seconds of the whole spell, and those left of it; None where no end is known."""
    if view.state == READY and view.then < math.inf:
        return view.then, view.then
    if until is None:
        return 0.0, None
    begun = since if since is not None else at
    return max(until - begun, 1.0), max(until - at, 0.0)


def _by(view: ClockView, at: float) -> str:
    """The same by the time of day, for whoever has no script."""
    until = _seconds(view.until)
    if view.state == RUNNING and until is not None:
        again = f", on again from {of_day(until + view.then)}" if view.then < math.inf else ""
        return f"Off by {of_day(until)}{again}."
    if view.state == OVER and view.then < math.inf:
        return f"Off now ({of_day(at)}), on again from {of_day(at + view.then)}."
    if view.state == COOLING and until is not None:
        return f"On again from {of_day(until)}."
    if view.state == READY and view.then < math.inf:
        return f"On now ({of_day(at)}), off by {of_day(at + view.then)}."
    if view.since and view.state in (UNKNOWN, OPEN):
        return f"On since {of_day(_seconds(view.since) or at)}."
    return ""


def _seconds(stamp: str) -> float | None:
    return datetime.fromisoformat(stamp).astimezone(UTC).timestamp() if stamp else None


def _ms(seconds: float | None) -> str:
    return "" if seconds is None else f"{1000.0 * seconds:.0f}"
