"""What a person says was checked before a new part was powered."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.record import Event

KINDS = ("killer checked",)


@dataclass(frozen=True)
class LookedInto:
    """A killer that somebody looked into. part: that died; killer: in words; words: what was found, as it was said."""

    at: str
    part: str
    killer: str
    words: str


def after(checked: tuple[LookedInto, ...], event: Event) -> tuple[LookedInto, ...]:
    """What was checked after one more event."""
    return (*checked, LookedInto(event.at, **event.payload))
