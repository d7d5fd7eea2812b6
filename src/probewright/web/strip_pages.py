"""A machine taken apart and put together again, a layer at a time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, putting_together, stripping
from probewright.jobs.cases import Case
from probewright.jobs.putting_together import BackView, RefitView
from probewright.jobs.stripping import ProposalView
from probewright.jobs.strips import many, number_of
from probewright.record import stamp
from probewright.web.sheets import JobPage, here, number, stale, to, unknown
from probewright.web.uploads import Upload, keep_all, sent

BACK_TOO = ("back", "bad", "explain")  # what is said while the machine goes together


class StripPages(JobPage):
    """The opening and the refit of a job's machine."""

    name, template = "strip", "strip.html"

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [*super().routes(), Route("/jobs/{job:int}/strip/photos", sent(self.photos), methods=["POST"])]

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """What came off, or what goes back."""
        view = stripping.strip_down(self.desk.book, case)
        told = request.query_params.get("back") or ("yes" if case.strip.back else "no")
        back = said.get("do") in BACK_TOO or (told == "yes" and not said.get("do"))
        return {"view": view, "back": back, "next": next_back(view.refit), "many": many, "lines_of": lines_of}

    def address(self, request: Request, case: Case, said: dict[str, str]) -> str:
        """The same way, in or out, at the same piece."""
        back = "yes" if said.get("back") == "yes" or said.get("do") in BACK_TOO else "no"
        return f"{super().address(request, case, said)}?back={back}{here(said)}"

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """A layer that came off, a thing that is back or was looked at, something taken back.

        entry: event of the layer, or of what is taken back; item: key of a thing of that layer. Numbers of layers move
        when one is put in before another, so no form sends them.
        """
        book, now, words = self.desk.book, stamp(), said.get("words", "")
        entry = number(said.get("entry", "")) or 0
        match said.get("do", ""):
            case "off":
                later = number(said.get("before", "")) or 0
                before = number_of(case.strip, later) if later else 0
                stripping.take_off(book, case, said.get("text", ""), now, before, said.get("once", ""))
            case "planned":
                self._planned(case, entry, said, now)
            case "follow":
                stripping.follow(book, case, entry, now)
            case "say":
                if said.get("lines") != lines_of(stripping.strip_down(book, case).proposals):
                    raise stale()
                stripping.say_proposed(book, case, now)
            case "back":
                which = putting_together.which_of(case, entry, said.get("item", ""))
                putting_together.put_back(book, case, which, now, _count(said), words)
            case "bad":
                which = putting_together.which_of(case, entry, said.get("item", ""))
                putting_together.looked_at(book, case, which, "bad", words, now)
            case "explain":
                putting_together.explain(book, case, words, now)
            case "photo":
                stripping.tie_photo(book, case, number_of(case.strip, entry), said.get("photo", ""), now)
            case "gone":
                stripping.take_back(book, case, entry, now)
            case do:
                raise unknown(do)

    def _planned(self, case: Case, entry: int, said: dict[str, str], now: str) -> None:
        """A layer of the list came off, if the list still names it there; sent twice it came off once."""
        shown = (_plain(said.get("name", "")), _plain(said.get("says", "")))
        one = next((one for one in stripping.ahead(case) if one.number == entry), None)
        if one is None or (_plain(one.name), _plain(one.says)) != shown:
            raise stale()
        if not one.done:
            stripping.take_off_planned(self.desk.book, case, now, entry)

    def photos(self, request: Request, said: dict[str, str], files: tuple[Upload, ...]) -> Response:
        """Put pictures to the job that show a layer."""
        case, entry = self.case(request), number(said.get("entry", "")) or 0
        before = {one.name for one in case.photos}
        case, refused = keep_all(self.desk.book, case, files, said.get("says", ""), said.get("once", ""))
        try:
            with self.desk.writing:
                case = self.case(request)
                for one in case.photos:
                    if one.name not in before:
                        layer = number_of(case.strip, entry)
                        case = stripping.tie_photo(self.desk.book, case, layer, one.name, stamp())
        except BadInput as bad:
            return self.shown(request, bad.complaints, {"do": "photo"})
        if refused or not files:
            told = refused or ("no picture was chosen",)
            wrong = tuple(Complaint("", 1, 1, one.rstrip("."), "choose one and send it") for one in told)
            return self.shown(request, wrong, {"do": "photo"})
        return to(f"/jobs/{case.number}/strip?back=no")


def next_back(view: RefitView) -> BackView | None:
    """The first thing that is not back, or not looked at, or was not well; None where all is done."""
    return next((one for layer in view.layers for one in layer.items if one.done != "ok"), None)


def lines_of(proposals: Sequence[ProposalView]) -> str:
    """The lines that a form was filled in beside."""
    return "; ".join(one.line for one in proposals)


def _plain(text: str) -> str:
    """A text as it comes out of a form, whose line ends are a browser's."""
    return " ".join(text.split())


def _count(said: dict[str, str]) -> int | None:
    """How many went back; None for all. BadInput for what is no number."""
    typed = said.get("count", "").strip()
    if not typed:
        return None
    found = number(typed)
    if found is None:
        raise bench.complaint(f"{typed!r} is no number", "count what went in")
    return found
