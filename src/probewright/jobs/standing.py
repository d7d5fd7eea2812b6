"""Where a job stands: its search, what to do first and next, and what was shown, kept for the record."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np

from probewright import __version__
from probewright.hypotheses import symptoms
from probewright.inference.drawn import DrawnPopulation
from probewright.jobs.bench import view_case
from probewright.jobs.case_view import BenchView, ReadsView, StepView, typed
from probewright.jobs.cases import Case, fold
from probewright.jobs.finishing import REVERSE, by_now
from probewright.jobs.heard_again import complained, to_hear
from probewright.jobs.learnt import healthy_now, say_range, unknown_worth_measuring
from probewright.jobs.loading import say_taken
from probewright.jobs.powering import burning, first_power_view, leave_off, power_stays_off, switch_off_first, tripped
from probewright.jobs.searching import Search, look
from probewright.jobs.swaps import BACK, SWAP, unreversed
from probewright.jobs.taught import say_learnt
from probewright.jobs.view import ActionView, JobView, WordView, plain
from probewright.jobs.warming import with_past
from probewright.jobs.weighing import Weighed, weigh_case, weighed_of
from probewright.planning.ways import ways
from probewright.prediction.circuit_laws import Laws
from probewright.readings import Question, echo
from probewright.readings.instruments import METERED
from probewright.record import Book

SHOWN = 5  # chosen: suspects kept with what was shown


def stand(book: Book, case: Case, now: str) -> BenchView:
    """Where the job stands now; what is shown is written to the record.

    The answer is kept beside the book and used again while nothing changes; it can be thrown away.
    """
    if kept := kept_view(book, case):
        return _told(book, case, by_now(kept, case, now), now, fold(book.events(case.number)))
    return stand_on(book, case, work_out(case), now)


def kept_view(book: Book, case: Case) -> BenchView | None:
    """The answer as it was worked out before, whatever heat leaves of it now; None when something changed since, or it
    was thrown away."""
    kept = book.cached(case.number, _key(case))
    if kept is None:
        return None
    try:
        view: BenchView = typed(BenchView, json.loads(kept))
    except KeyError:  # worked out before the view had some field: as good as thrown away
        return None
    return replace(view, case=view_case(case))  # photographs come without anything being weighed anew


def stand_on(book: Book, case: Case, view: BenchView, now: str) -> BenchView:
    """Keep a refined answer beside the book, and in the record what of it is shown now."""
    data = json.dumps(plain(view), ensure_ascii=False).encode("utf-8", "backslashreplace")
    latest = fold(book.events(case.number))
    if latest.erased == case.erased:  # else it may hold what is to be forgotten
        book.keep(case.number, _key(case), data)
    return _told(book, case, by_now(view, case, now), now, latest)


def _told(book: Book, case: Case, view: BenchView, now: str, latest: Case) -> BenchView:
    """The view, once the record says that it was shown. latest: the job as the record has it by now."""
    shown = {**summary(view), "mark": case.mark}
    if latest.mark != case.mark:
        return view  # a newer line came while this was worked out
    if case.shown is None or {**case.shown} != shown:
        book.append(case.number, "shown", shown, now, __version__)
    return view


def _key(case: Case) -> str:
    has = "" if case.kit.has is None else sorted(case.kit.has)
    return f"bench {case.mark} {__version__} {has} {sorted(case.kit.minutes.items())} {case.kit.trained}"


def work_out(case: Case) -> BenchView:
    """Where the job stands, worked out from its lines alone."""
    search, weighed = weigh_case(case)
    return view_of(case, search, weighed, look(search))


def view_of(case: Case, search: Search, weighed: Weighed, view: JobView) -> BenchView:
    """Where the job stands, from its search and what that was found to say."""
    if weighed.as_told.bare:
        view = with_past(view, case, search.extremes)
    waits = tripped(case) and not case.practice  # there nothing is wired
    view = power_stays_off(view) if waits else leave_off(view, case.bench.setup)
    if waits and (seen := burning(case)):
        view = switch_off_first(view, seen)
    card = view.actions[0] if waits else _card(case, view)
    learnt, first_unknown = ("", "") if view.rough else _learnt(search, card)
    if card is not None and card.ask is not None and (taught := say_learnt(case, card.ask)):
        learnt = " ".join(filter(None, [learnt, f"Here {taught}."]))
    return BenchView(
        view_case(case), first_steps(case), card, learnt, _loading(search, card), first_unknown,
        _left_out(case, weighed),
        _counted_before(case, weighed), _said_by(case, weighed), would_read(search, view, card), view,
        None if case.practice else first_power_view(case, search, view, card),  # nothing is wired
    )  # fmt: skip


def _counted_before(case: Case, weighed: Weighed) -> int:
    """How many of the weighed readings were there before the last line that counts."""
    last, now = next((line for line in reversed(case.live) if line.readings), None), weighed.readings
    if last is None:
        return len(now)
    before = weighed_of(replace(case, lines=tuple(line for line in case.lines if line is not last))).readings
    return next((n for n, (a, b) in enumerate(zip(before, now, strict=False)) if a != b), min(len(before), len(now)))


def _said_by(case: Case, weighed: Weighed) -> tuple[int, ...]:
    """The line (event) that each weighed reading came with, 0 for a tick; a hook-up's number is given once."""
    lines = {(reading.hookup, reading.text): line.event for line in case.live for reading in line.readings}
    return tuple(lines.get((reading.hookup, reading.text), 0) for reading in weighed.readings)


