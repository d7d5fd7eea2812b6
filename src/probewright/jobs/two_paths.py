"""The end of a practice: the path of the person beside the plan's on the same hidden machine, minute by minute."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from probewright import __version__
from probewright.inference.answers import gain
from probewright.inference.verdict import SURE
from probewright.jobs.bench import machine_of
from probewright.jobs.case_view import BenchView, typed
from probewright.jobs.cases import Case, Line
from probewright.jobs.practice import GAVE_UP, MENDED, NAMED, hidden_of, is_owners, steps
from probewright.jobs.pretend_bench import PretendBench
from probewright.jobs.rehearsing import MENDED as PLAN_MENDED
from probewright.jobs.rehearsing import Rehearsals, Step, Terms, sure_of
from probewright.jobs.scoring import Rehearsed
from probewright.jobs.searching import Search, look, refine_anew
from probewright.jobs.spending import Spent, spent
from probewright.jobs.standing import view_of
from probewright.jobs.telling import decide
from probewright.jobs.view import SCHEMA, plain
from probewright.jobs.weighing import Weighed, begin, weighed_of
from probewright.machine import Machine
from probewright.planning import danger
from probewright.planning.actions import Action
from probewright.planning.choosing import LEAST_GAIN
from probewright.planning.ways import table_of, ways
from probewright.readings import PROVOKE, Question, is_live
from probewright.readings.instruments import METERED
from probewright.record import Book

ASKED_FOR = (*METERED, "share", "beep", "swap", PROVOKE)  # what a step is judged by; a look at what works is free
RIGHT, ALIKE, WRONG = "right", "alike", "wrong"
ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}


@dataclass(frozen=True)
class PathStepView:
    """One step of a path. says: what was done and what came of it; minutes: that it took; at: minutes gone by after it;
    sure: how sure the tool was after it that mending what is hidden would cure."""

    says: str
    minutes: float
    at: float
    sure: float


@dataclass(frozen=True)
class PathView:
    """A path from the owner's words to its end. ends: in words."""

    steps: tuple[PathStepView, ...]
    minutes: float
    ends: str


@dataclass(frozen=True)
class PathsView:
    """How a practice ended.

    key: makes the same machine again; hidden, says: the fault, its id and in words; owner: what the owner said; ended:
    "named", "mended" or "gave up"; named: id of what the person named; verdict: "right", "alike" (reads like what is
    hidden, or is mended with it) or "wrong", "" where nothing was named; remark: where the difference came from.
    """

    machine: str
    key: str
    hidden: str
    says: str
    owner: str
    ended: str
    named: str
    verdict: str
    yours: PathView
    plan: PathView
    remark: str
    schema: str = SCHEMA


# The searches along the way --------------------------------------------------------------------


@dataclass
class Trail:
    """What the tool made of a practice after each of its lines; each is worked out once."""

    case: Case
    base: Search | None = None
    _known: dict[tuple[object, ...], Search] = field(default_factory=dict)

    def after(self, case: Case) -> tuple[Search, Weighed]:
        """The refined search after the lines of this case, which is the practice or the beginning of it."""
        self.base = self.base or begin(self.case)
        weighed = weighed_of(case)
        key = (weighed.readings, weighed.as_told)
        if key not in self._known:
            self._known[key] = refine_anew(self.base, weighed.readings, weighed.as_told)
        return self._known[key], weighed

    def view(self, case: Case) -> BenchView:
        """Where it stands, as a job does."""
        search, weighed = self.after(case)
        return view_of(case, search, weighed, look(search))


def first_lines(case: Case, count: int) -> Case:
    """The practice as it was after so many of its lines."""
    return replace(case, lines=case.lines[:count], closed=None)


# Danger ----------------------------------------------------------------------------------------


def caution(search: Search, ask: Question) -> str:
    """The caution that the card would show for this question; "" where it is harmless."""
    return ways(search.population).caution(ask) or ""


