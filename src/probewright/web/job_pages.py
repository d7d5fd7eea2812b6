"""Jobs and their intake."""

from __future__ import annotations

import secrets

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.hypotheses import symptoms
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web.sheets import Sheets, posted, to

WHEN = ("always", "now and then", "when warm")


class JobPages:
    """What is on the bench, and a machine that comes in."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page = sheets.desk, sheets.page

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [
            Route("/", lambda request: to("/jobs")),
            Route("/jobs", self.jobs),
            Route("/jobs", posted(self.open), methods=["POST"]),
            Route("/jobs/new", self.new),
        ]

    def jobs(self, request: Request) -> Response:
        """What is on the bench, and what was."""
        find = request.query_params.get("find", "").strip()
        wanted = set(self.desk.book.find(find) if find else self.desk.book.jobs())
        cases = [case for case in bench.every_case(self.desk.book) if case.number in wanted]
        views = [(bench.view_case(case), (case.shown or {}).get("next", "")) for case in reversed(cases)]
        return self.page(
            request, "jobs.html", find=find, what=what,
            open=[one for one in views if one[0].closed is None], closed=[one for one in views if one[0].closed],
        )  # fmt: skip

    def new(self, request: Request) -> Response:
        """The intake: first the kind, then what works and what does not."""
        kind = request.query_params.get("kind", "")
        functions = symptoms.functions(kind) if kind else ()
        first = symptoms.leads_and_extras(kind) if kind else ()
        return self.page(
            request, "intake.html", kinds=symptoms.kinds(), kind=kind, functions=functions, first=first, when=WHEN
        )

    def open(self, request: Request, said: dict[str, str]) -> Response:
        """A new job from the intake."""
        ticks = {name.removeprefix("tick "): tick for name, tick in said.items() if name.startswith("tick ") and tick}
        told = {name: said.get(name, "").strip() for name in bench.TOLD}
        key = said.get("once", "") or secrets.token_hex(8)
        with self.desk.writing:
            there = next((c for c in bench.every_case(self.desk.book) if c.intake.key == key), None)
            case = there or bench.open_job(
                self.desk.book, Intake(said.get("kind", ""), ticks=ticks, key=key, **told), stamp()
            )
        return to(f"/jobs/{case.number}")
