"""The demo: recorded readings entered one by one, as a person would take them."""

from __future__ import annotations

import json
from importlib.resources import files

import typer

from probewright import jobs, machine
from probewright.readings import echo
from probewright.readings.lines import read_readings
from probewright.report import text
from probewright.report.text import named, percent


def play(name: str) -> None:
    """Enter the recorded readings of a demo and show ranking and next step after each.

    The planted fault is compared with what was found only at the end; the fault counts as located
    when every suspect of the leading class is on its item.
    """
    folder = files("probewright.demo")
    source = folder.joinpath(f"fernside-{name}.yaml")
    loaded = machine.read(source.read_text("utf-8"), source.name)
    recorded = folder.joinpath(f"fernside-{name}.readings")
    said = read_readings(recorded.read_text("utf-8"), loaded, recorded.name)
    planted = json.loads(folder.joinpath("planted.json").read_text("utf-8"))[name]
    typer.echo(f"{loaded.name}. The owner says: {planted['complaint']}\n")
    job = jobs.open_search(loaded)
    for number, reading in enumerate(said, 1):
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
    typer.echo(text.job(view))
    top = view.classes[0]
    items = {fault.item for suspect in view.suspects if suspect.id in top.members for fault in suspect.faults}
    found = view.finding == "located" and items == {planted["item"]}
    typer.echo(f"\nPlanted by whoever recorded this: {planted['says']}.")
    typer.echo(
        f"Located: {planted['item']}, {percent(top.probability)} sure." if found else f"Not located: {planted['item']}."
    )
    raise typer.Exit(0 if found else 1)
