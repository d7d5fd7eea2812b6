"""What the bench has learnt, and jobs like this one."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.jobs import bench
from probewright.jobs.alike import like
from probewright.jobs.cases import Case
from probewright.jobs.found import mode_in_words
from probewright.jobs.remembering import catch_up, is_behind, learnt_of, told_of
from probewright.record import stamp
from probewright.report import remembering as words
from probewright.report.bench import what
from probewright.web.sheets import Sheets


class RememberPages:
    """What closed jobs have left to the next ones."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [Route("/learnt", self.learnt), Route("/jobs/{job:int}/like", self.like)]

    def learnt(self, request: Request) -> Response:
        """Usual culprits, healthy values, minutes, repairs that held."""
        view = learnt_of(self.desk.book, [self._caught_up(case) for case in bench.every_case(self.desk.book)])
        shown, stock, others = told_of(view)
        return self.page(
            request, "learnt.html", view=view, shown=shown, stock=stock, others=others, cures=words.cures(view.cures),
            in_words=mode_in_words,
        )  # fmt: skip

    def _caught_up(self, case: Case) -> Case:
        """The job, learnt from; others are kept from writing for no more than one job that nobody learnt from yet."""
        if not is_behind(case):
            return case
        with self.desk.writing:
            return catch_up(self.desk.book, self.desk.case(case.number), stamp())

    def like(self, request: Request) -> Response:
        """Jobs like this one, and why."""
        case = self.case(request)
        view = like(self.desk.book, case)
        return self.page(request, "like.html", case=case, job=bench.view_case(case), view=view, what=what)
