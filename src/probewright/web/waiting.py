"""What each job waits for, as far as its record tells; nothing is computed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from probewright.jobs import bench
from probewright.jobs.case_view import CaseView
from probewright.jobs.cases import ASKED, Case
from probewright.jobs.ways_to_end import PARKED
from probewright.report.text import FINDINGS, percent
from probewright.report.times import here
from probewright.units import counted

# key -> its sign, what is waited for; in the order shown.
GROUPS = {
    "question": ("?", "A question to answer"),
    "decide": ("✓", "To be decided"),
    "do": ("!", "Something to do on the machine"),
    "reading": ("→", "A reading, a look or a swap"),
    "new": ("…", "To be opened: its next step is not worked out"),
    "parked": ("‖", "Parked"),
    "closed": ("■", "Closed"),
}
DECIDED = ("located", "outside", "healthy")  # findings after which nobody needs to read on
MEND = re.compile(r"; |(?<=\?) ")  # what is asked ends here, and how to mend it begins
DAYS, WEEKS = 14, 10  # chosen: up to so many days an age is said in days, up to so many weeks in weeks


@dataclass(frozen=True)
class JobRow:
    """A job in the list. said: what it waits for in particular, "" when nothing more is known; likely: the
    leading suspect as it was shown last; age: how long it has been here, in words."""

    job: CaseView
    said: str
    likely: str
    age: str


@dataclass(frozen=True)
class Group:
    """Jobs that wait for the same; sign and words say for what."""

    key: str
    sign: str
    words: str
    rows: tuple[JobRow, ...]


def groups(cases: Iterable[Case], now: str) -> tuple[Group, ...]:
    """The jobs by what they wait for, in each group the one that waits longest first. now: UTC, ISO text."""
    found: dict[str, list[JobRow]] = {}
    for case in cases:
        key, said = waits_for(case)
        since = case.opened if case.closed is None else case.closed["at"]
        row = JobRow(bench.view_case(case), said, "" if case.closed else _likely(case), age(since, now))
        found.setdefault(key, []).append(row)
    return tuple(Group(key, *GROUPS[key], tuple(found[key])) for key in GROUPS if key in found)


def waits_for(case: Case) -> tuple[str, str]:
    """Which group a job is in, and what it waits for in particular."""
    if case.closed is not None:
        words = case.closed["words"]
        if case.ending == PARKED:
            return "parked", words
        return "closed", f"{case.ending}: {words}" if words else case.ending
    last = next(reversed(case.live), None)
    if last is not None and last.status == ASKED:
        asks = MEND.split(last.says[0], maxsplit=1)[0] if last.says else "not understood"
        return "question", f"“{last.text}”: {asks}"
    shown = case.shown
    if shown is None or shown["mark"] != case.mark:
        return "new", ""
    if shown["finding"] in DECIDED or not shown["next"]:
        return "decide", f"{FINDINGS[shown['finding']]}." + (f" Next: {shown['next']}" if shown["next"] else "")
    return "do" if shown["ask"] is None else "reading", f"Next: {shown['next']}"


def _likely(case: Case) -> str:
    first = next(iter(case.shown["suspects"]), None) if case.shown else None
    return f"{first[1]}, {percent(first[2])}" if first else ""


def age(since: str, now: str) -> str:
    """How long ago in plain words: "today", "1 day", "3 days", "5 weeks", "4 months"."""
    days = (here(now).date() - here(since).date()).days
    if days < 1:
        return "today"
    for size, word, up_to in ((1, "day", DAYS), (7, "week", WEEKS)):
        if days < up_to * size:
            return counted(days // size, word)
    months = round(days / 30.4)  # days of a month, on average
    return counted(months, "month") if months < 24 else counted(round(days / 365.25), "year")
