"""This bench: its instruments and the minutes its steps take."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs.equipping import minutes_said, tell_kit, view_kit
from probewright.readings.kit import TOOLS
from probewright.record import stamp
from probewright.web.sheets import Sheets, posted, to

ROW = "minutes "  # what the names of the fields for minutes begin with


class KitPages:
    """What concerns the bench and no job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page = sheets.desk, sheets.page

    def routes(self) -> list[Route]:
        """Where this page is."""
        return [Route("/kit", self.kit), Route("/kit", posted(self.told), methods=["POST"])]

    def kit(self, request: Request, wrong: Sequence[Complaint] = (), said: dict[str, str] | None = None) -> Response:
        """What is reckoned with; said: a form that was refused, as it was typed."""
        told = said or {}
        return self.page(request, "kit.html", 422 if wrong else 200, view=view_kit(self.desk.book), wrong=wrong,
                         said=told, row=ROW, kept=request.query_params.get("kept"))  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """Keep what was changed."""
        try:
            with self.desk.writing:
                view = view_kit(self.desk.book)
                has = [tool for tool in TOOLS if said.get(f"has {tool}") == "yes"]
                before = {one.row: one.told for one in view.paces}
                typed = {row: said.get(f"{ROW}{row}", "").strip() for row in before}
                told = {row: minutes_said(row, text) if text else None for row, text in typed.items()}
                new = {row: value for row, value in told.items() if value != before[row]}
                changed = view.told or has != [one.name for one in view.tools if one.here]
                trained = said.get("trained") == "yes"
                if new or changed or trained != view.trained:
                    tell_kit(self.desk.book, has if changed else None, new, stamp(), trained)
        except BadInput as bad:
            return self.kit(request, bad.complaints, said)
        return to("/kit?kept=yes")
