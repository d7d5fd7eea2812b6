"""A practice in plain text: how it begins, what each line took, and the two paths side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from probewright.jobs.cases import Case
from probewright.jobs.practice import key_of, steps
from probewright.jobs.spending import Spent
from probewright.jobs.two_paths import PathStepView, PathsView
from probewright.report.text import percent

WIDE = 42  # letters of a step in its column: both paths fit beside each other on a usual terminal
HELP = """\
Ask for a figure with `?`:  VCC ? V    R5 ? ohm    D1 diode ?    Q1 c ? b ? e ?    VCC?
how something works:        FUNCTION ?
swap, tap, warm:            swapped LEAD    old LEAD back    tapped C4    freeze Q1
say how the machine stands: power off    power on, STIMULUS    lift R4.1    heatsink of U1 off
repair:                     fitted a new C12    resoldered R5.1
name the fault:             it is C12 open
and:                        hint (the card)    so far    help    give up"""


def opened(case: Case) -> str:
    """What the person sits down to."""
    return "\n".join([
        f"{case.intake.model}. Practice: a made-up fault, nothing is wired.",
        f"The owner says: {case.intake.words}.",
        "What do you measure? `VCC ? V`, `R5 ? ohm`; `help` tells the rest.",
    ])  # fmt: skip


def entered(says: Sequence[str], took: Spent, total: float) -> str:
    """What a line came to, and its minutes."""
    return "\n".join([*(f"  {one}" for one in says), f"  {took.whole:g} min, {total:g} min so far"])


def so_far(case: Case, took: Sequence[Spent]) -> str:
    """Every line that stands, with its minutes."""
    lines = [f"The owner says: {case.intake.words}."]
    lines += [f"{took[n].whole:>7g} min  {case.lines[n].text}" for n in steps(case)]
    return "\n".join([*lines, f"{sum(one.whole for one in took):>7g} min  in all"])


def paths(view: PathsView) -> str:
    """The two paths side by side, minute by minute."""
    return "\n".join([
        f"{view.machine}: {view.says} ({view.hidden}).",
        f"The owner said: {view.owner}. You: {view.yours.ends}. The plan: {view.plan.ends}.", "",
        _row("min", "yours", "sure", "min", "the plan's", "sure"),
        *_rows(view),
        _row(*_total(view.yours.minutes), *_total(view.plan.minutes)), "",
        view.remark,
        f"Sure: how sure the tool was that mending this would cure. The same machine again: --key {key_of(view.key)}",
    ])  # fmt: skip


def side_by_side(view: PathsView) -> list[tuple[PathStepView | None, PathStepView | None]]:
    """The steps of both paths in order of time; what ends in the same minute shares a row."""
    times = sorted({step.at for path in (view.yours, view.plan) for step in path.steps})
    left, right = ({step.at: step for step in path.steps} for path in (view.yours, view.plan))
    return [(left.get(at), right.get(at)) for at in times]


def _rows(view: PathsView) -> Iterator[str]:
    for yours, plans in side_by_side(view):
        halves = [_half(yours), _half(plans)]
        for n in range(max(len(half) for half in halves)):
            cells = [half[n] if n < len(half) else ("", "", "") for half in halves]
            yield _row(*cells[0], *cells[1])


def _half(step: PathStepView | None) -> list[tuple[str, str, str]]:
    """A step as the cells of its lines: minutes gone by, words, how sure."""
    if step is None:
        return []
    first, *rest = wrap(step.says, WIDE) or [""]
    return [(f"{step.at:g}", first, percent(step.sure)), *(("", one, "") for one in rest)]


def _total(spent: float) -> tuple[str, str, str]:
    return f"{spent:g}", "in all", ""


def _row(at: str, says: str, sure: str, plans_at: str, plan: str, plans_sure: str) -> str:
    mine = f"{at:>5}  {says:<{WIDE}} {sure:>9}"
    return f"{mine}  |{plans_at:>5}  {plan:<{WIDE}} {plans_sure:>9}".rstrip()
