"""Jobs and their intake."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput
from probewright.hypotheses import symptoms
from probewright.jobs import bench
from probewright.jobs.cases import BAD, GOOD, PARTLY, Case, Intake
from probewright.jobs.finding import hits, view_where
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web import practising
from probewright.web.photo_pages import sentences, show_photos
from probewright.web.sheets import Sheets, number, posted, to
from probewright.web.uploads import Upload, keep_all, sent
from probewright.web.waiting import groups

WHEN = ("always", "now and then", "when warm", "only when cold", "after an hour", "when it is moved")
TICKS = (GOOD, PARTLY, BAD)
SAME = {None: "", True: "yes", False: "no"}
LEFT = ("nothing", "adaptor", "mains lead", "leads", "remote control", "box", "papers")


class JobPages:
    """What is on the bench, and a machine that comes in."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [
            Route("/", lambda request: to("/jobs")),
            Route("/jobs", self.jobs),
            Route("/jobs", sent(self.open), methods=["POST"]),
            Route("/jobs/new", self.new),
            Route("/jobs/{job:int}/intake", self.intake),
            Route("/jobs/{job:int}/intake", posted(self.amend), methods=["POST"]),
        ]

    def jobs(self, request: Request) -> Response:
        """What is on the bench and what each waits for, and what was."""
        find = request.query_params.get("find", "").strip()
        found = {hit.job: view_where(hit) for hit in hits(self.desk.book, find)} if find else {}
        wanted = {job: n for n, job in enumerate(found if find else self.desk.book.jobs())}  # the best first
        cases = [case for case in bench.every_case(self.desk.book) if case.number in wanted]
        cases.sort(key=lambda case: wanted[case.number])
        practised = [case for case in bench.every_practice(self.desk.book) if case.number in wanted]
        open_ = sum(case.closed is None for case in cases)
        return self.page(
            request, "jobs.html", find=find, why=found, what=what, groups=groups(cases, stamp()), on_bench=open_,
            closed=len(cases) - open_, practices=tuple(practising.row(case, stamp()) for case in reversed(practised)),
        )  # fmt: skip

    # A machine comes in -----------------------------------------------------------------------

    def new(self, request: Request) -> Response:
        """The intake: first the kind, then what works and what does not."""
        return self._form(request, Intake(request.query_params.get("kind", "")))

    def open(self, request: Request, said: dict[str, str], files: tuple[Upload, ...]) -> Response:
        """A new job from the intake, with its pictures. A refused picture keeps no job from opening."""
        once = said.get("once", "") or secrets.token_hex(8)
        told = Intake(said.get("kind", ""), ticks=ticks_of(said), key=once, **words_of(said))
        try:
            with self.desk.writing:
                there = next((c for c in bench.every_case(self.desk.book) if c.intake.key == once), None)
                case = there or bench.open_job(self.desk.book, told, stamp(), number(said.get("before", "").strip()))
        except BadInput as bad:
            return self._form(
                request, told, problem=bad, once=once, again=bool(files), before=said.get("before", "")
            )  # fmt: skip
        case, refused = keep_all(self.desk.book, case, files, "", once)
        if refused:
            return show_photos(self.page, request, self.desk.case(case.number), refused, opened=True)
        return to(f"/jobs/{case.number}")

    # What was said is mended ------------------------------------------------------------------

    def intake(self, request: Request) -> Response:
        """What was asked when the machine came in, to say more or otherwise."""
        case = self.case(request)
        return self._form(request, case.intake, case)

    def amend(self, request: Request, said: dict[str, str]) -> Response:
        """Say more or otherwise. Only what this form changed counts: another tab may have said more meanwhile."""
        with self.desk.writing:
            case = self.case(request)
            ticks, was = ticks_of(said), ticks_of(said, "was tick ")
            told: dict[str, Any] = {n: v for n, v in words_of(said).items() if v != _plain(said.get(f"was {n}", ""))}
            told["ticks"] = merged(case.intake.ticks, was, ticks)
            try:
                case = bench.amend(self.desk.book, case, told, stamp())
                self._before(case, said)
            except BadInput as bad:
                told_so = Intake(case.intake.kind, ticks=ticks, **words_of(said))
                return self._form(request, told_so, case, bad, before=said.get("before", ""), same=said.get("same", ""))
        return to(f"/jobs/{case.number}")

    def _before(self, case: Case, said: Mapping[str, str]) -> None:
        """Where the machine was before, if this form changed it."""
        names = ("before", "same")
        if all(said.get(name, "").strip() == said.get(f"was {name}", "") for name in names):
            return
        job = number(said.get("before", "").strip())
        if job is None:
            raise bench.complaint("the job on which it was here before is no number", "write its number, or 0 for none")
        bench.was_here(self.desk.book, case, job, {"yes": True, "no": False}.get(said.get("same", "")), stamp())

    def _form(
        self, request: Request, told: Intake, case: Case | None = None, problem: BadInput | None = None, **more: Any
    ) -> Response:
        """The form, filled with what is known or was typed. A kind that nobody knows is chosen anew in it."""
        kind = told.kind if problem is None or told.kind in symptoms.kinds() else ""
        before = case.before if case else None
        more = {"before": "" if before is None else before.job, "same": SAME[before.same if before else None], **more}
        return self.page(
            request, "intake.html", 422 if problem else 200, kinds=symptoms.kinds(), kind=kind, told=told, case=case,
            functions=symptoms.functions(kind) if kind else (), first=symptoms.leads_and_extras(kind) if kind else (),
            when=WHEN, left=LEFT, job=bench.view_case(case) if case else None, what=what, said=sentences(problem),
            **more,
        )  # fmt: skip


def ticks_of(said: Mapping[str, str], before: str = "tick ") -> dict[str, str]:
    """Function -> how it does, from a form; what was not tried is left out."""
    return {name.removeprefix(before): tick for name, tick in said.items() if name.startswith(before) and tick in TICKS}


def merged(now: Mapping[str, str], was: Mapping[str, str], said: Mapping[str, str]) -> dict[str, str]:
    """The ticks as they stand now, with those changed that a form shows otherwise than it was given them."""
    kept = {name: tick for name, tick in now.items() if was.get(name) == said.get(name)}
    return {**kept, **{name: tick for name, tick in said.items() if was.get(name) != tick}}


def words_of(said: Mapping[str, str]) -> dict[str, str]:
    """What was said in words, from a form, by the names of `Intake`."""
    return {name: _plain(said.get(name, "")) for name in bench.TOLD}


def _plain(text: str) -> str:
    """Without the blanks round it, and with the line ends that a browser does not send."""
    return text.replace("\r\n", "\n").strip()
