"""The command that takes a machine apart and puts it together again, a layer at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json
from probewright.cli.benching import JobNumber, keep_whole, now, with_case

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command()(strip)


def strip(
    line: Annotated[list[str] | None, typer.Argument(help='What came off: "4 screws 12 mm bottom, tray A".')] = None,
    before: Annotated[int, typer.Option("--before", help="It came off before this layer, and was forgotten.")] = 0,
    next_: Annotated[bool, typer.Option("--next", help="The next layer of the list came off.")] = False,
    off: Annotated[int, typer.Option("--off", help="This layer of the list came off.")] = 0,
    follow: Annotated[int, typer.Option("--follow", help="Do as this other job of the model did.")] = 0,
    say: Annotated[bool, typer.Option("--say", help="Enter the proposed lines at the bench.")] = False,
    refit: Annotated[bool, typer.Option("--refit", help="Show what goes back, and in which order.")] = False,
    back: Annotated[str, typer.Option("--back", help="Back in its place, or looked at and well: 2, or 2.3.")] = "",
    count: Annotated[int | None, typer.Option("--count", help="So many of them, with --back 2.3.")] = None,
    bad: Annotated[str, typer.Option("--bad", help="Looked at and not well: 2.4, with --words.")] = "",
    words: Annotated[str, typer.Option("--words", help="What was seen.")] = "",
    explain: Annotated[str, typer.Option("--explain", help="What became of what is left over.")] = "",
    photo: Annotated[int, typer.Option("--photo", help="This picture of the job shows --layer.")] = 0,
    layer: Annotated[int, typer.Option("--layer", help="Number of a layer, for --photo.")] = 0,
    gone: Annotated[int, typer.Option("--take-back", help="Entry made by mistake.")] = 0,
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Open the machine a layer at a time, and put it together again with nothing left over."""

    def tell(book: Book, case: Case) -> Case:
        from probewright.jobs import putting_together, stripping
        from probewright.jobs.bench import complaint

        if gone:
            case = stripping.take_back(book, case, gone, now())
        if follow:
            case = stripping.follow(book, case, follow, now())
        if line:
            case = stripping.take_off(book, case, " ".join(line), now(), before)
        if next_ or off:
            case = stripping.take_off_planned(book, case, now(), off)
        if photo:
            if photo > len(case.photos):
                raise complaint(
                    f"job {case.number} has no picture {photo}", "count them from 1: `probewright job show`"
                )
            case = stripping.tie_photo(book, case, layer, case.photos[photo - 1].name, now())
        if back:
            case = putting_together.put_back(book, case, back, now(), count, words)
        if bad:
            case = putting_together.looked_at(book, case, bad, "bad", words, now())
        if explain:
            case = putting_together.explain(book, case, explain, now())
        if say:
            case = stripping.say_proposed(book, case, now())
        return case

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import putting_together, stripping
        from probewright.report import layers

        case = keep_whole(book, case, tell)
        if refit or back or bad or explain:
            return putting_together.refit(case), layers.refit, DONE
        return stripping.strip_down(book, case), layers.strip, DONE

    with_case(number, made, as_json)
