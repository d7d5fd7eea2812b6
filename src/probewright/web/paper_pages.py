"""The papers of a job: to look at and print, to hand over, and what is said for them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from probewright.jobs import billing, handing_over
from probewright.jobs.cases import Case
from probewright.jobs.handing_over import PAPERS, HandOverView
from probewright.record import stamp
from probewright.report import paper as sheet
from probewright.report import papers, printing
from probewright.report.paper import Paper
from probewright.web.sheets import JobPage, stale, to, unknown

PATIENCE = 20.0  # s, chosen: a paper waits for the refined answer, which most jobs have by then
WORDS = ("cause", "did", "weak", "advice", "use", "untouched", "kept")
BILLED = ("hours", "to_come", "paid", "stored")
TERMS = {  # as the form says them; `inside` is ticked
    "rate": "An hour", "currency": "Written after a figure", "minimum": "Hours charged at least",
    "unit": "Rounded up to minutes", "tax": "Tax, per cent", "name": "What it is called",
    "inside": "Prices hold the tax", "deposit": "Deposit asked", "storage": "A day of storage",
    "free": "Days that cost nothing", "coin": "The smallest sum", "warranty": "Warranty, days",
    "head": "Name and address at the head of papers",
}  # fmt: skip


class PaperPages(JobPage):
    """What a job is handed over with."""

    name, template = "papers", "papers.html"

    def routes(self) -> list[Route]:
        """Where these pages are."""
        at = "/jobs/{job:int}/papers/{paper}"
        return [*super().routes(), Route(at, self.paper), Route(f"{at}/pdf", self.pdf)]

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """The four papers, what was handed over, and the forms."""
        views = {name: self._view(case, name, 0.0) for name in PAPERS}
        missing = [papers.plainly(one) for one in views["owner"].open_]
        said_so = {"money": billing.money, "digits": billing.digits, "terms": billing.terms_of(self.desk.book, case),
                   "labels": TERMS}  # fmt: skip
        return {"views": views, "names": papers.NAMES, "missing": missing, "can_pdf": printing.can_pdf(), **said_so}

    def paper(self, request: Request) -> Response:
        """One paper, as it is printed."""
        return HTMLResponse(printing.printed(self._made(self._asked(request)), printing.HTML))

    def pdf(self, request: Request) -> Response:
        """The same as PDF. BadInput where this install makes none."""
        view = self._asked(request)
        named = {"Content-Disposition": f'inline; filename="job-{view.job}-{view.paper}.pdf"'}
        return Response(printing.pdf(self._made(view)), media_type=printing.SORTS[printing.PDF], headers=named)

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """That a paper was handed over, or what is said for one."""
        if said.get("do") != "hand":
            return super().kept(request, said)
        case = self.case(request)
        self._hand(request, case, said.get("paper", ""), said.get("once", ""))
        return to(self.address(request, case, said))

    def _hand(self, request: Request, case: Case, paper: str, once: str) -> None:
        """A paper of the job as it stands, made before others are kept from writing: it may wait for the answer."""
        view = self._view(case, paper, PATIENCE)
        text = sheet.text(self._made(view))
        with self.desk.writing:
            now = self.case(request)
            if _rests_on(now) != _rests_on(case) and not handing_over.was_handed(now, once):
                raise stale()
            handing_over.hand(self.desk.book, now, view, text, "page", stamp(), once)

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """Words for the owner, sums, terms."""
        book, now = self.desk.book, stamp()
        match said.get("do"):
            case "words":
                handing_over.tell_owner(book, case, _of(said, WORDS), now)
            case "sums":
                billing.tell_billed(book, case, _of(said, BILLED), {}, now)
            case "charge":
                billing.charge(book, case, said.get("what", ""), said.get("price", ""), now)
            case "drop":
                billing.drop_charge(book, case, said.get("what", ""), now)
            case "terms" | "own terms" as whose:
                terms = _of(said, TERMS) | {"inside": "yes" if said.get("inside") == "yes" else "no"}
                if whose == "terms":
                    billing.tell_terms(book, terms, now)
                else:
                    billing.tell_billed(book, case, {}, terms, now)
            case do:
                raise unknown(do or "")

    def _asked(self, request: Request) -> HandOverView:
        return self._view(self.case(request), request.path_params["paper"], PATIENCE)

    def _view(self, case: Case, paper: str, seconds: float) -> HandOverView:
        view = self.desk.refined(case, seconds) if seconds else self.desk.view(case)
        return handing_over.hand_over(self.desk.book, case, view, paper, stamp())

    def _made(self, view: HandOverView) -> Paper:
        return papers.paper(view)


def _rests_on(case: Case) -> tuple[object, ...]:
    """What a paper is made from."""
    told = case.agreed, case.consents, case.options, case.parts_told, case.safety_told, case.papers
    return case.mark, case.closed, *told


def _of(said: dict[str, str], names: Iterable[str]) -> dict[str, str]:
    """The fields of a form that it brought."""
    return {name: said[name] for name in names if name in said}
