"""Help."""

from __future__ import annotations

from starlette.routing import Route

from probewright.web.sheets import Sheets


class HelpPages:
    """The help page."""

    def __init__(self, sheets: Sheets) -> None:
        self.page = sheets.page

    def routes(self) -> list[Route]:
        """Where this page is."""
        return []
