"""Diagrams drawn from the job's machine file."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.drawing import draw
from probewright.jobs import bench
from probewright.report.bench import what
from probewright.web import showing
from probewright.web.sheets import Sheets


class PicturePages:
    """The diagrams of a job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [Route("/jobs/{job:int}/pictures", self.pictures)]

    def pictures(self, request: Request) -> Response:
        """Each section as a diagram, suspects marked."""
        case = self.case(request)
        machine, view = bench.machine_of(case), self.desk.view(case)
        drawn = []
        if machine is not None:
            marked = showing.marks(view, machine, self.desk.letters(case, view)) if view else {}
            drawn = [draw(machine, section=one, marks=marked).svg for one in machine.sections or (None,)]
        return self.page(request, "pictures.html", case=case, job=bench.view_case(case), drawn=drawn, what=what)
