"""Healthy values: what a good channel, a sister or another machine of the model taught, and taking over more."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request

from probewright.jobs import bench
from probewright.jobs.cases import Case
from probewright.jobs.teaching import learn, view_taught
from probewright.record import stamp
from probewright.web.sheets import JobPage, number


class HealthyPages(JobPage):
    """What a job has learnt."""

    name, template = "healthy", "healthy.html"

    def shows(self, request: Request, case: Case, said: dict[str, str]) -> dict[str, Any]:
        """What was learnt, and who could teach more."""
        return {"view": view_taught(self.desk.book, case)}

    def keep(self, request: Request, case: Case, said: dict[str, str]) -> None:
        """Take over what another job has learnt of a sound machine."""
        source = number(said.get("from", ""))
        if source is None:
            raise bench.complaint("no job was named", "choose the one that teaches")
        same = said.get("same_meter") == "yes"
        learn(self.desk.book, case, source, said.get("meter", ""), same, stamp(), said.get("once", ""))
