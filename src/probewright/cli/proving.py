"""The command that proves a repair: tries before and since, runs with somebody beside them, adjustments."""

from __future__ import annotations

from functools import partial
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
    app.command()(prove)


def prove(
    number: WhichJob = None,
    starts: Annotated[int, typer.Option("--starts", help="So many starts were tried.")] = 0,
    ran: Annotated[str, typer.Option("--ran", help="It ran so long, somebody beside it: 2h, 40min.")] = "",
    shown: Annotated[int, typer.Option("--shown", help="In so many of them, or so often, the fault showed.")] = 0,
    under: Annotated[str, typer.Option("--under", help="The provocation: cold, warm, tapping C4 ...")] = "",
    interrupted: Annotated[bool, typer.Option("--interrupted", help="The run was broken off.")] = False,
    words: Annotated[str, typer.Option("--words", help="Anything else about it.")] = "",
    begin: Annotated[bool, typer.Option("--begin", help="It is switched on now, and you stay with it.")] = False,
    end: Annotated[bool, typer.Option("--end", help="It is switched off now; --shown 1 if the fault came.")] = False,
    adjusted: Annotated[str, typer.Option("--adjusted", help="What was set anew, with --from and --to.")] = "",
    before: Annotated[str, typer.Option("--from", help="Its figure before.")] = "",
    after: Annotated[str, typer.Option("--to", help="Its figure now.")] = "",
    insist: Annotated[bool, typer.Option("--insist", help="It ran so long, whatever the clock says.")] = False,
    back: Annotated[int, typer.Option("--take-back", help="Number of tries entered by mistake.")] = 0,
    as_json: Json = False,
) -> None:
    """Does the repair hold? What is still to be tried, and what may be claimed by now; with options, enter tries."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import proving
        from probewright.jobs.cases import Tried
        from probewright.report import proofs

        if back:
            case = proving.take_back(book, case, back, now())
        if starts or ran:
            what, amount = (proving.STARTS, float(starts)) if starts else (proving.RUN, proving.hours_said(ran))
            one = Tried(0, now(), what, amount, shown, under, interrupted, words)
            case = proving.tried(book, case, one, now(), insist=insist)
        if end:
            case = proving.end_run(book, case, shown > 0, interrupted, words, now())
        if begin:
            case = proving.begin_run(book, case, under, now())
        if adjusted:
            case = proving.adjusted(book, case, adjusted, before, after, now())
        return proving.prove(case), partial(proofs.proof, now=now()), DONE

    with_case(number, made, as_json, ended=True)
