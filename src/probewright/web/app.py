"""The whole of the pages on one book, behind the guard."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.base import BaseHTTPMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from probewright.errors import BadInput
from probewright.record import Book
from probewright.web.bench_pages import BenchPages
from probewright.web.desk import Desk
from probewright.web.guarding import Guard
from probewright.web.job_pages import JobPages
from probewright.web.photo_pages import PhotoPages
from probewright.web.picture_pages import PicturePages
from probewright.web.sheets import HERE, Sheets

PAGES = (JobPages, BenchPages, PicturePages, PhotoPages)  # each has `routes()`; a new page is one file and its name here


def make_app(book: Book, secret: str) -> Starlette:
    """The pages on this book. secret: what sessions and tokens are signed with."""
    desk = Desk(book)
    sheets = Sheets(desk)
    guard = Guard(secret)

    async def complained(request: Request, problem: Exception) -> Response:
        assert isinstance(problem, BadInput)
        said = [f"{one.text}; {one.mend}" for one in problem.complaints]
        return sheets.page(request, "wrong.html", 400, said=said)

    @asynccontextmanager
    async def living(_: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(desk.close)

    return Starlette(
        routes=[
            *(route for pages in PAGES for route in pages(sheets).routes()),
            Mount("/static", StaticFiles(directory=Path(str(HERE / "static")))),
        ],
        lifespan=living,
        middleware=[Middleware(GZipMiddleware), Middleware(BaseHTTPMiddleware, dispatch=guard)],
        exception_handlers={BadInput: complained},
    )
