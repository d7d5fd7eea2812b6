"""A circuit that a person wants to put in the place of something dead: how it is told, and kept with the job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from probewright.record import Event

ADDED, GONE = KINDS = ("circuit added", "circuit gone")


@dataclass(frozen=True)
class Placing:
    """One added circuit, as told.

    circuit: of the library; name: what its parts begin with; values: what it is filled in with, as typed; joins: door
    -> net of the machine; lifted: pins that come off first; wants: what it has to do, as typed ("level": "1.1V 5%");
    stimulus: at which it is checked, "" for as typed.
    """

    circuit: str
    name: str
    values: Mapping[str, str] = field(default_factory=dict)
    joins: Mapping[str, str] = field(default_factory=dict)
    lifted: tuple[str, ...] = ()
    wants: Mapping[str, str] = field(default_factory=dict)
    stimulus: str = ""


@dataclass(frozen=True)
class Placed:
    """A placing that the job keeps. event: its number; at: when."""

    event: int
    at: str
    placing: Placing


def kept_placing(payload: Mapping[str, object]) -> Placing:
    """A placing as the record keeps it."""
    told = {**payload, "lifted": tuple(payload.get("lifted", ()))}  # type: ignore[arg-type]
    return Placing(**told)  # type: ignore[arg-type]


def after(placed: tuple[Placed, ...], event: Event) -> tuple[Placed, ...]:
    """The circuits of the job after one more event; one of the same name takes the place of the one before."""
    name = event.payload["name"]
    others = tuple(one for one in placed if one.placing.name != name)
    return (*others, Placed(event.number, event.at, kept_placing(event.payload))) if event.kind == ADDED else others
