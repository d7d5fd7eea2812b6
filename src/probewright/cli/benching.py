"""Commands for a machine on the bench: jobs, readings, what is likely, what to do next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from probewright.cli.answering import (
    BAD_INPUT,
    DONE,
    UNDECIDED,
    Json,
    MachineFile,
    answer,
    read_bytes,
    read_text,
    write_text,
)
from probewright.cli.job_numbers import JobCommands

if TYPE_CHECKING:
    from collections.abc import Callable

    from probewright.jobs.cases import Case
    from probewright.record import Book

    Made = tuple[Any, Callable[[Any], str], int]

job = typer.Typer(
    cls=JobCommands,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="Machines on the bench: open, list, show, close, and tell what is known.",
)
reading = typer.Typer(
    rich_markup_mode=None, no_args_is_help=True, help="What was read, seen, heard or tried; sums too."
)
JobNumber = Annotated[int | None, typer.Option("--job", "-j", help="Number of the job; default: touched last.")]
WhichJob = Annotated[int | None, typer.Argument(help="Number of the job, or --job N; default: touched last.")]


def add_to(app: typer.Typer) -> None:
    """Hang the commands of the bench on the program."""
    app.add_typer(job, name="job")
    app.add_typer(reading, name="reading")
    app.command()(suspects)
    app.command(name="next")(next_card)
    app.command()(report)
    app.command()(kit)


# The book ------------------------------------------------------------------------------------


def book_path() -> Path:
    """Where this bench keeps its record: PROBEWRIGHT_BOOK, else the user's own folder for programs."""
    import os

    named = os.environ.get("PROBEWRIGHT_BOOK")
    return Path(named) if named else Path(typer.get_app_dir("probewright")) / "bench.db"


def now() -> str:
    """The time, UTC, to the second."""
    from probewright.record import stamp

    return stamp()


def with_case(number: int | None, make: Callable[[Book, Case], Made], as_json: bool, ended: bool = False) -> None:
    """Open the book, find the job, answer; ended: without a number the job touched last may be a closed one."""

    def made() -> Made:
        from probewright.jobs import bench
        from probewright.record import open_book

        with open_book(book_path()) as book:
            return make(book, bench.find_case(book, number, ended))

    answer(made, as_json)


def keep_whole(book: Book, case: Case, tell: Callable[[Book, Case], Case]) -> Case:
    """The job after all that a command says, or as it was where any of it is refused. BadInput."""
    from probewright.record import Unwritten

    tell(Unwritten(book), case)
    return tell(book, case)


def stood(book: Book, case: Case, write: Callable[[Any], str] | None = None) -> Made:
    """Where the job stands, as most commands show it."""
    from probewright.jobs.standing import stand
    from probewright.report import bench as words

    return stand(book, case, now()), write or words.standing, DONE


# Jobs ----------------------------------------------------------------------------------------


