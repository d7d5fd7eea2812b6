"""The command that hands a machine over: the owner's page, the technician's record, estimate and bill."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from probewright.cli.answering import DONE, Json, write_bytes
from probewright.cli.benching import WhichJob, keep_whole, now, with_case

if TYPE_CHECKING:
    from probewright.cli.benching import Made
    from probewright.jobs.cases import Case
    from probewright.record import Book


def add_to(app: typer.Typer) -> None:
    """Hang the command on the program."""
    app.command(name="hand-over")(hand_over)


def hand_over(
    number: WhichJob = None,
    paper: Annotated[str, typer.Option("--for", help="owner, record, estimate or bill.")] = "owner",
    to: Annotated[Path | None, typer.Option("--to", help="Hand it over as this file: FILE.html or FILE.pdf.")] = None,
    cause: Annotated[str | None, typer.Option("--cause", help="Why it failed, for the owner.")] = None,
    did: Annotated[str | None, typer.Option("--did", help="What was done, and why.")] = None,
    weak: Annotated[str | None, typer.Option("--weak", help="Parts that are weak.")] = None,
    advice: Annotated[str | None, typer.Option("--advice", help="What the owner should do, or have done.")] = None,
    use: Annotated[str | None, typer.Option("--use", help="How to use it.")] = None,
    untouched: Annotated[str | None, typer.Option("--untouched", help="What was not touched, not tested.")] = None,
    kept: Annotated[str | None, typer.Option("--kept", help="Original parts, and where they are.")] = None,
    hours: Annotated[str | None, typer.Option("--hours", help="Hours worked, not those of the record.")] = None,
    to_come: Annotated[str | None, typer.Option("--to-come", help="Hours still to be worked.")] = None,
    charge: Annotated[list[str] | None, typer.Option("--charge", help='On the bill: "U3, new=8.50".')] = None,
    drop: Annotated[str, typer.Option("--drop-charge", help="A line that is none any more.")] = "",
    paid: Annotated[str | None, typer.Option("--paid", help="Paid already.")] = None,
    stored: Annotated[str | None, typer.Option("--stored", help="Days of storage to be charged.")] = None,
    this_job: Annotated[bool, typer.Option("--this-job", help="What follows holds for this job alone.")] = False,
    rate: Annotated[str | None, typer.Option("--rate", help="What an hour costs here.")] = None,
    currency: Annotated[str | None, typer.Option("--currency", help="As you write it after a figure.")] = None,
    minimum: Annotated[str | None, typer.Option("--minimum", help="Hours charged at least.")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="Minutes that work is rounded up to; usual 15.")] = None,
    deposit: Annotated[str | None, typer.Option("--deposit", help="Asked when a machine comes in.")] = None,
    storage: Annotated[str | None, typer.Option("--storage", help="A day of storage.")] = None,
    free: Annotated[str | None, typer.Option("--free", help="Days of storage that cost nothing.")] = None,
    tax: Annotated[str | None, typer.Option("--tax", help="Tax, per cent.")] = None,
    name: Annotated[str | None, typer.Option("--tax-name", help="What it is called.")] = None,
    inside: Annotated[bool | None, typer.Option("--tax-inside/--tax-on-top", help="Prices hold it, or not.")] = None,
    coin: Annotated[str | None, typer.Option("--coin", help="The smallest sum; usual 0.01.")] = None,
    warranty: Annotated[str | None, typer.Option("--warranty", help="Days on what was repaired.")] = None,
    head: Annotated[
        str | None, typer.Option("--head", help="Name and address of the bench; \\n begins a line.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Hand it over: what the owner reads, what the next repairer reads, an estimate, a bill. With --to it is kept."""
    said = Said(
        _given(cause=cause, did=did, weak=weak, advice=advice, use=use, untouched=untouched, kept=kept),
        _given(hours=hours, to_come=to_come, paid=paid, stored=stored),
        _given(
            rate=rate, currency=currency, minimum=minimum, unit=unit, deposit=deposit, storage=storage, free=free,
            tax=tax, name=name, coin=coin, warranty=warranty,
            head=None if head is None else head.replace("\\n", "\n"),
            inside=None if inside is None else ("yes" if inside else "no"),
        ),
        this_job, tuple(charge or ()), drop,
    )  # fmt: skip
    with_case(number, lambda book, case: _handed(book, case, said, paper, to), as_json, ended=True)


def _given(**fields: str | None) -> dict[str, str]:
    """The fields that were said."""
    return {name: text for name, text in fields.items() if text is not None}


@dataclass(frozen=True)
class Said:
    """What a command says for the papers. words: for the owner; billed: of this job; terms: of the bench, or of this
    job alone; charges: lines of the bill, "U3, new=8.50"; drop: one that is none any more."""

    words: dict[str, str]
    billed: dict[str, str]
    terms: dict[str, str]
    this_job: bool
    charges: tuple[str, ...]
    drop: str

    def tell(self, book: Book, case: Case) -> Case:
        """The job with all of it. BadInput."""
        from probewright.jobs import billing, handing_over

        if self.words:
            case = handing_over.tell_owner(book, case, self.words, now())
        if self.terms and not self.this_job:
            billing.tell_terms(book, self.terms, now())
        own = self.terms if self.this_job else {}
        if self.billed or own:
            case = billing.tell_billed(book, case, self.billed, own, now())
        for one in self.charges:
            what, _, price = one.rpartition("=")
            case = billing.charge(book, case, what, price, now())
        return billing.drop_charge(book, case, self.drop, now()) if self.drop else case


def _handed(book: Book, case: Case, said: Said, paper: str, to: Path | None) -> Made:
    """The paper, and the file of it that was handed over."""
    from probewright.jobs import handing_over
    from probewright.jobs.bench import complaint
    from probewright.jobs.standing import stand
    from probewright.report import paper as sheet
    from probewright.report import papers, printing

    handing_over.named_paper(paper)
    if to is not None:
        printing.sort_of(to.name)
        if to.exists():
            raise complaint(f"there is a file {to} already", "name another one, or put that away first")
    case = keep_whole(book, case, said.tell)
    view = handing_over.hand_over(book, case, stand(book, case, now()), paper, now())
    made = papers.paper(view)
    text = sheet.text(made)
    if to is not None:
        sort = printing.sort_of(to.name)
        handing_over.may_be_handed(view)
        write_bytes(to, printing.printed(made, sort))
        handing_over.hand(book, case, view, text, sort, now())
    open_ = () if view.sums else view.open_
    return replace(view, digest=handing_over.digest(text)), lambda _: _shown(text, open_, to), DONE


def _shown(text: str, open_: tuple[str, ...], to: Path | None) -> str:
    """The paper, what would make it better, and the file that it stands in."""
    better = ["", "Not said yet:", *(f"  {one}" for one in open_)] if open_ else []
    return "\n".join([text.rstrip(), *better, *(["", f"written to {to}"] if to is not None else [])])
