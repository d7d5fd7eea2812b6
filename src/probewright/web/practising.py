"""What the bench page of a practice has that no other has: what would be measured, minutes, faults to choose from."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from probewright.errors import BadInput
from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.jobs import practice
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case
from probewright.jobs.practice import GAVE_UP, MENDED
from probewright.jobs.spending import spent
from probewright.jobs.standing import answered
from probewright.readings import echo
from probewright.record import Book, stamp
from probewright.web.desk import Desk
from probewright.web.sheets import on_page
from probewright.web.showing import Card
from probewright.web.waiting import age

CHOICES = 6  # chosen: faults that can be named by a tap; every other one is typed


@dataclass(frozen=True)
class SoFar:
    """A practice as it stands. answer: of the last line, "" before the first; minutes: that one's, and of all; asks:
    the card asks what the made-up machine can answer; faults: id and words of those that a tap names."""

    answer: str
    took: float
    minutes: float
    asks: bool
    faults: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Row:
    """A practice in a list. said: how it ended, or that it is open; age: in words."""

    number: int
    machine: str
    owner: str
    said: str
    age: str


def so_far(case: Case, view: BenchView | None, card: Card | None) -> SoFar | None:
    """What the page of a practice shows; None for an owner's machine."""
    if not case.practice:
        return None
    took = spent(case, practice.machine_in(case))
    mine = practice.steps(case)
    ask = answered(json.loads(card.asked)) if card else None
    faults = [
        (one.id, one.says)
        for one in (view.search.suspects if view else ())
        if not one.stranger and one.id not in (NOT_LISTED, NOTHING_WRONG) and len(one.faults) == 1
    ]
    return SoFar(
        case.lines[mine[-1]].text if mine else "", took[-1].whole if mine else 0.0, sum(one.whole for one in took),
        ask is not None and ask.instrument in practice.ANSWERED, tuple(faults[:CHOICES]),
    )  # fmt: skip


def row(case: Case, now: str) -> Row:
    """A practice in the list."""
    return Row(case.number, case.intake.model, case.intake.words, ended(case), age(case.touched, now))


def ended(case: Case) -> str:
    """How a practice ended, in words that give nothing away while it goes on."""
    if case.closed is None:
        return "not ended yet"
    if case.closed["ending"] == GAVE_UP:
        return "given up"
    said = "cured by the repair" if case.closed["ending"] == MENDED else "you named it"
    return f"{said}: {case.closed['words']}"


def address(case: Case) -> str:
    """Where a practice goes on: the bench, or the two paths once it has ended."""
    return f"/jobs/{case.number}" + ("/paths" if case.closed is not None else "")


def understood(desk: Desk, case: Case, line: str) -> dict[str, Any]:
    """What would be measured, with its caution before it; or what the line says otherwise."""
    piece = {"kind": "said", "line": line, "insist": False, "cautions": []}
    try:
        if named := practice.said_so(line):
            return {**piece, "says": [f"you name the fault: {practice.meant(practice.hidden_of(case), named).says}"]}
        wanted = practice.want(case, line)
    except BadInput as bad:
        return {**piece, "kind": "refused", "says": [on_page(one.says) for one in bad.complaints]}
    if wanted.made is not None:
        return {**piece, "kind": wanted.made.kind, "says": wanted.made.payload.get("says", [])}
    machine = practice.machine_in(case)
    return {
        **piece, "kind": "asks", "says": [echo.ask(ask, machine) for ask in wanted.asks],
        "cautions": desk.cautions(case, wanted.asks),
    }  # fmt: skip


def entered(book: Book, case: Case, said: Mapping[str, str]) -> bool:
    """Whether a form's line of a practice was carried out, now or when it came first.

    It is where what was shown is sent again, and the practice did not move on since.
    """
    line, once = said.get("line", ""), said.get("once", "")
    if practice.is_sent(case, once):
        return True
    if case.closed is not None or said.get("mark", "") != str(case.mark) or said.get("seen") != line:
        return False
    with suppress(BadInput):  # the page says what is wrong with the line
        if named := practice.said_so(line):
            practice.name_fault(book, case, named, stamp())
        else:
            practice.enter(book, case, line, stamp(), once)
        return True
    return False
