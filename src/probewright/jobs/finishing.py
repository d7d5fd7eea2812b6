"""What is still to be done once all that did not work works again: prove it, put it together, check it, end the job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case
from probewright.jobs.heard_again import complained, not_since
from probewright.jobs.proving import to_try
from probewright.jobs.putting_together import refit
from probewright.jobs.repairs import repaired_at
from probewright.jobs.safety_checks import TO_BE_DONE, safety
from probewright.jobs.view import FINISH, ActionView, WordView
from probewright.jobs.warming import STOP, with_heat
from probewright.units import sentence

REVERSE = "reverse"  # kind of the step that puts the old extra back
WHY = "All that did not work works since the repair: the search is over while that holds."


def by_now(view: BenchView, case: Case, now: str) -> BenchView:
    """Where the job stands, with what heat leaves of every step now, and once all works with what finishes the job; a
    closed one has no step."""
    if case.closed is not None and not case.practice:
        return replace(view, card=None)
    view, finish = with_heat(view, case, now), to_finish(case)
    first = view.card is not None and view.card.kind in (STOP, REVERSE)
    return replace(view, card=finish) if finish is not None and not first else view


def to_finish(case: Case) -> ActionView | None:
    """The step in place of any search, in the order in which a job is finished; None before all was heard to work
    again, and where a try has shown the fault since."""
    if case.practice or case.closed or not repaired_at(case) or not complained(case) or not_since(case, ("ok",)):
        return None
    steps = to_try(case)
    if steps is None:
        return None
    first, *then = (*steps[:1], *_after(case))
    why = f"{WHY} Then: {'; '.join(then)}." if then else WHY
    return ActionView(FINISH, 0, sentence(first), "", "", "", 0.0, False, WordView(""), why, (), None)


def _after(case: Case) -> Iterator[str]:
    """What comes after the proof, each with its command."""
    if not refit(case).done:
        yield "put it together and look at each layer (`probewright strip --refit`)"
    if safety(case).standing == TO_BE_DONE:
        yield "make the safety checks (`probewright safety`)"
    yield f"end the job (`probewright job close {case.number} --as repaired`)"
