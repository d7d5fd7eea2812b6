"""Does the repair hold? What was tried before and since, what is still to be tried, and what may be claimed by now.

Tries are counted under the provocation that showed the fault: a fault of the warm machine is not proven gone by cold
starts. Nothing here is computed from a circuit but the healthy values beside readings that were taken before and after.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from probewright.jobs.bench import append, complaint, machine_of, owned, readable, still_open
from probewright.jobs.cases import Adjusted, Case, Tried
from probewright.jobs.files import healthy_laws
from probewright.jobs.heard_again import not_since, still_bad
from probewright.jobs.repairs import first_repaired_at, repaired_at
from probewright.jobs.view import SCHEMA, RangeView
from probewright.jobs.warming import seconds_of
from probewright.machine import Machine
from probewright.planning.proof import (
    PROVEN,
    highest_chance,
    highest_rate,
    hours_needed,
    passes_hours,
    passes_tries,
    tries_needed,
)  # fmt: skip
from probewright.readings import Question, Reading, echo
from probewright.readings.instruments import METERED, unit_of
from probewright.record import Book
from probewright.units import counted, percent

STARTS, RUN = "starts", "run"
ALWAYS_STARTS, ALWAYS_HOURS = (
    3,
    0.5,
)  # chosen: of what always showed; a warm run of half an hour is common practice, no source
UNCOUNTED = (1, 10)  # chosen: what comes and goes and nobody counted is taken to show once in ten tries
MOST_TRIES, MOST_HOURS = 10_000, 1000.0  # chosen: more in one line is a slip
SPAN = re.compile(r"(?:(\d+(?:[.,]\d+)?)\s*h(?:ours?)?)?\s*(?:(\d+(?:[.,]\d+)?)\s*min(?:utes?)?)?", re.IGNORECASE)
SLACK = 0.1  # h, chosen: a repair is put down some minutes after it was made
STAY = (
    "Stay with it: never leave a machine that was just repaired running alone. Have the switch at hand, and a way to "
    "put out a fire; at smoke, smell or a growing noise switch off."
)  # fmt: skip


@dataclass(frozen=True)
class TriedView:
    """Tries that were entered. event: to take them back; says: in words; since: they count since the repair."""

    event: int
    at: str
    says: str
    since: bool


@dataclass(frozen=True)
class StepView:
    """What is still to be tried. what: "starts" or "run"; under: the provocation; needed, done: tries, or hours; says:
    in words; passes: chance that an uncured machine would pass what was done, None where it always showed."""

    what: str
    under: str
    needed: float
    done: float
    says: str
    passes: float | None


@dataclass(frozen=True)
class ChangeView:
    """One place, read before the repair and after it; healthy: what a sound machine reads, where a file says."""

    where: str
    before: str
    after: str
    healthy: RangeView | None


@dataclass(frozen=True)
class AdjustedView:
    """What was adjusted after the repair. before, after: figures as typed."""

    what: str
    at: str
    before: str
    after: str


@dataclass(frozen=True)
class ProveView:
    """How well a repair is proven.

    standing: "not repaired", "came back", "to be tried" or "proven"; claim: what may be said by now and no more;
    running: since when it runs on trial, "" when not; steps: what is still to be tried; changes: places read before
    and after; unseen: functions that did not work and were not heard or seen to work since.
    """

    job: int
    standing: str
    claim: str
    running: str
    steps: tuple[StepView, ...]
    tries: tuple[TriedView, ...]
    changes: tuple[ChangeView, ...]
    adjusted: tuple[AdjustedView, ...]
    unseen: tuple[str, ...]
    caution: str = STAY
    schema: str = SCHEMA


# What a person says --------------------------------------------------------------------------


def tried(book: Book, case: Case, one: Tried, now: str, once: str = "", insist: bool = False) -> Case:
    """Enter tries: starts, or time it ran, with how often the fault showed. insist: also where it ran longer than there
    was time since the repair; the claim says so then. BadInput for what cannot be."""
    still_open(case)
    if once and any(other.once == once for other in case.tried):
        return case
    for words in (one.under, one.words):
        readable(words)
    if not 0 < one.amount <= (MOST_TRIES if one.what == STARTS else MOST_HOURS):
        raise complaint("so many tries cannot be", "write for example 10 starts, or a run of 2h")
    if one.shown < 0 or (one.what == STARTS and one.shown > one.amount):
        raise complaint(
            f"it cannot show {one.shown} times in {one.amount:g} starts", "count the starts in which it showed"
        )
    mended = repaired_at(case)
    _, since = _tries(case, mended)
    if mended and one.what == RUN and not insist and _too_long(case, [*since, replace(one, at=now)]):
        line = next(line for line in case.live if line.event == mended)
        minutes = max(seconds_of(now) - seconds_of(line.at), 0.0) / 60.0
        raise complaint(
            f"it was repaired {minutes:.0f} min ago, too short for all that it ran since",
            "enter what it ran since; or insist (`--insist`): then the claim says that no clock bears it out",
        )
    payload = {"what": one.what, "amount": one.amount, "shown": one.shown, "under": one.under.strip(),
               "interrupted": one.interrupted, "words": one.words.strip(), "once": once}  # fmt: skip
    return append(book, case, "tried", payload, now)


def begin_run(book: Book, case: Case, under: str, now: str) -> Case:
    """It is switched on, and somebody stays with it."""
    still_open(case)
    readable(under)
    if bare := case.bench.setup.bare:
        raise complaint(f"{bare[0][0]} has no heatsink on: nothing runs on trial so", "fit it, and say that it is on")
    if case.running is not None:
        raise complaint("it runs on trial already", "end that first")
    return append(book, case, "run begun", {"under": under.strip()}, now)


def end_run(book: Book, case: Case, shown: bool, interrupted: bool, words: str, now: str) -> Case:
    """It is switched off again, or the fault came; the time between counts as run."""
    if case.running is None:
        raise complaint("it does not run on trial", "begin a run first")
    repair = repaired_at(case)
    mended = next((line.at for line in case.live if line.event == repair), case.running.at)
    hours = (seconds_of(now) - max(seconds_of(case.running.at), seconds_of(mended))) / 3600.0  # since the repair alone
    if not 0.0 < hours <= MOST_HOURS:
        raise complaint("the clock says that it did not run", "enter the time by hand, like 40min")
    return tried(book, case, Tried(0, now, RUN, hours, int(shown), case.running.under, interrupted, words), now,
                 insist=True)  # fmt: skip


def adjusted(book: Book, case: Case, what: str, before: str, after: str, now: str, once: str = "") -> Case:
    """Something was set anew after the repair, with the figure before and after. once: mark of the form, which counts
    once however often it is sent."""
    still_open(case)
    for words in (what, before, after):
        readable(words)
        if not words.strip():
            raise complaint("an adjustment needs what was set, and its figure before and after",
                            "write what, from and to")  # fmt: skip
    new = {"what": what.strip(), "before": before.strip(), "after": after.strip()}
    marked = {**new, "once": once} if once else new
    sent = bool(once) and any(replace(one, at="") == Adjusted("", **marked) for one in case.adjusted)
    return case if sent else append(book, case, "adjusted", marked, now)


def take_back(book: Book, case: Case, event: int, now: str) -> Case:
    """Tries entered by mistake; they stay in the record, marked."""
    still_open(case)
    if event not in {one.event for one in case.tried}:
        raise complaint(f"job {case.number} has no tries {event}", "see them: `probewright prove`")
    return append(book, case, "tries undone", {"event": event}, now)


def hours_said(text: str) -> float:
    """Hours of "2h", "1 h 30 min", "40min". BadInput for anything else."""
    found = SPAN.fullmatch(text.strip())
    if not found or not any(found.groups()):
        raise complaint(f"{text!r} is no time", "write 2h, 40min or 1h 30min")
    hours, minutes = (float((one or "0").replace(",", ".")) for one in found.groups())
    return hours + minutes / 60.0


# Where it stands -----------------------------------------------------------------------------


def prove(case: Case) -> ProveView:
    """What was tried, what is still to be tried, what may be claimed. BadInput for a practice."""
    owned(case)
    mended, stands = repaired_at(case), _stands(case)
    claim = _claim(stands.standing, stands.before, stands.since, stands.steps, stands.bad)
    if _too_long(case, stands.since):
        ran = _hours(sum(one.amount for one in stands.since if one.what == RUN))
        claim += f" The repairer states {ran} running; the program's clock shows less."
    return ProveView(
        case.number, stands.standing, claim, case.running.at if case.running else "", stands.steps,
        tuple(TriedView(one.event, one.at, _says(one), one in stands.since) for one in case.tried),
        tuple(_changes(case, mended)) if mended else (),
        tuple(AdjustedView(one.what, one.at, one.before, one.after) for one in case.adjusted),
        stands.unseen,
    )  # fmt: skip


def standing_of(case: Case) -> str:
    """How well a repair is proven, as in `ProveView`, without reckoning any circuit."""
    return _stands(case).standing


@dataclass(frozen=True)
class _Stands:
    """What the proof rests on: tries before the last repair and since, what is to be tried, what was not heard well
    since, what was heard to be bad; standing as in `ProveView`."""

    before: Sequence[Tried]
    since: Sequence[Tried]
    steps: tuple[StepView, ...]
    unseen: tuple[str, ...]
    bad: tuple[str, ...]
    standing: str


def _stands(case: Case) -> _Stands:
    mended, unseen, bad = repaired_at(case), not_since(case, ("ok",)), still_bad(case)
    before, since = _tries(case, mended)
    steps = tuple(_steps(case, before, since)) if mended else ()
    standing = "came back" if bad else _standing(bool(mended), since, steps, unseen)
    return _Stands(before, since, steps, unseen, bad, standing)


def to_try(case: Case) -> tuple[str, ...] | None:
    """What is still to be tried, all of it in one sentence or none; None where a try has shown the fault since."""
    before, since = _tries(case, repaired_at(case))
    if any(one.shown for one in since):
        return None
    left = [_todo(one.what, one.needed, one.done, one.under) for one in _steps(case, before, since)
            if one.done < one.needed]  # fmt: skip
    return (f"prove it (`probewright prove`): {', '.join(left)}",) if left else ()


def _tries(case: Case, mended: int) -> tuple[list[Tried], list[Tried]]:
    """Tries before the last repair, and since."""
    since = [one for one in case.tried if mended and one.event > mended]
    return [one for one in case.tried if one not in since], since


def _too_long(case: Case, since: Sequence[Tried]) -> bool:
    """Whether it is said to have run longer since the repair than the clock allows."""
    runs, repair = [one for one in since if one.what == RUN], repaired_at(case)
    mended = next((line.at for line in case.live if line.event == repair), "")
    if not runs or not mended:
        return False
    return sum(one.amount for one in runs) > (seconds_of(runs[-1].at) - seconds_of(mended)) / 3600.0 + SLACK


def comes_and_goes(case: Case) -> bool:
    """The owner says that it does not always show, or before any repair a reading or a try was without it."""
    if case.intake.when.strip().casefold() not in ("", "always"):
        return True
    mended = first_repaired_at(case)
    before = (one for line in case.live if not mended or line.event < mended for one in line.readings)
    tries = (one for one in case.tried if not mended or one.event < mended)
    return any(one.showing == "no" for one in before) or any(not one.shown for one in tries)


def _steps(case: Case, before: Sequence[Tried], since: Sequence[Tried]) -> Iterator[StepView]:
    """One for each provocation that showed it; what always showed needs a few starts and a warm run."""
    groups = {key: _sum(before, *key) for key in dict.fromkeys(_key(one) for one in before)}
    shown = {key: sums for key, sums in groups.items() if sums[0]}
    if not shown and comes_and_goes(case):
        shown = {(STARTS, ""): UNCOUNTED}
    for (what, under), (seen, amount) in shown.items():
        done = _sum(since, what, under)[1]
        needed = float(tries_needed(seen, round(amount))) if what == STARTS else hours_needed(seen, amount)
        passes = passes_tries(seen, round(amount), round(done)) if what == STARTS else passes_hours(seen, amount, done)
        told = f"It showed {_times(seen, amount, what)}{_under(under)} before"
        if not any(one.shown for one in before):
            clean = ", ".join(_amount(*key[:1], sums[1]) + _under(key[1]) for key, sums in groups.items())
            told = f"It did not show in {clean} before" if clean else "Nobody counted how often it showed"
            told += ": taken as once in ten starts"
        yield StepView(what, under, needed, done, f"{told}; {_todo(what, needed, done, under)}", passes)
    if not shown:
        for what, needed in ((STARTS, float(ALWAYS_STARTS)), (RUN, ALWAYS_HOURS)):
            done = sum(one.amount for one in since if one.what == what)
            yield StepView(what, "", needed, done, f"It always showed; {_todo(what, needed, done, '')}", None)


def _standing(mended: bool, since: Sequence[Tried], steps: Sequence[StepView], unseen: Sequence[str]) -> str:
    if not mended:
        return "not repaired"
    if any(one.shown for one in since):
        return "came back"
    return "proven" if not unseen and all(one.done >= one.needed for one in steps) else "to be tried"


def _claim(
    standing: str, before: Sequence[Tried], since: Sequence[Tried], steps: Sequence[StepView], bad: Sequence[str]
) -> str:
    """As strong as the evidence and no stronger."""
    if standing == "not repaired":
        return "Count how often it shows now: that says how long the repair has to hold."
    if standing == "came back":
        times = sum(one.shown for one in since)
        showed = [f"it showed {counted(times, 'time')} since the repair"] if times else []
        heard = [f"{', '.join(bad)}: the last word since the repair is that it does not work"] if bad else []
        return f"Not cured: {'; '.join((*showed, *heard))}."
    if not since:
        return "Nothing is claimed: no try since the repair."
    return " ".join(_claimed(one) for one in steps if one.done) or "Nothing is claimed: no try under what showed it."


def _claimed(step: StepView) -> str:
    """What one group of clean tries says."""
    held = f"Clean in {_amount(step.what, step.done)}{_under(step.under)} since the repair"
    if step.passes is None:
        return f"{held}; before, it always showed."
    still = (
        _at_most(highest_chance(0, round(step.done))) if step.what == STARTS
        else f"once in {_hours(1.0 / highest_rate(0, step.done))} or more seldom"
    )  # fmt: skip
    return f"{held}: uncured it would pass that {_odds(step.passes)}. It may still fail {still} ({PROVEN:.0%} sure)."


def _key(one: Tried) -> tuple[str, str]:
    return one.what, one.under.casefold()


def _sum(some: Sequence[Tried], what: str, under: str) -> tuple[int, float]:
    """How often it showed, and in how many starts or hours."""
    mine = [one for one in some if _key(one) == (what, under.casefold())]
    return sum(one.shown for one in mine), sum(one.amount for one in mine)


def _todo(what: str, needed: float, done: float, under: str) -> str:
    left = max(needed - done, 0.0)
    if not left:
        return f"{_amount(what, needed)} clean{_under(under)} were needed and done"
    verb = "is" if what == STARTS and round(left) == 1 else "are"
    return f"{_amount(what, left)} clean{_under(under)} {verb}{' still' if done else ''} needed"


def _changes(case: Case, mended: int) -> Iterator[ChangeView]:
    """Places that a meter read before and after, in the same set-up but for the repair."""
    first, last = ({_plainly(r.question): r for r in some} for some in _sides(case, mended))
    machine = machine_of(case)
    both = [ask for ask in first if ask in last]
    laws = healthy_laws(machine) if machine is not None and both else None
    for ask in both:
        healthy = None
        if laws is not None and _known(ask, laws.model.machine):
            low, _, high = laws.healthy(ask)
            healthy = RangeView(low, high, unit_of(ask.instrument))
        yield ChangeView(echo.where(ask), echo.figure(first[ask]), echo.figure(last[ask]), healthy)


def _sides(case: Case, mended: int) -> tuple[list[Reading], list[Reading]]:
    """Figures before the repair, and since."""
    sides: tuple[list[Reading], list[Reading]] = ([], [])
    for line in case.live:
        figures = (r for r in line.readings if r.question.instrument in METERED and not r.question.setup.sister)
        sides[line.event >= mended].extend(figures)
    return sides


def _plainly(ask: Question) -> Question:
    return replace(ask, setup=replace(ask.setup, replaced=(), mended=(), bare=()))


def _known(ask: Question, machine: Machine) -> bool:
    return all(machine.has_place(place) for place in (ask.red, ask.black))


# Words ---------------------------------------------------------------------------------------


def _says(one: Tried) -> str:
    found = f"{_amount(one.what, one.amount)}{_under(one.under)}: "
    found += f"it showed {counted(one.shown, 'time')}" if one.shown else "it did not show"
    return found + (", interrupted" if one.interrupted else "") + (f"; {one.words}" if one.words else "")


def _times(seen: int, amount: float, what: str) -> str:
    return f"in {seen} of {amount:.0f} starts" if what == STARTS else f"{counted(seen, 'time')} in {_hours(amount)}"


def _amount(what: str, amount: float) -> str:
    return counted(round(amount), "start") if what == STARTS else f"{_hours(amount)} running"


def _hours(hours: float) -> str:
    minutes = round(hours * 60.0)
    return "less than a minute" if not minutes else f"{minutes} min" if minutes < 120 else f"{hours:.1f} h"


def _under(under: str) -> str:
    return f" ({under})" if under else ""


def _at_most(chance: float) -> str:
    """So often at the most; "1 in 1 starts" is no way to say it."""
    return f"at up to 1 in {1.0 / chance:.0f} starts" if chance < 0.4 else f"in up to {percent(chance)} of starts"


def _odds(chance: float) -> str:
    return f"{percent(chance)} of the time" if chance > 0.2 else f"1 time in {1.0 / chance:.0f}"
