"""What every page is made with: the desk, the templates, a form's answer."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any, ClassVar

from markupsafe import Markup, escape
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route
from starlette.templating import Jinja2Templates

from probewright.errors import BadInput, Complaint
from probewright.jobs.bench import complaint, view_case
from probewright.jobs.cases import Case
from probewright.report import times
from probewright.report.bench import what
from probewright.units import ended, with_capital, write_reading
from probewright.web.desk import Desk

HERE = files(__package__)
# A command that a mend names -> where the same is done on the pages.
ON_PAGE = (
    (re.compile("`probewright job list`"), "“Jobs”"),
    (re.compile("`probewright job open`"), "“New job” on “Jobs”"),
    (re.compile(r"`probewright job reopen \d+`"), "“Take it up again” at the end of the bench"),
    (re.compile("`probewright job tie FILE`"), "“Machine”"),
    (re.compile("`probewright why --part Q1`"), "“Another part” below"),
    (re.compile(", like `--channel 1`"), " below"),
    (re.compile(r"`probewright safety[^`]*`"), "“Is it safe?” on the bench"),
    (re.compile(r"`probewright parts[^`]*`"), "“Parts used” on the bench"),
    (re.compile(r"`--by NAME`"), "below"),
    (re.compile(r"`probewright kit --trained`"), "“This bench”"),
    (re.compile("`--also '[^']*'`"), "name it in the first box"),
    (re.compile("`--keep '[^']*'`"), "name it in the second"),
    (re.compile("`--also [^`]*`"), "under “Other words”"),
    (re.compile("`--insist`"), "“It ran so long, whatever the clock says”"),
    (re.compile("`probewright reading list`"), "“Readings” on the bench"),
    (re.compile(r"`probewright add-circuit back \w+`"), "“Take back” below"),
    (re.compile("`probewright decide`"), "“Repair, hand back or scrap?”"),
    (re.compile(r"write `--back [\d.]+ --count \d+`"), "count them in their own line, at “How many”"),
    (re.compile(r": `--back [\d.]+`"), ", “It is back”"),
    (re.compile("`probewright reading undo`"), "“Undo” beside it, under “Readings” on the bench"),
    (re.compile("see them: `probewright why`"), "see them on this page"),
    (re.compile('write it: --words "[^"]*"'), "write it at “What was found”"),
    (re.compile("`probewright book share-job`"), "“Share this job”"),
    (
        re.compile(r"`probewright strip(?: [^`]*)?`(?:, `probewright strip --follow \d+`)*"),
        "“Open and refit” at the end of the bench",
    ),
    (re.compile(r"`probewright prove[^`]*`"), "“Does it hold?” on the bench"),
    (re.compile(r"`probewright job close[^`]*`"), "“End this job” on the bench"),
    (re.compile(r"`probewright fit-list(?: [^`]*)?`"), "“Take out and fit” at the end of the bench"),
)


def templates() -> Jinja2Templates:
    """The templates, with the words and figures that they write."""
    html = Jinja2Templates(directory=str(HERE / "templates"))
    html.env.globals.update(static=static, script=has_script())
    html.env.filters.update(figure=write_reading, here=on_page, coded=coded, with_capital=with_capital, ended=ended)
    html.env.filters.update(local=times.local, day=times.day, hour=times.hour)
    return html


class Sheets:
    """The desk and the templates."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.html = templates()

    def page(self, request: Request, name: str, code: int = 200, **told: Any) -> Response:
        """A page or a piece of one."""
        return self.html.TemplateResponse(
            request, name, {"token": request.state.token, "once": secrets.token_hex(8), **told}, status_code=code
        )

    def case(self, request: Request) -> Case:
        """The job that the address names. BadInput when there is none."""
        return self.desk.case(request.path_params["job"])


class JobPage:
    """A page of one job and its forms: one that is kept leads to the page anew, one that is refused is shown as it was
    typed, with what is wrong.

    name: last words of its address; template: what draws it. A page says what it `shows` and how it `keep`s a form.
    """

    name: ClassVar[str]
    template: ClassVar[str]

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where it is."""
        at = f"/jobs/{{job:int}}/{self.name}"
        return [Route(at, self.shown), Route(at, posted(self.told), methods=["POST"])]

    def shown(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """The page; said: a form that was refused, as it was typed."""
        case, typed = self.case(request), said or {}
        return self.drawn(request, case, bool(wrong), wrong=wrong, said=typed, **self.shows(request, case, typed))

    def drawn(self, request: Request, case: Case, refused: bool, **told: Any) -> Response:
        """The template, filled in."""
        code = 422 if refused else 200
        return self.page(request, self.template, code, case=case, job=view_case(case), what=what, **told)

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """What the template is told. said: a form that was refused."""
        raise NotImplementedError

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """A form: kept, or shown again."""
        try:
            return self.kept(request, said)
        except BadInput as bad:
            return self.shown(request, bad.complaints, said)

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """A form, kept while no other is. BadInput for one that is refused."""
        with self.desk.writing:
            case = self.case(request)
            self.keep(request, case, said)
        return to(self.address(request, case, said))

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """Put down what a form says. BadInput likewise."""
        raise NotImplementedError

    def address(self, request: Request, case: Case, said: dict[str, str]) -> str:
        """Where to look once a form was kept."""
        return f"/jobs/{case.number}/{self.name}"


def posted(do: Callable[[Request, dict[str, str]], Response]) -> Callable[[Request], Any]:
    """An endpoint that is handed what a form of text fields says."""

    async def answer(request: Request) -> Response:
        async with request.form() as form:  # a form that may bring a file holds one open, even an empty one
            said = {name: value for name, value in form.items() if isinstance(value, str)}
        return await run_in_threadpool(do, request, said)

    return answer


def number(text: str) -> int | None:
    """A whole number that a form or an address gives; None for anything else, or one no record reaches."""
    return int(text) if text.isdecimal() and len(text) < 10 else None


def to(path: str) -> Response:
    """Go and look there; a reload sends no form again."""
    return RedirectResponse(path, 303)


def unknown(do: str) -> BadInput:
    """A form that asks for what its page does not do: by hand, or from a page of another version."""
    return complaint(f"this page does not do {do!r}", "look at it anew, and press there")


def stale() -> BadInput:
    """What a form was filled in beside is not so any more."""
    return complaint("what was shown here has changed since", "look at it anew, and press there")


def here(said: dict[str, str]) -> str:
    """The piece of a page that a form was sent from, to be looked at again; "" for the whole of it."""
    at = said.get("at", "")
    return f"#{at}" if at.isascii() and at.isalnum() else ""


def on_page(text: str) -> str:
    """What is wrong, or how to mend it, with a command that it names said as what is pressed here."""
    for command, pressed in ON_PAGE:
        text = command.sub(pressed, text)
    return text


def coded(text: str) -> Markup:
    """Text in which what stands between backquotes is to be typed, as a page shows that."""
    pieces = (escape(piece) for piece in text.split("`"))
    return Markup("").join(Markup("<code>%s</code>") % piece if n % 2 else piece for n, piece in enumerate(pieces))


@cache  # every page names several; a new version comes with a new program
def static(name: str) -> str:
    """The address of a static file, with what tells its versions apart."""
    return f"/static/{name}?{sha256((HERE / 'static' / name).read_bytes()).hexdigest()[:12]}"


def has_script() -> bool:
    """Whether the accelerator was there when the package was built; without it the pages are plain forms."""
    return (HERE / "static" / "vendor" / "htmx.min.js").is_file()
