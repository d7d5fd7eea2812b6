"""Healthy values: what a good channel, a sister or another machine of the model taught, and taking over more."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench
from probewright.jobs.teaching import learn, view_taught
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web.sheets import Sheets, number, posted, to


class HealthyPages:
    """What a job has learnt."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where this page is."""
        at = "/jobs/{job:int}/healthy"
        return [Route(at, self.healthy), Route(at, posted(self.learn), methods=["POST"])]

    def healthy(self, request: Request, wrong: Sequence[Complaint] = ()) -> Response:
        """What was learnt, and who could teach more."""
        case = self.case(request)
        return self.page(
            request, "healthy.html", 422 if wrong else 200, case=case, job=bench.view_case(case),
            view=view_taught(self.desk.book, case), wrong=wrong, what=what,
        )  # fmt: skip

    def learn(self, request: Request, said: dict[str, str]) -> Response:
        """Take over what another job has learnt of a sound machine."""
        try:
            with self.desk.writing:
                case = self.case(request)
                source = number(said.get("from", ""))
                if source is None:
                    raise bench.complaint("no job was named", "choose the one that teaches")
                same = said.get("same_meter") == "yes"
                learn(self.desk.book, case, source, said.get("meter", ""), same, stamp(), said.get("once", ""))
        except BadInput as bad:
            return self.healthy(request, bad.complaints)
        return to(f"/jobs/{case.number}/healthy")
