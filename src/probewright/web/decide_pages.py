"""Repair, hand back or scrap: options, what they come to, the owner's word."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.errors import BadInput, Complaint
from probewright.jobs import bench, billing, deciding
from probewright.planning.deciding import sorts
from probewright.record import stamp
from probewright.report.bench import what
from probewright.units import percent
from probewright.web.sheets import Sheets, number, posted, to


class DecidePages:
    """The decision of a job."""

    def __init__(self, sheets: Sheets) -> None:
        self.desk, self.page, self.case = sheets.desk, sheets.page, sheets.case

    def routes(self) -> list[Route]:
        """Where this page is."""
        at = "/jobs/{job:int}/decision"
        return [Route(at, self.decision), Route(at, posted(self.told), methods=["POST"])]

    def decision(
        self, request: Request, wrong: tuple[Complaint, ...] = (), said: dict[str, str] | None = None
    ) -> Response:
        """What the options come to; said: a form that was refused, as it was typed."""
        case = self.case(request)
        view = billing.decided(self.desk.book, case, self.desk.view(case))
        return self.page(
            request, "decision.html", 422 if wrong else 200, case=case, job=bench.view_case(case), view=view,
            money=deciding.Money(view.rate, view.currency), usual=deciding.money_of(self.desk.book),
            amount=deciding.amount, sorts=sorts(), wrong=wrong, said=said or {}, what=what, percent=percent,
        )  # fmt: skip

    def told(self, request: Request, said: dict[str, str]) -> Response:
        """Money, an option, one that is none any more, the owner's word."""
        book, now = self.desk.book, stamp()
        try:
            with self.desk.writing:
                case = self.case(request)
                match said.get("do"):
                    case "money":
                        deciding.tell_money(book, figure_said(said, "rate"), said.get("currency"), now)
                        told = {"value": figure_said(said, "value"), "ceiling": figure_said(said, "ceiling")}
                        deciding.agree(book, case, {**told, "keep": said.get("keep") == "yes"}, now)
                    case "drop":
                        deciding.drop_option(book, case, said.get("name", ""), now)
                    case "consent":
                        up_to = figure_said(said, "up_to")
                        deciding.consent(book, case, said.get("to", ""), said.get("words", ""), up_to, now)
                    case _:
                        given = {name: figure_said(said, name) for name in ("parts", "hours", "wait", "bad", "damage")}
                        pins = number(said.get("pins", "").strip() or "0")
                        if pins is None:
                            raise bench.complaint(f"{said['pins']!r} is no number of pins", "write for example 16")
                        option = deciding.option_said(said.get("kind", ""), said.get("name", ""), given, pins)
                        deciding.add_option(book, case, option, now)
        except BadInput as bad:
            return self.decision(request, bad.complaints, said)
        return to(f"/jobs/{case.number}/decision")


def figure_said(said: dict[str, str], name: str) -> float | None:
    """A figure of a form, None where the field was left empty. BadInput for what is none."""
    return billing.figure_said(said.get(name, ""), name)
