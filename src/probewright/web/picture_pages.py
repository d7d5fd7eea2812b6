"""Diagrams drawn from the job's machine file: healthy values, suspects, and what one of them would read."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.drawing import draw
from probewright.jobs import bench
from probewright.jobs.cases import Case
from probewright.jobs.everywhere import PlaceView, read_everywhere
from probewright.jobs.ticking import zones_of
from probewright.jobs.weighing import place_setup
from probewright.machine import Machine
from probewright.readings import Setup, setups
from probewright.report.bench import what
from probewright.report.text import checked
from probewright.units import write_reading
from probewright.web import showing
from probewright.web.sheets import Sheets

QUANTITIES = {"dc": "direct volts", "pp": "volts peak to peak"}
SAME = 0.05  # chosen: a suspect's reading this near the healthy one is not worth a second figure
NONE = 1e-3  # chosen: a share of healthy that no ear and no scope at a bench tells from silence
NOUGHT = 0.01  # V, chosen: below this, two readings are both nothing on a scope or a meter at the bench


class PicturePages:
    """The diagrams of a job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where these pages are."""
        return [Route("/jobs/{job:int}/pictures", self.pictures), Route("/jobs/{job:int}/zones", self.zones)]

    def zones(self, request: Request) -> Response:
        """Every net and joint of the job's zones, with its healthy figure, to be ticked off one by one."""
        case = self.case(request)
        return self.page(
            request, "zones.html", case=case, job=bench.view_case(case), view=zones_of(case), at=leads_to(case),
            healthy=checked, what=what,
        )  # fmt: skip

    def pictures(self, request: Request) -> Response:
        """Each section as a diagram: values at the places, suspects marked, every place a way to the entry box."""
        case = self.case(request)
        machine = bench.machine_of(case)
        if machine is None:
            return self.page(request, "pictures.html", case=case, job=bench.view_case(case), sections=(), what=what)
        view = self.desk.view(case)
        letters = self.desk.letters(case, view) if view else {}
        listed = [one for one in (showing.leaders(view) if view else ()) if one.faults]
        chosen = next((one for one in listed if letters[one.id] == request.query_params.get("suspect")), None)
        setup = powered(case, machine)
        rows = read_everywhere(machine, setup, chosen)
        quantities = [one for one in QUANTITIES if any(row.instrument == one for row in rows)]
        quantity = request.query_params.get("show", "")
        quantity = quantity if quantity in quantities else next(iter(quantities), "")
        shown = [row for row in rows if row.instrument == quantity]
        values = {row.place: value(row, letters.get(chosen.id, "") if chosen else "") for row in shown}
        odd = [row.place for row in shown if differs(row)]
        marked = showing.marks(view, machine, letters) if view else {}
        link, notes = leads_to(case), showing.notes(machine)
        sections = [
            (
                one or machine.name,
                draw(machine, section=one, values=values, odd=odd, marks=marked, notes=notes, link=link).svg,
            )
            for one in machine.sections or (None,)
        ]
        return self.page(
            request, "pictures.html", case=case, job=bench.view_case(case), sections=sections, what=what,
            suspects=[(letters[one.id], one.says) for one in listed], chosen=letters.get(chosen.id) if chosen else "",
            said=chosen.says if chosen else "", quantities=[(one, QUANTITIES[one]) for one in quantities],
            quantity=quantity, setup=setups.say(setup, machine), differ=len(odd), legend=showing.legend(notes),
        )  # fmt: skip


def powered(case: Case, machine: Machine) -> Setup:
    """The job's set-up on the file's own names with power on, and with a signal where the file has one."""
    names = case.known.names if case.known else {}
    now = place_setup(case.bench.setup, names, machine, signal=False) or Setup()
    sounding = [one.name for one in machine.stimuli.values() if one.frequency]
    return replace(now, power="on", stimulus=now.stimulus or next(iter(sounding), ""))


def value(row: PlaceView, letter: str) -> str:
    """What stands at a place: the suspect's figure before the healthy one where the two differ."""
    healthy = write_reading(row.healthy, row.unit)
    if row.suspect is None or not differs(row):
        return healthy
    its = "none" if row.unit == "%" and row.suspect < NONE else write_reading(row.suspect, row.unit)
    return f"{letter} {its}, healthy {healthy}"


def differs(row: PlaceView) -> bool:
    """The suspect reads otherwise here, by more than a bench can overlook."""
    if row.suspect is None or math.isnan(row.suspect) or math.isnan(row.healthy):
        return False
    least = NOUGHT if row.unit == "V" else 0.0
    return abs(row.suspect - row.healthy) > max(SAME * abs(row.healthy), least)


def leads_to(case: Case) -> Callable[[str], str]:
    """Place -> the bench with that place in the entry box; nowhere once the job is closed."""
    if case.closed is not None:
        return lambda place: ""
    return lambda place: f"/jobs/{case.number}?at={quote(place, safe='')}"
