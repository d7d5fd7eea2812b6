"""Commands for the book of the bench as a whole: copies, exports, an owner forgotten."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json, answer
from probewright.cli.benching import WhichJob, book_path, now, with_case
from probewright.cli.job_numbers import JobCommands

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book

book = typer.Typer(
    cls=JobCommands,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="The book of the bench: copy it, put a copy back, export, erase.",
)


def add_to(app: typer.Typer) -> None:
    """Hang the commands on the program."""
    app.add_typer(book, name="book")


@book.command()
def copy(
    file: Annotated[Path, typer.Argument(help="A new file, for example bench-2026-11.zip.")], as_json: Json = False
) -> None:
    """Copy everything, also while the page is open: jobs, pictures, waveforms."""

    def made() -> Made:
        from probewright.jobs.copies import copy_bench
        from probewright.record import open_book
        from probewright.report import books

        with open_book(book_path()) as opened:
            return copy_bench(opened, file, now()), books.copied, DONE

    answer(made, as_json)


@book.command()
def restore(
    file: Annotated[Path, typer.Argument(help="A copy that `probewright book copy` wrote.")], as_json: Json = False
) -> None:
    """Put a copy in the place of this bench's book; what stands there now is moved aside, not lost."""

    def made() -> Made:
        from probewright.jobs.copies import restore as put_back
        from probewright.report import books

        return put_back(file, book_path(), now()), books.restored, DONE

    answer(made, as_json)


@book.command()
def export(
    folder: Annotated[Path, typer.Argument(help="A new folder.")], as_json: Json = False
) -> None:  # fmt: skip
    """Write everything for other programs: bench.json with all of it, tables of jobs, lines, readings, parts and
    safety checks."""

    def made() -> Made:
        from probewright.jobs.exporting import export as write
        from probewright.record import open_book
        from probewright.report import books

        with open_book(book_path()) as opened:
            return write(opened, folder, now()), books.exported, DONE

    answer(made, as_json)


@book.command()
def erase_owner(
    number: WhichJob = None,
    also: Annotated[list[str] | None, typer.Option("--also", help="Other words to erase: a telephone number.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask whether it is meant.")] = False,
    as_json: Json = False,
) -> None:
    """Erase the owner's name from a job, for good; readings and findings stay."""

    def made(opened: Book, case: Case) -> Made:
        from probewright.jobs.erasing import erase_owner as erase
        from probewright.report import books

        if not yes and not typer.confirm(f"Erase the owner's name from job {case.number}, for good?", err=True):
            raise typer.Exit(DONE)
        return erase(opened, case, also or [], now()), books.erased, DONE

    with_case(number, made, as_json)
