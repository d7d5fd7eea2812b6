"""A table typed by hand, and the plan for it: what the planner does on a machine, tried on states and tests alone."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.planning.ahead import Plan, solve
from probewright.planning.plan_file import PlanTable, read_plan
from probewright.planning.problem import NONE_STANDS


@dataclass(frozen=True)
class BranchView:
    """If this is seen, with this chance, go on so."""

    if_: str
    chance: float
    then: NodeView


@dataclass(frozen=True)
class NodeView:
    """What to do at one point. kind: "test", "repair", "end" or "cured"; minutes: of the step with its change of
    set-up; expected_cost: minutes from here to the end; states: those still possible, the likeliest first."""

    kind: str
    do: str
    setup: str
    minutes: float
    expected_cost: float
    states: tuple[str, ...]
    branches: tuple[BranchView, ...] = ()


@dataclass(frozen=True)
class PlanView:
    """A plan. expected_cost: mean minutes to the end; exact: no plan takes less; at_least: no plan takes less than
    this; one_step: what is taken by choosing the step that resolves most a minute each time."""

    table: str
    expected_cost: float
    exact: bool
    at_least: float
    one_step: float
    tree: NodeView


CURED = NodeView("cured", "", "", 0.0, 0.0, ())


def plan_table(text: str, file_name: str = "") -> PlanView:
    """The plan for a table; BadInput with every complaint about it."""
    table = read_plan(text, file_name)
    found = solve(table.problem)
    tree = _node(table, found.plan)
    return PlanView(table.name, found.plan.expected, found.exact, found.least, found.one_step, tree)


def _node(table: PlanTable, plan: Plan) -> NodeView:
    """A plan in the names of the table."""
    states = tuple(table.states[n] for n in plan.states)
    if plan.step is None:
        return NodeView("end", "", "", 0.0, plan.expected, states)
    step = table.problem.steps[plan.step]
    branches = [(step.says[n], chance, _node(table, then) if then else CURED) for n, chance, then in plan.branches]
    return NodeView(
        "repair" if step.cures else "test", step.name,
        "" if step.stand == NONE_STANDS else table.stands[step.stand], plan.minutes, plan.expected, states,
        tuple(BranchView(*one) for one in branches),
    )  # fmt: skip
