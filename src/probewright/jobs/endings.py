"""How a job ended, or stands, as it may honestly be told to its owner: no paper claims more than the record does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from probewright.jobs import ways_to_end
from probewright.jobs.cases import Case
from probewright.jobs.proving import RUN, STARTS, ProveView
from probewright.jobs.safety_checks import FAILED, TO_BE_DONE
from probewright.jobs.swaps import BACK, FOLLOWS, swap_ends, unreversed
from probewright.jobs.ways_to_end import OUTSIDE, PARKED, REPAIRED, RETURNED, SCRAPPED
from probewright.units import counted

# Forms of the papers, beside those that are called as the job ended.
UNPROVEN, UNCHECKED, CAME_BACK, NOTHING_MENDED = "not proven", "not checked", "came back", "nothing mended"
UNSAFE, NOT_SHOWN, OVER, IN_WORK = "unsafe", "not shown", "over the ceiling", "in work"
MENDED = (REPAIRED, UNPROVEN, UNCHECKED)  # forms in which a repair is in the record and the fault has not come back
TITLES = {
    REPAIRED: "Repaired", UNPROVEN: "Mended, not proven yet", UNCHECKED: "Mended, safety not checked yet",
    CAME_BACK: "Not cured", NOTHING_MENDED: "No repair is claimed", UNSAFE: "Not safe to use",
    OUTSIDE: "The fault is outside the machine", NOT_SHOWN: "The fault did not show",
    OVER: "Returned unrepaired: above what was agreed", RETURNED: "Returned unrepaired",
    SCRAPPED: "Not repaired: scrapped", PARKED: "Waiting", IN_WORK: "Still in work",
}  # fmt: skip
TAKEN_TO_BE_OUTSIDE = "The fault is taken to be outside the machine"
CAUSE_NOT_FOUND = "The cause was not found"
SIGNED = (UNSAFE, UNCHECKED)  # the owner signs that they know


@dataclass(frozen=True)
class EndingView:
    """The form that the papers follow. title: its heading; says: what may be said by it, in sentences; again: it was
    brought again with the same, so that nothing is called what was wrong."""

    form: str
    title: str
    says: tuple[str, ...]
    again: bool = False


def ending(case: Case, proof: ProveView, safety: str, costs: Decimal | None, worked: bool) -> EndingView:
    """The form that follows from the record. safety: standing of the checks; costs: of the repair that was possible,
    in all, None where nobody knows; worked: something was fitted or mended."""
    form = _form(case, proof, safety, costs)
    return EndingView(form, _title(case, form), tuple(_says(case, form, proof, safety, worked)))


def _title(case: Case, form: str) -> str:
    if form == OUTSIDE and not shown_guilty(case):
        return _taken_to_be_outside(case)
    return CAUSE_NOT_FOUND if form == NOT_SHOWN and has_shown(case) else TITLES[form]


def _form(case: Case, proof: ProveView, safety: str, costs: Decimal | None) -> str:
    ended = case.ending or IN_WORK
    if safety == FAILED and ended != SCRAPPED:  # what is scrapped is nobody's to use
        return UNSAFE
    match ended:
        case ways_to_end.REPAIRED:
            return _mended(proof, safety)
        case ways_to_end.SOUND:
            return NOT_SHOWN
        case ways_to_end.RETURNED:
            return _returned(case, proof, costs)
    return ended  # outside, scrapped, parked, in work


def _mended(proof: ProveView, safety: str) -> str:
    """Ended as repaired: whether the record bears it out."""
    if proof.standing == "came back":
        return CAME_BACK
    if proof.standing == "not repaired":
        return NOTHING_MENDED
    if safety == TO_BE_DONE:
        return UNCHECKED
    return REPAIRED if proof.standing == "proven" else UNPROVEN


def _returned(case: Case, proof: ProveView, costs: Decimal | None) -> str:
    if proof.standing == "came back":
        return CAME_BACK
    if costs is not None and case.agreed.ceiling is not None and costs > Decimal(repr(case.agreed.ceiling)):
        return OVER
    return NOT_SHOWN if proof.standing == "not repaired" and tries(case) and not has_shown(case) else RETURNED


def has_shown(case: Case) -> bool:
    """Whether anybody saw the fault on this bench, in tries or while something was read."""
    return any(one.shown for one in case.tried) or any(
        one.showing == "yes" and one.question.instrument != "swap" for one in case.readings
    )


def shown_guilty(case: Case) -> tuple[str, ...]:
    """Leads and extras with another of which the fault was gone, and with whose old one it came back."""
    ends = swap_ends(case.readings)
    put_back = ((n, one.question) for n, one in enumerate(case.readings) if one.question.instrument == BACK)
    return tuple(ask.red for n, ask in put_back if ends.get(n) == FOLLOWS)


def cured_once(case: Case) -> tuple[str, ...]:
    """Leads and extras with another of which the fault was gone, and whose old one was not put back."""
    return tuple(one.question.red for one in unreversed(case.readings) if one.answer == "cured")


def _taken_to_be_outside(case: Case) -> str:
    return TAKEN_TO_BE_OUTSIDE if cured_once(case) else f"{TAKEN_TO_BE_OUTSIDE}, not shown"


def _says_outside(case: Case) -> str:
    """Where the fault is, and how far an exchange bears it out."""
    if shown_guilty(case):
        return "We found the fault outside the machine."
    if cured := cured_once(case):
        return f"We take the fault to be outside the machine: with another {' and another '.join(cured)} it worked."
    return "We take the fault to be outside the machine, though no exchange has shown it."


def tries(case: Case) -> str:
    """ "12 starts and 2.0 h running"; "" where none were counted."""
    starts, hours = (sum(one.amount for one in case.tried if one.what == what) for what in (STARTS, RUN))
    ran = f"{hours * 60:.0f} min" if hours < 2 else f"{hours:.1f} h"
    said = counted(round(starts), "start") if starts else "", f"{ran} running" if hours else ""
    return " and ".join(filter(None, said))


def _says(case: Case, form: str, proof: ProveView, safety: str, worked: bool) -> Iterator[str]:
    counted = tries(case)
    match form:
        case "repaired":
            yield "It was repaired, and the fault did not come back while it was tried."
            yield proof.claim
        case "not proven":
            yield "Something was mended, but it was not tried long enough to say that the fault is gone."
            yield proof.claim
        case "not checked":
            yield "The safety checks that belong to this repair are not all done: do not use it until they are."
            yield proof.claim
        case "came back":
            yield "Work was done, and the fault was seen again afterwards."
            yield proof.claim
        case "nothing mended" if worked:
            yield "Work was done, but no line tells when it was mended, so that no try is known to come after it."
        case "nothing mended":
            yield "The record names no part and no joint that was mended, so no repair is claimed."
        case "unsafe":
            yield "A safety check failed. Do not plug it in and do not use it: it can harm you or start a fire."
            if worked:
                yield "Work was done on it; that does not make it safe."
        case "outside":
            yield f"{_says_outside(case)} The machine itself was not repaired."
        case "not shown" if worked and has_shown(case):
            yield "Work was done, but no repair is claimed: the fault may show again."
        case "not shown" if has_shown(case):
            yield "The fault was seen here, but its cause was not found. It is not repaired, and may show again."
        case "not shown":
            seen = (
                f"We could not see the fault in {counted}"
                if counted
                else "We could not see the fault, and nobody counted how often it was tried"
            )
            yield f"{seen}. That does not mean that it is gone."
        case "over the ceiling":
            yield "The repair could cost more than was agreed, so it was not made."
        case "returned":
            yield "It is handed back without a repair being claimed." if worked else "It is handed back unrepaired."
        case "scrapped":
            yield "It was not repaired, and is not handed back."
            if safety == FAILED:
                yield "A safety check failed: it is not to be used."
        case "parked":
            yield "It is put aside and not repaired yet."
            yield case.closed["words"] if case.closed else ""
        case _:
            yield "The work is not finished. What stands here is what is known by now."
            if proof.standing != "not repaired":
                yield proof.claim
