"""The demo: recorded readings entered one by one, as a person would take them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from importlib.resources import files

import typer

from probewright import jobs, machine
from probewright.cli.answering import BAD_INPUT
from probewright.jobs.view import JobView
from probewright.readings import echo
from probewright.readings.lines import read_readings
from probewright.report import text
from probewright.report.text import named, percent


def play(name: str) -> None:
    """Enter the recorded readings of a demo and show ranking and next step after each.

    The planted faults are compared with what was found only at the end, each with what led before it was mended; one
    counts as located when every suspect of the leading class is on its item, but for what was mended before.
    """
    folder, name = files("probewright.demo"), name.casefold()
    known = json.loads(folder.joinpath("planted.json").read_text("utf-8"))
    if name not in known:
        typer.echo(f"there is no demo {name!r}; write one of: {', '.join(known)}", err=True)
        raise typer.Exit(BAD_INPUT)
    source = folder.joinpath(f"fernside-{name}.yaml")
    loaded = machine.read(source.read_text("utf-8"), source.name)
    recorded = folder.joinpath(f"fernside-{name}.readings")
    said = read_readings(recorded.read_text("utf-8"), loaded, recorded.name)
    planted = known[name]
    typer.echo(f"{loaded.name}. The owner says: {planted['complaint']}\n")
    job, view = jobs.open_search(loaded), None
    before: list[JobView] = []
    mended: tuple[str, ...] = ()
    for number, reading in enumerate(said, 1):
        if view is not None and reading.question.setup.replaced != mended:
            before.append(view)
            mended = reading.question.setup.replaced
            typer.echo(f"Fitted: a new {' and a new '.join(mended)}.\n")
        job = jobs.enter_readings(job, [reading])
        view = jobs.look(job)
        typer.echo(f"{number}. {echo.say(reading, loaded)}")
        for suspect in view.suspects[:3]:
            typer.echo(f"     {percent(suspect.probability):>5}  {named(suspect)}")
        for surprise in view.surprises:
            if not surprise.advice.startswith("Measured again"):
                typer.echo(f"     does not fit: reading {surprise.reading}")
        if view.actions:
            typer.echo(f"     next: {view.actions[0].do}\n")
    assert view is not None, "a demo has readings"
    typer.echo(text.job(view))
    told = [_located(one, fault["item"], planted["faults"][:n]) for n, (one, fault) in enumerate(
        zip([*before, view], planted["faults"], strict=True))]  # fmt: skip
    for fault, (found, sure) in zip(planted["faults"], told, strict=True):
        typer.echo(f"\nPlanted by whoever recorded this: {fault['says']}.")
        typer.echo(f"Located: {fault['item']}, {percent(sure)} sure." if found else f"Not located: {fault['item']}.")
    raise typer.Exit(0 if all(found for found, _ in told) else 1)


def _located(view: JobView, item: str, mended: Sequence[Mapping[str, str]]) -> tuple[bool, float]:
    """Whether a view says that this item is the fault, besides those mended before, and how sure it is."""
    top, done = view.classes[0], {fault["item"] for fault in mended}
    items = {fault.item for suspect in view.suspects if suspect.id in top.members for fault in suspect.faults}
    return view.finding == "located" and items - done == {item}, top.probability
