"""What the bench knows while a line is typed, and what was made of the line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from probewright.machine.model import Machine, Zone
from probewright.readings import Question, Reading
from probewright.readings.bench import Bench
from probewright.readings.doubts import Doubt


@dataclass(frozen=True)
class Context:
    """What the bench knows while a line is typed.

    asked: what the card asked, so that a bare figure answers it; said: readings so far; marked: part -> (value,
    "ohm" or "F") printed on it; supplies: volts of the supplies known without a file; functions: what the owner
    ticked; extras: leads that can be swapped; tests: id of a table test -> its outcome words; sure: the person
    insists, so what can be insisted on is not asked again.
    """

    machine: Machine | None = None
    bench: Bench = Bench()
    asked: Question | None = None
    said: tuple[Reading, ...] = ()
    marked: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    supplies: tuple[float, ...] = ()
    functions: tuple[str, ...] = ()
    extras: tuple[str, ...] = ()
    tests: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    sure: bool = False


@dataclass(frozen=True)
class Heard:
    """What was made of a line: its readings, or the doubts that stand before them, never both.

    bench: how it stands afterwards; remarks: what was said beside; marked: values on parts, new ones included;
    echo: what was understood and everything taken for granted; zones: where something acted on all that lies there.
    """

    readings: tuple[Reading, ...]
    bench: Bench
    doubts: tuple[Doubt, ...] = ()
    remarks: tuple[str, ...] = ()
    marked: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    echo: tuple[str, ...] = ()
    zones: tuple[Zone, ...] = ()
