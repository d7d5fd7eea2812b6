"""Readings in one go, in the repairer's words, and what heat leaves of them now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from probewright.jobs.heat_words import burst_view
from probewright.jobs.view import GroupStepView, GroupView, RangeView, WordView
from probewright.machine import Machine
from probewright.planning.bursts import Allowance, Hot, burst
from probewright.planning.groups import BURST, POWERED, UNPOWERED, Group
from probewright.planning.heat import Warmth
from probewright.readings import Question, echo

WHY = {
    UNPOWERED: "While the power is off: after the first, each of these is still worth more than changing the bench.",
    BURST: "Clip all of them on with the power off, then read one after the other: each is still worth its clip.",
    POWERED: "While the power is on: after the first, each of these is still worth more than changing the bench.",
}


def group_view(
    one: Group, asks: Sequence[Question], does: Sequence[str], healthy: Sequence[RangeView | WordView],
    cautions: Sequence[str | None], machine: Machine,
) -> GroupView:  # fmt: skip
    """A group in words. asks: the questions as the machine stands; does: each as an instruction; healthy: what a sound
    machine reads at each; cautions: of each place."""
    need = one.allowance.need / len(asks) if one.allowance is not None else 0.0
    steps = tuple(
        GroupStepView(do, ask.red, usual, gain, ask, need, caution)
        for do, ask, usual, gain, caution in zip(does, asks, healthy, one.gains, cautions, strict=True)
    )
    allowed = one.allowance
    spell = None if allowed is None else burst_view(allowed.burst(allowed.cold), allowed)
    clips = clips_of(asks, machine) if one.kind == BURST else ()
    return GroupView(one.kind, one.minutes, one.apart, steps, clips, WHY[one.kind], spell)


def clips_of(asks: Sequence[Question], machine: Machine | None) -> tuple[str, ...]:
    """Where each clip goes, every place once."""
    return tuple(_clips(asks, machine))


def _clips(asks: Sequence[Question], machine: Machine | None) -> Iterator[str]:
    for lead, places in (("black", [ask.black for ask in asks]), ("red", [ask.red for ask in asks])):
        yield from (f"{lead} to {echo.spot(place, machine)}" for place in dict.fromkeys(places))


def cut(
    view: GroupView, hot: tuple[Hot, ...], warmths: Sequence[Warmth], wait: float, on: bool, machine: Machine | None
) -> GroupView | None:
    """As many of a group as fit into one burst as warm as all is now, after no longer a wait than the first of them
    needs; None where that is one. on: the power is on, and whatever was to be clipped on is."""
    assert view.burst is not None
    for count in range(len(view.steps), 1, -1):
        steps = view.steps[:count]
        allowed = Allowance(hot, sum(one.need for one in steps), view.burst.clipped and not on)
        spell = burst(hot, warmths, allowed.need)
        if spell.wait <= wait:
            clips = () if on or view.kind != BURST else clips_of([one.ask for one in steps], machine)
            return replace(view, steps=steps, clips=clips, burst=burst_view(spell, allowed, on))
    return None
