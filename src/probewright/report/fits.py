"""A part that comes out and one that goes in, in words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from probewright.jobs.fitting_lists import FitItemView, FitListView
from probewright.report.times import hour, local
from probewright.units import counted

HEADS = {
    "before": "Before", "out": "Out", "clear": "Holes and pads", "in": "In", "after": "After",
    "pins": "Every pin to its next part", "apart": "Side by side, not joined",
}  # fmt: skip


def fit_list(view: FitListView) -> str:
    """What to do, what it harms, what to try afterwards."""
    return "\n".join(_lines(view))


def what_it_takes(view: FitListView) -> str:
    """Minutes, the chance of harm and how often its pads were hot."""
    hot = f"pads hot {counted(view.heatings, 'time')} so far"
    return f"about {view.next.minutes:.0f} min, pads harmed in {100.0 * view.next.damage:.2g} % of cases; {hot}"


def what_it_is(view: FitListView) -> str:
    """Package and board, and whether somebody said so."""
    pins = f"-{view.pins}" if view.package in ("DIP", "SIL", "SO", "QFP", "connector", "socket") else ""
    package = f"{view.package}{pins}" + ("" if view.package_said else " (nobody said so)")
    board = f"a {view.board} board" + ("" if view.board_said else " (nobody said so)")
    return f"{package} on {board}, {'to be kept' if view.kept else 'condemned'}"


def _lines(view: FitListView) -> Iterator[str]:
    yield f"Job {view.job}, {view.part}: {what_it_is(view)}"
    yield what_it_takes(view)
    if view.next.says:
        yield f"Caution: {view.next.says}."
    for one in view.heated:
        times = f", {one.times} times" if one.times > 1 else ""
        entry = f", entry {one.event}" if one.hand else ""
        yield f"  hot {local(one.at)}: {one.says}{times}{entry}"
    yield from (f"  ! {care}" for care in view.cares)
    for phase, items in groupby(view.items, key=lambda one: one.phase):
        yield HEADS[phase]
        yield from (f"  {_mark(one)} {one.number}. {one.says}{_told(one)}" for one in items)
    yield from view.notes
    if view.proposal:
        yield f"To be said at the bench: {view.proposal} (`probewright fit-list {view.part} --say`)"
    if view.done:
        yield "All done, every pin as it should be."


def _mark(one: FitItemView) -> str:
    return {"ok": "[x]", "bad": "[!]"}.get(one.done, "[ ]")


def _told(one: FitItemView) -> str:
    seen = ", ".join(filter(None, (one.at and hour(one.at), one.words, f"entry {one.event}" if one.event else "")))
    return f" ({seen})" if seen else ""