def would_read(search: Search, view: JobView, card: ActionView | None) -> tuple[ReadsView, ...]:
    """What the card's question would read under each leading suspect; nothing where the answer is a word.

    Nothing is solved: the sample that the card was chosen with has the answers. A rough view has none yet.
    """
    if view.rough or card is None or card.ask is None or card.ask.instrument not in METERED:
        return ()
    population = search.population
    if not isinstance(population, DrawnPopulation):
        return ()
    found = []
    for one in view.suspects[:SHOWN]:
        figures = population.quantiles(card.ask, search.belief.laws.model.index[one.id], (0.05, 0.5, 0.95))
        if not np.isnan(figures).any():  # nothing is said where no draw could be judged
            found.append(ReadsView(one.id, *(float(figure) for figure in figures)))
    return tuple(found)


def _loading(search: Search, card: ActionView | None) -> str:
    """How much of the card's reading the instrument takes itself, where that is worth saying."""
    laws = search.belief.laws
    return say_taken(laws.base.middle, card.ask) if isinstance(laws, Laws) and card and card.ask else ""


def _learnt(search: Search, card: ActionView | None) -> tuple[str, str]:
    """Where unknowns are open: what the card's healthy value was learnt from, and the unknown worth measuring first."""
    laws = search.belief.laws
    if not isinstance(laws, Laws) or not laws.model.unknown:
        return "", ""
    said = ""
    if card is not None and card.ask is not None and card.ask.instrument in METERED:
        now = healthy_now(search.belief, card.ask)
        said = f"Here {say_range(search.belief, card.ask, now)}." if now.learnt_from is not None else ""
    worth, how = unknown_worth_measuring(search.belief), ways(search.population)
    if worth and not how.permits(how.again(worth.ask)):
        worth = None
    return said, f"Worth measuring: {echo.where(worth.ask)}. {worth.why}" if worth else ""


def first_steps(case: Case) -> tuple[StepView, ...]:
    """Leads, extras and looks of this kind of machine; done once a line tells of them."""
    if case.practice:
        return ()  # a made-up machine has the extras of its file alone
    told = {r.question.red for r in case.readings if r.question.instrument == SWAP}
    return tuple(
        StepView(extra.name, extra.do, extra.minutes, extra.caution, extra.name in told)
        for extra in symptoms.leads_and_extras(case.intake.kind)
    )


def _card(case: Case, view: JobView) -> ActionView | None:
    """The step to take now: a swap that seemed to cure is reversed before anything else, and after a
    repair it is heard whether it cured."""
    if waiting := unreversed(case.readings):
        extra = waiting[-1].question.red
        return ActionView(
            REVERSE, 0, f"Put the old {extra} back and see whether the fault returns.", extra, "swap back", "", 2.0,
            False, WordView("stays away"),
            f"A plug that was moved cures as often as a new {extra}: "
            "the swap counts once the fault came back with the old one.",
            (), None, Question(BACK, extra),
        )  # fmt: skip
    if (listen := to_hear(case)) is not None:
        return listen
    return view.actions[0] if view.actions else None


def _left_out(case: Case, weighed: Weighed) -> tuple[str, ...]:
    """What is kept and not weighed, and why; not what did not work when it came: a machine file need not know that."""
    owners = {name.casefold() for name in complained(case)}
    return tuple(
        f"{echo.where(reading.question)}: {why}" for reading, why in weighed.left_out
        if reading.question.instrument != "works" or reading.question.red.casefold() not in owners
    )  # fmt: skip


def summary(view: BenchView) -> dict[str, Any]:
    """What was shown, short: finding, the leading suspects, the card."""
    return {
        "finding": view.search.finding,
        "rough": view.search.rough,
        "suspects": [[s.id, s.says, round(s.probability, 6)] for s in view.search.suspects[:SHOWN]],
        "by": _decisive(view),
        "next": "" if view.card is None else view.card.do,
        "ask": None if view.card is None else plain(view.card.ask),
        **({"first power": view.first_power.because} if view.first_power else {}),
    }


def _decisive(view: BenchView) -> list[int]:
    """The lines (events) that speak most for the leading suspect, the strongest first."""
    evidence = view.search.suspects[0].evidence if view.search.suspects else ()
    ranked = sorted((one for one in evidence if one.nats > 0.0), key=lambda one: -one.nats)
    return [view.said_by[one.reading - 1] for one in ranked if one.reading <= len(view.said_by)][:SHOWN]


def asked(case: Case) -> Question | None:
    """What the card shown last asks, so that a bare figure can answer it; None once a line was typed after it."""
    fresh = case.shown is not None and case.shown["mark"] == case.mark
    return answered(case.shown["ask"] if case.shown and fresh else None)


def answered(kept: Any) -> Question | None:
    """The question that a bare figure answers, from a card's `ask` as plain values."""
    question: Question | None = typed(Question | None, kept)
    if question is not None and question.instrument == "test" and question.red.startswith("swap "):
        return replace(question, instrument=SWAP, red=question.red.removeprefix("swap "))
    return question
