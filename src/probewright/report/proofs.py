"""How well a repair is proven, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.proving import ChangeView, ProveView
from probewright.jobs.warming import seconds_of
from probewright.report.times import lasted, local
from probewright.units import write_reading


def proof(view: ProveView, now: str) -> str:
    """What may be claimed, what is still to be tried, what was tried. now: UTC, ISO, for how long a run has gone on."""
    return "\n".join(_lines(view, now))


def ran(view: ProveView, now: str) -> float:
    """s for which the run on trial has gone on; 0 without one."""
    return seconds_of(now) - seconds_of(view.running) if view.running else 0.0


def _lines(view: ProveView, now: str) -> Iterator[str]:
    yield f"Job {view.job}: {view.standing}. {view.claim}"
    if view.running:
        yield f"Running on trial since {local(view.running)}, {lasted(ran(view, now))} by now."
    yield from (f"  to do: {one.says}." for one in view.steps if one.done < one.needed)
    if view.standing == "to be tried":
        yield view.caution
    if view.tries:
        yield "Tried:"
        yield from (f"  {one.event:3}  {'since ' if one.since else 'before'}  {one.says}" for one in view.tries)
    if view.changes:
        yield "Came in, goes out:"
        yield from (f"  {changed(one)}" for one in view.changes)
    for one in view.adjusted:
        yield f"Adjusted {one.what}: from {one.before} to {one.after}"
    if view.unseen and view.standing != "not repaired":
        yield f"Not seen to work since: {', '.join(view.unseen)}"


def changed(one: ChangeView) -> str:
    """One place before and after."""
    should = ""
    if one.healthy is not None:
        low, high = (write_reading(value, one.healthy.unit) for value in (one.healthy.low, one.healthy.high))
        should = f", should be {low} to {high}"
    return f"{one.where}: {one.before}, now {one.after}{should}"
