"""The command that takes a part out and puts one in, a step at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json
from probewright.cli.benching import JobNumber, now, with_case

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command(name="fit-list")(fit_list)


def fit_list(
    part: Annotated[str, typer.Argument(help="Part or case, as printed: U3.")],
    package: Annotated[str, typer.Option("--package", help="DIP-16, axial, TO-220, SO-8, QFP-44 ...")] = "",
    board: Annotated[str, typer.Option("--board", help="single-sided paper, double-sided plated, multi-layer.")] = "",
    keep: Annotated[
        bool | None, typer.Option("--keep/--condemned", help="It shall live, or its legs may be cut.")
    ] = None,
    done: Annotated[int, typer.Option("--done", help="This step is done, or this pin is as it should be.")] = 0,
    bad: Annotated[int, typer.Option("--bad", help="This one is not well, with --words.")] = 0,
    words: Annotated[str, typer.Option("--words", help="What was seen.")] = "",
    heated: Annotated[int, typer.Option("--heated", help="Its pads were hot so often besides.")] = 0,
    anew: Annotated[bool, typer.Option("--anew", help="The work begins again, no step done.")] = False,
    say: Annotated[bool, typer.Option("--say", help="Enter the proposed line at the bench.")] = False,
    gone: Annotated[int, typer.Option("--take-back", help="Entry made by mistake.")] = 0,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Take a part out and put one in: steps for its package and board, heatings, every pin tried afterwards."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import fitting_lists
        from probewright.report import fits

        if gone:
            case = fitting_lists.take_back_fit(book, case, gone, now())
        if package or board or keep is not None:
            case = fitting_lists.say_fit(book, case, part, now(), package, board, keep)
        if anew:
            case = fitting_lists.begin_fit(book, case, part, now())
        if heated:
            case = fitting_lists.heat_fit(book, case, part, heated, words, now())
        for item, answer in ((done, "ok"), (bad, "bad")):
            if item:
                case = fitting_lists.tick_fit(book, case, part, item, answer, words, now())
        if say:
            case = fitting_lists.say_fitted(book, case, part, now())
        return fitting_lists.fit_list(case, part), fits.fit_list, DONE

    with_case(number, made, as_json)
