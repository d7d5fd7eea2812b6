"""A part that comes out and one that goes in, a step at a time."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from probewright.jobs import fitting_lists, why_died
from probewright.jobs.cases import Case
from probewright.jobs.fitting_lists import BAD, FitListView
from probewright.planning import fitting
from probewright.record import stamp
from probewright.report.fits import HEADS, what_it_is, what_it_takes
from probewright.web.sheets import JobPage, here, number, to, unknown


class FitPartsPage(JobPage):
    """Which part."""

    name, template = "fit-list", "fit_parts.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """The parts that could come out, those at work first."""
        fits = case.fits
        begun = tuple(dict.fromkeys(one.part for some in (fits.said, fits.ticks, fits.heated) for one in some))
        parts = fitting_lists.parts_listed(case)
        return {"begun": begun, "parts": parts, "located": self._located(case, parts)}

    def _located(self, case: Case, parts: tuple[str, ...]) -> str:
        """The part that the fault lies in, by what is worked out already; "" where none is located."""
        view = self.desk.view(case)
        part = why_died.part_located(case, view.search) if view is not None else ""
        return part if part in parts else ""

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """Go to the list of a part that was typed."""
        case = self.case(request)
        part = fitting_lists.fit_list(case, said.get("part", "")).part
        return to(f"{self.address(request, case, said)}/{quote(part)}")


class FitListPage(JobPage):
    """The list of a part."""

    name, template = "fit-list/{part:path}", "fit_list.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """Steps, heatings and pins of a part."""
        view = fitting_lists.fit_list(case, request.path_params["part"])
        words = {"heads": HEADS, "is_": what_it_is(view), "takes": what_it_takes(view)}
        return {"view": view, "next": _next(view), **words, "packages": fitting.packages(), "boards": fitting.boards()}

    def address(self, request: Request, case: Case, said: dict[str, str]) -> str:
        """The same list, at the same piece."""
        return f"/jobs/{case.number}/fit-list/{quote(request.path_params['part'])}{here(said)}"

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """A step done, a pin tried, what the part is, a heating, something taken back."""
        book, now, part = self.desk.book, stamp(), request.path_params["part"]
        words, entry = said.get("words", ""), number(said.get("entry", "")) or 0
        match said.get("do", ""):
            case "ok" | "bad" as answer:
                which = fitting_lists.number_of(case, part, said.get("item", ""))
                fitting_lists.tick_fit(book, case, part, which, answer, words, now)
            case "is":
                package, board = said.get("package", "").strip(), said.get("board", "")
                fitting_lists.say_fit(book, case, part, now, package, board, said.get("kept") == "yes")
            case "heated":
                times = number(said.get("times", "").strip() or "1")
                once = said.get("once", "")
                fitting_lists.heat_fit(book, case, part, 0 if times is None else times, words, now, once)
            case "anew":
                fitting_lists.begin_fit(book, case, part, now)
            case "say":
                fitting_lists.say_fitted(book, case, part, now)
            case "gone":
                fitting_lists.take_back_fit(book, case, entry, now)
            case do:
                raise unknown(do)


def _next(view: FitListView) -> fitting_lists.FitItemView | None:
    """The first item that is not done, then the first that was not well; None where all is."""
    return next((one for said in ("", BAD) for one in view.items if one.done == said), None)
