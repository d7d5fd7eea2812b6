"""The machine file in the page: typed chain, shelf, editor with live checking, and tying it to what was read."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from importlib.resources import files
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import adding, bench
from probewright.jobs.case_view import MatchView, TieView
from probewright.jobs.cases import Case
from probewright.machine import Machine, chains, shelf
from probewright.machine.saying import Notes
from probewright.machine.yaml_text import decode
from probewright.record import stamp
from probewright.report.bench import what
from probewright.web import proofs
from probewright.web.sheets import Sheets, posted, to

DEMOS = ("fernside-lm-2", "fernside-ds-3", "fernside-tg-8")
UNNAMED = "machine.yaml"
FILE_LETTERS = 60  # chosen: as much of a file's name as fits into a line of the job
FREE = ""  # the choice that leaves a name as it was said


@dataclass(frozen=True)
class Written:
    """The editor as it is to be shown. file: name of the text; at: how the machine stands in the table; note: where
    the text comes from, "" where that is plain; fresh: a script may put the text of its browser in its place."""

    text: str
    file: str
    at: str = ""
    note: str = ""
    fresh: bool = False


@dataclass(frozen=True)
class Said:
    """What a form of this page said that was not carried out. wrong: why; unread: the text cannot be read; moved: the
    file changed meanwhile; show: a chain is to be shown as understood."""

    form: Mapping[str, str] = field(default_factory=dict)
    wrong: Sequence[Complaint] = ()
    unread: bool = False
    moved: bool = False
    show: bool = False


class MachinePages:
    """What is known of a job's circuit."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case
        self.proofs = proofs.Proofs()

    def routes(self) -> list[Route]:
        """Where these pages are."""
        at = "/jobs/{job:int}"
        return [
            Route(f"{at}/machine", self.machine),
            Route(f"{at}/machine", posted(self.tie), methods=["POST"]),
            Route(f"{at}/machine/check", with_file(self.check), methods=["POST"]),
            Route(f"{at}/machine.yaml", self.download),
            Route(f"{at}/chain", self.chain_echo),
            Route(f"{at}/chain", posted(self.chain), methods=["POST"]),
            Route(f"{at}/stage", posted(self.stage), methods=["POST"]),
        ]

    # The page --------------------------------------------------------------------------------

    def machine(self, request: Request) -> Response:
        """The machine file as it stands, or one to begin with."""
        case, asked = self.case(request), request.query_params
        if (start := asked.get("start", "")) in DEMOS:
            written = Written(
                demo(start), f"{start}.yaml", note="This is a demo machine. It is not put to the job yet."
            )
        else:
            written = replace(standing(case), at=asked.get("at", ""))
        return self._shown(request, case, written)

    def _shown(self, request: Request, case: Case, written: Written, said: Said | None = None) -> Response:
        """The page with a text in the editor, and what a form said that was not carried out."""
        said = said or Said()
        proof = self.proofs.look(request.state.token, case.number, written.text, written.at)
        proof = proof or proofs.read(written.text)[0]  # a newer text came: that one is drawn
        stage, form = chosen_stage(said.form, request.query_params)
        machine = bench.machine_of(case)
        line = said.form.get("chain", "")
        code = 422 if said.wrong or said.unread else 200
        return self.page(
            request, "machine.html", code, case=case, job=bench.view_case(case), what=what, written=written,
            lines=written.text.count("\n") + 1, wide=max(map(len, written.text.split("\n"))), proof=proof, said=said,
            stages=shelf.stages(), stage=stage, form=form, body=stage and stage.forms[form], demos=DEMOS,
            nets=tuple(machine.nets) if machine else (), rests=rests_on(case), line=line,
            left_out=adding.left_out(case), kept=request.query_params.get("kept") == str(rests_on(case)),
            **(_echo(case, line) if said.show else {}),
        )  # fmt: skip

    def check(self, request: Request, said: dict[str, str], file: tuple[str, bytes] | None) -> Response:
        """What a text would be understood as; nothing is stored. A script asks for a piece: `said` or `found`."""
        case, written = self.case(request), typed(said)
        piece, who = request.headers.get("x-piece", ""), request.state.token
        if piece:
            proof = (
                self.proofs.remarks(who, written.text)
                if piece == "said"
                else self.proofs.look(who, case.number, written.text, written.at)
            )
            if proof is None:
                return Response(status_code=204)  # a newer text came, and that is answered
            return self.page(request, "machine_checked.html", case=case, proof=proof)
        if said.get("open") and file is None:
            return self._shown(request, case, replace(written, note="No file was chosen. The text stays as it was."))
        if said.get("open") and file is not None:
            try:
                text = decode(file[1], Notes(file[0])).replace("\r\n", "\n")
                note = f"This is {file[0]}. It is not put to the job yet."
                written = Written(text, file[0], note=note)
            except BadInput as bad:
                return self._shown(request, case, written, Said(said, bad.complaints))
        return self._shown(request, case, written)

    def download(self, request: Request) -> Response:
        """The job's machine file as a file. BadInput when it has none."""
        case = self.case(request)
        if case.known is None:
            raise bench.complaint("this job has no machine file yet", "type a chain, or write one")
        return Response(case.known.text, media_type="application/yaml", headers={
            "Content-Disposition": f'attachment; filename="job-{case.number}.yaml"'
        })  # fmt: skip

    # Tying -----------------------------------------------------------------------------------

    def tie(self, request: Request, said: dict[str, str]) -> Response:
        """Put the text to the job; where it makes something new of what was said, first what that would be."""
        written, once = typed(said), of_form(said, said.get("text", ""))
        machine = proofs.read(written.text)[1]  # before others are kept from writing: a long text takes a while
        with self.desk.writing:
            case = self.case(request)
            if bench.is_entered(case, f"tied {written.file}", once):
                return to(kept_at(case))
            moved = changed_since(case, said)
            agreed, wrong = None, closed(case)
            ask: Unsettled = ((), ())
            if machine is not None and not moved and not wrong:
                proposal = adding.propose_tie(case, written.text, written.file, {})
                ask = unsettled(case, machine, proposal)
                agreed = as_chosen(proposal, ask, said)
                same = case.known is not None and case.known.text == written.text
                if said.get("agreed") == "yes" or not (any(ask) or same):
                    try:
                        return to(kept_at(adding.tie(self.desk.book, case, written.text, agreed, stamp(), once)))
                    except BadInput as bad:
                        wrong = bad.complaints
        if machine is None or agreed is None or not any(ask):
            note = "" if machine is None or moved or wrong else "The job has this very text already."
            refused = Said(wrong=wrong, unread=machine is None, moved=moved)
            return self._shown(request, case, replace(written, note=note), refused)
        matches, ticks = ask
        return self.page(
            request, "machine_tie.html", 422 if wrong else 200, case=case, job=bench.view_case(case), what=what,
            written=written, matches=matches, ticks=ticks, functions=[one.name for one in machine.works],
            agreed=agreed, typed=said, wrong=wrong, rests=rests_on(case),
            places=(*machine.points, *machine.nets, *bench.pins_of(machine)),
            chosen={one.name: one.place for one in agreed.matches},
        )  # fmt: skip

    # Chain and shelf -------------------------------------------------------------------------

    def chain_echo(self, request: Request) -> Response:
        """What a chain would be understood as; nothing is stored."""
        case = self.case(request)
        return self.page(request, "machine_chain.html", **_echo(case, request.query_params.get("chain", "")))

    def chain(self, request: Request, said: dict[str, str]) -> Response:
        """A typed chain put to the job."""
        said = {**said, "chain": plain_ends(said.get("chain", ""))}
        with self.desk.writing:
            case = self.case(request)
            target, once = back(case, said), said.get("once", "")
            if bench.is_entered(case, said["chain"], once):
                return to(target)
            refused = Said(said, closed(case), moved=changed_since(case, said), show=True)
            if not (refused.wrong or refused.moved or said.get("show")):
                try:
                    adding.tell_chain(self.desk.book, case, said["chain"], stamp(), once)
                    return to(target)
                except BadInput as bad:
                    refused = Said(said, bad.complaints)
        return self._shown(request, case, standing(case), refused)

    def stage(self, request: Request, said: dict[str, str]) -> Response:
        """A stage of the shelf put to the job."""
        stage = said.get("stage", "")
        name = said.get("name", "").strip() or stage.replace("-", "")
        once = of_form(said, repr((name, told(said, "join "), said.get("printed"))))
        with self.desk.writing:
            case = self.case(request)
            target = back(case, said)
            if bool(once) and any(line.once == once for line in case.lines):
                return to(target)
            refused = Said(said, closed(case), moved=changed_since(case, said))
            if not (refused.wrong or refused.moved):
                try:
                    joins = told(said, "join ") | printed(said.get("printed", ""))
                    adding.place_stage(
                        self.desk.book, case, stage, name, told(said, "value "), joins, stamp(), once
                    )  # fmt: skip
                    return to(target)
                except BadInput as bad:
                    refused = Said(said, bad.complaints)
        return self._shown(request, case, standing(case), refused)


