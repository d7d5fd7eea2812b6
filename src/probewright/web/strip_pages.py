"""A machine taken apart and put together again, a layer at a time."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, stripping
from probewright.jobs.stripping import BackView, RefitView
from probewright.jobs.strips import many
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web.sheets import Sheets, here, number, posted, to
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
            next=next_back(view.refit), wrong=wrong, said=said or {}, what=what, many=many,
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """A layer that came off, a thing that is back or was looked at, something taken back."""
        book, now, do = self.desk.book, stamp(), said.get("do", "")
        try:
            with self.desk.writing:
                case = self.case(request)
                which, entry = said.get("which", ""), number(said.get("entry", "")) or 0
                match do:
                    case "off":
                        stripping.take_off(book, case, said.get("text", ""), now, number(said.get("before", "")) or 0)
                    case "planned":
                        stripping.take_off_planned(book, case, now, entry)
                    case "follow":
                        stripping.follow(book, case, entry, now)
                    case "say":
                        stripping.say_proposed(book, case, now)
                    case "back":
                        stripping.put_back(book, case, which, now, _count(said), said.get("words", ""))
                    case "bad":
                        stripping.looked_at(book, case, which, "bad", said.get("words", ""), now)
                    case "explain":
                        stripping.explain(book, case, said.get("words", ""), now)
                    case "photo":
                        stripping.tie_photo(book, case, entry, said.get("photo", ""), now)
                    case _:
                        stripping.take_back(book, case, entry, now)
        except BadInput as bad:
            return self.strip(request, bad.complaints, said)
        back = "yes" if said.get("back") == "yes" or do in BACK_TOO else "no"
        return to(f"/jobs/{case.number}/strip?back={back}{here(said)}")

    def photos(self, request: Request, said: dict[str, str], files: tuple[Upload, ...]) -> Response:
        """Put pictures to the job that show a layer."""
        case, layer = self.case(request), number(said.get("entry", "")) or 0
        before = {one.name for one in case.photos}
        case, refused = keep_all(self.desk.book, case, files, said.get("says", ""), said.get("once", ""))
        try:
            with self.desk.writing:
                for one in case.photos:
                    if one.name not in before:
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


def _count(said: dict[str, str]) -> int | None:
    """How many went back; None for all. BadInput for what is no number."""
    typed = said.get("count", "").strip()
    if not typed:
        return None
    found = number(typed)
    if found is None:
        raise bench.complaint(f"{typed!r} is no number", "count what went in")
    return found