def may_hurt(machine: Machine, asks: Sequence[Question]) -> bool:
    """Something live is asked for where not every place is harmless, so that it is worth working out."""
    live = [ask for ask in asks if is_live(ask.setup)]
    return any(not danger.is_low(machine, ask.setup) or danger.of_the_clip(machine, ask) for ask in live)


def overheated(search: Search, asks: Sequence[Question], minutes: float) -> str:
    """What a live reading did to a part that runs without its heatsink; "" where there was time enough, from cold."""
    how = ways(search.population)
    for ask in (one for one in asks if is_live(one.setup)):
        heat = how.allowance(how.again(ask))
        times = [(one.seconds(one.body.cold), one.part) for one in heat.hot if one.known] if heat else []
        if times and min(times)[0] < 60.0 * minutes:
            least, part = min(times)
            return (
                f"{part} would be damaged by now: without its heatsink the power may be on for {least:.0f} s,"
                f" and this took {60.0 * minutes:.0f} s."
            )
    return ""


# The two paths ---------------------------------------------------------------------------------


def two_paths(case: Case, trail: Trail | None = None) -> PathsView:
    """Both paths of a practice that has ended. case: closed; trail: what was worked out of it already."""
    assert case.closed is not None and case.known is not None, "a practice that has not ended has no two paths"
    trail, machine, hidden = trail or Trail(case), machine_of(case), hidden_of(case)
    assert machine is not None
    took = spent(case, machine)
    end, plan = _plans(case, machine)
    named = str(case.closed["named"])
    verdict = _verdict(trail, case, hidden, named) if case.closed["ending"] == NAMED else ""
    yours = _path(_yours(trail, case, hidden, took), _ends(case, verdict))
    plans = _path(plan, _plan_ends(end, hidden))
    return PathsView(
        machine.name, case.practice, hidden.hidden.id, hidden.hidden.says, case.intake.words,
        str(case.closed["ending"]), named, verdict, yours, plans, _remark(trail, case, took, yours, plans),
    )  # fmt: skip


def _path(steps: Sequence[Step], ends: str) -> PathView:
    at, found = 0.0, []
    for step in steps:
        at += step.minutes
        found.append(PathStepView(step.says, step.minutes, at, step.sure))
    return PathView(tuple(found), at, ends)


def _yours(trail: Trail, case: Case, hidden: PretendBench, took: Sequence[Spent]) -> list[Step]:
    """The lines that took time, each with how sure the tool was after it."""
    found = []
    for n in steps(case):
        if took[n].whole:
            search, _ = trail.after(first_lines(case, n + 1))
            found.append(Step(case.lines[n].text, took[n].whole, sure_of(search.belief, hidden.hidden)))
    return found


def _plans(case: Case, machine: Machine) -> tuple[Rehearsed, tuple[Step, ...]]:
    """The path that the tool takes by its own cards, on the same hidden machine with a hand of its own."""
    rehearsals = Rehearsals(machine, Terms(""), case.kit)
    return rehearsals.follow(rehearsals.made_up(case.practice))


def _verdict(trail: Trail, case: Case, hidden: PretendBench, named: str) -> str:
    if named == hidden.hidden.id:
        return RIGHT
    search, _ = trail.after(case)
    belief, truth = search.belief, hidden.hidden.id
    _, _, classes, _ = decide(belief, search.population)
    together = [{belief.suspects[n].id for n in one.members} for one in classes]
    said = next(one for one in hidden.every if one.id == named)
    mended = any(hidden.is_cured_by(fault.item) for fault in said.faults)
    return ALIKE if mended or any({named, truth} <= one for one in together) else WRONG


def _ends(case: Case, verdict: str) -> str:
    assert case.closed is not None
    if case.closed["ending"] == GAVE_UP:
        return "given up"
    if case.closed["ending"] == MENDED:
        return "cured by the repair"
    said = {RIGHT: "right", ALIKE: "not that, but it reads or is mended alike", WRONG: "not that"}[verdict]
    return f"named {case.closed['named']}: {said}"


