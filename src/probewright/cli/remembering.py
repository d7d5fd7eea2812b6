"""Commands that remember: what the bench has learnt, a machine that was here before, jobs found again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json, answer, read_bytes
from probewright.cli.benching import JobNumber, WhichJob, book_path, job, now, with_case
from probewright.cli.booking import book

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


@book.command()
def learnt(as_json: Json = False) -> None:
    """What the closed jobs of this bench have taught: usual culprits, healthy values, minutes, repairs that held."""

    def made() -> Made:
        from probewright.jobs import remembering
        from probewright.record import open_book
        from probewright.report import remembering as words

        with open_book(book_path()) as opened:
            return remembering.learnt(opened, now()), words.learnt, DONE

    answer(made, as_json)


@book.command()
def share_job(
    number: Annotated[int, typer.Argument(help="Number of a closed job.")],
    file: Annotated[Path, typer.Argument(help="A new file, for example lm-2-quiet.json.")],
    also: Annotated[list[str] | None, typer.Option("--also", help="Other words to take out: a first name.")] = None,
    keep: Annotated[
        list[str] | None, typer.Option("--keep", help="A word that is not the owner, though alike.")
    ] = None,
    pictures: Annotated[bool, typer.Option("--pictures", help="Put the pictures in; look at them first.")] = False,
    as_json: Json = False,
) -> None:
    """Write a closed job to one file to give away, without its owner, its serial number and its dates."""

    def made(opened: Book, case: Case) -> Made:
        from probewright.jobs import shared_jobs
        from probewright.report import remembering as words

        text, view = shared_jobs.share(opened, case, also or [], keep or [], pictures, str(file))
        shared_jobs.write_shared(file, text)
        return view, words.shared, DONE

    with_case(number, made, as_json)


@book.command()
def take_job(
    file: Annotated[Path, typer.Argument(help="A file that `probewright book share-job` wrote.")],
    counts: Annotated[
        bool, typer.Option("--counts", help="Its culprit counts among those of this bench: you trust the repair.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Take in a job of another bench, closed: it is found, and can teach healthy values."""

    def made() -> Made:
        from probewright.jobs import taken_jobs
        from probewright.jobs.shared_shape import MOST_BYTES
        from probewright.record import open_book
        from probewright.report import remembering as words

        data = read_bytes(file, MOST_BYTES)
        with open_book(book_path()) as opened:
            return taken_jobs.take(opened, data, str(file), counts, now()), words.taken, DONE

    answer(made, as_json)


@job.command()
def comes_back(
    earlier: Annotated[int, typer.Argument(help="Job on which this machine was here before; 0 for none.")],
    same: Annotated[
        bool | None, typer.Option("--same-fault/--other-fault", help="The same is wrong again; or something else.")
    ] = None,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Say that this machine was here before: a repair that comes back with the same counts as no cure."""

    def made(opened: Book, case: Case) -> Made:
        from probewright.jobs import bench
        from probewright.report import bench as words

        return bench.view_case(bench.was_here(opened, case, earlier, same, now())), words.case, DONE

    with_case(number, made, as_json)


@job.command(name="find", context_settings={"ignore_unknown_options": True})  # "-12 rail" is looked for, no option
def find_(
    words: Annotated[
        list[str], typer.Argument(help='What was said: symptom, machine, part, reading; "in quotes" as it is.')
    ],
    as_json: Json = False,
) -> None:
    """Find jobs by what was said on them, the best first, each with why."""

    def made() -> Made:
        from probewright.jobs import finding
        from probewright.record import open_book
        from probewright.report import remembering as text

        with open_book(book_path()) as opened:
            return finding.find(opened, " ".join(words)), text.found, DONE

    answer(made, as_json)


@job.command()
def like(number: WhichJob = None, as_json: Json = False) -> None:
    """Jobs like this one: the same model or complaint, words in common, a culprit that is suspected here."""

    def made(opened: Book, case: Case) -> Made:
        from probewright.jobs import alike
        from probewright.report import remembering as text

        return alike.like(opened, case), text.alike, DONE

    with_case(number, made, as_json)
