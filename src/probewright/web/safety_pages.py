"""Is it safe? Checks after a repair, with limits; what passed, what failed, who did it."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench
from probewright.jobs import checking_safety as telling
from probewright.jobs.safety_checks import safety
from probewright.planning.safety import PROTECTIONS
from probewright.record import stamp
from probewright.report.bench import what
from probewright.report.safety import result
from probewright.web.sheets import Sheets, number, posted, to, unknown


class SafetyPages:
    """The safety checks of a job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where this page is."""
        at = "/jobs/{job:int}/safety"
        return [Route(at, self.safety), Route(at, posted(self.told), methods=["POST"])]

    def safety(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """Where it stands; said: a form that was refused, as it was typed."""
        case = self.case(request)
        bench.owned(case)
        return self.page(
            request, "safety.html", 422 if wrong else 200, case=case, job=bench.view_case(case), view=safety(case),
            protections=PROTECTIONS, result=result, wrong=wrong, said=said or {}, what=what,
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """Its class, a result, who else checked it, what was mended, unsafe and signed, a result taken back."""
        book, now = self.desk.book, stamp()
        by, words, why = (said.get(name, "") for name in ("by", "words", "why"))
        try:
            with self.desk.writing:
                case = self.case(request)
                match said.get("do", ""):
                    case "class":
                        lead = _metres(said.get("lead", ""))
                        telling.tell_class(book, case, now, said.get("protection", ""), said.get("tube") == "yes", lead)
                    case "elsewhere":
                        telling.checked_by(book, case, by, words, now)
                    case "mended":
                        telling.mended(book, case, words, now)
                    case "unsafe":
                        telling.left_unsafe(book, case, words, said.get("signed", ""), now)
                    case "back":
                        telling.take_back(book, case, number(said.get("event", "")) or 0, words, now)
                    case "leave" if not why.strip():
                        raise bench.complaint("it is not said why it is left out", "write the reason")
                    case "" | "passed" | "failed" | "leave" as answer:
                        result = {"passed": "yes", "failed": "no"}.get(answer, said.get("figure", ""))
                        left, name, tool = why if answer == "leave" else "", said.get("check", ""), said.get("tool", "")
                        telling.check(book, case, name, result, now, by=by, tool=tool, words=words, leave=left)
                    case do:
                        raise unknown(do)
        except BadInput as bad:
            return self.safety(request, bad.complaints, said)
        return to(f"/jobs/{case.number}/safety")


def _metres(typed: str) -> float:
    """Metres of a form, 0 where the field was left empty. BadInput for what is none."""
    try:
        return float(typed.strip().removesuffix("m").replace(",", ".") or 0.0)
    except ValueError:
        raise bench.complaint(f"{typed.strip()!r} is no length", "write metres, like 2") from None
