"""A waveform from a file: sent to the card, shown as it is understood, counted; and shown again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import PurePosixPath

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.captures import Capture, read_capture
from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, capturing
from probewright.jobs.aside import set_aside, take_up
from probewright.jobs.capturing import Asked, Made, add_capture, typed_as, understand_capture
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case
from probewright.jobs.tracing import Curve, Shows, beside, question_of
from probewright.jobs.view import SuspectView
from probewright.readings import Question, echo
from probewright.readings.traces import GOES
from probewright.record import stamp
from probewright.report.bench import what
from probewright.units import with_capital
from probewright.web import showing, tracing
from probewright.web.bench_pages import PATIENCE, places
from probewright.web.sheets import Sheets, number, on_page, to
from probewright.web.uploads import Upload, plain_name, sent, short_name


@dataclass(frozen=True)
class Sent:
    """A form as it came. file: as its sender calls it; kept: under which it waits, "" where it brought none; wrong:
    why it is none."""

    file: str
    kept: str
    asked: Asked
    wrong: BadInput | None = None

    @property
    def line(self) -> str:
        """As it would stand in the job."""
        return typed_as(self.file, self.asked)


class WaveformPages:
    """What an oscilloscope wrote to a file."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        at = "/jobs/{job:int}/waveform"
        return [
            Route(at, self.form),
            Route(at, sent(self.take, "file"), methods=["POST"]),
            Route(f"{at}/{{event:int}}", self.shown),
            Route(f"{at}/expected", self.expected),
        ]

    def form(self, request: Request) -> Response:
        """The form alone."""
        at = " ".join(request.query_params.get("at", "").split())
        return self._preview(request, self.case(request), Sent("", "", Asked(at)))

    def take(self, request: Request, said: dict[str, str], files: tuple[Upload, ...]) -> Response:
        """A file: shown first as it is understood, counted when what was shown is sent again."""
        came = self._came(said, files)
        case = self.case(request)
        sure = said.get("sure") == came.line
        if came.kept and "count" in said:
            if bench.is_entered(case, came.line, said.get("once", "")):
                return to(f"/jobs/{case.number}")
            as_shown = said.get("seen") == f"{came.kept} {came.line}" or sure
            if as_shown and said.get("mark") == str(case.mark):
                try:
                    self._count(case, came, sure, said.get("once", ""))
                    return to(f"/jobs/{case.number}")
                except BadInput:  # the page below says what is wrong with it
                    case = self.case(request)
        moved = bool(said.get("mark")) and said.get("mark") != str(case.mark)
        return self._preview(request, case, came, moved and "seen" in said)

    def _came(self, said: dict[str, str], files: tuple[Upload, ...]) -> Sent:
        """The form's file, put aside or taken up, and what it says of it."""
        channel = number(said.get("channel", ""))
        at = " ".join(said.get("at", "").split())
        asked = Asked(at, channel, said.get("single") == "yes", said.get("coupled") == "yes")
        name, kept = said.get("name", ""), said.get("kept", "")
        try:
            if len(files) > 1:
                raise bench.complaint(f"{len(files)} files came", "send one waveform at a time")
            if files:
                name = files[0].name
                _plain(name)
                kept = set_aside(self.desk.book, files[0].file.read())
            elif not kept:
                raise bench.complaint("no file was chosen", "choose what the oscilloscope wrote, then read it")
            else:
                take_up(self.desk.book, kept, "this file")
        except BadInput as bad:
            return Sent(short_name(name), "", asked, bad)
        return Sent(PurePosixPath(short_name(name)).name or "waveform", kept, asked)

    def _count(self, case: Case, came: Sent, sure: bool, once: str) -> None:
        data = take_up(self.desk.book, came.kept, came.file)
        with self.desk.writing:
            case = self.desk.case(case.number)
            add_capture(self.desk.book, case, data, came.file, came.asked, stamp(), sure=sure, once=once)

    def _preview(self, request: Request, case: Case, came: Sent, moved: bool = False) -> Response:
        """What would be counted, with its picture; what is wrong with it; and the form to say it otherwise."""
        capture, made, wrong, insist = None, None, came.wrong, False
        try:
            if came.kept:
                bench.still_open(case)
                capture = read_capture(take_up(self.desk.book, came.kept, came.file), came.file)
                made = _understood(case, capture, came)
        except BadInput as bad:
            wrong = bad
            insist = capture is not None and _would_do(case, capture, came)
        came = came if capture is not None or case.closed is not None else replace(came, kept="")
        says = tuple(_sentence(one, came.file) for one in wrong.complaints) if wrong else ()
        channel = made.channel if made else None
        return self.page(
            request, "waveform.html", 422 if wrong else 200, case=case, job=bench.view_case(case), what=what, came=came,
            made=made, says=made.payload["says"] if made else (), wrong=says, insist=insist, moved=moved,
            channels=capture.names if capture is not None else (), places=places(case, bench.machine_of(case)),
            pictures=tracing.as_sent(capture, channel, came.file) if capture is not None else (),
        )  # fmt: skip

    def shown(self, request: Request) -> Response:
        """A waveform that was entered: at once by itself, over what would be seen there once the answer is refined."""
        case = self.case(request)
        line = capturing.line_of(case, request.path_params["event"])
        taken, ask = line.capture, question_of(case, line, bench.machine_of(case))
        assert taken is not None
        head, at = f"{taken.place}: {taken.file}", f"/jobs/{case.number}/waveform/{line.event}?wait=yes"
        view = None if ask is None else self.desk.refined(case, PATIENCE if "wait" in request.query_params else 0.0)
        there = None if ask is None or view is None else self._there(case, view, ask)
        captured = None if there is None else beside(self.desk.book, taken, there.shows)
        if there is not None and captured is not None:
            level = None if taken.level is None else ("rise", taken.level)
            drawn = there.drawn(head, level, captured, taken.file)
            return self._trace(request, case, head, drawn, there.in_words, line.says)
        again = at if ask is not None and view is None else ""
        return self._trace(request, case, head, tracing.as_kept(self.desk.book, taken), (), line.says, again)

    def expected(self, request: Request) -> Response:
        """What would be seen where the card asks for a reading: healthy, and the leading suspects."""
        case = self.case(request)
        choice = number(request.query_params.get("choice", "")) or 0
        view = self.desk.refined(case, PATIENCE)
        if view is None:
            again = f"/jobs/{case.number}/waveform/expected?choice={choice}"
            return self._trace(request, case, "The next reading", (), ("It is being worked out.",), again=again)
        offered = showing.offered(view)
        action = offered[choice] if choice < len(offered) else None
        ask = action.ask if action is not None else None
        there = None if ask is None or not showing.taken_at(ask) else self._there(case, view, ask)
        if ask is None or there is None:
            return self._trace(request, case, "The next reading", (), ("Nothing moves there that could be drawn.",))
        head = echo.where(ask)
        level = (ask.instrument, ask.look.level) if ask.instrument in GOES else None
        return self._trace(request, case, head, there.drawn(head, level), there.in_words)

    def _there(self, case: Case, view: BenchView, ask: Question) -> There | None:
        """What would be seen where a question is asked; None where nothing is."""
        letters = self.desk.letters(case, view)
        suspects = tracing.suspects_shown(view, letters)
        shows = self.desk.shows(case, ask, suspects)
        return None if shows is None else There(shows, tuple(suspects), letters)

    def _trace(
        self, request: Request, case: Case, head: str, drawn: tracing.Pictures, said: tuple[str, ...],
        says: tuple[str, ...] = (), again: str = "",
    ) -> Response:  # fmt: skip
        """A page with one picture, which the bench takes out of it; again: where there will be more of it."""
        return self.page(
            request, "trace.html", case=case, job=bench.view_case(case), what=what, head=head, says=says,
            pictures=drawn, said=said, again=again,
        )  # fmt: skip


