"""The book of the bench as a whole: a copy to take away, an export, an owner forgotten."""

from __future__ import annotations

import re
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from probewright.jobs.bench import complaint, every_case
from probewright.jobs.cases import Case
from probewright.jobs.copies import write_copy
from probewright.jobs.erasing import erase_owner
from probewright.jobs.exporting import exported
from probewright.record import stamp
from probewright.report import books
from probewright.web.sheets import JobPage, Sheets


class BookPages:
    """What concerns the book and no single machine."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page = sheets.desk, sheets.page

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [Route("/book", self.book), Route("/book/copy", self.copy), Route("/book/export", self.export)]

    def book(self, request: Request) -> Response:
        """What can be done with the book."""
        named = [case for case in every_case(self.desk.book) if case.intake.owner]
        return self.page(
            request, "book.html", path=str(self.desk.book.path), jobs=len(self.desk.book.jobs()), named=named
        )

    def copy(self, request: Request) -> Response:
        """Everything as it stands now, to be kept elsewhere."""
        path, at = _new_file(), stamp()
        with path.open("wb") as file:
            write_copy(self.desk.book, file, at, path.name)
        return _download(path, f"bench-{_date(at)}.zip")

    def export(self, request: Request) -> Response:
        """The same for other programs."""
        path, at = _new_file(), stamp()
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, text in exported(self.desk.book, at):
                archive.writestr(name, text)
        return _download(path, f"bench-export-{_date(at)}.zip")


class ForgetPage(JobPage):
    """The owner of a job, to be forgotten."""

    name, template = "forget", "forget.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """What would be erased."""
        return {"done": None}

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """Erase it, for good."""
        if said.get("meant") != "yes":
            raise complaint("nothing was erased", "tick that it is meant, then press again")
        words = [one.strip() for one in said.get("also", "").splitlines() if one.strip()]
        with self.desk.writing:
            view = erase_owner(self.desk.book, self.case(request), words, stamp())
        return self.drawn(request, self.case(request), False, done=view, left=books.left(view))


def _new_file() -> Path:
    with tempfile.NamedTemporaryFile(prefix="probewright-", suffix=".zip", delete=False) as file:
        return Path(file.name)


def _download(path: Path, name: str) -> Response:
    """The file, which is gone from here once it was sent."""
    return FileResponse(path, media_type="application/zip", filename=name, background=BackgroundTask(path.unlink))


def _date(at: str) -> str:
    return re.sub(r"\D", "", at)[:12]
