"""Does the repair hold? What is to be tried, entered, and claimed by now."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, proving
from probewright.jobs.cases import Tried
from probewright.jobs.warming import seconds_of
from probewright.record import stamp
from probewright.report.bench import what
from probewright.report.proofs import changed
from probewright.report.times import lasted
from probewright.web.sheets import Sheets, number, posted, to


class ProvePages:
    """The proof of a job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where this page is."""
        at = "/jobs/{job:int}/proof"
        return [Route(at, self.proof), Route(at, posted(self.told), methods=["POST"])]

    def proof(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """Where it stands; said: a form that was refused, as it was typed."""
        case = self.case(request)
        view = proving.prove(case)
        ran = seconds_of(stamp()) - seconds_of(view.running) if view.running else 0.0
        return self.page(
            request, "proof.html", 422 if wrong else 200, case=case, job=bench.view_case(case), view=view, wrong=wrong,
            said=said or {}, what=what, changed=changed, ran=ran, lasted=lasted,
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """Tries, a run begun or ended, an adjustment, tries taken back."""
        book, now = self.desk.book, stamp()
        try:
            with self.desk.writing:
                case = self.case(request)
                match said.get("do"):
                    case "begin" if case.running is not None and case.running.under == said.get("under", "").strip():
                        pass  # it was sent twice
                    case "begin":
                        proving.begin_run(book, case, said.get("under", ""), now)
                    case "end" | "came" | "broken off" as ended:
                        proving.end_run(book, case, ended == "came", ended == "broken off", said.get("words", ""), now)
                    case "adjusted":
                        set_ = said.get("what", "")
                        proving.adjusted(book, case, set_, said.get("before", ""), said.get("after", ""), now)
                    case "back":
                        proving.take_back(book, case, number(said.get("event", "")) or 0, now)
                    case _:
                        proving.tried(book, case, _tried(said, now), now, said.get("once", ""), "insist" in said)
        except BadInput as bad:
            return self.proof(request, bad.complaints, said)
        return to(f"/jobs/{case.number}/proof")


def _tried(said: dict[str, str], now: str) -> Tried:
    """Tries as the form tells them. BadInput for what is no number."""
    starts, ran, shown = (said.get(name, "").strip() for name in ("starts", "ran", "shown"))
    times = number(shown) if shown else 0
    if times is None:
        raise bench.complaint(f"{shown!r} is no number of times", "count how often the fault showed")
    if bool(starts) == bool(ran):
        raise bench.complaint("either starts or a time it ran", "fill in one of the two")
    amount = float(number(starts) or 0) if starts else proving.hours_said(ran)
    kind = proving.STARTS if starts else proving.RUN
    return Tried(0, now, kind, amount, times, said.get("under", ""), "interrupted" in said,
                         said.get("words", ""))  # fmt: skip
