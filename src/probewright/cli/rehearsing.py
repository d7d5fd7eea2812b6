"""The command that rehearses: one hidden fault to practise on, or many, found or not, counted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from probewright.cli.answering import DONE, UNDECIDED, Json, MachineFile, answer, read_text

if TYPE_CHECKING:
    from collections.abc import Callable

BAR = 30  # characters of a full bar
USUAL_KEY = "a"  # of a campaign: the same figures each time it is run


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command()(rehearse)


def rehearse(
    file: MachineFile,
    campaign: Annotated[
        int | None, typer.Option("--campaign", help="So many rehearsals by the tool itself, counted.")
    ] = None,
    key: Annotated[
        str, typer.Option("--key", help="Of all that is drawn: the same key, the same machine. Without it another one.")
    ] = "",
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
    trained: Annotated[bool, typer.Option("--trained", help="Whoever measures may touch live what can kill.")] = False,
    keep: Annotated[
        Path | None, typer.Option("--keep", help="File of results; a run that was ended goes on where it was.")
    ] = None,
    processes: Annotated[int, typer.Option("--processes", help="Processes at once; 0: one for each core.")] = 0,
    cluster: Annotated[
        str, typer.Option("--cluster", help="Address of a Dask scheduler: rehearse on its workers (extra `cluster`).")
    ] = "",
    as_json: Json = False,
) -> None:
    """Practise on a made-up machine with a hidden fault: type what you would measure, name it, see both paths.

    Leaves with 3 when it was not found. With --campaign the tool rehearses by itself: how often found, how often
    confidently wrong.
    """

    def counted() -> tuple[Any, Callable[[Any], str], int]:
        from probewright.jobs import campaign as campaigns
        from probewright.jobs.orders import named
        from probewright.jobs.rehearsing import Terms
        from probewright.report import rehearsals

        assert campaign is not None
        terms = Terms(
            key or USUAL_KEY, withhold, sound, brought, tolerance_x, readings, quick, misfit, pairs, felt, paces,
            trained, alone,
        )  # fmt: skip
        view = campaigns.rehearse(
            read_text(file), str(file), terms, campaign, keep, processes or None, show_progress, named(orders), cluster
        )
        return view, rehearsals.campaign, DONE

    def practised() -> tuple[Any, Callable[[Any], str], int]:
        import secrets

        from probewright.cli import practising
        from probewright.jobs.bench import complaint
        from probewright.report import practice

        if str(file) == "-":
            raise complaint("in a practice standard input brings the lines", "name the machine file")
        of_many(
            withhold, sound, brought, tolerance_x != 1.0, misfit, readings != 12, quick, pairs, felt, orders != "ours",
            paces, alone, trained, keep, cluster,
        )  # fmt: skip
        view = practising.practise(read_text(file), str(file), key or secrets.token_hex(4), as_json)
        return view, practice.paths, DONE if practising.is_found(view) else UNDECIDED

    answer(practised if campaign is None else counted, as_json)


OF_MANY = ("--withhold", "--sound", "--brought", "--tolerance-x", "--misfit", "--readings", "--quick", "--pairs",
           "--felt", "--orders", "--paces", "--alone", "--trained", "--keep", "--cluster")  # fmt: skip


def of_many(*said: object) -> None:
    """Refuse options of a campaign, in the order of OF_MANY, where somebody is to practise. BadInput."""
    from probewright.jobs.bench import complaint

    for option, given in zip(OF_MANY, said, strict=True):
        if given:
            raise complaint(f"{option} is for many rehearsals", "add --campaign 20, or leave it out to practise")


def show_progress(done: int, total: int) -> None:
    """A bar on the terminal; nothing where standard error is none."""
    import sys

    if sys.stderr.isatty():
        full = round(BAR * done / total)
        end = "\n" if done == total else ""
        sys.stderr.write(f"\r[{'#' * full}{'.' * (BAR - full)}] {done}/{total}{end}")
        sys.stderr.flush()
