"""A machine taken apart and put together again, a layer at a time."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, stripping
from probewright.jobs.cases import Case
from probewright.jobs.stripping import BackView, ProposalView, RefitView
from probewright.jobs.strips import many
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web.sheets import Sheets, here, number, posted, stale, to, unknown
from probewright.web.uploads import Upload, keep_all, sent

BACK_TOO = ("back", "bad", "explain")  # what is said while the machine goes together


class StripPages:
    """The opening and the refit of a job's machine."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        at = "/jobs/{job:int}/strip"
        return [
            Route(at, self.strip),
            Route(at, posted(self.told), methods=["POST"]),
            Route(f"{at}/photos", sent(self.photos), methods=["POST"]),
        ]

    def strip(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """What came off, or what goes back; said: a form that was refused, as it was typed."""
        case = self.case(request)
        view = stripping.strip_down(self.desk.book, case)
        told = request.query_params.get("back") or ("yes" if case.strip.back else "no")
        back = (said or {}).get("do") in BACK_TOO or (told == "yes" and not (said or {}).get("do"))
        return self.page(
            request, "strip.html", 422 if wrong else 200, case=case, job=bench.view_case(case), view=view, back=back,
            next=next_back(view.refit), wrong=wrong, said=said or {}, what=what, many=many, lines_of=lines_of,
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """A layer that came off, a thing that is back or was looked at, something taken back."""
        do = said.get("do", "")
        try:
            with self.desk.writing:
                case = self.case(request)
                self._keep(case, do, said, stamp())
        except BadInput as bad:
            return self.strip(request, bad.complaints, said)
        back = "yes" if said.get("back") == "yes" or do in BACK_TOO else "no"
        return to(f"/jobs/{case.number}/strip?back={back}{here(said)}")

    def _keep(self, case: Case, do: str, said: dict[str, str], now: str) -> None:
        """One form. entry: event of the layer, or of what is taken back; item: key of a thing of that layer. Numbers of
        layers move when one is put in before another, so no form sends them."""
        book, words, entry = self.desk.book, said.get("words", ""), number(said.get("entry", "")) or 0
        match do:
            case "off":
                later = number(said.get("before", "")) or 0
                before = stripping.number_of(case, later) if later else 0
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
                which = stripping.which_of(case, entry, said.get("item", ""))
                stripping.put_back(book, case, which, now, _count(said), words)
            case "bad":
                which = stripping.which_of(case, entry, said.get("item", ""))
                stripping.looked_at(book, case, which, "bad", words, now)
            case "explain":
                stripping.explain(book, case, words, now)
            case "photo":
                stripping.tie_photo(book, case, stripping.number_of(case, entry), said.get("photo", ""), now)
            case "gone":
                stripping.take_back(book, case, entry, now)
            case _:
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
                        layer = stripping.number_of(case, entry)
                        case = stripping.tie_photo(self.desk.book, case, layer, one.name, stamp())
        except BadInput as bad:
            return self.strip(request, bad.complaints, {"do": "photo"})
        if refused or not files:
            told = refused or ("no picture was chosen",)
            wrong = tuple(Complaint("", 1, 1, one.rstrip("."), "choose one and send it") for one in told)
            return self.strip(request, wrong, {"do": "photo"})
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
