"""Readings in one go, as the page lists them."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.jobs.case_view import BenchView
from probewright.machine import Machine
from probewright.machine.model import GROUND
from probewright.readings import Question, echo
from probewright.report.text import TOGETHER
from probewright.web.showing import healthy_words

NO_LONGER = 0.1  # min, chosen: a difference that nobody would wait for


@dataclass(frozen=True)
class GroupRow:
    """A reading: where red goes, with black where that is not ground, how, what is healthy there, and its caution where
    the card does not show it."""

    place: str
    how: str
    healthy: str
    caution: str


@dataclass(frozen=True)
class Group:
    """What is worth reading in one go.

    apart: minutes with the bench set up anew for each, "" where that takes no longer; clips: black or red, and where it
    goes; burst: what heat leaves, "" where nothing limits it.
    """

    title: str
    minutes: str
    apart: str
    clips: tuple[tuple[str, str], ...]
    steps: tuple[GroupRow, ...]
    burst: str
    why: str


def in_one_go(view: BenchView | None, choice: int, machine: Machine | None) -> Group | None:
    """The group of the card; None where another choice is looked at, or the step stands alone."""
    group = None if view is None or choice else view.search.group
    if view is None or group is None or view.card is None or view.card.do != group.steps[0].do:
        return None
    rows = tuple(
        GroupRow(
            _between(one.ask, machine), echo.instrument_words(one.ask), healthy_words(one.healthy),
            "" if one.caution == view.card.caution else one.caution or "",
        )
        for one in group.steps
    )  # fmt: skip
    clips = tuple((lead, place) for lead, _, place in (one.partition(" to ") for one in group.clips))
    longer = group.apart > group.minutes + NO_LONGER
    minutes = (f"{group.minutes:.3g} min", f"{group.apart:.3g} min" if longer else "")
    burst = group.burst.says if group.burst is not None else ""
    return Group(f"{TOGETHER[group.kind]}: {len(rows)} readings", *minutes, clips, rows, burst, group.why)


def _between(ask: Question, machine: Machine | None) -> str:
    red, black = echo.spot(ask.red, machine), echo.spot(ask.black, machine)
    return red if ask.black == GROUND else f"{red} to {black}"
