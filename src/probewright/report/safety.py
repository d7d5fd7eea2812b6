"""Safety checks after a repair, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.safety_checks import LEFT_OUT, TO_BE_DONE, CheckView, SafetyView, say_class
from probewright.report.times import local


def safety(view: SafetyView) -> str:
    """Where it stands, every check with how it is done, what was entered."""
    return "\n".join(_lines(view))


def _lines(view: SafetyView) -> Iterator[str]:
    yield f"Job {view.job}: {view.standing}. {view.says}"
    yield f"{say_class(view.protection)} ({view.whence})" + ("; with a tube or stored energy" if view.tube else "")
    if view.ask:
        yield f"{view.ask} `probewright safety --class II`"
    for one in view.checks:
        yield f"  {one.name}: {one.title}" + (f", {one.limit}" if one.limit else "")
        yield f"      {result(one)}"
        if one.state == TO_BE_DONE:
            yield from (f"      {line}" for line in how(one))
    if view.history:
        yield "Entered:"
        now = {True: "", False: " (does not count now)"}
        yield from (f"  {one.event:3}  {one.says}{now[one.stands]}" for one in view.history)
    if view.unsafe is not None:
        yield f"Marked unsafe: {view.unsafe.words}; signed {view.unsafe.signed}, {local(view.unsafe.at)}"
    yield view.rules


def result(one: CheckView) -> str:
    """What came of it, or who is to do it."""
    if one.state == TO_BE_DONE:
        return f"to be done by {one.who}" + (f", with {one.instrument}" if one.instrument else "")
    near = "; close to the limit: the instrument's own error may hide that it is beyond" if one.near else ""
    said = one.result if one.state == LEFT_OUT else f"{one.state}: {one.result}"  # which says itself that it is
    return f"{said}{near}" + (f", by {one.by}" if one.by else "")


def how(one: CheckView) -> Iterator[str]:
    """How it is done, with what caution, and where it may be left out."""
    yield one.how
    if one.caution:
        yield f"Caution: {one.caution}"
    if one.leave:
        yield f"May be left out where {one.leave}."
    yield f"Source: {one.source}."
