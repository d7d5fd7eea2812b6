"""Edits: the one language of change. Set-ups, added boards and faults all become these.

A value may be one float or an array over draws; this room does not look inside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class SetFigure:
    """Give one figure of a part another value (SI)."""

    part: str
    figure: str
    value: Any
    relative: bool = False  # value multiplies the healthy figure of the same draw


@dataclass(frozen=True)
class AddPath:
    """Put a resistance between two places (net or part.pin); ohms."""

    a: str
    b: str
    ohms: Any


@dataclass(frozen=True)
class FreePin:
    """A pin leaves its net and reaches it only through a resistance; ohms, inf for none."""

    part: str
    pin: str
    ohms: Any


@dataclass(frozen=True)
class Unplug:
    """Take a part out of the circuit altogether."""

    part: str


@dataclass(frozen=True)
class ReplacePart:
    """A part is exchanged for a known good one: no fault on it counts from here on."""

    part: str


Edit = SetFigure | AddPath | FreePin | Unplug | ReplacePart
