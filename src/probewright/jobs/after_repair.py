"""What is told once something was repaired, as the record keeps it: parts that were fitted, checks of safety."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from probewright.record import Event

NOT_SAID = "not said"
OVER = "OL"  # as a meter shows what is beyond its range


@dataclass(frozen=True)
class PartTold:
    """What was told of a fitted part. line: number of the line that fitted it, or its own where no line did; a field
    that is None was not told, one that is "" was told before and is taken back; once: mark of the form it came by."""

    event: int
    at: str
    line: int
    part: str
    origin: str | None = None
    state: str | None = None
    source: str | None = None
    was: str | None = None
    words: str | None = None
    once: str = ""


@dataclass(frozen=True)
class Checked:
    """One check of safety. value: SI, None where yes or no was asked or it was left out; passed: yes or no; left: why
    it was left out; said: as typed; by: who did it, "" for whoever works here; tool: with what; taken_back: why it does
    not count."""

    event: int
    at: str
    check: str
    said: str
    value: float | None = None
    passed: bool = False
    left: str = ""
    by: str = ""
    tool: str = ""
    words: str = ""
    taken_back: str = ""


@dataclass(frozen=True)
class Elsewhere:
    """Somebody else did what was still to be checked."""

    event: int
    at: str
    by: str
    words: str


@dataclass(frozen=True)
class Unsafe:
    """It goes back marked unsafe: why, and the name with which the owner signed."""

    event: int
    at: str
    words: str
    signed: str


@dataclass(frozen=True)
class SafetyTold:
    """All that was told of a machine's safety. protection: its class, "" while nobody said; tube: None likewise; lead:
    m of its mains lead, 0 likewise; mended: (event, at, words) of what was mended without a line of its own."""

    protection: str = ""
    tube: bool | None = None
    lead: float = 0.0
    checked: tuple[Checked, ...] = ()
    elsewhere: tuple[Elsewhere, ...] = ()
    mended: tuple[tuple[int, str, str], ...] = ()
    unsafe: Unsafe | None = None


def part_told(told: tuple[PartTold, ...], event: Event) -> tuple[PartTold, ...]:
    """The parts after one more was told of, or after one that no line fitted was taken back."""
    if event.kind == "part gone":
        return tuple(one for one in told if one.line != event.payload["line"])
    line = event.payload["line"] or event.number
    return (*told, PartTold(event.number, event.at, **{**event.payload, "line": line}))


def safety_told(told: SafetyTold, event: Event) -> SafetyTold:
    """The safety after one more event of it."""
    return _STEPS[event.kind](told, event)


def _class(told: SafetyTold, event: Event) -> SafetyTold:
    return replace(told, **event.payload)


def _check(told: SafetyTold, event: Event) -> SafetyTold:
    value = event.payload["value"]
    one = {**event.payload, "value": float("inf") if value == OVER else value}  # JSON knows no infinity
    return replace(told, checked=(*told.checked, Checked(event.number, event.at, **one)))


def _check_gone(told: SafetyTold, event: Event) -> SafetyTold:
    gone, why = event.payload["event"], event.payload["words"]
    checked = tuple(replace(one, taken_back=why) if one.event == gone else one for one in told.checked)
    return replace(told, checked=checked)


def _elsewhere(told: SafetyTold, event: Event) -> SafetyTold:
    return replace(told, elsewhere=(*told.elsewhere, Elsewhere(event.number, event.at, **event.payload)))


def _mended(told: SafetyTold, event: Event) -> SafetyTold:
    return replace(told, mended=(*told.mended, (event.number, event.at, event.payload["words"])))


def _unsafe(told: SafetyTold, event: Event) -> SafetyTold:
    return replace(told, unsafe=Unsafe(event.number, event.at, **event.payload))


_STEPS: Mapping[str, Callable[[SafetyTold, Any], SafetyTold]] = {
    "safety class": _class, "safety check": _check, "safety check gone": _check_gone, "safety elsewhere": _elsewhere,
    "safety mended": _mended, "left unsafe": _unsafe,
}  # fmt: skip
PART_EVENTS, SAFETY_EVENTS = ("part told", "part gone"), tuple(_STEPS)