@job.command(name="open")
def open_(
    kind: Annotated[str, typer.Option("--kind", help="Kind of machine; without it everything is asked.")] = "",
    bad: Annotated[str, typer.Option("--bad", help="What does not work, with commas between.")] = "",
    partly: Annotated[str, typer.Option("--partly", help="What works badly.")] = "",
    good: Annotated[str, typer.Option("--good", help="What works.")] = "",
    says: Annotated[str, typer.Option("--says", help="The complaint in the owner's words.")] = "",
    when: Annotated[str, typer.Option("--when", help="When and how often it shows.")] = "",
    inside: Annotated[str, typer.Option("--inside", help="Who has been inside, and what they did.")] = "",
    boards: Annotated[str, typer.Option("--boards", help="Boards that were added.")] = "",
    model: Annotated[str, typer.Option("--model", help="What stands on the machine.")] = "",
    owner: Annotated[str, typer.Option("--owner", help="Whose it is.")] = "",
    serial: Annotated[str, typer.Option("--serial", help="Its serial number.")] = "",
    comes_back: Annotated[
        int | None, typer.Option("--comes-back", help="Job on which it was here before, 0 for none; else looked up.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Take a machine in. The first card comes at once: leads and extras, then looks."""

    def made() -> Made:
        import secrets

        from probewright.cli.asking import ask_intake
        from probewright.jobs import bench
        from probewright.jobs.cases import BAD, GOOD, PARTLY, Intake
        from probewright.record import open_book
        from probewright.report import bench as words

        key = secrets.token_hex(8)
        if kind:
            said = ((bad, BAD), (partly, PARTLY), (good, GOOD))
            ticks = bench.ticked((name, tick) for names, tick in said for name in listed(names))
            intake = Intake(kind, model, owner, ticks, says, when, inside, boards, key, serial)
        else:
            intake = ask_intake(key)
        with open_book(book_path()) as book:
            view, _, _ = stood(book, bench.open_job(book, intake, now(), comes_back))
            return view, words.opened, DONE

    answer(made, as_json)


def listed(names: str) -> list[str]:
    """What stands between the commas."""
    return [name.strip() for name in names.split(",") if name.strip()]


@job.command(name="list")
def list_(
    every: Annotated[bool, typer.Option("--all", help="Closed ones too.")] = False,
    find: Annotated[str, typer.Option("--find", help="Only jobs in which this was written.")] = "",
    as_json: Json = False,
) -> None:
    """What is on the bench, and what was."""

    def made() -> Made:
        from probewright.jobs import bench
        from probewright.jobs.case_view import CaseListView
        from probewright.jobs.finding import find_jobs
        from probewright.record import open_book
        from probewright.report import bench as words

        with open_book(book_path()) as book:
            cases = {case.number: case for case in bench.every_case(book)}
            wanted = [cases[job] for job in find_jobs(book, find) if job in cases] if find else cases.values()
            shown = tuple(bench.view_case(case) for case in wanted if every or find or case.closed is None)
            return CaseListView(shown), words.jobs, DONE

    answer(made, as_json)


@job.command()
def show(number: WhichJob = None, as_json: Json = False) -> None:
    """Everything the record tells of a job; nothing is computed."""

    def made(book: Book, case: Case) -> Made:
        from dataclasses import replace

        from probewright.jobs import bench
        from probewright.jobs.culprits import say_again
        from probewright.report import bench as words

        return replace(bench.view_case(case), again=say_again(book, case.number)), words.case, DONE

    with_case(number, made, as_json, ended=True)


@job.command()
def zones(number: WhichJob = None, as_json: Json = False) -> None:
    """Zones of the job, and every net and joint in them with its healthy figure, to be ticked off."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import ticking
        from probewright.report import bench as words

        return ticking.zones_of(case), words.zones, DONE

    with_case(number, made, as_json)


@job.command()
def close(
    ending: Annotated[str, typer.Option("--as", help="repaired, outside, nothing wrong, returned, scrapped, parked.")],
    words: Annotated[str, typer.Option("--words", help="What was wrong and what was done.")] = "",
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """End a job."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import bench
        from probewright.report import bench as text

        return bench.view_case(bench.close(book, case, ending, words, now())), text.case, DONE

    with_case(number, made, as_json)


@job.command()
def reopen(number: WhichJob = None, as_json: Json = False) -> None:
    """Take a closed job up again."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import bench

        return stood(book, bench.reopen(book, case, now()))

    with_case(number, made, as_json, ended=True)


@job.command()
def learn(
    source: Annotated[int, typer.Argument(help="Job of a machine of the same model that teaches this one.")],
    meter: Annotated[str, typer.Option("--meter", help="Name of the meter that read there.")] = "",
    same_meter: Annotated[bool, typer.Option("--same-meter", help="It is the meter in use on this job.")] = False,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Take over what a healthy machine of the same model read on another job; `reading undo` takes it back."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs.teaching import learn as learn_from
        from probewright.report import bench as words

        return stood(book, learn_from(book, case, source, meter, same_meter, now()), words.entered(1))

    with_case(number, made, as_json)


@job.command()
def chain(
    lines: Annotated[list[str] | None, typer.Argument(help='"head > preamp > volume > phones"; - reads lines.')] = None,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Tell the way a signal takes, block by block; see docs/chains.md."""

    def made(book: Book, case: Case) -> Made:
        import sys

        from probewright.jobs import adding
        from probewright.report import bench as words

        typed = sys.stdin.read() if not lines or lines == ["-"] else "\n".join(lines)
        return stood(book, adding.tell_chain(book, case, typed, now()), words.entered(1))

    with_case(number, made, as_json)


@job.command()
def shelf(
    stage: Annotated[str, typer.Argument(help="A stage of the shelf; without one they are listed.")] = "",
    given: Annotated[list[str] | None, typer.Argument(help="Values, NAME=VALUE; ? where nobody knows.")] = None,
    name: Annotated[str, typer.Option("--name", help="What its parts and nets begin with.")] = "",
    join: Annotated[list[str] | None, typer.Option("--join", help="DOOR=NET of the job's machine file.")] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for every value that was not given.")] = False,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Put a textbook stage into the job's own machine file; see docs/shelf.md."""
    from probewright.cli.asking import ask_stage

    if not stage:

        def shelf_made() -> Made:
            from probewright.jobs import adding
            from probewright.report import bench as words

            return adding.view_shelf(), words.shelf, DONE

        answer(shelf_made, as_json)

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import adding
        from probewright.report import bench as words

        values = pairs(given or [], "a value", "raw=9V")
        values = ask_stage(stage, values) if ask else values
        joins = pairs(join or [], "a join", "in=SUP")
        case = adding.place_stage(book, case, stage, name or stage.replace("-", ""), values, joins, now())
        return stood(book, case, words.entered(1))

    with_case(number, made, as_json)


def pairs(given: list[str], what: str, example: str) -> dict[str, str]:
    """NAME=VALUE, each; BadInput for one that is not."""
    from probewright.jobs.bench import complaint

    found = {}
    for one in given:
        key, equals, value = one.partition("=")
        if not equals or not key.strip() or not value.strip():
            raise complaint(f"{one!r} is not {what}", f"write it like {example}")
        found[key.strip()] = value.strip()
    return found


@job.command()
def tie(
    file: MachineFile,
    named: Annotated[list[str] | None, typer.Option("--as", help='Say it yourself: "R31 left leg=R31.1".')] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Take what is proposed without being asked.")] = False,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Tie a machine file to the job: names already read are matched to its places, and you are asked."""

    def made(book: Book, case: Case) -> Made:
        from probewright.cli.asking import confirm_matches
        from probewright.jobs import adding
        from probewright.report import bench as words

        said = pairs(named or [], "a name", "'R31 left leg=R31.1'")
        text = read_text(file)
        proposal = adding.propose_tie(case, text, str(file), said)
        agreed = proposal if yes else confirm_matches(proposal)
        if agreed is None:
            return proposal, words.tie, UNDECIDED
        case = adding.tie(book, case, text, agreed, now())
        return adding.tied(case, agreed), words.tie, DONE

    with_case(number, made, as_json)


# Readings ------------------------------------------------------------------------------------


@reading.command(context_settings={"ignore_unknown_options": True})  # "-12 rail -11.8" is a line, not an option
def add(
    line: Annotated[
        list[str] | None, typer.Argument(help="What was read; without it, lines are read one by one.")
    ] = None,
    sure: Annotated[bool, typer.Option("--sure", help="Yes, that is what it reads.")] = False,
    capture: Annotated[Path | None, typer.Option("--capture", help="A waveform as a file (CSV) from a scope.")] = None,
    at: Annotated[str, typer.Option("--at", help="Where the waveform was taken: `TP4`, `OUT at tone`.")] = "",
    channel: Annotated[int | None, typer.Option("--channel", help="Which of its channels, from 1.")] = None,
    single: Annotated[bool, typer.Option("--single", help="One sweep from the moment the power came on.")] = False,
    coupled: Annotated[bool, typer.Option("--ac", help="The input of the scope was on AC.")] = False,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Enter what was read, as you would note it: `Q7 c 11.8 b .9 e 0`; see docs/readings.md."""

    def taken(book: Book, case: Case) -> Made:
        from probewright.jobs import bench
        from probewright.jobs.capturing import Asked, add_capture
        from probewright.report import bench as words

        if capture is None:
            raise bench.complaint("--at belongs to --capture", "name the file too, or write the reading as a line")
        if line:
            raise bench.complaint("enter either a line or a waveform", "enter the other one by itself")
        if not at.strip():
            raise bench.complaint("where was it taken?", "say it, like `--at TP4`")
        data = read_bytes(capture)
        return stood(
            book,
            add_capture(book, case, data, str(capture), Asked(at, channel, single, coupled), now()),
            words.entered(1),
        )

    def made(book: Book, case: Case) -> Made:
        import sys

        from probewright.jobs import bench, standing
        from probewright.report import bench as words

        typed = [" ".join(line)] if line else [one for one in sys.stdin.read().splitlines() if one.strip()]
        if not typed:
            raise bench.complaint("no line was given", "write what was read, like `Q7 c 11.8`")
        for one in typed:
            case = bench.enter_line(book, case, one, now(), standing.asked(case), sure)
        view, _, _ = stood(book, case)
        asked = any(one.status == "asked" for one in case.lines[-len(typed) :])
        return view, words.entered(len(typed)), BAD_INPUT if asked else DONE

    with_case(number, taken if capture is not None or at else made, as_json)


@reading.command()
def capture(
    line: Annotated[int | None, typer.Argument(help="Number of its line; default: the last waveform.")] = None,
    picture: Annotated[Path | None, typer.Option("--picture", help="Write it as a picture (SVG) to this file.")] = None,
    width: Annotated[int, typer.Option("--width", help="Width of the picture in dots.")] = 700,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Show a waveform that was entered: what was measured, and its picture."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import capturing
        from probewright.report import bench as words

        view = capturing.show_capture(book, case, line, width)
        if picture is not None:
            write_text(picture, view.picture)
        return view, words.capture, DONE

    with_case(number, made, as_json)


@reading.command()
def undo(number: JobNumber = None, as_json: Json = False) -> None:
    """Take back the last line that still stands."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import bench

        return stood(book, bench.undo(book, case, now()))

    with_case(number, made, as_json)


@reading.command(name="list")
def list_readings(number: JobNumber = None, as_json: Json = False) -> None:
    """Every line of the job, with what was understood."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import bench
        from probewright.report import bench as words

        return bench.view_case(case), words.lines, DONE

    with_case(number, made, as_json)


# What is likely ------------------------------------------------------------------------------


def suspects(number: JobNumber = None, as_json: Json = False) -> None:
    """Who is suspected, how sure, and what speaks for and against."""

    def made(book: Book, case: Case) -> Made:
        from probewright.report import bench as words

        return stood(book, case, words.suspects)

    with_case(number, made, as_json)


def next_card(
    instruments: Annotated[
        str, typer.Option("--instruments", help="What is at hand today, with commas between: meter, scope.")
    ] = "",
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """The step to take now, and why."""

    def made(book: Book, case: Case) -> Made:
        from dataclasses import replace

        from probewright.jobs.equipping import with_instruments
        from probewright.report import bench as words

        names = [name.casefold() for name in listed(instruments)]
        return stood(book, replace(case, kit=with_instruments(case.kit, names)) if names else case, words.card)

    with_case(number, made, as_json)


def report(number: JobNumber = None, as_json: Json = False) -> None:
    """The job on one page: complaint, readings, what was found."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import ticking
        from probewright.report import bench as words

        view, _, _ = stood(book, case)
        checks = ticking.zones_of(case) if case.zones else None
        return view, lambda told: words.report(told, checks), DONE

    with_case(number, made, as_json)


# This bench ----------------------------------------------------------------------------------


def kit(
    has: Annotated[str, typer.Option("--has", help="Instruments of this bench, with commas between.")] = "",
    minutes: Annotated[list[str] | None, typer.Option("--minutes", help="How long a step takes here: dc=0.5.")] = None,
    trained: Annotated[
        bool | None,
        typer.Option("--trained/--not-trained", help="For live parts that can kill, with an isolating transformer."),
    ] = None,
    usual: Annotated[list[str] | None, typer.Option("--usual", help="Forget what was told of a step.")] = None,
    as_json: Json = False,
) -> None:
    """What this bench measures with, and how many minutes its steps take; told once, it counts for every job."""

    def made() -> Made:
        from probewright.jobs import equipping
        from probewright.record import open_book
        from probewright.report import bench as words

        typed = pairs(minutes or [], "minutes of a step", "dc=0.5")
        told: dict[str, float | None] = {row: equipping.minutes_said(row, said) for row, said in typed.items()}
        told |= {row: None for row in usual or []}
        with open_book(book_path()) as book:
            if has or told or trained is not None:
                tools = [name.casefold() for name in listed(has)] if has else None
                equipping.tell_kit(book, tools, told, now(), trained)
            return equipping.view_kit(book), words.kit, DONE

    answer(made, as_json)
