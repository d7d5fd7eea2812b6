"""Why a part died, what to check before the new one is powered, and whether that will do."""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from probewright.errors import BadInput, Complaint
from probewright.jobs import replacing, why_died
from probewright.jobs.cases import Case
from probewright.jobs.replacing import ReplaceView
from probewright.jobs.why_died import WhyView
from probewright.record import stamp
from probewright.web.decide_pages import figure_said
from probewright.web.sheets import JobPage, stale, to, unknown

AT_ONCE, PATIENCE = 2.0, 20.0  # s, chosen: how long a browser is kept waiting at first, and when it asks again
Worked = tuple[WhyView | None, ReplaceView | None, tuple[Complaint, ...]]  # and what of the new part was refused
WORDS = {"enough": "✓", "tight": "~", "too little": "✗", "another": "✗", "not known": "?"}


class WhyPages(JobPage):
    """Why a part of a job died."""

    name, template = "why", "why.html"

    def shown(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """What it bore and what killed it; said: a form that was refused, as it was typed."""
        case, asked = self.case(request), said or dict(request.query_params)
        part, with_ = asked.get("part", ""), asked.get("with", "").strip()
        found: Worked | None = (None, None, ())
        try:
            seconds = PATIENCE if "wait" in request.query_params or said else AT_ONCE
            key = ("why", case.number, case.touched, str(case.shown), part, with_)  # a refined answer: anew
            found = self.desk.worked(key, lambda: self._made(case, part, with_), seconds)
        except BadInput as bad:
            wrong = tuple(dict.fromkeys((*wrong, *bad.complaints)))  # refused and not drawn for one reason
        view, new, refused = found or (None, None, ())
        return self.drawn(
            request, case, bool(said), view=view, new=new, parts=why_died.parts_to_ask(case), coming=found is None,
            wrong=(*wrong, *refused), said=asked, signs=WORDS,
            example=replacing.example(case, view.part) if view else "",
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

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """A killer that was looked into is worked out before others are kept from writing."""
        if said.get("do") != "checked":
            return super().kept(request, said)
        book, now, case = self.desk.book, stamp(), self.case(request)
        told = said.get("part", ""), said.get("killer", ""), said.get("words", "")
        payload = why_died.checked_said(book, case, *told, self.desk.view(case))
        with self.desk.writing:
            mark, case = case.mark, self.case(request)
            if case.mark != mark:
                raise stale()
            why_died.keep_checked(book, case, payload, now)
        return to(self.address(request, case, said))

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """A sibling put to the ways to go on."""
        if said.get("do") != "offer":
            raise unknown(said.get("do", ""))
        why_died.offer(self.desk.book, case, said.get("sibling", ""), figure_said(said, "parts"), stamp())

    def address(self, request: Request, case: Case, said: dict[str, str]) -> str:
        """The same part."""
        return f"{super().address(request, case, said)}?{urlencode({'part': said.get('part', '')})}"
