"""The command that rehearses: hidden faults, found or not, counted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from probewright.cli.answering import DONE, Json, MachineFile, answer, read_text

if TYPE_CHECKING:
    from collections.abc import Callable

BAR = 30  # characters of a full bar


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command()(rehearse)


def rehearse(
    file: MachineFile,
    campaign: Annotated[int, typer.Option("--campaign", help="How many rehearsals.")] = 20,
    key: Annotated[str, typer.Option("--key", help="Of all that is drawn: the same key gives the same result.")] = "a",
    withhold: Annotated[
        str, typer.Option("--withhold", help="KIND:MODE: only such faults are hidden, and nobody suspects them.")
    ] = "",
    sound: Annotated[
        bool, typer.Option("--sound", help="Nothing is hidden: does it find something all the same?")
    ] = False,
    brought: Annotated[bool, typer.Option("--brought", help="Only machines that their owner complains of.")] = False,
    tolerance_x: Annotated[
        float, typer.Option("--tolerance-x", help="Tolerances of the hidden machine, times those of the file.")
    ] = 1.0,
    misfit: Annotated[
        str, typer.Option("--misfit", help="value, gain or net: in what the hidden machine is not as the file says.")
    ] = "",
    readings: Annotated[int, typer.Option("--readings", help="Readings at most in one rehearsal.")] = 12,
    quick: Annotated[
        bool, typer.Option("--quick", help="Take steps from the quick answer; findings stay refined.")
    ] = False,
    pairs: Annotated[bool, typer.Option("--pairs", help="Two faults are hidden in each, and repaired on.")] = False,
    felt: Annotated[bool, typer.Option("--felt", help="With --pairs: each fault alone is complained of.")] = False,
    orders: Annotated[
        str, typer.Option("--orders", help="Other orders of readings on the same machines, beside ours: all, or names.")
    ] = "ours",
    alone: Annotated[
        bool, typer.Option("--alone", help="Other orders follow their list alone, without the proof that ours makes.")
    ] = False,
    paces: Annotated[
        str, typer.Option("--paces", help="A key: each kind of step takes half to twice its minutes, drawn by it.")
    ] = "",
    keep: Annotated[
        Path | None, typer.Option("--keep", help="File of results; a run that was ended goes on where it was.")
    ] = None,
    processes: Annotated[int, typer.Option("--processes", help="Processes at once; 0: one for each core.")] = 0,
    as_json: Json = False,
) -> None:
    """Rehearse repairs on made-up machines with hidden faults: how often found, how often confidently wrong."""

    def make() -> tuple[Any, Callable[[Any], str], int]:
        from probewright.jobs import campaign as campaigns
        from probewright.jobs.orders import named
        from probewright.jobs.rehearsing import Terms
        from probewright.report import rehearsals

        terms = Terms(key, withhold, sound, brought, tolerance_x, readings, quick, misfit, pairs, felt, paces, alone)
        view = campaigns.rehearse(
            read_text(file), str(file), terms, campaign, keep, processes or None, show_progress, named(orders)
        )
        return view, rehearsals.campaign, DONE

    answer(make, as_json)


def show_progress(done: int, total: int) -> None:
    """A bar on the terminal; nothing where standard error is none."""
    import sys

    if sys.stderr.isatty():
        full = round(BAR * done / total)
        end = "\n" if done == total else ""
        sys.stderr.write(f"\r[{'#' * full}{'.' * (BAR - full)}] {done}/{total}{end}")
        sys.stderr.flush()
