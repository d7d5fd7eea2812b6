"""Is it safe? Checks after a repair, with limits; what passed, what failed, who did it."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from probewright.jobs import bench
from probewright.jobs import checking_safety as telling
from probewright.jobs.cases import Case
from probewright.jobs.safety_checks import safety
from probewright.planning.safety import PROTECTIONS
from probewright.record import stamp
from probewright.report.safety import result
from probewright.web.sheets import JobPage, number, unknown


class SafetyPages(JobPage):
    """The safety checks of a job."""

    name, template = "safety", "safety.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """Where it stands."""
        bench.owned(case)
        return {"view": safety(case), "protections": PROTECTIONS, "result": result}

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """Its class, a result, who else checked it, what was mended, unsafe and signed, a result taken back."""
        book, now = self.desk.book, stamp()
        by, words, why = (said.get(name, "") for name in ("by", "words", "why"))
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


def _metres(typed: str) -> float:
    """Metres of a form, 0 where the field was left empty. BadInput for what is none."""
    try:
        return float(typed.strip().removesuffix("m").replace(",", ".") or 0.0)
    except ValueError:
        raise bench.complaint(f"{typed.strip()!r} is no length", "write metres, like 2") from None
