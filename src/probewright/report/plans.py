"""The plan for a table as a tree that a person can follow down."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.plan_tables import NodeView, PlanView
from probewright.report.text import percent

RARE = 1e-3  # chosen: what is come to more seldom than this is counted, not drawn; --json has it all


def plan(view: PlanView) -> str:
    """Minutes, how good that is, and the tree: a step, under it each outcome with its chance and what follows."""
    least = "no plan takes less" if view.exact else f"no plan takes less than {_figure(view.at_least)}"
    lines = [
        *([view.table] if view.table else []),
        f"{_figure(view.expected_cost)} min on average; {least}; one step at a time takes {_figure(view.one_step)}",
        "",
        _says(view.tree),
        *_branches(view.tree, 1, 1.0),
    ]
    return "\n".join(lines)


def _branches(node: NodeView, depth: int, reached: float) -> Iterator[str]:
    """Each outcome of a step on a line of its own, what follows it indented below."""
    drawn = [one for one in node.branches if reached * one.chance >= RARE]
    for one in drawn:
        yield f"{'  ' * depth}{one.if_}, {percent(one.chance)}: {_says(one.then)}"
        yield from _branches(one.then, depth + 1, reached * one.chance)
    if left := len(node.branches) - len(drawn):
        yield f"{'  ' * depth}{left} more, come to less than once in {1.0 / RARE:.0f}"


def _says(node: NodeView) -> str:
    """A step with its minutes, or what is left at an end."""
    if node.kind in ("end", "cured"):
        return node.kind if node.kind == "cured" else " or ".join(node.states)
    setup = f" ({node.setup})" if node.setup else ""
    return f"{node.do}{setup}  [{_figure(node.minutes)} min]"


def _figure(minutes: float) -> str:
    """Minutes with as many decimals as are of use, at most three."""
    return f"{minutes:.3f}".rstrip("0").rstrip(".")
