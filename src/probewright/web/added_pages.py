"""A circuit in the place of something dead: chosen, filled in, judged, kept, taken back; and values for a target."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import added_circuits
from probewright.jobs.added_circuits import AddedListView, AddedView
from probewright.jobs.added_values import SUMS, values_for
from probewright.jobs.added_verdict import ANY, WANTED
from probewright.jobs.cases import Case
from probewright.jobs.placed_circuits import Placing
from probewright.machine import Machine, shelf
from probewright.machine.shelf import Stage
from probewright.planning.preferred import SERIES
from probewright.record import stamp
from probewright.web.decide_pages import figure_said
from probewright.web.sheets import JobPage, stale, to, unknown

# sign and word of a verdict
SIGNS = {"fits": "✓", "off": "✗", "too hot": "⚠", "told": "", "not judged": "?"}
OF_A_SUM = ("kind", "target", "series", "tolerance", "with", "share")


class AddedPages(JobPage):
    """The added circuits of a job."""

    name, template = "added", "added.html"

    def routes(self) -> list[Route]:
        """Where this page is."""
        return [*super().routes(), Route("/jobs/{job:int}/added.yaml", self.download)]

    def shown(
        self,
        request: Request,
        wrong: tuple[Complaint, ...] = (),
        said: dict[str, str] | None = None,
        tried: AddedView | None = None,
    ) -> Response:
        """What is placed, the library, and values for a target. said: an address or a form, as typed; wrong: why it was
        refused; tried: what was judged."""
        case, said = self.case(request), dict(request.query_params) if said is None else said
        placed, machine, problems = _of_job(case)
        stage, form = _chosen(said, case)
        told: dict[str, Any] = {"sums": None}
        if said.get("kind") and said.get("target") and not wrong:
            try:
                told["sums"] = values_for(*(said.get(name, "") or _usual(name) for name in OF_A_SUM))
            except BadInput as bad:
                wrong = bad.complaints
        return self.drawn(
            request, case, bool(wrong), said=said, wrong=(*wrong, *problems), placed=placed.placed, tried=tried,
            circuits=shelf.added_circuits(), stage=stage, form=form, body=stage and stage.forms[form],
            wants=stage and WANTED.get(stage.name, ANY), signs=SIGNS, kinds=SUMS, series=SERIES,
            nets=[net for net in machine.nets if not net.startswith("nc:")] if machine else (),
            legs=[f"{part.name}.{pin}" for part in machine.parts.values() for pin in part.pins] if machine else (),
            stimuli=tuple(machine.stimuli) if machine else (), known=machine is not None, **told,
        )  # fmt: skip

    def kept(self, request: Request, said: dict[str, str]) -> Response:
        """A circuit that is filled in is made out, and judged, before others are kept from writing."""
        do = said.get("do", "")
        if do not in ("try", "keep"):
            return super().kept(request, said)
        case = self.case(request)
        placing = _placing(case, said)
        if do == "try":
            return self.shown(request, said=said, tried=added_circuits.try_out(case, placing))
        with self.desk.writing:
            mark, case = case.mark, self.case(request)
            if case.mark != mark:
                raise stale()
            added_circuits.place(self.desk.book, case, placing, stamp())
        return to(self.address(request, case, said))

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """One taken back, one put to the ways to go on."""
        book, name = self.desk.book, said.get("name", "")
        match said.get("do", ""):
            case "back":
                added_circuits.take_back(book, case, name, stamp())
            case "option":
                added_circuits.as_option(book, case, name, figure_said(said, "parts"), stamp())
            case do:
                raise unknown(do)

    def address(self, request: Request, case: Case, said: dict[str, str]) -> str:
        """This page, or the ways to go on."""
        return f"/jobs/{case.number}/{'decision' if said.get('do') == 'option' else self.name}"

    def download(self, request: Request) -> Response:
        """The machine file with every placed circuit in it. BadInput when the job has no file."""
        case = self.case(request)
        return Response(added_circuits.variant(case), media_type="application/yaml", headers={
            "Content-Disposition": f'attachment; filename="job-{case.number}-added.yaml"'
        })  # fmt: skip


def _of_job(case: Case) -> tuple[AddedListView, Machine | None, tuple[Complaint, ...]]:
    """What is placed and the machine, or that there is none; what the file does not bear any more is a complaint."""
    none = AddedListView(case.number, ())
    if case.known is None:
        return none, None, ()
    machine = added_circuits.job_machine(case)
    try:
        return added_circuits.added_of(case), machine, ()
    except BadInput as bad:  # the file was changed since
        return none, machine, bad.complaints


def _chosen(said: Mapping[str, str], case: Case) -> tuple[Stage | None, str]:
    """The circuit and the form of it that are filled in; those of a placed one that is looked at again."""
    name = said.get("circuit", "")
    if name not in {one.name for one in shelf.added_circuits()}:
        return None, ""
    stage = shelf.added_circuit(name)
    form = said.get("value form") or said.get("form", "")
    return stage, form if form in stage.forms else next(iter(stage.forms))


def _placing(case: Case, said: Mapping[str, str]) -> Placing:
    """A circuit as the form tells it. BadInput for what cannot be."""
    values, joins, wants = (
        {name.removeprefix(begins): typed for name, typed in said.items() if name.startswith(begins) and typed.strip()}
        for begins in ("value ", "to ", "want ")
    )
    lifted = re.split(r"[\s,;]+", said.get("lift", "").strip())
    circuit, at, name = (said.get(one, "") for one in ("circuit", "at", "name"))
    return added_circuits.said_of(case, circuit, values, joins, lifted, wants, at, name.strip())


def _usual(name: str) -> str:
    return "E24" if name == "series" else ""
