"""Circuits in the place of something dead, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from probewright.jobs.added_circuits import AddedListView, AddedView, CircuitsView, CircuitView
from probewright.jobs.added_values import ValuesView
from probewright.planning.deciding import Option
from probewright.units import write_reading

WIDTH = 11  # of the longest verdict, and a blank


def library(view: CircuitsView) -> str:
    """Every circuit in two lines."""
    return "\n".join(
        line for one in view.circuits for line in (f"{one.name}: {one.title}", f"  forms: {', '.join(one.forms)}")
    )


def circuit(view: CircuitView) -> str:
    """One circuit: what it is, asks for, needs, and what to know of it."""
    return "\n".join([
        f"{view.title}: {view.what}.",
        *_block("Values, NAME=VALUE; in brackets what is taken where nobody says", view.asks),
        *_block("Places, --to NAME=NET", view.doors),
        *_block("To know", view.says),
    ])  # fmt: skip


def one(view: AddedView) -> str:
    """A circuit in its machine: the verdict, every figure, what to take and to do."""
    return "\n".join(_one(view))


def _one(view: AddedView) -> Iterator[str]:
    yield f"{view.name}, {view.title}. {view.advice}"
    yield from (f"  {line.verdict:<{WIDTH}}{line.says}" for line in view.lines)
    if view.chosen:
        yield f"Taken from E24 for what is wanted: {', '.join(view.chosen)}"
    yield from _block("Parts", view.parts)
    yield from _block("In this order", view.steps)
    yield from _block("Caution", view.cautions)
    offer = f"; `probewright add-circuit option {view.name}` puts it to the ways to go on" if view.event else ""
    yield f"About {view.hours:.1f} h of work{offer}."


def placed(view: AddedListView) -> str:
    """Everything placed in a job."""
    if not view.placed:
        return f"Job {view.job}: no circuit is placed."
    return "\n\n".join(one(circuit) for circuit in view.placed)


def offered(option: Option) -> str:
    """That a circuit stands among the ways to go on now."""
    return f"A way to go on now: {option.name}, about {option.hours:.1f} h. See `probewright decide`."


def values(view: ValuesView) -> str:
    """What to take for a target."""
    head = (
        f"{view.kind} {write_reading(view.target, view.unit)} from {view.series}, {write_reading(view.tolerance, '%')}"
    )
    single, pairs = ([one.says for one in picks] for picks in (view.single, view.pairs))
    return "\n".join([head, *_block("One chosen", single), *_block("Two chosen", pairs)])


def _block(head: str, lines: Sequence[str]) -> Iterator[str]:
    if lines:
        yield f"{head}:"
        yield from (f"  {line}" for line in lines)