# What a form says --------------------------------------------------------------------------------


def with_file(do: Callable[[Request, dict[str, str], tuple[str, bytes] | None], Response]) -> Callable[[Request], Any]:
    """An endpoint that is handed the text fields of a form, and the name and bytes of the file that came along."""

    async def answer(request: Request) -> Response:
        async with request.form() as form:
            said = {name: value for name, value in form.items() if isinstance(value, str)}
            sent = form.get("upload")
            file = (file_name(sent.filename), await sent.read()) if isinstance(sent, UploadFile) and sent.size else None
        return await run_in_threadpool(do, request, said, file)

    return answer


def plain_ends(text: str) -> str:
    """The text with the line ends of a file; browsers send those of a form."""
    return text.replace("\r\n", "\n")


def typed(said: Mapping[str, str]) -> Written:
    """The editor as a form brings it."""
    return Written(plain_ends(said.get("text", "")), file_name(said.get("file")), said.get("at", ""))


def told(said: Mapping[str, str], begin: str) -> dict[str, str]:
    """The filled fields whose names begin so, by the rest of their names."""
    return {
        name.removeprefix(begin): value.strip()
        for name, value in said.items()
        if name.startswith(begin) and value.strip()
    }


def printed(typed_names: str) -> dict[str, str]:
    """Parts of a stage with their names as printed: `R1=R147, C2=C9`. BadInput for one that is not so written."""
    found = {}
    for one in typed_names.replace(",", " ").split():
        part, equals, name = one.partition("=")
        if not (part and equals and name):
            raise bench.complaint(f"{one!r} does not say which part is meant", "write it like R1=R147")
        found[part] = name
    return found


