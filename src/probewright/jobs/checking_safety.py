"""What a person says of a repaired machine's safety: its class, each result, who else checked it, unsafe and signed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from probewright.errors import NotAValue
from probewright.jobs.after_repair import OVER
from probewright.jobs.bench import append, complaint, readable, still_open
from probewright.jobs.cases import Case
from probewright.jobs.safety_checks import FAILED, PASSED, QUALIFIED, CheckView, mains_against, safety
from probewright.machine.saying import nearest
from probewright.planning.safety import PROTECTIONS, Check, checks_of
from probewright.record import Book
from probewright.units import read_value

YES, NO = ("yes", "ok", "y", "passed", "good"), ("no", "n", "failed", "bad")
OVER_LIMIT = ("ol", "over", "over limit", "over range", "infinite", "inf")
THOUSANDTHS = re.compile(r"([\d.,]+) ?m")  # of an ohm: no insulation is measured in them
LONGEST_LEAD = 100.0  # m, chosen: more is a slip
EXAMPLES: Mapping[str, str] = {"ohm": "0.18 ohm or 200M", "A": "0.2 mA", "V": "12 V"}


def tell_class(
    book: Book, case: Case, now: str, protection: str = "", tube: bool | None = None, lead: float = 0.0
) -> Case:
    """Say of which class the machine is, once for the job; what is not told stays. lead: m of its mains lead."""
    still_open(case)
    view, told = safety(case), case.safety_told
    protection = protection.strip().removeprefix("class ").strip()
    known = {name.casefold(): name for name in PROTECTIONS}
    if protection and protection.casefold() not in known:
        raise complaint(f"{protection!r} is no class of protection", f"write one of: {', '.join(PROTECTIONS)}")
    protection = known.get(protection.casefold(), told.protection)
    if protection and view.whence == "the machine file" and protection != view.protection:
        raise complaint(f"the machine file says class {view.protection}", "mend it there: `class: II`")
    if sources := mains_against(case, protection):
        raise complaint(
            f"{protection} is said, but the machine file has {sources} on the mains",
            f"say I or II; where {sources} is an adaptor outside the machine, say so in the file: `class: III`",
        )
    if not 0.0 <= lead <= LONGEST_LEAD:
        raise complaint(f"{lead:g} m is no length of a mains lead", "write metres, like 2")
    new = {"protection": protection, "tube": told.tube if tube is None else tube, "lead": lead or told.lead}
    if new == {"protection": told.protection, "tube": told.tube, "lead": told.lead}:
        return case
    if view.standing == FAILED:
        raise complaint("a check has failed: the class is not changed now", "repair it first, then say the class")
    return append(book, case, "safety class", new, now)


def check(
    book: Book, case: Case, name: str, said: str, now: str, *, by: str = "", tool: str = "", words: str = "",
    leave: str = "",
) -> Case:  # fmt: skip
    """Enter what came of a check. said: a figure with its unit, or yes or no; by: who did it; tool: with what
    instrument; leave: why it is left out, where nothing is said.

    BadInput for a check that this machine has not, for what is no figure, and for what is a trained person's while
    nobody says who it was.
    """
    still_open(case)
    for one in (name, said, by, words, leave, tool):
        readable(one)
    found = _named(case, name)
    stands = next(one for one in safety(case).checks if one.name == found.name)
    if stands.who == QUALIFIED and not by.strip():
        raise complaint(
            f"{found.name} is for a qualified person", "say who did it (`--by NAME`), or `probewright kit --trained`"
        )
    result: dict[str, Any] = {"value": None, "passed": False, "left": ""}
    if leave.strip():
        if not found.leave:
            raise complaint(f"{found.name} is never left out", "do it, or say who did it elsewhere")
        result |= {"left": leave.strip()}
    elif found.unit:
        value = _figure(found, said)
        result |= {"value": OVER if math.isinf(value) else value}
    else:
        result |= {"passed": _answer(found, said)}
    payload = {"check": found.name, "said": said.strip(), "by": by.strip(), "tool": tool.strip(),
               "words": words.strip(), **result}  # fmt: skip
    return case if _stands_so(case, stands, payload) else append(book, case, "safety check", payload, now)


def _stands_so(case: Case, view: CheckView, payload: Mapping[str, Any]) -> bool:
    """Whether the very same result counts already: a form that was sent twice."""
    last = next((one for one in case.safety_told.checked if one.event == view.event), None)
    same = ("said", "by", "tool", "words", "left", "passed")
    return last is not None and all(getattr(last, name) == payload[name] for name in same)


def leave_out(book: Book, case: Case, name: str, why: str, now: str, *, by: str = "", words: str = "") -> Case:
    """Leave a check out, with its reason. BadInput without one, and for what is never left out."""
    why = _needed(why, f"why {name.strip()} is left out")
    return check(book, case, name, "", now, by=by, words=words, leave=why)


def checked_by(book: Book, case: Case, by: str, words: str, now: str) -> Case:
    """Somebody else did all that is still to be done, and passed it."""
    still_open(case)
    for one in (by, words):
        readable(one)
    if not by.strip():
        raise complaint("nobody is named who checked it", "write the name, and of their report in words")
    standing = safety(case).standing
    if standing == FAILED:
        raise complaint("a check has failed here", "say what was repaired since, then who checked it")
    payload = {"by": by.strip(), "words": words.strip()}
    said = [{"by": one.by, "words": one.words} for one in case.safety_told.elsewhere[-1:]]
    return case if standing == PASSED and payload in said else append(book, case, "safety elsewhere", payload, now)


def mended(book: Book, case: Case, words: str, now: str) -> Case:
    """Something was mended that no line of the bench tells of; every check is due again."""
    still_open(case)
    return append(book, case, "safety mended", {"words": _needed(words, "what was mended")}, now)


def left_unsafe(book: Book, case: Case, words: str, signed: str, now: str) -> Case:
    """It goes back marked unsafe: why, and the name with which the owner signed. BadInput where no check failed."""
    still_open(case)
    payload = {"words": _needed(words, "why it is unsafe"), "signed": _needed(signed, "the owner's signature")}
    marked = safety(case).unsafe
    if marked is not None and payload == {"words": marked.words, "signed": marked.signed}:
        return case
    if safety(case).standing != FAILED:
        raise complaint("no check has failed", "enter the result that makes it unsafe first")
    return append(book, case, "left unsafe", payload, now)


def take_back(book: Book, case: Case, event: int, words: str, now: str) -> Case:
    """A result that was entered wrongly; it stays in the list with the reason."""
    still_open(case)
    if event not in {one.event for one in case.safety_told.checked if not one.taken_back}:
        raise complaint(f"job {case.number} has no result {event}", "see them: `probewright safety`")
    payload = {"event": event, "words": _needed(words, "why it is taken back")}
    return append(book, case, "safety check gone", payload, now)


def _named(case: Case, name: str) -> Check:
    """The check of this machine that is meant."""
    view = safety(case)
    known = {one.name: one for one in checks_of(view.protection, view.tube, view.lead)}
    said = " ".join(name.casefold().split())
    if said not in known:
        raise complaint(f"{name.strip()!r} is no check of this machine", nearest(said, list(known)))
    return known[said]


def _figure(one: Check, said: str) -> float:
    """SI of a figure with its unit; "over limit" and ">200M" as testers show them."""
    text = said.strip()
    if text.casefold() in OVER_LIMIT:
        return float("inf")
    sign = text[:1] if text[:1] in "<>" and text else ""
    mend = f"write it like {EXAMPLES[one.unit]}"
    if sign and (sign == ">") != (one.side == "at least"):
        raise complaint(f"{text!r} does not say on which side of the limit it is", mend)
    bare = text.removeprefix(sign).strip()
    if re.fullmatch(r"[\d.,]*[1-9][\d.,]*", bare):
        raise complaint(f"{text!r} has no unit", mend)
    try:
        value = read_value(bare, one.unit)
    except NotAValue as wrong:
        raise complaint(wrong.text, mend) from None  # a value is no part: 4k7K is nothing that is measured here
    if value.unknown or value.low is not None or value.si < 0.0:
        raise complaint(f"{text!r} is not one figure", mend)
    if one.side == "at least" and one.unit == "ohm" and (small := THOUSANDTHS.match(bare)):
        raise complaint(f"{text!r}: thousandths of an ohm, or millions?", f"write {small[1]} Mohm, or {value.si:g} ohm")
    return value.si


def _answer(one: Check, said: str) -> bool:
    word = said.strip().casefold()
    if word not in (*YES, *NO):
        raise complaint(f"{said.strip()!r} is no answer to {one.name}", "write yes or no, and more in words")
    return word in YES


def _needed(words: str, what: str) -> str:
    readable(words)
    if not words.strip():
        raise complaint(f"{what} is missing", "write it in a few words")
    return words.strip()
