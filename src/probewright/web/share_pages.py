"""A job to give away as a file, and one of another bench to take in."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs.bench import complaint
from probewright.jobs.cases import Case
from probewright.jobs.shared_jobs import share
from probewright.jobs.shared_shape import MOST_BYTES
from probewright.jobs.taken_jobs import keep_tried, try_out
from probewright.record import stamp
from probewright.web.sheets import JobPage
from probewright.web.uploads import Upload, sent, short_name


class SharePages(JobPage):
    """Jobs that go and come as files."""

    name, template = "share", "share.html"

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [
            *super().routes(),
            Route("/book/take", self.empty),
            Route("/book/take", sent(self.take, "file"), methods=["POST"]),
        ]

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """What would go into the file stands in the job itself."""
        return {}

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """The file."""
        case = self.case(request)
        also, keep = (
            [one.strip() for one in said.get(name, "").splitlines() if one.strip()] for name in ("also", "keep")
        )
        text, _ = share(self.desk.book, case, also, keep, said.get("pictures") == "yes")
        held = {"Content-Disposition": f'attachment; filename="job-{case.number}.json"'}
        return Response(text, media_type="application/json", headers=held)

    def empty(self, request: Request, wrong: tuple[Complaint, ...] = ()) -> Response:
        """Which file?"""
        return self.page(request, "take.html", 422 if wrong else 200, wrong=wrong, done=None)

    def take(self, request: Request, said: dict[str, str], files: tuple[Upload, ...]) -> Response:
        """Take it in."""
        try:
            if not files:
                raise complaint("no file was chosen", "choose one that another bench wrote")
            one = files[0]
            data = one.file.read(MOST_BYTES + 1)
            tried = try_out(data, short_name(one.name), said.get("counts") == "yes", stamp())
            with self.desk.writing:
                view = keep_tried(self.desk.book, tried)
        except BadInput as bad:
            return self.empty(request, bad.complaints)
        return self.page(request, "take.html", wrong=(), done=view)
