"""What to do with a machine, in words."""

from __future__ import annotations

from collections.abc import Iterator

from probewright.jobs.deciding import DecisionView, Money, amount
from probewright.report.times import local
from probewright.units import percent


def decision(view: DecisionView) -> str:
    """Advice, the question for the owner, and every option."""
    return "\n".join(_lines(view))


def _lines(view: DecisionView) -> Iterator[str]:
    money = Money(view.rate, view.currency)
    yield f"Job {view.job}: {view.advice or 'not to be decided yet.'}"
    if view.question:
        yield f"Ask the owner: {view.question}"
    yield from view.open_
    said = f"{view.booked_hours:.1f} h booked" + (f", {amount(view.booked, money)}" if view.rate else "")
    if view.ceiling is not None:
        left = max(view.ceiling - view.booked, 0.0)
        said += f"; of the ceiling of {amount(view.ceiling, money)} {amount(left, money)} are left"
    sure = (
        f"{percent(view.right)} sure of the diagnosis"
        if view.located
        else f"not located yet, the best guess is {percent(view.right)} sure"
    )
    yield f"{said}; {sure}" + ("; it shall stay original" if view.keep else "")
    for option in view.options:
        yield f"  {option.says}"
        if option.takes:
            yield f"    {option.takes}"
    for one in view.consents:
        up_to = f", up to {amount(one.up_to, money)}" if one.up_to is not None else ""
        yield f"The owner's word {local(one.at)}, {one.to}{up_to}: {one.words}"
