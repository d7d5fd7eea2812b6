"""Questions at the terminal, one key where one key will do."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from probewright.jobs.case_view import TieView
    from probewright.jobs.cases import Intake


def ask(question: str, default: str = "") -> str:
    """One answer, without blanks around it. BadInput when nobody is there to answer."""
    from probewright.jobs.bench import complaint

    try:
        return str(typer.prompt(question, default=default, show_default=False, prompt_suffix=" ", err=True)).strip()
    except typer.Abort as gone:
        raise complaint(
            f"nobody answered {question!r}", "answer at the terminal, or give everything as options (see --help)"
        ) from gone


def ask_intake(key: str) -> Intake:
    """Kind of machine, what works and what does not, when, who was inside, added boards."""
    from probewright.hypotheses import symptoms
    from probewright.jobs.cases import Intake

    kind = ask_kind(symptoms.kinds())
    typer.echo("What works? g good, b bad, p partly, Enter not tried", err=True)
    ticks = {}
    for function in symptoms.functions(kind):
        if tick := ask_tick(function):
            ticks[function] = tick
    words = ask("What does the owner say?")
    when = ask("When, and how often?")
    inside = ask("Who has been inside?")
    boards = ask("Added boards?")
    return Intake(kind, "", "", ticks, words, when, inside, boards, key)


def ask_kind(kinds: tuple[str, ...]) -> str:
    """A kind of machine, by number or name."""
    for number, kind in enumerate(kinds, 1):
        typer.echo(f"{number:>3}  {kind}", err=True)
    said = ask("Which kind of machine? (number or name)")
    return kinds[int(said) - 1] if said.isdecimal() and 1 <= int(said) <= len(kinds) else said


def ask_tick(function: str) -> str:
    """good, bad, partly, or "" when it was not tried; asked again until it is one of them."""
    from probewright.jobs.cases import BAD, GOOD, PARTLY

    keys = {"g": GOOD, "b": BAD, "p": PARTLY, "y": GOOD, "n": BAD, "": ""}
    while True:
        said = ask(f"  {function}?").lower()
        if said[:1] in keys:
            return keys[said[:1]]
        typer.echo("    g, b, p or Enter", err=True)


def ask_stage(stage: str, given: dict[str, str]) -> dict[str, str]:
    """The values of a shelf stage that were not given; Enter takes what is assumed."""
    from probewright.machine.shelf import stage as find

    values = dict(given)
    for one in find(stage).asks:
        if one.name in values:
            continue
        assumed = f" [{one.assumed}]" if one.assumed else ""
        if said := ask(f"  {one.question}{assumed}"):
            values[one.name] = said
    return values


def confirm_matches(proposal: TieView) -> TieView | None:
    """Each match agreed to or said anew at the terminal; None when the person stops."""
    agreed = []
    for match in proposal.matches:
        offered = " or ".join((match.place, *match.others) if match.place else match.others)
        said = ask(f"{match.name!r} is {offered or 'which place'}? (Enter agrees, a place says it, - leaves it free)")
        if said == "-" or (not said and not match.place):
            agreed.append(replace(match, place=""))
        else:
            agreed.append(replace(match, place=match.place if said.lower() in ("", "y", "yes") else said))
    if ask("Tie the file so? (Enter yes, n no)").lower().startswith("n"):
        return None
    return replace(proposal, matches=tuple(agreed))
