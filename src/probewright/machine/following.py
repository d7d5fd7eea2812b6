"""What moves under a stimulus, and how long it takes to repeat: all that is needed to follow a machine in time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from probewright.machine.edits import SetFigure, Unplug
from probewright.machine.kinds import KINDS
from probewright.machine.model import Part, Stimulus
from probewright.machine.waves import Course, Sine, together

FED = ("volts", "signal")  # figures of a source; a stimulus that sets one takes the place of what its line plays


class Typed(Protocol):
    """A machine, or what is known of one while its file is read."""

    @property
    def parts(self) -> Mapping[str, Part]:
        """By name."""
        ...

    @property
    def stimuli(self) -> Mapping[str, Stimulus]:
        """By name."""
        ...


@dataclass(frozen=True)
class Followed:
    """What moves under a stimulus, all that is needed to follow it in time.

    courses: the part lines' first; switched_on, read: as in Stimulus; period: s after which all of it repeats, inf
    where nothing does; hertz: of what the stimulus itself plays, 0 for none or several; in_time: everything that is
    read with power on is read off the traces of this one run. Else the only thing that moves is a plain sine, small
    enough to be found without following it: then only what a small signal does not know is followed.
    """

    courses: tuple[Course, ...] = ()
    switched_on: bool = False
    read: tuple[float, float] | None = None
    period: float = math.inf
    hertz: float = 0.0
    in_time: bool = False


def brought_by(part: Part) -> float:
    """The most volts that a part brings by its own line, with what that line plays; none of one that feeds nothing."""
    if not KINDS[part.kind].feeds:
        return 0.0
    return abs(part.figures["volts"].nominal) + (abs(part.figures["signal"].nominal) if part.plays else 0.0)


def ever_in_time(machine: Typed) -> bool:
    """Something that can be read of this machine with power on is followed in time."""
    return any(followed(machine, name).in_time for name in ("", *machine.stimuli))


def courses_of(machine: Typed, stimulus: str) -> tuple[Course, ...]:
    """All that moves under a stimulus, "" for none: what the part lines play, and the stimulus over it."""
    known = machine.stimuli.get(stimulus, Stimulus(""))
    told = {edit.part for edit in known.edits if isinstance(edit, Unplug)}
    told |= {edit.part for edit in known.edits if isinstance(edit, SetFigure) and edit.figure in FED}
    lines = [one.plays for one in machine.parts.values() if one.plays and one.name not in told]
    found = {(one.part, one.figure): one for one in (*lines, *(known.courses or plain_sines(known)))}
    return tuple(found.values())


def plain_sines(stimulus: Stimulus) -> tuple[Course, ...]:
    """The sine that a stimulus puts on, as a course."""
    parts = [edit.part for edit in stimulus.edits if isinstance(edit, SetFigure) and edit.figure == "signal"]
    return tuple(Course(part, swing=Sine(stimulus.frequency)) for part in parts if stimulus.frequency)


def followed(machine: Typed, stimulus: str, hertz: float = 0.0) -> Followed:
    """What is to be followed under a stimulus, "" for none; hertz: its sine with another frequency than its own."""
    known = machine.stimuli.get(stimulus, Stimulus(""))
    courses = courses_of(machine, stimulus)
    if hertz and known.frequency:
        own = Sine(known.frequency)
        courses = tuple(replace(one, swing=Sine(hertz)) if one.swing == own else one for one in courses)
    lines = {one.plays for one in machine.parts.values() if one.plays}
    waves = {wave for one in courses if one not in lines for wave in one.waves()}
    rates = {1.0 / wave.period for wave in waves if wave.period < math.inf}
    own_hertz = (hertz or known.frequency) if known.frequency else rates.pop() if len(rates) == 1 else 0.0
    return Followed(
        courses,
        known.switched_on,
        known.read,
        together(wave.period for one in courses for wave in one.waves()),
        own_hertz,
        known.in_time or any(one in lines for one in courses),
    )