def _plan_ends(end: Rehearsed, hidden: PretendBench) -> str:
    if end.finding == PLAN_MENDED:
        return "cured by a repair on suspicion"
    if end.finding not in ("located", "outside"):
        return f"not decided; it leans to {end.called}"
    said = (
        "right" if end.called == hidden.hidden.id else "reads or is mended alike" if end.right or end.cures else "wrong"
    )
    return f"names {end.called}: {said}"


# Where the difference came from ----------------------------------------------------------------


def _remark(trail: Trail, case: Case, took: Sequence[Spent], yours: PathView, plan: PathView) -> str:
    """One plain sentence: readings that could tell nothing, repairs in vain, a name too early, or set-ups."""
    assert case.closed is not None
    asked = [n for n in steps(case) if _asks(case.lines[n])]
    idle = [place for place, n in enumerate(asked, 1) if _gain(trail, case, n) < LEAST_GAIN]
    if idle:
        spent_so = sum(took[asked[place - 1]].whole for place in idle)
        which = f"{_and([_ordinal(one) for one in idle])} reading{'s' if len(idle) > 1 else ''}"
        return f"Your {which} could tell nothing apart that was not known: {spent_so:g} min."
    cured = case.closed["ending"] == MENDED
    repairs = [n for n in steps(case) if _repairs(case, n)]
    vain = sum(took[n].whole for n in (repairs[:-1] if cured else repairs))
    if vain:
        return f"{vain:g} min of yours went into repairs that did not cure."
    if not asked:
        return "You read nothing."
    sure, stopped = yours.steps[-1].sure, "gave up" if case.closed["ending"] == GAVE_UP else "named something"
    if sure <= SURE and not cured:
        return (
            f"When you {stopped}, your readings made what is hidden {_percent(sure)} sure: more could have been told."
        )
    if case.closed["ending"] == GAVE_UP:
        return f"When you gave up, your readings made what is hidden {_percent(sure)} sure already."
    if yours.minutes <= plan.minutes:
        return "Every reading of yours told something, and you took no longer than the plan."
    changing = sum(one.changing for one in took)
    return (
        f"Every reading of yours told something; {changing:g} of your {yours.minutes:g} min were changes of the set-up."
    )


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _asks(line: Line) -> list[Question]:
    """What a line asked of the machine."""
    if is_owners(line):
        return []
    return [one.question for one in line.readings if one.question.instrument in ASKED_FOR]


def _repairs(case: Case, n: int) -> bool:
    """Whether this line is a repair."""
    now, before = case.lines[n].bench, first_lines(case, n).bench
    return now is not None and (now.fitted, now.mended) != (before.fitted, before.mended)


def _gain(trail: Trail, case: Case, n: int) -> float:
    """What a line could tell before it was answered, nat: the most of its questions."""
    population = trail.after(first_lines(case, n))[0].population
    how = ways(population)
    found = (_action(ask) or how.again(ask) for ask in _asks(case.lines[n]))
    return max(gain(population, table_of(population, how, action)) for action in found)


def _action(ask: Question) -> Action | None:
    """A swap or a provocation as a step; None for a reading."""
    kind = {"swap": "swap", PROVOKE: "provoke"}.get(ask.instrument)
    return Action(kind, ask, ask.red, 0.0, 0) if kind else None


def _ordinal(number: int) -> str:
    return ORDINALS.get(number, f"{number}th")


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# Kept beside the book --------------------------------------------------------------------------


def kept_paths(book: Book, case: Case) -> PathsView | None:
    """The two paths as they were worked out before; None when they were not, or were thrown away."""
    kept = book.cached(case.number, _key(case))
    try:
        view: PathsView | None = None if kept is None else typed(PathsView, json.loads(kept))
    except KeyError:  # by a version whose view was another one
        return None
    return view


def keep_paths(book: Book, case: Case, view: PathsView) -> PathsView:
    """The same, kept beside the book, from where it may be thrown away at any time."""
    book.keep(case.number, _key(case), json.dumps(plain(view), ensure_ascii=False).encode("utf-8", "backslashreplace"))
    return view


def _key(case: Case) -> str:
    return f"paths {case.mark} {__version__}"
