"""Whether a repaired machine is safe to touch: the checks after the repair, what is to be done, passed and failed.

What was checked counts until something is repaired again. A check that failed stays failed until then, whatever is
measured meanwhile. Nothing here says that a machine is safe; it says what was checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from probewright.hypotheses.intake import find_kind
from probewright.jobs.after_repair import Checked, Elsewhere
from probewright.jobs.cases import Case
from probewright.jobs.known_files import file_of
from probewright.jobs.repairs import fittings, repaired_at
from probewright.jobs.view import SCHEMA
from probewright.jobs.ways_to_end import PARKED, REPAIRED, RETURNED, SCRAPPED
from probewright.planning.safety import (
    BATTERY,
    EARTHED,
    LOW,
    PARTS,
    PROTECTIONS,
    TUBE,
    Check,
    are_needed,
    checks_of,
    named,
)
from probewright.units import ended, write_reading

NOT_NEEDED, TO_BE_DONE, PASSED, FAILED, LEFT_OUT = "not needed", "to be done", "passed", "failed", "left out"
STAYS_HERE = (SCRAPPED, PARKED)  # endings after which nobody uses it
RULES = (
    "Unplug it for all but what is measured running. Limits are those of EN 50678 and its forerunners, where a check "
    "names no other source. Local rules come first: they say what is checked, and who may. What is for trained persons "
    "is left to a qualified person."
)
NOBODY_SAID = "nobody said: taken as class I"
# signs: IEC 60417-5172; of class III from memory
ASK_CLASS = (
    "Which class is it? Two squares, one in the other, on its plate: class II. A plug with an earth pin, or earthed "
    "metal: class I. A III in a diamond, or an adaptor with low volts: class III. Nothing but a battery: battery."
)
YOU, QUALIFIED = "you", "a qualified person"


@dataclass(frozen=True)
class CheckView:
    """One check. unit: "" for yes or no; limit: in words; who: who is asked to do it; state: "to be done", "passed",
    "failed" or "left out"; result: in words, "" while nobody checked since the last repair; event: of the result, 0
    for none; by: who did it; near: it passed, but close to its limit; leave: where it may be left out."""

    name: str
    title: str
    unit: str
    limit: str
    how: str
    instrument: str
    caution: str
    source: str
    who: str
    leave: str
    state: str
    result: str = ""
    event: int = 0
    at: str = ""
    by: str = ""
    near: bool = False


@dataclass(frozen=True)
class Result:
    """What was entered of one check, or by name "" of all that was left. limit: in words; state: "passed", "failed",
    "left out", "" for a check that this version does not know; result: in words; taken_back: why it does not count;
    stands: it counts now; says: all of it, in words."""

    event: int
    at: str
    name: str
    title: str
    limit: str
    state: str
    result: str
    by: str
    taken_back: str
    stands: bool
    says: str


@dataclass(frozen=True)
class EntryView:
    """Something that was entered. stands: it counts now; can_go: it can be taken back."""

    event: int
    at: str
    says: str
    stands: bool
    can_go: bool = False


@dataclass(frozen=True)
class UnsafeView:
    """It goes back marked unsafe. words: why; signed: name of the owner, as they signed."""

    at: str
    words: str
    signed: str


@dataclass(frozen=True)
class SafetyView:
    """Where the safety checks stand.

    standing: "not needed", "to be done", "passed" or "failed"; protection: class I, II, III or battery; whence: who
        says so; tube: with a tube or stored energy; lead: m of the mains lead, 0 while not told; history: all that was
        entered; unsafe: it goes back so; says: in words; ask: for its class, "" once that is known; rules: who decides.
    """

    job: int
    standing: str
    protection: str
    whence: str
    tube: bool
    lead: float
    checks: tuple[CheckView, ...]
    history: tuple[EntryView, ...]
    unsafe: UnsafeView | None
    says: str
    ask: str = ""
    rules: str = RULES
    schema: str = SCHEMA


def safety(case: Case) -> SafetyView:
    """The checks of this machine, with what came of them since it was repaired last."""
    protection, whence = protection_of(case)
    tube, told = has_tube(case), case.safety_told
    checks = tuple(_checks(case, checks_of(protection, tube, told.lead)))
    standing = NOT_NEEDED if case.practice else _standing(checks, are_needed(protection, tube))
    last_failed = max((one.event for one in checks if one.state == FAILED), default=0)
    marked = told.unsafe if told.unsafe and last_failed and told.unsafe.event > last_failed else None
    unsafe = UnsafeView(marked.at, marked.words, marked.signed) if marked else None
    says = _says(standing, checks, unsafe, bool(mended_at(case)))
    return SafetyView(
        case.number, standing, protection, whence, tube, told.lead, checks, tuple(_history(case)), unsafe, says,
        _ask_class(case) if whence == NOBODY_SAID and standing != FAILED else "",
    )  # fmt: skip


def protection_of(case: Case) -> tuple[str, str]:
    """Class of the machine, and who says so; what nobody said counts as class I."""
    machine, told = file_of(case), case.safety_told.protection
    if machine is not None and machine.protection:
        return machine.protection, "the machine file"
    if sources := mains_against(case, told):
        return EARTHED, f"{told} was said, but the machine file has {sources} on the mains: taken as class I"
    return (told, "said for this job") if told else (EARTHED, NOBODY_SAID)


def _ask_class(case: Case) -> str:
    """What to ask for its class, with what its file speaks for."""
    machine = file_of(case)
    if machine is None:
        return ASK_CLASS
    from probewright.planning.danger import fed_low  # loads what computes: an old job opens without

    sources = ", ".join(part.name for part in fed_low(machine))
    hint = f"Class III? Its machine file has {sources} and no mains; III it is where that is an adaptor. "
    return f"{hint}{ASK_CLASS}" if sources else ASK_CLASS


def mains_against(case: Case, protection: str) -> str:
    """Sources of the file that play the mains, where this class has none; "" where nothing speaks against it."""
    machine = file_of(case)
    if machine is None or machine.protection or protection not in (LOW, BATTERY):
        return ""
    from probewright.planning.danger import fed_by_mains  # loads what computes: an old job opens without

    return ", ".join(part.name for part in fed_by_mains(machine))


def has_tube(case: Case) -> bool:
    """It has a tube, or keeps what hurts: as told, else as machines of its kind."""
    told = case.safety_told.tube
    return TUBE in find_kind(case.intake.kind).care if told is None else told


def mended_at(case: Case) -> int:
    """Number of the last event that told of a repair: a line, a part of its own, something mended; 0 for none."""
    own = (one.line for one in case.parts_told if one.event == one.line)
    mended = (event for event, _, _ in case.safety_told.mended)
    return max((repaired_at(case), *own, *mended))


def held_back(case: Case, ending: str) -> tuple[str, str] | None:
    """Why the job cannot end so, and what to do; None where it can."""
    view = safety(case)
    failed = [one.name for one in view.checks if one.state == FAILED]
    if failed and ending not in STAYS_HERE and not (ending == RETURNED and view.unsafe):
        return (
            f"a safety check failed: {', '.join(failed)}; it cannot end as {ending}",
            "repair it further and check again, or have the owner sign that it goes back unsafe: "
            '`probewright safety --unsafe "why" --signed "name"`, and end it as returned',
        )
    if view.standing == TO_BE_DONE and ending == REPAIRED and not mended_at(case):
        return (
            "no line says what was mended, and the safety checks are not done",
            "enter what was mended, like `replaced C5`; or end it as outside, nothing wrong or returned",
        )
    if view.standing == TO_BE_DONE and ending == REPAIRED:
        open_ = [one.name for one in view.checks if one.state == TO_BE_DONE]
        return (
            f"safety checks are not done: {', '.join(open_)}",
            "see what to do: `probewright safety`; or say who did them: `probewright safety --checked-by NAME`",
        )
    return None


# Where each check stands ----------------------------------------------------------------------


def _checks(case: Case, every: Sequence[Check]) -> Iterator[CheckView]:
    since, told = mended_at(case), case.safety_told
    elsewhere = next((one for one in reversed(told.elsewhere) if one.event > since), None)
    entered = _entered(case)
    for check in (*every, *_of_another_class(every, entered)):
        mine = [one for one in entered if one.check == check.name]
        counts = next((one for one in reversed(mine) if not is_passed(check, one)), mine[-1] if mine else None)
        yield _view(check, case, counts, elsewhere)


def _entered(case: Case) -> list[Checked]:
    """Results since the last repair that nobody took back."""
    since = mended_at(case)
    return [one for one in case.safety_told.checked if one.event > since and not one.taken_back]


def _of_another_class(every: Sequence[Check], entered: Sequence[Checked]) -> Iterator[Check]:
    """Checks that failed and that this class does not ask for: they stay, whatever the class is said to be since."""
    asked = {one.name for one in every}
    for name in dict.fromkeys(one.check for one in entered if one.check not in asked):
        check = named(name)
        if check is not None and not all(is_passed(check, one) for one in entered if one.check == name):
            yield check


def is_passed(check: Check, one: Checked) -> bool:
    """What was entered is inside the limit, a yes, or a reason to leave it out."""
    if one.left:
        return bool(check.leave)
    return one.passed if one.value is None else check.holds(one.value)


def _view(check: Check, case: Case, one: Checked | None, elsewhere: Elsewhere | None) -> CheckView:
    who = QUALIFIED if check.trained and not case.kit.trained else YOU
    state, result, event, at, by, near = TO_BE_DONE, "", 0, "", "", False
    if one is not None:
        state = _state(check, one)
        result, event, at, by = say_result(check, one), one.event, one.at, one.by
        near = one.value is not None and check.is_near(one.value)
    elif elsewhere is not None:
        state, result = PASSED, "checked by someone else" + (f": {elsewhere.words}" if elsewhere.words else "")
        event, at, by = elsewhere.event, elsewhere.at, elsewhere.by
    how = f"{check.how} {_fitted(case)}".strip() if check.name == PARTS else check.how
    return CheckView(
        check.name, check.title, check.unit, say_limit(check), how, check.instrument, check.caution, check.source,
        who, check.leave, state, result, event, at, by, near,
    )  # fmt: skip


def _state(check: Check, one: Checked) -> str:
    return (LEFT_OUT if one.left else PASSED) if is_passed(check, one) else FAILED


def _fitted(case: Case) -> str:
    """What was fitted on this job, to be looked at."""
    by_lines = (one.part for one in fittings(case) if not one.back)
    names = dict.fromkeys((*by_lines, *(one.part for one in case.parts_told if one.event == one.line)))
    return f"Fitted here: {', '.join(names)}." if names else ""


def say_limit(check: Check) -> str:
    """The limit in words; "" for yes or no."""
    return f"{check.side} {figure(check.limit, check.unit)}" if check.unit else ""


def say_result(check: Check, one: Checked) -> str:
    """What was entered, beside its limit."""
    words = "".join(f"; {said}" for said in (one.tool and f"with {one.tool}", one.words) if said)
    if one.left:
        return f"left out: {one.left}{words}"
    if one.value is None:
        return ("yes" if one.passed else "no") + words
    inside = "inside" if check.holds(one.value) else "beyond"
    return f"{figure(one.value, check.unit)}, {inside} the limit of {say_limit(check)}{words}"


def figure(value: float, unit: str) -> str:
    """A figure as a tester shows it: currents that people feel in mA, whatever their size."""
    if unit == "A" and value < 1.0:
        return f"{1000.0 * value:.3g} mA"
    return "over limit" if value == float("inf") else write_reading(value, unit)


def _standing(checks: Sequence[CheckView], needed: bool) -> str:
    states = {one.state for one in checks}
    if FAILED in states:
        return FAILED
    if TO_BE_DONE not in states:
        return PASSED
    return TO_BE_DONE if needed else NOT_NEEDED


def _says(standing: str, checks: Sequence[CheckView], unsafe: UnsafeView | None, mended: bool) -> str:
    if standing == NOT_NEEDED:
        return "No check is required of it here; look all the same at what is listed."
    if standing == FAILED:
        failed = "; ".join(f"{one.name}: {one.result}" for one in checks if one.state == FAILED)
        if unsafe is not None:
            return ended(f"{failed}. It goes back marked unsafe, signed by {unsafe.signed or 'its owner'}")
        return (
            f"{failed}. Unplug it and mark it. It ends as repaired only once it was repaired further and all "
            "checks were done anew; else it goes back marked unsafe, with its owner's signature."
        )
    begin = "" if mended else "Nothing was repaired yet; what is repaired later makes all of them due again. "
    if standing == PASSED:
        left = [one.name for one in checks if one.state == LEFT_OUT]
        return f"{begin}Every check is done" + (f"; left out with a reason: {', '.join(left)}." if left else ".")
    open_ = [one for one in checks if one.state == TO_BE_DONE]
    mine = next((one for one in open_ if one.who == YOU), None)
    then = f"Next: {mine.name}." if mine else "What is left is for a qualified person."
    return f"{begin}{len(open_)} of {len(checks)} checks are to be done. {then}"


def results(case: Case) -> Iterator[Result]:
    """Everything that was entered of checks: also what does not stand any more."""
    protection, _ = protection_of(case)
    told, since = case.safety_told, mended_at(case)
    every = checks_of(protection, has_tube(case), told.lead)
    counting = {one.name: one for one in (*every, *_of_another_class(every, _entered(case)))}
    for one in told.checked:
        check = counting.get(one.check) or named(one.check)
        title, limit, state, said = "", "", "", one.said
        if check is not None:
            title, limit, state, said = check.title, say_limit(check), _state(check, one), say_result(check, one)
        stands = one.check in counting and one.event > since and not one.taken_back
        gone = f" (taken back: {one.taken_back})" if one.taken_back else ""
        says = f"{one.check}: {said}" + (f", by {one.by}" if one.by else "") + gone
        yield Result(one.event, one.at, one.check, title, limit, state, said, one.by, one.taken_back, stands, says)
    for other in told.elsewhere:
        says = f"what was left was checked by {other.by}" + (f": {other.words}" if other.words else "")
        yield Result(other.event, other.at, "", "all that was left", "", PASSED, other.words, other.by, "",
                     other.event > since, says)  # fmt: skip


def _history(case: Case) -> Iterator[EntryView]:
    """Everything that was entered, in its order."""
    entries = [
        EntryView(one.event, one.at, one.says, one.stands, bool(one.name) and not one.taken_back)
        for one in results(case)
    ]
    entries += [EntryView(event, at, f"mended: {words}", True) for event, at, words in case.safety_told.mended]
    yield from sorted(entries, key=lambda one: one.event)


def say_class(protection: str) -> str:
    """The class in words."""
    return PROTECTIONS[protection]
