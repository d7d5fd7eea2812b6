"""A step that cannot be taken back, as the question that the owner is asked before it."""

from __future__ import annotations

from dataclasses import replace

from probewright.jobs.view import ActionView, NeedsYesView, WordView
from probewright.readings.owner import NO, YES, line, say_wish
from probewright.units import with_capital

ASK_OWNER = "ask owner"


def asked_first(action: ActionView, wishes: tuple[str, ...], fits: bool) -> ActionView:
    """The question in place of the step; wishes: that were not answered; fits: it is a repair with a rare part."""
    asked = " and ".join(say_wish(wish) for wish in wishes)
    question = f"{with_capital(asked)}: may it be done? {_risk(fits)}"
    needs = NeedsYesView(
        wishes, question, action.do,
        tuple(line(wish, YES, "...") for wish in wishes),
        tuple(line(wish, NO, "...") for wish in wishes),
    )  # fmt: skip
    return replace(
        action, kind=ASK_OWNER, do=f"Ask the owner: {question}", live=False, healthy=WordView("yes"), minutes=0.0,
        instrument="", setup="", outcomes=(), ask=None, burst=None, needs_yes=needs,
    )  # fmt: skip


def _risk(fits: bool) -> str:
    """What the owner should know. Common practice, no source."""
    if fits:
        return "The part can hardly be had again, and the old one may not survive coming out."
    return "Taking a soldered part out may harm it or the copper, and it cannot be taken back."
