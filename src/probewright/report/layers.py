"""A machine taken apart and put together again, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.putting_together import BackView, RefitView
from probewright.jobs.stripping import StripView
from probewright.jobs.strips import many
from probewright.report.times import hour
from probewright.units import counted


def strip(view: StripView) -> str:
    """What came off, what is to come off, what to say at the bench."""
    return "\n".join(_strip(view))


def refit(view: RefitView) -> str:
    """What goes back in its order, what is looked at, what is left over."""
    return "\n".join(_refit(view))


def _strip(view: StripView) -> Iterator[str]:
    yield f"Job {view.job}: {view.refit.says}"
    if not view.refit.done or not view.layers:
        yield view.caution
    for one in view.layers:
        mark = "back" if one.back else "off"
        named = f"{one.name}: " if one.name and one.name not in one.text else ""
        yield f"  {one.number}. {named}{one.text} ({mark}; entry {one.event}{_photos(len(one.photos))})"
        yield from (f"     {care.words}{': ' if care.says else ''}{care.says}" for care in one.cares)
        yield from (f"     {remark}" for remark in one.remarks)
    ahead = [one for one in view.ahead if not one.done]
    if ahead:
        yield f"To come off, as {f'job {view.followed}' if view.followed else 'the machine file'} says:"
    for planned in ahead:
        yield f"  {planned.number}. {planned.name}{': ' if planned.name and planned.says else ''}{planned.says}"
        yield from (f"     {care.words}{': ' if care.says else ''}{care.says}" for care in planned.cares)
    yield from (f"{one.says}: `probewright strip --follow {one.job}`" for one in view.offers)
    yield from (f"To be said at the bench, as {one.why}: {one.line}" for one in view.proposals)
    if view.proposals:
        yield "  say so: `probewright strip --say`"


def _photos(count: int) -> str:
    return f", {counted(count, 'picture')}" if count else ""


def _refit(view: RefitView) -> Iterator[str]:
    yield f"Job {view.job}: {view.says}"
    yield from (f"Out of order: {one}." for one in view.out_of_order)
    yield from (f"Power: {one}." for one in view.power_waits)
    for layer in view.layers:
        yield f"{layer.number}. {layer.name}{' (back)' if layer.back else ''}"
        yield from (f"  {_mark(one)} {one.number} {one.says}{_told(one)}" for one in layer.items)
    if view.counts:
        yield "Out and back: " + "; ".join(f"{many(one.out, one.kind)} out, {one.back} back" for one in view.counts)
    yield from (f"Does not add up: {one}." for one in view.left_over)
    if view.explained:
        yield f"What became of it: {view.explained}"


def _mark(one: BackView) -> str:
    return {"ok": "[x]", "bad": "[!]"}.get(one.done, "[?]" if one.check else "[ ]")


def _told(one: BackView) -> str:
    counted = f": {one.count} of {one.needed} back" if one.done and one.needed and one.count != one.needed else ""
    seen = ", ".join(filter(None, (one.at and hour(one.at), one.words, f"entry {one.event}" if one.event else "")))
    return counted + (f" ({seen})" if seen else "")