def file_name(name: str | None) -> str:
    """The name of a text as it stands in the job's lines: its last part, printable, not too long."""
    last = re.split(r"[/\\]", name or "")[-1]
    return "".join(letter for letter in last if letter.isprintable())[:FILE_LETTERS].strip() or UNNAMED


def of_form(said: Mapping[str, str], more: str) -> str:
    """The mark of a form with what it holds: sent twice it is one, sent again with something else it is another."""
    once = said.get("once", "")
    return once and f"{once} {sha256(more.encode('utf-8', 'replace')).hexdigest()[:16]}"


def back(case: Case, said: Mapping[str, str]) -> str:
    """Where a form came from, on this job's own pages; the bench when it does not say. BadInput for anything else."""
    own, asked = f"/jobs/{case.number}", said.get("back", "")
    if not asked:
        return own
    parts = re.fullmatch(rf"{own}((?:/[\w.-]+)*)(?:\?[\w=&%.+-]*)?(?:#[\w-]+)?", asked, re.ASCII)
    if parts is None or {".", ".."} & set(parts[1].split("/")):
        raise bench.complaint("this form leads to no page of this job; nothing was changed", "open the job anew")
    return asked


def chosen_stage(form: Mapping[str, str], asked: Mapping[str, str]) -> tuple[shelf.Stage | None, str]:
    """The stage that is chosen, and the way it is built: its first where nothing is said."""
    name = form.get("stage") or asked.get("stage", "")
    stage = next((one for one in shelf.stages() if one.name == name), None)
    if stage is None:
        return None, ""
    way = form.get("value form") or asked.get("form", "")
    return stage, way if way in stage.forms else next(iter(stage.forms))


