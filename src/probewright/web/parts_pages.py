"""Parts used: where each comes from, what became of the old one, who sits where."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from probewright.jobs import parts_used
from probewright.jobs.cases import Case
from probewright.record import stamp
from probewright.report.parts import part
from probewright.web.sheets import JobPage, number, unknown


class PartsPages(JobPage):
    """The parts of a job."""

    name, template = "parts", "parts.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """The list."""
        view, added = parts_used.parts_view(self.desk.book, case), parts_used.added(case)
        listed = {"origins": tuple(parts_used.ORIGINS), "fates": parts_used.FATES}
        return {"view": view, "part": part, "added": added, **listed}

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """What is told of a part, a part of its own, one that was added by mistake."""
        book, now = self.desk.book, stamp()
        told = {name: said.get(name, "") for name in parts_used.TELLS}
        if "untested" in said and not told["state"].strip():
            told["state"] = parts_used.UNTESTED
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
