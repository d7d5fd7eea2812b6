"""A part that comes out and one that goes in, a step at a time."""

from __future__ import annotations

from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, fitting_lists
from probewright.jobs.fitting_lists import BAD, FitListView
from probewright.planning import fitting
from probewright.record import stamp
from probewright.report.bench import what
from probewright.report.fits import HEADS, what_it_is, what_it_takes
from probewright.web.sheets import Sheets, here, number, posted, to, unknown


class FitPages:
    """Which part, and its list."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        all_, one = "/jobs/{job:int}/fit-list", "/jobs/{job:int}/fit-list/{part:path}"
        return [
            Route(all_, self.parts),
            Route(all_, posted(self.chosen), methods=["POST"]),
            Route(one, self.fit_list),
            Route(one, posted(self.told), methods=["POST"]),
        ]

    def parts(self, request: Request, wrong: tuple[Complaint, ...] = (), typed: str = "") -> Response:
        """The parts that could come out, those at work first."""
        case = self.case(request)
        fits = case.fits
        begun = tuple(dict.fromkeys(one.part for some in (fits.said, fits.ticks, fits.heated) for one in some))
        return self.page(
            request, "fit_parts.html", 422 if wrong else 200, case=case, job=bench.view_case(case), what=what,
            begun=begun, parts=fitting_lists.parts_listed(case), wrong=wrong, typed=typed,
        )  # fmt: skip

    def chosen(self, request: Request, said: dict[str, str]) -> Response:
        """Go to the list of a part that was typed."""
        case, part = self.case(request), said.get("part", "")
        try:
            return to(f"/jobs/{case.number}/fit-list/{quote(fitting_lists.fit_list(case, part).part)}")
        except BadInput as bad:
            return self.parts(request, bad.complaints, part)

    def fit_list(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """Steps, heatings and pins of a part; said: a form that was refused, as it was typed."""
        case = self.case(request)
        view = fitting_lists.fit_list(case, request.path_params["part"])
        return self.page(
            request, "fit_list.html", 422 if wrong else 200, case=case, job=bench.view_case(case), view=view,
            next=_next(view), wrong=wrong, said=said or {}, what=what, heads=HEADS, is_=what_it_is(view),
            takes=what_it_takes(view), packages=fitting.packages(), boards=fitting.boards(),
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """A step done, a pin tried, what the part is, a heating, something taken back."""
        book, now, part = self.desk.book, stamp(), request.path_params["part"]
        words, entry = said.get("words", ""), number(said.get("entry", "")) or 0
        try:
            with self.desk.writing:
                case = self.case(request)
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
        except BadInput as bad:
            return self.fit_list(request, bad.complaints, said)
        return to(f"/jobs/{case.number}/fit-list/{quote(part)}{here(said)}")


def _next(view: FitListView) -> fitting_lists.FitItemView | None:
    """The first item that is not done, then the first that was not well; None where all is."""
    return next((one for said in ("", BAD) for one in view.items if one.done == said), None)
