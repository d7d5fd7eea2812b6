"""Why a part died, what to check before the new one is powered, and whether that will do."""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, replacing, why_died
from probewright.jobs.cases import Case
from probewright.jobs.replacing import ReplaceView
from probewright.jobs.why_died import WhyView
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web.decide_pages import figure_said
from probewright.web.sheets import Sheets, posted, stale, to, unknown

AT_ONCE, PATIENCE = 2.0, 20.0  # s, chosen: how long a browser is kept waiting at first, and when it asks again
Worked = tuple[WhyView | None, ReplaceView | None, tuple[Complaint, ...]]  # and what of the new part was refused
WORDS = {"enough": "✓", "tight": "~", "too little": "✗", "another": "✗", "not known": "?"}


class WhyPages:
    """Why a part of a job died."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where this page is."""
        at = "/jobs/{job:int}/why"
        return [Route(at, self.why), Route(at, posted(self.told), methods=["POST"])]

    def why(self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None) -> Response:
        """What it bore and what killed it; said: a form that was refused, as it was typed."""
        case, asked = self.case(request), said or dict(request.query_params)
        part, with_ = asked.get("part", ""), asked.get("with", "").strip()
        found: Worked | None = (None, None, ())
        try:
            seconds = PATIENCE if "wait" in request.query_params or said else AT_ONCE
            key = ("why", case.number, case.touched, part, with_)
            found = self.desk.worked(key, lambda: self._made(case, part, with_), seconds)
        except BadInput as bad:
            wrong = (*wrong, *bad.complaints)
        view, new, refused = found or (None, None, ())
        return self.page(
            request, "why.html", 422 if said else 200, case=case, job=bench.view_case(case), view=view, new=new,
            parts=why_died.parts_to_ask(case), coming=found is None, wrong=(*wrong, *refused), said=asked,
            what=what, signs=WORDS,
            again=urlencode({"part": part, "with": with_, "wait": "yes"}), stands=why_died.STANDS,
        )  # fmt: skip

    def _made(self, case: Case, part: str, with_: str) -> Worked:
        """What killed it, and whether the new part will do: a line of it that is refused leaves the rest as it is."""
        seen = self.desk.view(case)
        view = why_died.why(self.desk.book, case, seen, part)
        try:
            return view, replacing.will_it_do(case, seen, view.part, with_) if with_ else None, ()
        except BadInput as bad:
            return view, None, bad.complaints

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """A killer that was looked into, or a sibling put to the ways to go on."""
        book, now, part = self.desk.book, stamp(), said.get("part", "")
        try:
            case = self.case(request)
            match said.get("do"):
                case "offer":
                    with self.desk.writing:
                        case = self.case(request)
                        why_died.offer(book, case, said.get("sibling", ""), figure_said(said, "parts"), now)
                case "checked":
                    told = part, said.get("killer", ""), said.get("words", "")
                    payload = why_died.checked_said(book, case, *told, self.desk.view(case))
                    with self.desk.writing:
                        mark, case = case.mark, self.case(request)
                        if case.mark != mark:
                            raise stale()
                        why_died.keep_checked(book, case, payload, now)
                case do:
                    raise unknown(do or "")
        except BadInput as bad:
            return self.why(request, bad.complaints, said)
        return to(f"/jobs/{case.number}/why?{urlencode({'part': part})}")
