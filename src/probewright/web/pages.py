"""The pages and what their forms do; every form works without a script."""

from __future__ import annotations

import json
import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.base import BaseHTTPMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.templating import Jinja2Templates

from probewright.drawing import draw
from probewright.errors import BadInput
from probewright.hypotheses import symptoms
from probewright.jobs import bench
from probewright.jobs.cases import BAD, GOOD, PARTLY, Case, Intake
from probewright.jobs.standing import answered
from probewright.readings import Question, setups
from probewright.record import Book, stamp
from probewright.report.bench import what
from probewright.web import showing
from probewright.web.desk import Desk
from probewright.web.guarding import Guard

PATIENCE = 20.0  # s, chosen: how long a browser is kept waiting for a refined answer before it asks again
TICKS = (GOOD, PARTLY, BAD, "")
HERE = files(__package__)
WHEN = ("always", "now and then", "when warm")


class Pages:
    """Every page of one bench."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.html = Jinja2Templates(directory=str(HERE / "templates"))
        self.html.env.globals.update(static=static, script=has_script())

    def page(self, request: Request, name: str, code: int = 200, **told: Any) -> Response:
        """A page or a piece of one."""
        return self.html.TemplateResponse(
            request, name, {"token": request.state.token, "once": secrets.token_hex(8), **told}, status_code=code
        )

    # Jobs ------------------------------------------------------------------------------------

    def jobs(self, request: Request) -> Response:
        """What is on the bench, and what was."""
        find = request.query_params.get("find", "").strip()
        wanted = set(self.desk.book.find(find) if find else self.desk.book.jobs())
        cases = [case for case in bench.every_case(self.desk.book) if case.number in wanted]
        views = [(bench.view_case(case), (case.shown or {}).get("next", "")) for case in reversed(cases)]
        return self.page(
            request, "jobs.html", find=find, what=what,
            open=[one for one in views if one[0].closed is None], closed=[one for one in views if one[0].closed],
        )  # fmt: skip

    def new(self, request: Request) -> Response:
        """The intake: first the kind, then what works and what does not."""
        kind = request.query_params.get("kind", "")
        functions = symptoms.functions(kind) if kind else ()
        first = symptoms.leads_and_extras(kind) if kind else ()
        return self.page(
            request, "intake.html", kinds=symptoms.kinds(), kind=kind, functions=functions, first=first, when=WHEN
        )

    def open(self, request: Request, said: dict[str, str]) -> Response:
        """A new job from the intake."""
        ticks = {name.removeprefix("tick "): tick for name, tick in said.items() if name.startswith("tick ") and tick}
        told = {name: said.get(name, "").strip() for name in bench.TOLD}
        key = said.get("once", "") or secrets.token_hex(8)
        with self.desk.writing:
            there = next((c for c in bench.every_case(self.desk.book) if c.intake.key == key), None)
            case = there or bench.open_job(
                self.desk.book, Intake(said.get("kind", ""), ticks=ticks, key=key, **told), stamp()
            )
        return to(f"/jobs/{case.number}")

    # Bench -----------------------------------------------------------------------------------

    def bench(self, request: Request, told: dict[str, Any] | None = None, code: int = 200) -> Response:
        """The card, the suspects, the readings."""
        case = self.desk.case(request.path_params["job"])
        view, machine = self.desk.view(case), bench.machine_of(case)
        letters = self.desk.letters(case, view) if view else {}
        rows = showing.suspects(view, letters) if view else ()
        pick = request.query_params.get("choice", "")
        choice = int(pick) if pick.isdecimal() else 0
        offered = max(1, len(view.search.actions)) if view else 1
        last = next(reversed(case.live), None)
        return self.page(
            request, "bench.html", code, case=case, job=bench.view_case(case), view=view, suspects=rows,
            card=showing.card(view, machine, letters, case.bench.setup.power, choice) if view else None,
            finding=view and showing.finding(view),
            changed=showing.changed(rows), last=last, choice=choice, next_choice=(choice + 1) % offered,
            setup=setups.say(case.bench.setup, machine), power=case.bench.setup.power,
            what=what, **{"typed": "", "piece": None, "stale": "", **(told or {})},
        )  # fmt: skip

    def rest(self, request: Request) -> Response:
        """The bench once the refined answer is there; waits for it, and comes back rough when it takes long."""
        self.desk.wait(self.desk.case(request.path_params["job"]), PATIENCE)
        return self.bench(request)

    def echo(self, request: Request) -> Response:
        """What a line would be understood as; nothing is stored."""
        case = self.desk.case(request.path_params["job"])
        line = request.query_params.get("line", "")
        return self.page(request, "echo.html", piece=self.understood(case, line, _question(request.query_params)))

    def understood(self, case: Case, line: str, question: Question | None) -> dict[str, Any] | None:
        """What the page says back of a line: kind, sentences, whether it may be insisted on."""
        if not line.strip():
            return None
        try:
            made = bench.understand(case, line, question)
        except BadInput as bad:
            said = [f"{c.text}; {c.mend}" for c in bad.complaints]
            return {"kind": "refused", "says": said, "line": line, "insist": False}
        doubts = made.heard.doubts if made.heard else ()
        says = made.payload.get("says") or [f"{one.text}; {one.mend}" for one in doubts]
        insist = bool(doubts) and all(one.can_insist for one in doubts)
        return {"kind": made.kind, "says": says, "line": line, "insist": insist}

    def enter(self, request: Request, said: dict[str, str]) -> Response:
        """A typed line: shown first, counted when what was shown is sent again."""
        line, once, question = said.get("line", ""), said.get("once", ""), _question(said)
        with self.desk.writing:
            case = self.desk.case(request.path_params["job"])
            if bench.is_entered(case, line, once):
                return to(f"/jobs/{case.number}")
            moved = said.get("mark", "") != str(case.mark)
            sure = said.get("sure") == "yes"
            if not moved and (sure or said.get("seen") == line):
                made = None
                with suppress(BadInput):  # the page says below what is wrong with the line
                    made = bench.understand(case, line, question, sure)
                if made is not None and (sure or made.kind != "asked"):
                    bench.keep_line(self.desk.book, case, made, stamp(), once)
                    return to(f"/jobs/{case.number}")
            piece = self.understood(case, line, question)
        told = {"typed": line, "piece": piece, "stale": moved and bool(piece), "asked": said.get("asked", "")}
        return self.bench(request, told)

    def undo(self, request: Request, said: dict[str, str]) -> Response:
        """Take a line back."""
        with self.desk.writing:
            case = self.desk.case(request.path_params["job"])
            event = said.get("event", "")
            bench.undo(self.desk.book, case, stamp(), int(event) if event.isdecimal() else None)
        return to(f"/jobs/{case.number}")

    def pictures(self, request: Request) -> Response:
        """Each section as a diagram, suspects marked."""
        case = self.desk.case(request.path_params["job"])
        machine, view = bench.machine_of(case), self.desk.view(case)
        drawn = []
        if machine is not None:
            marked = showing.marks(view, machine, self.desk.letters(case, view)) if view else {}
            drawn = [draw(machine, section=one, marks=marked).svg for one in machine.sections or (None,)]
        return self.page(request, "pictures.html", case=case, job=bench.view_case(case), drawn=drawn, what=what)


def _question(said: Any) -> Question | None:
    """The question that the form's card asked; None when it asked none, or the form was tampered with."""
    try:
        return answered(json.loads(said.get("asked", "") or "null"))
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def to(path: str) -> Response:
    """Go and look there; a reload sends no form again."""
    return RedirectResponse(path, 303)


