"""Commands between the part that is found and the new one: why it died, whether the new one will do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json
from probewright.cli.benching import JobNumber, WhichJob, keep_whole, now, with_case

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


def add_to(app: typer.Typer) -> None:
    """Hang the commands on the program."""
    app.command()(why)
    app.command(name="replace")(replace_)


def why(
    number: WhichJob = None,
    part: Annotated[str, typer.Option("--part", help="A part or case; default: the one that is located.")] = "",
    checked: Annotated[str, typer.Option("--checked", help="A killer, or its part, that was looked into.")] = "",
    words: Annotated[str, typer.Option("--words", help="With --checked: what was found.")] = "",
    offer: Annotated[str, typer.Option("--offer", help="A sibling to be put to the ways to go on.")] = "",
    parts: Annotated[str, typer.Option("--parts", help="With --offer: money for it.")] = "",
    as_json: Json = False,
) -> None:
    """Why did it die: what it bore, what would kill the new one, what to check before power, its siblings."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs import why_died
        from probewright.jobs.billing import figure_said
        from probewright.jobs.standing import stand
        from probewright.report import why as report

        view = stand(book, case, now())

        def tell(book: Book, case: Case) -> Case:
            if offer:
                case = why_died.offer(book, case, offer, figure_said(parts, "parts"), now())
            if checked:
                named = part or why_died.why(book, case, view).part
                case = why_died.say_checked(book, case, named, checked, words, now(), view)
            return case

        case = keep_whole(book, case, tell) if offer and checked else tell(book, case)
        return why_died.why(book, case, view, part), report.why, DONE

    with_case(number, made, as_json)


def replace_(
    part: Annotated[str, typer.Argument(help="The part or case that is replaced: U3.")],
    with_: Annotated[
        str, typer.Option("--with", help='The new one as a part line without nets: "electrolytic 47u 63V pitch 5mm".')
    ],
    number: JobNumber = None,
    as_json: Json = False,
) -> None:
    """Will the new part do: what the circuit asks of it, what it has, with margins, polarity and legs."""

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs.replacing import will_it_do
        from probewright.jobs.standing import stand
        from probewright.report import why as report

        return will_it_do(case, stand(book, case, now()), part, with_), report.replaced, DONE

    with_case(number, made, as_json)