@dataclass(frozen=True)
class There:
    """What would be seen at a place, and whom the letters stand for."""

    shows: Shows
    suspects: tuple[SuspectView, ...]
    letters: dict[str, str]

    def drawn(
        self, label: str, level: tuple[str, float] | None, captured: Curve | None = None, file: str = ""
    ) -> tracing.Pictures:
        """The picture; level: of the "rise" or "fall" in question, V; captured: drawn over it."""
        return tracing.together(self.shows, self.suspects, self.letters, label, captured, file, level)

    @property
    def in_words(self) -> tuple[str, ...]:
        """How it is to be read."""
        return tracing.in_words(self.shows, self.suspects, self.letters)


def _plain(name: str) -> None:
    """BadInput, with the file named, for a name that leads somewhere."""
    try:
        plain_name(name)
    except BadInput as bad:
        raise BadInput(*(replace(one, file=name) for one in bad.complaints)) from bad


def _understood(case: Case, capture: Capture, came: Sent, sure: bool = False) -> Made:
    """What it would say on this job. BadInput where no place is named, too."""
    if not came.asked.at:
        raise bench.complaint("where was it taken?", "name the place, like `TP4` or `OUT at tone`")
    return understand_capture(case, capture, came.file, came.asked, sure)


def _would_do(case: Case, capture: Capture, came: Sent) -> bool:
    """What is asked about would count if it were insisted on."""
    try:
        _understood(case, capture, came, sure=True)
    except BadInput:
        return False
    return True


def _sentence(one: Complaint, file: str) -> str:
    """What is wrong, in one sentence that begins with where: the file and its line, or what was said of it."""
    said = on_page(one.says)
    if one.file:
        return f"{file}, line {one.line}: {said}" if one.line > 1 else f"{file}: {said}"
    return with_capital(said)
