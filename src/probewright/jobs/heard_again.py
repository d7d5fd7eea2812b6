"""What did not work when the machine came in, and whether it was heard or seen again since the last repair."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from probewright.jobs.cases import Case, complained_of
from probewright.jobs.repairs import repaired_at
from probewright.jobs.view import ActionView, WordView
from probewright.readings import Reading

LISTEN = "listen"  # kind of the step
MINUTES = 2.0  # chosen: power on, the stimulus, one function after the other


def complained(case: Case) -> tuple[str, ...]:
    """Functions that did not work, by the ticks and by what was heard before the last repair, on their first names."""
    names = case.known.functions if case.known else {}
    ticked = complained_of(case.intake)
    known = {names.get(name, name).casefold() for name in ticked}
    heard = [one.question.red for one in _heard(case, until=repaired_at(case)) if one.answer != "ok"]
    return tuple(dict.fromkeys((*ticked, *(name for name in heard if name.casefold() not in known))))


def not_since(case: Case, answers: Collection[str] | None = None) -> tuple[str, ...]:
    """Those of them that were not heard since, or not with one of these answers; all where nothing was repaired."""
    mended, names = repaired_at(case), case.known.functions if case.known else {}
    since = {
        one.question.red.casefold() for one in _heard(case, since=mended) if answers is None or one.answer in answers
    } if mended else set()  # fmt: skip
    return tuple(one for one in complained(case) if not {one.casefold(), names.get(one, one).casefold()} & since)


def still_bad(case: Case) -> tuple[str, ...]:
    """Those of them of which the last word since the last repair is that they do not work."""
    mended, names = repaired_at(case), case.known.functions if case.known else {}
    said = {one.question.red.casefold(): one.answer for one in _heard(case, since=mended)} if mended else {}
    words = ((one, said.get(names.get(one, one).casefold()) or said.get(one.casefold())) for one in complained(case))
    return tuple(one for one, word in words if word not in (None, "ok"))


def shows_still(case: Case) -> bool:
    """The fault was met again after the last repair: heard or seen on the bench, or counted in a try."""
    mended = repaired_at(case)
    return bool(still_bad(case)) or bool(mended) and any(one.shown for one in case.tried if one.event > mended)


def shows_now(case: Case) -> str:
    """Whether the fault shows, as long as nothing speaks against it: not once all works since the last repair; else as
    with the last reading of this sitting."""
    cured = bool(repaired_at(case) and complained(case)) and not not_since(case, ("ok",)) and not shows_still(case)
    return "no" if cured else case.showing


def is_heard_bad(reading: Reading) -> bool:
    """A function was heard or seen not to work as it should."""
    return reading.question.instrument == "works" and reading.answer != "ok"


def to_hear(case: Case) -> ActionView | None:
    """The step that comes before every other after a repair: does all work now? None where that was told, or one of
    them is known not to."""
    waiting = not_since(case) if repaired_at(case) and not case.practice else ()
    if not waiting or still_bad(case):  # what is known not to work is searched on
        return None
    one, rest = waiting[0], f", then {', '.join(waiting[1:])}" if waiting[1:] else ""
    typed = f"{one} ok" if case.bench.setup.power == "on" else f"power on: {one} ok"
    do = f'Power on, as the owner uses it: does {one} work now{rest}? Enter "{typed}", or what is wrong.'
    why = "What was mended shows in what did not work, before anything is measured."
    return ActionView(LISTEN, 0, do, one, "", "", MINUTES, True, WordView("works"), why, (), None)


def _heard(case: Case, since: int = 0, until: int = 0) -> Iterator[Reading]:
    """What was said of functions, after one event, and before another where there is one."""
    for line in case.live:
        if line.event > since and (not until or line.event < until):
            yield from (one for one in line.readings if one.question.instrument == "works")
