"""The machine file in the page: typed chain, shelf, editor with live checking, and tying it to what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from threading import Lock

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.drawing import draw
from probewright.errors import BadInput, Complaint
from probewright.jobs import adding, bench
from probewright.jobs.case_view import TieView
from probewright.jobs.cases import Case
from probewright.jobs.files import check, expect
from probewright.jobs.view import CheckView, ExpectView
from probewright.machine import Machine, chains, shelf
from probewright.machine import read as read_machine
from probewright.readings import Setup
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web.sheets import Sheets, posted, to

DEMOS = ("fernside-lm-2", "fernside-ds-3")
UNNAMED = "machine.yaml"


@dataclass(frozen=True)
class Checked:
    """A text that was checked. wrong: why it cannot be read; when it can be: what was understood of it, its
    diagrams (section, SVG), and what it reads when healthy."""

    wrong: tuple[Complaint, ...] = ()
    view: CheckView | None = None
    drawn: tuple[tuple[str, str], ...] = ()
    healthy: ExpectView | None = None


class MachinePages:
    """What is known of a job's circuit."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case
        self._checking = Lock()  # one at a time: a second one would make both slow

    def routes(self) -> list[Route]:
        """Where these pages are."""
        at = "/jobs/{job:int}"
        return [
            Route(f"{at}/machine", self.machine),
            Route(f"{at}/machine", posted(self.tie), methods=["POST"]),
            Route(f"{at}/machine/check", posted(self.check), methods=["POST"]),
            Route(f"{at}/machine.yaml", self.download),
            Route(f"{at}/chain", self.chain_echo),
            Route(f"{at}/chain", posted(self.chain), methods=["POST"]),
            Route(f"{at}/stage", posted(self.stage), methods=["POST"]),
        ]

    # The page --------------------------------------------------------------------------------

    def machine(self, request: Request) -> Response:
        """The machine file as it stands, or one to begin with."""
        case = self.case(request)
        start = request.query_params.get("start", "")
        text = demo(start) if start in DEMOS else case.known.text if case.known else ""
        return self._shown(request, case, text)

    def _shown(
        self, request: Request, case: Case, text: str, *, code: int = 200, moved: bool = False, chain: str = "",
        said: Sequence[Complaint] = (), stage: str = "", given: dict[str, str] | None = None,
    ) -> Response:  # fmt: skip
        """The page with a text in the editor. said: why a chain or stage was refused; given: what was typed for it."""
        chosen = request.query_params.get("stage", "") or stage
        known = next((one for one in shelf.stages() if one.name == chosen), None)
        form = (given or {}).get("value form") or request.query_params.get("form", "")
        body = None if known is None else known.forms.get(form, known.body)
        machine = bench.machine_of(case)
        return self.page(
            request, "machine.html", code, case=case, job=bench.view_case(case), what=what, text=text,
            lines=text.count("\n") + 1, checked=self._check(text) if text.strip() else None, moved=moved, chain=chain,
            said=said, stages=shelf.stages(), stage=known, body=body, form=form, given=given or {}, demos=DEMOS,
            nets=tuple(machine.nets) if machine else (), rests=rests_on(case),
        )  # fmt: skip

    def check(self, request: Request, said: dict[str, str]) -> Response:
        """What a text would be understood as; nothing is stored. With a script only the answer is sent."""
        case, text = self.case(request), typed(said)
        if request.headers.get("x-piece"):
            return self.page(request, "machine_checked.html", case=case, checked=self._check(text))
        return self._shown(request, case, text)

    def _check(self, text: str) -> Checked:
        with self._checking:
            try:
                machine = read_machine(text, "")
                return Checked((), check(machine), diagrams(machine), expect(machine, sounding(machine)))
            except BadInput as bad:
                return Checked(bad.complaints)

    # Tying -----------------------------------------------------------------------------------

    def tie(self, request: Request, said: dict[str, str]) -> Response:
        """Put the text to the job; where names were read already, first what they would become."""
        text, once = typed(said), said.get("once", "")
        with self.desk.writing:
            case = self.case(request)
            file = case.known.file if case.known else UNNAMED
            if bench.is_entered(case, f"tied {file}", once):
                return to(f"/jobs/{case.number}")
            if said.get("from", "0") != str(rests_on(case)):
                return self._shown(request, case, text, moved=True)
            try:
                read_machine(text, "")
                chosen = told(said, "place ")
                proposal = adding.propose_tie(case, text, file, {})
                agreed = with_places(proposal, chosen)
                if said.get("agreed") == "yes" or not proposal.matches:
                    adding.tie(self.desk.book, case, text, agreed, stamp(), once)
                    return to(f"/jobs/{case.number}")
                wrong: Sequence[Complaint] = ()
            except BadInput as bad:
                if said.get("agreed") != "yes":
                    return self._shown(request, case, text, code=422)
                agreed, wrong = with_places(proposal, chosen), bad.complaints
        machine = read_machine(text, "")
        places = (*machine.points, *machine.nets, *bench.pins_of(machine))
        return self.page(
            request, "machine_tie.html", 422 if wrong else 200, case=case, job=bench.view_case(case), what=what,
            text=text, tie=agreed, wrong=wrong, places=places, rests=rests_on(case),
        )  # fmt: skip

    def download(self, request: Request) -> Response:
        """The job's machine file as a file. BadInput when it has none."""
        case = self.case(request)
        if case.known is None:
            raise bench.complaint("this job has no machine file yet", "type a chain, or write one")
        name = f"job-{case.number}.yaml"
        return Response(case.known.text, media_type="application/yaml", headers={
            "Content-Disposition": f'attachment; filename="{name}"'
        })  # fmt: skip

    # Chain and shelf -------------------------------------------------------------------------

    def chain_echo(self, request: Request) -> Response:
        """What a chain would be understood as; nothing is stored."""
        case, line = self.case(request), request.query_params.get("chain", "")
        says: tuple[str, ...] = ()
        wrong: tuple[Complaint, ...] = ()
        if line.strip():
            try:
                says = chains.say(chains.chain_of(line, case.intake.model or case.intake.kind))
            except BadInput as bad:
                wrong = bad.complaints
        return self.page(request, "machine_chain.html", says=says, wrong=wrong)

    def chain(self, request: Request, said: dict[str, str]) -> Response:
        """A typed chain put to the job."""
        line = said.get("chain", "")
        with self.desk.writing:
            case = self.case(request)
            try:
                adding.tell_chain(self.desk.book, case, line, stamp(), said.get("once", ""))
            except BadInput as bad:
                text = case.known.text if case.known else ""
                return self._shown(request, case, text, code=422, chain=line, said=bad.complaints)
        return to(back(case, said))

    def stage(self, request: Request, said: dict[str, str]) -> Response:
        """A stage of the shelf put to the job."""
        values = {
            name[6:]: value.strip() for name, value in said.items() if name.startswith("value ") and value.strip()
        }
        joins = {name[5:]: net.strip() for name, net in said.items() if name.startswith("join ") and net.strip()}
        stage = said.get("stage", "")
        with self.desk.writing:
            case = self.case(request)
            try:
                adding.place_stage(
                    self.desk.book, case, stage, said.get("name", "").strip() or stage.replace("-", ""), values, joins,
                    stamp(), said.get("once", ""),
                )  # fmt: skip
            except BadInput as bad:
                text = case.known.text if case.known else ""
                return self._shown(request, case, text, code=422, said=bad.complaints, stage=stage, given=said)
        return to(back(case, said))


