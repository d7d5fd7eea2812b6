"""The bench: the card, the entry box, the suspects, the readings."""

from __future__ import annotations

import json
import time
from contextlib import suppress
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, with_mend
from probewright.jobs import bench
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case, Line
from probewright.jobs.heard_again import is_heard_bad, shows_now
from probewright.jobs.repairs import repaired_at
from probewright.jobs.standing import answered
from probewright.jobs.warming import clock_meanwhile
from probewright.jobs.ways_to_end import OUTSIDE, SOUND, WAYS_TO_END
from probewright.machine import Machine
from probewright.machine.stimuli import followed
from probewright.readings import SCOPED, Question
from probewright.readings.bench import SHOWING
from probewright.readings.owner import NO, YES
from probewright.readings.owner import line as line_of_owner
from probewright.record import stamp
from probewright.report.bench import what
from probewright.report.text import left_alone
from probewright.web import practising, setting, showing
from probewright.web.clock import Clock, clock
from probewright.web.grouping import in_one_go
from probewright.web.lighting import lit_of
from probewright.web.sheets import Sheets, number, on_page, posted, to
from probewright.web.urgent import Beforehand, beforehand, first_choice, off_now

ENDS = {"outside": OUTSIDE, "healthy": SOUND}  # finding -> how the job ends
PATIENCE = 20.0  # s, chosen: how long a browser is kept waiting for a refined answer before it asks again


