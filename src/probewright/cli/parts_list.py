"""The command that keeps the list of parts used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json
from probewright.cli.benching import WhichJob, now, with_case

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command()(parts)


def parts(
    number: WhichJob = None,
    part: Annotated[str, typer.Option("--part", help="A part in the list, of which the rest tells.")] = "",
    line: Annotated[int, typer.Option("--line", help="The line that fitted it; default: the last one.")] = 0,
    add: Annotated[str, typer.Option("--add", help="A part that no machine file names: a mains lead, a belt.")] = "",
    origin: Annotated[
        str | None,
        typer.Option("--origin", help='new, old stock, pulled, donor, remake, own part again; "" takes back.'),
    ] = None,
    source: Annotated[
        str | None, typer.Option("--from", help='Supplier, or donor machine or job: "job 7"; "" takes back.')
    ] = None,
    tested: Annotated[str | None, typer.Option("--tested", help="How it was tested before it went in.")] = None,
    untested: Annotated[bool, typer.Option("--untested", help="It was not tested before it went in.")] = False,
    old: Annotated[
        str | None, typer.Option("--old", help="The old one: kept for the owner, in the box, thrown away.")
    ] = None,
    words: Annotated[str | None, typer.Option("--words", help="Anything else about it.")] = None,
    back: Annotated[int, typer.Option("--take-back", help="Number of a part that was added by mistake.")] = 0,
    as_json: Json = False,
) -> None:
    """What was fitted, where it comes from, what became of the old one, and where each swapped chip is now."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import parts_used
        from probewright.report import parts as text

        state = parts_used.UNTESTED if untested and not tested else tested
        every = {"origin": origin, "state": state, "source": source, "was": old, "words": words}
        told = {name: said for name, said in every.items() if said is not None}
        if back:
            case = parts_used.drop_part(book, case, back, now())
        if add:
            case = parts_used.add_part(book, case, add, told, now())
        elif part or told:
            case = parts_used.tell_part(book, case, part, told, now(), line)
        return parts_used.parts_view(book, case), text.parts, DONE

    with_case(number, made, as_json, ended=True)
