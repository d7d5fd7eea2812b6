"""The command that decides with the owner what to do."""

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
    app.command()(decide)


def decide(
    number: WhichJob = None,
    option: Annotated[str, typer.Option("--option", help="Name of a way to go on: a new U3.")] = "",
    kind: Annotated[
        str, typer.Option("--kind", help="new, old stock, pulled, donor board, remake, added circuit, return, scrap.")
    ] = "new",
    parts: Annotated[str, typer.Option("--parts", help="Money for parts; for scrap less than 0.")] = "",
    pins: Annotated[int, typer.Option("--pins", help="Pins to desolder: hours and risk are then known.")] = 0,
    hot: Annotated[
        int | None, typer.Option("--hot", help="With --pins: how often its pads were hot before; else as counted.")
    ] = None,
    hours: Annotated[str, typer.Option("--hours", help="Hours of work.")] = "",
    wait: Annotated[str, typer.Option("--wait", help="Days until the part is here.")] = "",
    bad: Annotated[str, typer.Option("--bad", help="Chance that the part itself is bad: 0.05.")] = "",
    damage: Annotated[str, typer.Option("--damage", help="Chance that the board is harmed.")] = "",
    drop: Annotated[str, typer.Option("--drop", help="Name of an option that is none any more.")] = "",
    value: Annotated[str, typer.Option("--value", help="What it is worth to its owner, working.")] = "",
    ceiling: Annotated[str, typer.Option("--ceiling", help="What the owner wants to pay in all.")] = "",
    keep: Annotated[bool | None, typer.Option("--original/--any-way", help="It shall stay as it was built.")] = None,
    rate: Annotated[str, typer.Option("--rate", help="What an hour costs, on this bench.")] = "",
    currency: Annotated[str | None, typer.Option("--currency", help="As you write it after a figure.")] = None,
    yes_to: Annotated[str, typer.Option("--yes-to", help="The option that the owner agreed to, with --words.")] = "",
    words: Annotated[str, typer.Option("--words", help="What the owner said, as it was said.")] = "",
    up_to: Annotated[str, typer.Option("--up-to", help="The new ceiling that was agreed.")] = "",
    as_json: Json = False,
) -> None:
    """Repair, replace, hand back or scrap: what each way comes to, what to do, what to ask the owner."""

    def tell(book: Book, case: Case) -> Case:
        from probewright.jobs import deciding
        from probewright.jobs.billing import figure_said

        typed = {
            "parts": parts, "hours": hours, "wait": wait, "bad": bad, "damage": damage, "value": value,
            "ceiling": ceiling, "rate": rate, "up_to": up_to,
        }  # fmt: skip
        said = {name: figure_said(one, name) for name, one in typed.items()}
        if rate or currency is not None:
            deciding.tell_money(book, said["rate"], currency, now())
        agreed = {"value": said["value"], "ceiling": said["ceiling"], "keep": keep}
        if told := {name: one for name, one in agreed.items() if one is not None}:
            case = deciding.agree(book, case, told, now())
        if option:
            given = {name: said[name] for name in ("parts", "hours", "wait", "bad", "damage")}
            before = deciding.hot_said(case, option, hot, pins, given["damage"])
            case = deciding.add_option(book, case, deciding.option_said(kind, option, given, pins, before), now())
        if drop:
            case = deciding.drop_option(book, case, drop, now())
        if yes_to:
            case = deciding.consent(book, case, yes_to, words, said["up_to"], now())
        return case

    def made(book: Book, case: Case) -> Made:
        from probewright.jobs.billing import decided
        from probewright.jobs.standing import stand
        from probewright.report import decisions

        case = keep_whole(book, case, tell)
        return decided(book, case, stand(book, case, now())), decisions.decision, DONE

    with_case(number, made, as_json)
