"""Why a part died, and whether a new one will do, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.replacing import ReplaceView
from probewright.jobs.why_died import STANDS, KillerView, WhyView


def why(view: WhyView) -> str:
    """What killed it, what to check first, what it bears, its siblings."""
    return "\n".join(_lines(view))


def _lines(view: WhyView) -> Iterator[str]:
    died = f", {view.died}" if view.died else ""
    sure = "" if view.located else " (not located yet)"
    yield f"Job {view.job}: {view.part}, {view.is_}{died}{sure}"
    yield view.conclusion
    if view.first:
        yield f"Before the new {view.part} is powered, check:"
        yield from (f"  {one}" for one in view.first)
    yield "It bears:" if view.strains else "Nothing that it bears can be computed from this file."
    for one in view.strains:
        yield f"  {one.says}" + (f" ({one.source})" if one.source else "")
    if view.killers:
        yield "What would take it beyond that:"
        yield from (f"  {killer(one)}" for one in view.killers)
    if view.siblings:
        yield "Siblings of the same age, offered, not fitted:"
        yield from (f"  {one.says}" for one in view.siblings)


def killer(one: KillerView) -> str:
    """A killer with how it stands."""
    words = f": {one.words}" if one.words else ""
    check = f". Check {one.check.says}" if one.check is not None and one.stands == "not yet" else ""
    return f"{one.says}; {STANDS[one.stands]}{words}{check}"


def replaced(view: ReplaceView) -> str:
    """Whether a new part will do, line by line."""
    return "\n".join(_replaced(view))


def _replaced(view: ReplaceView) -> Iterator[str]:
    yield f"Job {view.job}: {view.with_} for {view.part}: {view.verdict}"
    yield view.conclusion
    yield from (f"  {one.says}" + (f" ({one.source})" if one.source else "") for one in view.lines)
    yield from (f"Caution: {one}" for one in view.cautions)