@cache  # every page names several; a new version comes with a new program
def static(name: str) -> str:
    """The address of a static file, with what tells its versions apart."""
    return f"/static/{name}?{sha256((HERE / 'static' / name).read_bytes()).hexdigest()[:12]}"


def has_script() -> bool:
    """Whether the accelerator was there when the package was built; without it the pages are plain forms."""
    return (HERE / "static" / "vendor" / "htmx.min.js").is_file()


def make_app(book: Book, secret: str) -> Starlette:
    """The pages on this book."""
    desk = Desk(book)
    pages = Pages(desk)

    def posted(do: Callable[[Request, dict[str, str]], Response]) -> Callable[[Request], Any]:
        async def answer(request: Request) -> Response:
            said = {name: str(value) for name, value in (await request.form()).items()}
            return await run_in_threadpool(do, request, said)

        return answer

    async def complained(request: Request, problem: Exception) -> Response:
        assert isinstance(problem, BadInput)
        said = [f"{one.text}; {one.mend}" for one in problem.complaints]
        return pages.page(request, "wrong.html", 400, said=said)

    routes = [
        Route("/", lambda request: to("/jobs")),
        Route("/jobs", pages.jobs),
        Route("/jobs", posted(pages.open), methods=["POST"]),
        Route("/jobs/new", pages.new),
        Route("/jobs/{job:int}", pages.bench),
        Route("/jobs/{job:int}/refined", pages.rest),
        Route("/jobs/{job:int}/echo", pages.echo),
        Route("/jobs/{job:int}/pictures", pages.pictures),
        Route("/jobs/{job:int}/lines", posted(pages.enter), methods=["POST"]),
        Route("/jobs/{job:int}/undo", posted(pages.undo), methods=["POST"]),
        Mount("/static", StaticFiles(directory=Path(str(HERE / "static")))),
    ]
    guard = Guard(secret)

    @asynccontextmanager
    async def living(_: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(desk.close)

    return Starlette(
        routes=routes,
        lifespan=living,
        middleware=[Middleware(GZipMiddleware), Middleware(BaseHTTPMiddleware, dispatch=guard)],
        exception_handlers={BadInput: complained},
    )
