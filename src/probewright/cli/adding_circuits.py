"""The command for circuits in the place of something dead."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, UNDECIDED, Json, answer, read_text, write_text
from probewright.cli.benching import JobNumber, now, pairs, with_case
from probewright.cli.job_numbers import JobCommands

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book

circuits = typer.Typer(
    cls=JobCommands,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="Textbook circuits in the place of something dead.",
)


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.add_typer(circuits, name="add-circuit")


@circuits.command(name="list")
def list_(as_json: Json = False) -> None:
    """Every circuit of the library."""

    def made() -> Made:
        from probewright.jobs.added_circuits import view_library
        from probewright.report import added

        return view_library(), added.library, DONE

    answer(made, as_json)


@circuits.command()
def show(
    circuit: Annotated[str, typer.Argument(help="A circuit of the library; see `add-circuit list`.")],
    as_json: Json = False,
) -> None:
    """One circuit: what it asks for, which places it needs, what to know of it."""

    def made() -> Made:
        from probewright.jobs.added_circuits import view_circuit
        from probewright.report import added

        return view_circuit(circuit), added.circuit, DONE

    answer(made, as_json)


@circuits.command()
def place(
    circuit: Annotated[str, typer.Argument(help="A circuit of the library; see `add-circuit list`.")],
    given: Annotated[list[str] | None, typer.Argument(help="Values, NAME=VALUE: form=coupled emitter=470R.")] = None,
    to: Annotated[list[str] | None, typer.Option("--to", help="Where it goes: in=FADR, out=OPAR, supply=V8.")] = None,
    lift: Annotated[list[str] | None, typer.Option("--lift", help="A leg that comes off first: U3R.out.")] = None,
    want: Annotated[
        list[str] | None, typer.Option("--want", help="What it has to do: level=1.1V, dc=8V 4%, delay=50ms.")
    ] = None,
    at: Annotated[str, typer.Option("--at", help="Stimulus at which it is looked at.")] = "",
    name: Annotated[str, typer.Option("--name", help="What its parts begin with; else A1, A2.")] = "",
    only_try: Annotated[bool, typer.Option("--try", help="Judge it and keep nothing.")] = False,
    file: Annotated[Path | None, typer.Option("--file", help="Try it in this machine file, without any job.")] = None,
    write: Annotated[
        Path | None, typer.Option("--write", help="Write the machine file with it in to this file.")
    ] = None,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Put a circuit into the job's machine, and say of every figure whether it fits.

    Leaves with 3 when something does not fit.
    """
    from probewright.jobs import added_circuits
    from probewright.report import added

    told = [pairs(one or [], what, example) for one, what, example in (
        (given, "a value", "emitter=470R"), (to, "a place", "in=FADR"), (want, "a target", "level=1.1V"))]  # fmt: skip
    values, joins, wants = told

    def shown(view: added_circuits.AddedView) -> Made:
        if write is not None:
            write_text(write, view.variant)
        return view, added.one, DONE if view.fits else UNDECIDED

    def in_file() -> Made:
        from probewright.machine import read

        assert file is not None
        text = read_text(file)
        machine = read(text, str(file))
        return shown(added_circuits.look(text, added_circuits.placing_said(
            machine, circuit, values, joins, lift or [], wants, at, name)))  # fmt: skip

    def made(book: Book, case: Case) -> Made:
        placing = added_circuits.said_of(case, circuit, values, joins, lift or [], wants, at, name)
        if not only_try:
            case = added_circuits.place(book, case, placing, now())
        return shown(added_circuits.try_out(case, placing))

    if file is not None:
        answer(in_file, as_json)
    else:
        with_case(number, made, as_json)


@circuits.command()
def placed(
    write: Annotated[
        Path | None, typer.Option("--write", help="Write the machine file with all of them in to this file.")
    ] = None,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """What was placed in the job, judged anew."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import added_circuits
        from probewright.report import added

        if write is not None:
            write_text(write, added_circuits.variant(case))
        return added_circuits.added_of(case), added.placed, DONE

    with_case(number, made, as_json)


@circuits.command()
def back(
    name: Annotated[str, typer.Argument(help="Name of the circuit: A1.")],
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Take a placed circuit back; the record keeps that it was there."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import added_circuits
        from probewright.report import added

        return added_circuits.added_of(added_circuits.take_back(book, case, name, now())), added.placed, DONE

    with_case(number, made, as_json)


@circuits.command()
def option(
    name: Annotated[str, typer.Argument(help="Name of the circuit: A1.")],
    parts: Annotated[str, typer.Option("--parts", help="Money for its parts.")] = "",
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Put a placed circuit to the ways to go on, with its hours; see `decide`."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import added_circuits
        from probewright.jobs.billing import figure_said
        from probewright.report import added

        case = added_circuits.as_option(book, case, name, figure_said(parts, "parts"), now())
        return case.options[-1], added.offered, DONE

    with_case(number, made, as_json)


@circuits.command()
def values(
    kind: Annotated[str, typer.Argument(help="divider, gain, adjust, delay or resistor.")],
    target: Annotated[str, typer.Argument(help="What it is to give: 0.4, 3.2, 8V, 50ms, 12.3k.")],
    series: Annotated[str, typer.Option("--series", help="E24 or E96.")] = "E24",
    tolerance: Annotated[str, typer.Option("--tolerance", help="Of the resistors: 1%.")] = "",
    with_: Annotated[str, typer.Option("--with", help="The other value: 10k, 1u 20%.")] = "",
    share: Annotated[str, typer.Option("--share", help="Share of the charging volts at which a delay ends.")] = "",
    as_json: Json = False,
) -> None:
    """Values that are made for a target: the best one, the best pair, what they give, and their spread."""

    def made() -> Made:
        from probewright.jobs.added_values import values_for
        from probewright.report import added

        return values_for(kind, target, series, tolerance, with_, share), added.values, DONE

    answer(made, as_json)
