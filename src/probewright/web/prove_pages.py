"""Does the repair hold? What is to be tried, entered, and claimed by now."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from probewright.jobs import bench, proving
from probewright.jobs.cases import Case, Tried
from probewright.record import stamp
from probewright.report.proofs import changed, ran
from probewright.report.times import lasted
from probewright.web.sheets import JobPage, number


class ProvePages(JobPage):
    """The proof of a job."""

    name, template = "proof", "proof.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """Where it stands."""
        view = proving.prove(case)
        return {"view": view, "changed": changed, "ran": ran(view, stamp()), "lasted": lasted}

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """Tries, a run begun or ended, an adjustment, tries taken back."""
        book, now = self.desk.book, stamp()
        match said.get("do"):
            case "begin" if case.running is not None and case.running.under == said.get("under", "").strip():
                pass  # it was sent twice
            case "begin":
                proving.begin_run(book, case, said.get("under", ""), now)
            case "end" | "came" | "broken off" as ended:
                proving.end_run(book, case, ended == "came", ended == "broken off", said.get("words", ""), now)
            case "adjusted":
                what, before, after, once = (said.get(name, "") for name in ("what", "before", "after", "once"))
                proving.adjusted(book, case, what, before, after, now, once)
            case "back":
                proving.take_back(book, case, number(said.get("event", "")) or 0, now)
            case _:
                proving.tried(book, case, _tried(said, now), now, said.get("once", ""), "insist" in said)


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