def typed(said: dict[str, str]) -> str:
    """The text of the editor with the line ends of a file; browsers send those of a form."""
    return said.get("text", "").replace("\r\n", "\n")


def told(said: dict[str, str], begin: str) -> dict[str, str]:
    """The fields whose names begin so, by the rest of their names."""
    return {name.removeprefix(begin): value.strip() for name, value in said.items() if name.startswith(begin)}


def rests_on(case: Case) -> int:
    """The line (event) that brought the machine file in force; 0 while none did."""
    return next((line.event for line in reversed(case.live) if line.known), 0)


def diagrams(machine: Machine) -> tuple[tuple[str, str], ...]:
    """Each section with its diagram as SVG."""
    return tuple((one or machine.name, draw(machine, section=one).svg) for one in machine.sections or (None,))


def sounding(machine: Machine) -> Setup:
    """Power on, with the first signal that the file has."""
    return Setup(stimulus=next((one.name for one in machine.stimuli.values() if one.frequency), ""))


def with_places(proposal: TieView, places: dict[str, str]) -> TieView:
    """The proposal with what a person chose; a name for which nothing was said stays as proposed."""
    return replace(
        proposal, matches=tuple(replace(one, place=places.get(one.name, one.place)) for one in proposal.matches)
    )


def back(case: Case, said: dict[str, str]) -> str:
    """Where a form came from, on this job's own pages; the bench otherwise."""
    own, asked = f"/jobs/{case.number}", said.get("back", "")
    return asked if asked.startswith(f"{own}/") and "//" not in asked and "\\" not in asked else own


def demo(name: str) -> str:
    """The machine file of a demo machine."""
    return (files("probewright.demo") / f"{name}.yaml").read_text("utf-8")
