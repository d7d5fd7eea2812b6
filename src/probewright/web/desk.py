"""What the page works with: the book, and searches kept warm so that an answer need not begin from nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from probewright.jobs.bench import find_case, machine_of
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case
from probewright.jobs.finishing import by_now
from probewright.jobs.searching import Search, glance, look, prepare, refine_anew, weigh_anew
from probewright.jobs.standing import kept_view, stand_on, view_of
from probewright.jobs.tracing import Shows, would_show
from probewright.jobs.two_paths import PathsView, Trail, caution, keep_paths, kept_paths, may_hurt, two_paths
from probewright.jobs.view import SuspectView
from probewright.jobs.weighing import begin, weighed_of
from probewright.readings import Question
from probewright.record import Book, stamp
from probewright.web import showing

T = TypeVar("T")

WARM = 8  # chosen: searches kept at hand, about 100 MB each; a bench has few machines open
SEEN = 16  # chosen: pictures of what would be seen that are kept at hand, some 30 KB each
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Warm:
    """A search at hand: the machine file and zones it rests on, and the search itself, refined."""

    rests_on: tuple[object, ...]
    search: Search


class Desk:
    """One bench: its book, the searches at hand, and the letters that suspects keep for the sitting.

    A refined answer is worked out in the background, one at a time; until it is there, the draws of
    the last one weigh what came since, and that view is marked rough.
    """

    def __init__(self, book: Book) -> None:
        self.book = book
        self.writing = threading.Lock()  # a form sent twice at once must find what the first one wrote
        self._warm: dict[int, Warm] = {}
        self._coming: dict[tuple[int, int], Future[BenchView]] = {}
        self._ends: dict[tuple[int, int], Future[PathsView]] = {}
        self._worker = ThreadPoolExecutor(1, "refine")
        self._others: dict[object, Future[Any]] = {}
        self._keeping = threading.Lock()  # of what this desk remembers
        self._hurried: set[object] = set()
        self._shows: dict[object, Shows | None] = {}
        self._letters: dict[tuple[int, str], dict[str, str]] = {}

    def case(self, number: int) -> Case:
        """The job as its record tells it. BadInput when there is none."""
        return find_case(self.book, number)

    def view(self, case: Case) -> BenchView | None:
        """Where the job stands: refined where that is known or quick, else rough, else None while it is worked out."""
        if kept := self._kept(case):
            return kept
        if case.known is None:
            return self._refine(case)
        warm = self._warm.get(case.number)
        if warm is None or warm.rests_on != _rests_on(case):
            self._begin(case)
            return None
        weighed = weighed_of(case)
        with self._hurry():
            rough = replace(weigh_anew(warm.search, weighed.readings, weighed.as_told), owner=case.owner)
            view = view_of(case, rough, weighed, glance(rough, warm.search))
        self._begin(case)  # only now: two that compute at once are both slow
        return by_now(view, case, stamp())

    def _kept(self, case: Case) -> BenchView | None:
        """The refined view with what heat leaves of it now; None where it is not there."""
        kept = kept_view(self.book, case)
        return kept and by_now(kept, case, stamp())

    def refined(self, case: Case, seconds: float = 0.0) -> BenchView | None:
        """The refined view; waited for at most that long, None where it is not there."""
        if seconds:
            self.wait(case, seconds)
        return self._kept(case)

    def wait(self, case: Case, seconds: float) -> None:
        """Until the refined view is there, at most that long. What went wrong while it was worked out is raised."""
        if coming := self._begin(case):
            with suppress(TimeoutError, CancelledError):  # a newer line came: nobody needs this answer any more
                coming.result(seconds)

    def _begin(self, case: Case) -> Future[BenchView] | None:
        key = (case.number, case.mark)
        with self._keeping:
            if kept_view(self.book, case):
                return self._coming.pop(key, None)
            for old in [one for one in self._coming if one[0] == case.number and one[1] < case.mark]:
                self._coming.pop(old).cancel()  # one that runs already is let run
            known = self._coming.get(key)
            if known is None or _failed(known):  # then it is tried anew
                known = self._coming[key] = self._worker.submit(self._refine, case)
            return known

    def _refine(self, case: Case) -> BenchView:
        rests_on = _rests_on(case)
        warm = self._warm.get(case.number)
        weighed = weighed_of(case)
        base = replace(warm.search, owner=case.owner) if warm and warm.rests_on == rests_on else begin(case)
        search = refine_anew(base, weighed.readings, weighed.as_told)
        view = stand_on(self.book, case, view_of(case, search, weighed, look(search)), stamp())
        if case.known is not None:
            self._warm.pop(case.number, None)
            self._warm[case.number] = Warm(rests_on, search)
            for longest_ago in list(self._warm)[:-WARM]:
                self._warm.pop(longest_ago, None)
            self._worker.submit(prepare, search, self._idle)
        return view

    def _idle(self) -> bool:
        """Nobody waits for an answer, so there is time to work ahead."""
        with self._keeping:
            coming: list[Future[Any]] = [*self._coming.values(), *self._ends.values()]
            return not self._hurried and all(one.done() for one in coming)

    @contextmanager
    def _hurry(self) -> Iterator[None]:
        """Somebody waits for a rough answer: whoever works ahead stops at the next step."""
        mark = object()
        self._hurried.add(mark)
        try:
            yield
        finally:
            self._hurried.discard(mark)

    def paths(self, case: Case, seconds: float = 0.0) -> PathsView | None:
        """The two paths of a practice that has ended; waited for at most that long, None where they are not there."""
        if kept := kept_paths(self.book, case):
            return kept
        key = (case.number, case.mark)
        with self._keeping:
            coming = self._ends.get(key)
            if coming is None or _failed(coming):
                coming = self._ends[key] = self._worker.submit(self._two_paths, case)
        with suppress(TimeoutError, CancelledError):
            return coming.result(seconds)
        return None

    def worked(self, key: object, make: Callable[[], T], seconds: float) -> T | None:
        """What is made in the background after the answers that are due; waited for at most that long, None where it is
        not there yet. What went wrong in it is raised. key: of what is made."""
        with self._keeping:
            coming = self._others.get(key)
            if coming is None:
                coming = self._others[key] = self._worker.submit(make)
        try:
            found: T = coming.result(seconds)
        except TimeoutError:
            return None
        except BaseException:
            self._others.pop(key, None)
            raise
        self._others.pop(key, None)
        return found

    def _two_paths(self, case: Case) -> PathsView:
        return keep_paths(self.book, case, two_paths(case, Trail(case, self._at_hand(case))))

    def _at_hand(self, case: Case) -> Search | None:
        """A search on this very machine, as it was after some line; None where none is at hand."""
        warm = self._warm.get(case.number)
        return warm.search if warm is not None and warm.rests_on == _rests_on(case) else None

    def cautions(self, case: Case, asks: Sequence[Question]) -> list[str]:
        """What must be minded before these are measured in a practice, each thing once."""
        machine = machine_of(case)
        if machine is None or not may_hurt(machine, asks):
            return []
        search = self._at_hand(case)
        if search is None:
            return ["Whether this can hurt is not worked out yet: take it for live."]
        with self._hurry():
            return list(filter(None, dict.fromkeys(caution(search, ask) for ask in asks)))

    def shows(self, case: Case, ask: Question, suspects: Sequence[SuspectView]) -> Shows | None:
        """What an oscilloscope would show where a question is asked; kept while nothing changes."""
        machine, key = machine_of(case), (case.number, case.mark, ask, *(one.id for one in suspects))
        if machine is None:
            return None
        if key not in self._shows:
            with self._hurry():
                found = would_show(machine, ask, suspects)
            with self._keeping:
                self._shows[key] = found
                for longest_ago in list(self._shows)[:-SEEN]:
                    self._shows.pop(longest_ago, None)
                return found
        return self._shows[key]

    def letters(self, case: Case, view: BenchView) -> dict[str, str]:
        """Suspect -> letter; once given, it stays with its suspect while this program runs and the file is the same."""
        known = "" if case.known is None else case.known.text
        with self._keeping:
            given = self._letters.setdefault((view.case.job, known), {})
            rows = showing.rows(view)
            named = [one.id for one, _ in rows if one.id != "not-listed"]
            if len(named) == 1:  # what is alone needs no letter of its own
                given = {named[0]: LETTERS[0]}
            for one, _ in rows:
                if one.id != "not-listed" and one.id not in given and len(given) < len(LETTERS):
                    given[one.id] = LETTERS[len(given)]
            alike = {other.id: given[one.id] for one, others in rows for other in others if one.id in given}
            return {**given, **alike, "not-listed": "?"}

    def close(self) -> None:
        """Let go of the book once what is being worked out is done."""
        self._worker.shutdown(wait=True, cancel_futures=True)
        self.book.close()


def _rests_on(case: Case) -> tuple[object, ...]:
    """What a search on a machine file is worked out from before any reading: file, names, zones, what the bench has and
    has found."""
    if case.known is None:
        return ()
    return (
        case.known.text,
        *(machine_of(case) or case).zones,
        case.kit.has,
        tuple(case.kit.minutes.items()),
        case.kit.trained,
        case.usual,
    )


def _failed(coming: Future[Any]) -> bool:
    return coming.done() and (coming.cancelled() or coming.exception() is not None)
