"""The whole of the pages on one book, behind the guard."""

from __future__ import annotations

import logging
import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from probewright.errors import BadInput
from probewright.record import Book
from probewright.web.added_pages import AddedPages
from probewright.web.bench_pages import BenchPages
from probewright.web.book_pages import BookPages, ForgetPage
from probewright.web.decide_pages import DecidePages
from probewright.web.desk import Desk
from probewright.web.fit_pages import FitListPage, FitPartsPage
from probewright.web.guarding import HEADERS, Guard, Refused
from probewright.web.healthy_pages import HealthyPages
from probewright.web.help_pages import HelpPages
from probewright.web.job_pages import JobPages
from probewright.web.kit_pages import KitPages
from probewright.web.machine_pages import MachinePages
from probewright.web.pairing import Pairing
from probewright.web.pairing_pages import PairingPages
from probewright.web.paper_pages import PaperPages
from probewright.web.parts_pages import PartsPages
from probewright.web.photo_pages import PhotoPages
from probewright.web.picture_pages import PicturePages
from probewright.web.practice_pages import PracticePages
from probewright.web.prove_pages import ProvePages
from probewright.web.remember_pages import RememberPages
from probewright.web.safety_pages import SafetyPages
from probewright.web.share_pages import SharePages
from probewright.web.sheets import HERE, Sheets, on_page, to
from probewright.web.strip_pages import StripPages
from probewright.web.waveform_pages import WaveformPages
from probewright.web.why_pages import WhyPages

# each has `routes()`; a new page is one file and its name here
PAGES = (
    JobPages, BenchPages, PicturePages, PairingPages, HelpPages, PhotoPages, MachinePages, HealthyPages, WaveformPages,
    KitPages, BookPages, ProvePages, DecidePages, PartsPages, SafetyPages, PaperPages, WhyPages, AddedPages, StripPages,
    FitPartsPage, FitListPage, RememberPages, SharePages, ForgetPage, PracticePages,
)  # fmt: skip
UNSAID = ("token", "once", "mark", "asked", "seen", "kept")  # fields of a form that nobody typed
LOG = logging.getLogger("probewright.web")


def make_app(book: Book, secret: str, shared: Pairing | None = None) -> Starlette:
    """The pages on this book. secret: what sessions and tokens are signed with; shared: who else may come."""
    desk = Desk(book)
    sheets = Sheets(desk)

    async def complained(request: Request, problem: Exception) -> Response:
        assert isinstance(problem, BadInput)
        said = [on_page(one.says) for one in problem.complaints]
        typed = {name: text for name, text in getattr(request.state, "said", {}).items() if name not in UNSAID and text}
        return sheets.page(request, "wrong.html", 400, said=said, typed=typed, job=known_job(request))

    async def astray(request: Request, problem: Exception) -> Response:
        assert isinstance(problem, HTTPException)
        at = request.url.path
        if problem.status_code == 405 and request.method == "GET":
            return to(at.rpartition("/")[0])  # where a form was sent, opened anew: the page that the form stands on
        if problem.status_code != 404 or at.startswith("/static/"):
            return Response(problem.detail, problem.status_code, media_type="text/plain")
        said = ["there is no page at this address; begin at “Jobs”"]
        return sheets.page(request, "wrong.html", 404, said=said, typed={}, job=known_job(request))

    def known_job(request: Request) -> int | None:
        """The job that an address names, where there is one."""
        with suppress(BadInput):
            return desk.case(request.path_params.get("job", 0)).number
        return None

    async def turned_away(request: Request, problem: Exception) -> Response:
        assert isinstance(problem, Refused)
        return problem.answer()

    async def broken(request: Request, problem: Exception) -> Response:
        number = secrets.token_hex(4)
        LOG.error("failure %s: %s %s", number, request.method, request.url.path, exc_info=problem)
        request.state.token = getattr(request.state, "token", "")
        sent = {name: value for name, value in getattr(request.state, "said", {}).items() if name != "token"}
        answer = sheets.page(request, "broken.html", 500, number=number, sent=sent)
        answer.headers.update({**HEADERS, "Cache-Control": "no-store"})
        return answer

    @asynccontextmanager
    async def living(_: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(desk.close)

    app = Starlette(
        routes=[
            *(route for pages in PAGES for route in pages(sheets).routes()),
            Mount("/static", StaticFiles(directory=Path(str(HERE / "static")))),
        ],
        lifespan=living,
        middleware=[Middleware(GZipMiddleware), Middleware(Guard, secret=secret, shared=shared)],
        exception_handlers={BadInput: complained, HTTPException: astray, Refused: turned_away, Exception: broken},
    )
    app.state.shared = shared
    return app
