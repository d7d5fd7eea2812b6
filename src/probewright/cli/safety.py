"""The command of the safety checks after a repair."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json
from probewright.cli.benching import WhichJob, keep_whole, now, with_case

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command()(safety)


def safety(
    number: WhichJob = None,
    protection: Annotated[str, typer.Option("--class", help="I, II, III or battery; asked once for the job.")] = "",
    tube: Annotated[bool | None, typer.Option("--tube/--no-tube", help="It has a tube, or keeps what hurts.")] = None,
    lead: Annotated[float, typer.Option("--lead", help="Metres of the mains lead, where it is longer than 5.")] = 0.0,
    check: Annotated[list[str] | None, typer.Option("--check", help='A result: "earth=0.18 ohm", fuse=yes.')] = None,
    leave: Annotated[list[str] | None, typer.Option("--leave", help='Left out, and why: "polarity=..."')] = None,
    by: Annotated[str, typer.Option("--by", help="Who did these, where it was not you.")] = "",
    tool: Annotated[str, typer.Option("--with", help="The instrument it was measured with.")] = "",
    words: Annotated[str, typer.Option("--words", help="More about it; why something is taken back.")] = "",
    checked_by: Annotated[str, typer.Option("--checked-by", help="Somebody else did all that is left: a name.")] = "",
    mended: Annotated[str, typer.Option("--mended", help="What was mended that no line of the bench tells of.")] = "",
    unsafe: Annotated[str, typer.Option("--unsafe", help="It goes back marked so: why, with --signed.")] = "",
    signed: Annotated[str, typer.Option("--signed", help="The owner's name, as they signed.")] = "",
    back: Annotated[int, typer.Option("--take-back", help="Number of a result entered wrongly, with --words.")] = 0,
    as_json: Json = False,
) -> None:
    """Checks after a repair: what to look at and measure, with limits; what passed; what may be said by now."""

    def tell(book: Book, case: Case) -> Case:
        from probewright.jobs import checking_safety as told

        if protection or tube is not None or lead:
            case = told.tell_class(book, case, now(), protection, tube, lead)
        if back:
            case = told.take_back(book, case, back, words, now())
        if mended:
            case = told.mended(book, case, mended, now())
        for name, result in map(_parted, check or ()):
            case = told.check(book, case, name, result, now(), by=by, tool=tool, words=words)
        for name, why in map(_parted, leave or ()):
            case = told.leave_out(book, case, name, why, now(), by=by, words=words)
        if checked_by:
            case = told.checked_by(book, case, checked_by, words, now())
        if unsafe or signed:
            case = told.left_unsafe(book, case, unsafe, signed, now())
        return case

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs.safety_checks import safety as view_of
        from probewright.report import safety as text

        return view_of(keep_whole(book, case, tell)), text.safety, DONE

    with_case(number, made, as_json, ended=True)


def _parted(said: str) -> tuple[str, str]:
    name, _, result = said.partition("=")
    return name, result