# The job's file ----------------------------------------------------------------------------------


def standing(case: Case) -> Written:
    """The machine file of the job as it stands."""
    if case.known is None:
        return Written("", UNNAMED, fresh=True)
    return Written(case.known.text, file_name(case.known.file) if case.known.how == "file" else UNNAMED, fresh=True)


def rests_on(case: Case) -> int:
    """The line (event) that brought the machine file in force; 0 while none did."""
    return next((line.event for line in reversed(case.live) if line.known), 0)


def closed(case: Case) -> tuple[Complaint, ...]:
    """Why nothing can be put to this job any more; nothing while it is open."""
    try:
        bench.still_open(case)
    except BadInput as bad:
        return bad.complaints
    return ()


def kept_at(case: Case) -> str:
    """The page that says that the file is the job's now."""
    return f"/jobs/{case.number}/machine?kept={rests_on(case)}#kept"


def changed_since(case: Case, said: Mapping[str, str]) -> bool:
    """The job's file is another one than when the form was shown; a form without a mark takes it as it is."""
    return said.get("mark", str(rests_on(case))) != str(rests_on(case))


def demo(name: str) -> str:
    """The machine file of a demo machine."""
    return (files("probewright.demo") / f"{name}.yaml").read_text("utf-8")


def _echo(case: Case, line: str) -> dict[str, Any]:
    """What a chain would be understood as, or what is wrong with it."""
    line = plain_ends(line)
    if not line.strip():
        return {"says": (), "wrong": ()}
    try:
        return {"says": chains.say(chains.chain_of(line, case.intake.model or case.intake.kind)), "wrong": ()}
    except BadInput as bad:
        return {"says": (), "wrong": bad.complaints}


# What the file makes of what was said ----------------------------------------------------------

Unsettled = tuple[tuple[MatchView, ...], tuple[str, ...]]  # names, ticks


def unsettled(case: Case, machine: Machine, proposal: TieView) -> Unsettled:
    """Names and ticks that a person must settle: all at first, later those for which this file makes a difference."""
    before, known = bench.machine_of(case), case.known
    ticks = tuple(case.intake.ticks) if machine.works else ()
    if before is None or known is None or known.how != "file":
        return proposal.matches, ticks
    settled = adding.propose_tie(case, known.text, known.file, {}).matches
    new = {one.name for one in machine.works} != {one.name for one in before.works}
    open_ticks = tuple(tick for tick in ticks if known.functions.get(tick) not in {one.name for one in machine.works})
    return tuple(one for one in proposal.matches if one not in settled), open_ticks if new else ()


def as_chosen(proposal: TieView, asked: Unsettled, said: Mapping[str, str]) -> TieView:
    """The proposal with what a person chose. A name that was settled before stays free, as it was left."""
    names = {one.name for one in asked[0]}
    matches = []
    for one in proposal.matches:
        place = said.get(f"other {one.name}", "").strip() or said.get(f"place {one.name}", one.place)
        matches.append(replace(one, place=place if one.name in names else FREE))
    functions = {tick: said.get(f"tick {tick}", name) for tick, name in proposal.functions.items()}
    functions |= told(said, "tick ")
    return replace(proposal, matches=tuple(matches), functions={tick: name for tick, name in functions.items() if name})
