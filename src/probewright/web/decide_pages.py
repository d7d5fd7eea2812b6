"""Repair, hand back or scrap: options, what they come to, the owner's word."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from probewright.jobs import bench, billing, deciding
from probewright.jobs.cases import Case
from probewright.planning.deciding import sorts
from probewright.record import stamp
from probewright.units import percent
from probewright.web.sheets import JobPage, number


class DecidePages(JobPage):
    """The decision of a job."""

    name, template = "decision", "decision.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """What the options come to."""
        view = billing.decided(self.desk.book, case, self.desk.view(case))
        usual = deciding.money_of(self.desk.book)
        return {
            "view": view, "money": deciding.Money(view.rate, view.currency), "usual": usual,
            "amount": deciding.amount, "sorts": sorts(), "percent": percent,
        }  # fmt: skip

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """Money, an option, one that is none any more, the owner's word."""
        book, now = self.desk.book, stamp()
        match said.get("do"):
            case "money":
                told = {"value": figure_said(said, "value"), "ceiling": figure_said(said, "ceiling")}
                rate, keep = figure_said(said, "rate"), said.get("keep") == "yes"
                deciding.settle_money(book, case, rate, said.get("currency"), {**told, "keep": keep}, now)
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
                times = said.get("hot", "").strip()
                if times and number(times) is None:
                    raise bench.complaint(f"{times!r} is no number of times", "write for example 2")
                hot = deciding.hot_said(case, said.get("name", ""), number(times), pins, given["damage"])
                option = deciding.option_said(said.get("kind", ""), said.get("name", ""), given, pins, hot)
                deciding.add_option(book, case, option, now)


def figure_said(said: dict[str, str], name: str) -> float | None:
    """A figure of a form, None where the field was left empty. BadInput for what is none."""
    return billing.figure_said(said.get(name, ""), name)