class BenchPages:
    """One job on the bench."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [
            Route("/jobs/{job:int}", self.bench),
            Route("/jobs/{job:int}/refined", self.rest),
            Route("/jobs/{job:int}/echo", self.echo),
            Route("/jobs/{job:int}/clock", self.clock),
            Route("/jobs/{job:int}/lines", posted(self.enter), methods=["POST"]),
            Route("/jobs/{job:int}/undo", posted(self.undo), methods=["POST"]),
            Route("/jobs/{job:int}/setup", posted(self.set_up), methods=["POST"]),
            Route("/jobs/{job:int}/owner", posted(self.owner), methods=["POST"]),
            Route("/jobs/{job:int}/close", posted(self.close), methods=["POST"]),
            Route("/jobs/{job:int}/reopen", posted(self.reopen), methods=["POST"]),
        ]

    def bench(self, request: Request, told: dict[str, Any] | None = None, code: int = 200) -> Response:
        """The card, the suspects, the readings."""
        case = self.case(request)
        view, machine = self.desk.view(case), bench.machine_of(case)
        letters = self.desk.letters(case, view) if view else {}
        rows = showing.suspects(view, letters) if view else ()
        choice = number(request.query_params.get("choice", "")) or first_choice(view, case.bench.setup)
        at = " ".join(request.query_params.get("at", "").split())
        offered = len(showing.offered(view)) if view else 1
        last = next(reversed(case.live), None)
        card = showing.card(view, machine, letters, case.bench.setup, choice) if view else None
        ask = answered(json.loads(card.asked)) if card else None
        clock = clock_shown(case, view)
        power = showing.first_power(view, choice)
        return self.page(
            request, "bench.html", code, case=case, job=bench.view_case(case), view=view, suspects=rows, card=card,
            group=in_one_go(view, choice, machine), clock=clock, off_now=off_now(view, case.bench.setup, clock),
            lit=lit_of(case, ask, machine) if card else None,
            power=power, power_answers=showing.power_answers(power),
            finding=view and showing.finding(view), alone=left_alone(view.search) if view else "",
            changed=showing.changed(rows), last=last, choice=choice, next_choice=(choice + 1) % offered,
            chips=setting.chips(case.bench.setup, machine, told_of_power(case), case.bench.side), ways=setting.WAYS,
            places=places(case, machine), lines=showing.lines(case, view, letters, machine), endings=WAYS_TO_END,
            what=what, sources=showing.sources(view) if view else (), traced=_traced(case),
            seen=f"/jobs/{case.number}/waveform/expected?choice={choice}" if moves(machine, ask) else "",
            found=_found(case, view), ending=ENDS.get(view.search.finding, "") if view else "",
            ending_now=request.query_params.get("end", ""),
            came={"asked": {"at": at or showing.taken_at(ask)}}, practised=practising.so_far(case, view, card),
            **{
                "showing": shows_now(case), "typed": at and f"{at} ", "piece": None, "stale": "", "held": (),
                "ended": {}, "named": "", "misnamed": (),
                **(told or {}),
            },
        )  # fmt: skip

    def rest(self, request: Request) -> Response:
        """The bench once the refined answer is there; waits for it, and comes back rough when it takes long."""
        self.desk.wait(self.case(request), PATIENCE)
        return self.bench(request)

    def clock(self, request: Request) -> Response:
        """The clock alone, for a page that counts by itself: another device may have told of the key since. Nothing is
        worked out for it; 204 where the answer is not there yet."""
        case = self.case(request)
        view = self.desk.refined(case)
        if view is None:
            return Response(status_code=204)
        return self.page(request, "clock.html", case=case, job=view.case, clock=clock_shown(case, view))

    def echo(self, request: Request) -> Response:
        """What a line would be understood as; nothing is stored."""
        case = self.case(request)
        asked = question_of(request.query_params)
        line = with_showing(case, request.query_params.get("line", ""), request.query_params.get("showing", ""), asked)
        return self.page(request, "echo.html", case=case, piece=self.understood(case, line, asked))

    def understood(self, case: Case, line: str, question: Question | None) -> dict[str, Any] | None:
        """What the page says back of a line: kind, sentences, whether it may be insisted on."""
        if not line.strip():
            return None
        if case.practice:
            return practising.understood(self.desk, case, line)
        try:
            made = bench.understand(case, line, question)
        except BadInput as bad:
            said = [on_page(one.says) for one in bad.complaints]
            return {"kind": "refused", "says": said, "line": line, "insist": False}
        doubts = made.heard.doubts if made.heard else ()
        says = made.payload.get("says") or [with_mend(one.text, one.mend) for one in doubts]
        insist = bool(doubts) and all(one.can_insist for one in doubts)
        return {"kind": made.kind, "says": says, "line": line, "insist": insist}

    def enter(self, request: Request, said: dict[str, str]) -> Response:
        """A typed line: shown first, counted when what was shown is sent again."""
        typed, once, question = said.get("line", ""), said.get("once", ""), question_of(said)
        with self.desk.writing:
            case = self.case(request)
            if case.practice and practising.entered(self.desk.book, case, said):
                return to(practising.address(self.case(request)))
            line = with_showing(case, typed, said.get("showing", ""), question)
            if bench.is_entered(case, line, once):
                return to(f"/jobs/{case.number}")
            moved = said.get("mark", "") != str(case.mark)
            tapped = moved and "tap" in said  # a whole set-up as it was on that page: it would put back what changed
            sure = said.get("sure") == line
            if not case.practice and not moved and (sure or said.get("seen") == line):
                made = None
                with suppress(BadInput):  # the page says below what is wrong with the line
                    made = bench.understand(case, line, question, sure)
                if made is not None and (sure or made.kind != "asked"):
                    bench.keep_line(self.desk.book, case, made, stamp(), once)
                    return to(f"/jobs/{case.number}")
            piece = None if tapped else self.understood(case, line, question)
        if tapped:
            return self.bench(request, {"stale": "tap"})
        told = {
            "typed": typed,
            "showing": said.get("showing") or shows_now(case),
            "piece": piece,
            "stale": moved and bool(piece),
            "asked": said.get("asked", ""),
        }
        return self.bench(request, told)

    def undo(self, request: Request, said: dict[str, str]) -> Response:
        """Take a line back."""
        with self.desk.writing:
            case = self.case(request)
            event = number(said.get("event", ""))
            if event is None:
                raise bench.complaint("no line was named", "press Undo beside the line")
            bench.undo(self.desk.book, case, stamp(), event)
        return to(f"/jobs/{case.number}")

    def set_up(self, request: Request, said: dict[str, str]) -> Response:
        """A change of the set-up that has no chip yet: it is entered as a set-up line."""
        case = self.case(request)
        if any(one.once and one.once == said.get("once") for one in case.lines):
            return to(f"/jobs/{case.number}")  # sent twice: its change is in the set-up by now
        line = setting.line_with(case.bench.setup, said.get("way", ""), said.get("name", "").strip())
        return self.enter(request, {**said, "line": line, "seen": line, "mark": str(case.mark)})

    def owner(self, request: Request, said: dict[str, str]) -> Response:
        """What the owner said to a step that cannot be taken back: entered as the line that says so."""
        case = self.case(request)
        wish, answer = said.get("wish", "").strip(), said.get("answer", "")
        if not wish or answer not in (YES, NO):
            raise bench.complaint("nothing was answered", "press `The owner says yes` or `The owner says no`")
        if any(one.once and one.once == said.get("once") for one in case.lines):
            return to(f"/jobs/{case.number}")  # sent twice
        text = line_of_owner(wish, answer, said.get("words", ""))
        return self.enter(request, {**said, "line": text, "seen": text, "mark": str(case.mark)})

    def close(self, request: Request, said: dict[str, str]) -> Response:
        """End the job; what may not end so yet stays on the bench, with what was written."""
        with self.desk.writing:
            case = self.case(request)
            words = said.get("words", "").strip()
            if case.closed is None and (held := bench.held(case, said.get("ending", ""))):
                return self.bench(request, {"held": held, "ended": said}, 422)
            if case.closed is None:
                bench.close(self.desk.book, case, said.get("ending", ""), words, stamp())
        if case.closed is not None and words != case.closed["words"]:
            return self.bench(request, {"stale": True, "typed": words})
        return to(f"/jobs/{case.number}")

    def reopen(self, request: Request, said: dict[str, str]) -> Response:
        """Take the job up again."""
        with self.desk.writing:
            case = self.case(request)
            if case.closed is not None:
                bench.reopen(self.desk.book, case, stamp())
        return to(f"/jobs/{case.number}")


def told_of_power(case: Case) -> bool:
    """Somebody said how the power stands, or read last what is read with it on. Ohms say only that it was off then."""
    return case.bench.power_said or (bool(case.readings) and case.readings[-1].question.setup.power == "on")


def moves(machine: Machine | None, ask: Question | None) -> bool:
    """What the card asks is read off something that moves in time, so that there is a picture of it."""
    if machine is None or ask is None or not showing.taken_at(ask):
        return False
    return ask.instrument in SCOPED or followed(machine, ask.setup.stimulus).in_time


def clock_shown(case: Case, view: BenchView | None) -> Clock | None:
    """The clock of a job, also while its answer is worked out."""
    now = case.bench.setup
    found = view.clock if view is not None else clock_meanwhile(case, stamp())
    if found is None:
        return None
    action = showing.offered(view)[first_choice(view, now)] if view is not None else None
    before = beforehand(view, action, now, bench.machine_of(case)) if view and action else Beforehand()
    return clock(found, now, before.line if before.done == "Power is on" else "", time.time())


def _traced(case: Case) -> Line | None:
    """The last waveform that counts."""
    return next((line for line in reversed(case.live) if line.capture is not None), None)


SAID_SO = {"no": "not showing", "can't tell": "can't tell"}  # a choice of the form -> the remark that says it


def with_showing(case: Case, line: str, showing: str, question: Question | None) -> str:
    """The line with what the form says of the fault, where the line has readings and says nothing of it itself."""
    remark = SAID_SO.get(showing)
    if remark is None or not line.strip():
        return line
    try:
        made = bench.understand(case, line, question, sure=True)
    except BadInput:
        return line  # what is wrong with it is said where it is understood
    if made.heard is None or not made.heard.readings or any(one.showing != "yes" for one in made.heard.readings):
        return line
    if shows_now(case) == "no" and any(map(is_heard_bad, made.heard.readings)):
        return line  # the fault is back, whatever the chip still says
    body, hash_, aside = line.partition(" #")
    said_so = any(one.strip().casefold() in SHOWING for one in body.split(";")[1:])
    return line if said_so else f"{body.rstrip()}; {remark}{hash_}{aside}"


def places(case: Case, machine: Machine | None) -> tuple[str, ...]:
    """Names that can be meant on this job: of its machine file, and those that were read already."""
    named = () if machine is None else (*machine.points, *machine.parts, *bench.pins_of(machine))
    return tuple(dict.fromkeys([*named, *(reading.question.red for reading in case.readings)]))


def question_of(said: Any) -> Question | None:
    """The question that the form's card asked; None when it asked none, or the form was tampered with."""
    try:
        return answered(json.loads(said.get("asked", "") or "null"))
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def _found(case: Case, view: BenchView | None) -> bool:
    """The search is over, or something was repaired: what comes after it is within reach."""
    ended = view is not None and view.search.finding not in ("undecided", "unexplained")
    return case.closed is not None or bool(repaired_at(case)) or ended
