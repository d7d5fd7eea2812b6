"""Parts used, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.parts_used import PartsView, UsedPart


def parts(view: PartsView) -> str:
    """The list, who sits where, and what is still to be said."""
    return "\n".join(_lines(view))


def _lines(view: PartsView) -> Iterator[str]:
    yield f"Job {view.job}: {view.says}"
    yield from (f"  {one.event:3}  {part(one)}" for one in view.parts)
    if view.swaps:
        yield "Swapped:"
        yield from (f"  {one.event:3}  {one.says}" for one in view.swaps)
        yield f"  now {'; '.join(view.seats) or 'every part is in its own place'}"
        yield f"  {view.suspect}"
    if view.given:
        yield f"Given away: {', '.join(view.given)}"
    if view.unsaid:
        yield f'Say where it comes from: `probewright parts --part {view.unsaid[0]} --origin new --old "in the box"`'


def part(one: UsedPart) -> str:
    """One part: what it is, where it is, the old one."""
    whence = ", ".join(filter(None, (one.origin, one.source and f"from {one.source}", tested(one.state))))
    where = "" if one.where_now == "fitted" else f"; now {one.where_now}"
    old = f"; the old one {one.was}" if one.was else ""
    return f"{one.part}: {whence}{where}{old}" + (f"; {one.words}" if one.words else "")


def tested(state: str) -> str:
    """The test of a part in words; "" where nobody said."""
    return state if state in ("", "untested") else f"tested: {state}"
