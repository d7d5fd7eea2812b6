"""Practice: a machine to choose, the card measured by a tap, the fault named, the two paths side by side."""

from __future__ import annotations

import secrets
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput
from probewright.jobs import bench, practice
from probewright.machine import read as read_machine
from probewright.machine.stimuli import followed
from probewright.record import stamp
from probewright.report.bench import what
from probewright.report.text import percent
from probewright.web import practising
from probewright.web.bench_pages import BenchPages, question_of
from probewright.web.machine_pages import DEMOS, demo
from probewright.web.practising import address
from probewright.web.sheets import Sheets, number, on_page, posted, to

PATIENCE = 20.0  # s, chosen: how long a browser is kept waiting for the two paths before it asks again


@dataclass(frozen=True)
class Offered:
    """A machine to practise on. value: as a form says it; slow: it moves in time, which takes a minute to make up."""

    value: str
    name: str
    slow: bool


class PracticePages:
    """Practices of this bench."""

    def __init__(self, sheets: Sheets) -> None:
        self.sheets, self.desk, self.page, self.case = sheets, sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [
            Route("/practice", self.choose),
            Route("/practice", posted(self.open), methods=["POST"]),
            Route("/jobs/{job:int}/measure", posted(self.measure), methods=["POST"]),
            Route("/jobs/{job:int}/name", posted(self.name), methods=["POST"]),
            Route("/jobs/{job:int}/give-up", posted(self.give_up), methods=["POST"]),
            Route("/jobs/{job:int}/paths", self.paths),
        ]

    def choose(self, request: Request) -> Response:
        """The machines to practise on: the demos, and those of the jobs."""
        practices = tuple(practising.row(one, stamp()) for one in reversed(bench.every_practice(self.desk.book)))
        return self.page(request, "practice.html", machines=self._machines(), practices=practices)

    def _machines(self) -> list[Offered]:
        found = {}
        texts = [(f"demo {name}", demo(name)) for name in DEMOS]
        texts += [(f"job {one.number}", one.known.text) for one in bench.every_case(self.desk.book) if one.known]
        for value, text in texts:  # of jobs with the same file the last one
            try:
                machine = read_machine(text)
            except BadInput:
                continue  # by an older version, whose files this one does not read
            if machine.works:
                found[text] = Offered(
                    value, machine.name, any(followed(machine, one).in_time for one in machine.stimuli)
                )
        return list(found.values())

    def open(self, request: Request, said: dict[str, str]) -> Response:
        """A practice on the machine that was chosen; a form sent twice is one."""
        once, (kind, _, which) = said.get("once", "") or secrets.token_hex(8), said.get("machine", "").partition(" ")
        if kind == "demo" and which in DEMOS:
            text, file = demo(which), f"{which}.yaml"
        elif kind == "job" and (known := self.desk.case(number(which) or 0).known) is not None:
            text, file = known.text, known.file
        else:
            raise bench.complaint("no machine was chosen", "choose one of the list")
        practice.make_up(text, file, once)  # before others are kept from writing: it may take a minute
        with self.desk.writing:
            there = (one for one in bench.every_practice(self.desk.book) if practice.key_of(one.practice) == once)
            case = next(there, None) or practice.open_practice(self.desk.book, text, file, once, stamp())
        return to(address(case))

    def measure(self, request: Request, said: dict[str, str]) -> Response:
        """What the card asks, read off the made-up machine."""
        ask = question_of(said)
        if ask is None:
            raise bench.complaint("the card asks for no reading", "type what you would measure")
        with self.desk.writing:
            case = practice.measure(self.desk.book, self.case(request), ask, stamp(), said.get("once", ""))
        return to(address(case))

    def name(self, request: Request, said: dict[str, str]) -> Response:
        """The fault is named: what was typed comes before what was chosen. A name that nothing has is asked about."""
        typed = said.get("typed", "").strip()
        named = typed or said.get("fault", "")
        try:
            with self.desk.writing:
                case = self.case(request)
                if case.closed is None:
                    case = practice.name_fault(self.desk.book, case, practice.said_so(named) or named, stamp())
        except BadInput as bad:
            misnamed = [on_page(one.says) for one in bad.complaints]
            return BenchPages(self.sheets).bench(request, {"named": typed, "misnamed": misnamed}, 422)
        return to(address(case))

    def give_up(self, request: Request, said: dict[str, str]) -> Response:
        """It is told what it was."""
        with self.desk.writing:
            case = self.case(request)
            case = case if case.closed is not None else practice.give_up(self.desk.book, case, stamp())
        return to(address(case))

    def paths(self, request: Request) -> Response:
        """Both paths, once they are worked out."""
        case = self.case(request)
        if not case.practice or case.closed is None:
            return to(f"/jobs/{case.number}")
        view = self.desk.paths(case, PATIENCE if "wait" in request.query_params else 0.0)
        return self.page(
            request, "paths.html", case=case, job=bench.view_case(case), what=what, view=view, percent=percent,
            ended=practising.ended(case),
        )  # fmt: skip
