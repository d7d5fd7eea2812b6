"""Parts used: where each comes from, what became of the old one, who sits where."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, parts_used
from probewright.record import stamp
from probewright.report.bench import what
from probewright.report.parts import part
from probewright.web.sheets import Sheets, number, posted, to, unknown


class PartsPages:
    """The parts of a job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where this page is."""
        at = "/jobs/{job:int}/parts"
        return [Route(at, self.parts), Route(at, posted(self.told), methods=["POST"])]

    def parts(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """The list; said: a form that was refused, as it was typed."""
        case = self.case(request)
        return self.page(
            request, "parts.html", 422 if wrong else 200, case=case, job=bench.view_case(case),
            view=parts_used.parts_view(self.desk.book, case), part=part, origins=tuple(parts_used.ORIGINS),
            fates=parts_used.FATES, added=parts_used.added(case), wrong=wrong, said=said or {}, what=what,
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """What is told of a part, a part of its own, one that was added by mistake."""
        book, now = self.desk.book, stamp()
        told = {name: said.get(name, "") for name in parts_used.TELLS}
        if "untested" in said and not told["state"].strip():
            told["state"] = parts_used.UNTESTED
        try:
            with self.desk.writing:
                case = self.case(request)
                match said.get("do"):
                    case "back":
                        parts_used.drop_part(book, case, number(said.get("line", "")) or 0, now)
                    case "add":
                        parts_used.add_part(book, case, said.get("part", ""), told, now, said.get("once", ""))
                    case "tell":
                        line, shown = number(said.get("line", "")) or 0, said.get("shown", "").split()
                        clear = {name: one for name, one in told.items() if one.strip() or name in shown}
                        parts_used.tell_part(book, case, said.get("part", ""), clear, now, line)
                    case do:
                        raise unknown(do or "")
        except BadInput as bad:
            return self.parts(request, bad.complaints, said)
        return to(f"/jobs/{case.number}/parts")
