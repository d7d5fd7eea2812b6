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
from probewright.jobs.cases import Case
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web import tracing
from probewright.web.bench_pages import places
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
        says = tuple(_sentence(one, came.file) for one in wrong.complaints) if wrong else ()
        channel = made.channel if made else None
        return self.page(
            request, "waveform.html", 422 if wrong else 200, case=case, job=bench.view_case(case), what=what, came=came,
            made=made, says=made.payload["says"] if made else (), wrong=says, insist=insist, moved=moved,
            channels=capture.names if capture is not None else (), places=places(case, bench.machine_of(case)),
            pictures=tracing.as_sent(capture, channel, came.file) if capture is not None else (),
        )  # fmt: skip

    def shown(self, request: Request) -> Response:
        """A waveform that was entered, once more."""
        case = self.case(request)
        line = capturing.line_of(case, request.path_params["event"])
        assert line.capture is not None
        return self.page(
            request, "trace.html", case=case, job=bench.view_case(case), what=what, line=line,
            pictures=tracing.as_kept(self.desk.book, line.capture), said=(),
        )  # fmt: skip


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
    return f"{said[:1].upper()}{said[1:]}"
