"""Which channel of this very machine works, so that it teaches what the other should read."""

from __future__ import annotations

from probewright.jobs.cases import GOOD, Case
from probewright.jobs.comparing import OPPOSITES
from probewright.jobs.taught import TAUGHT
from probewright.machine import Machine
from probewright.readings import Reading


def of_good_channel(case: Case, machine: Machine | None) -> dict[str, tuple[Reading, ...]]:
    """Readings of this machine at places of a channel of which nothing was said but that it works, by its label."""
    said: dict[str, set[bool]] = {}
    for name, tick in case.intake.ticks.items():
        for label in _labels(name, machine):
            said.setdefault(label, set()).add(tick == GOOD)
    for reading in case.readings:
        if reading.question.instrument == "works":
            for label in _labels(reading.question.red, machine):
                said.setdefault(label, set()).add(reading.answer == "ok")
    found: dict[str, tuple[Reading, ...]] = {}
    for label in (one for one, works in said.items() if works == {True}):
        here = [one for one in case.readings if label in _channel_of(one.question.red, machine)]
        mine = tuple(one for one in here if one.question.instrument in TAUGHT and not one.question.setup.sister)
        found |= {label: mine} if mine else {}
    return found


def _labels(name: str, machine: Machine | None) -> set[str]:
    """Labels of channels that a function names: of the file's own function, else in its words."""
    works = next((one for one in machine.works if one.name == name), None) if machine else None
    if machine is not None and works is not None and works.channel:
        return {machine.channels.get(works.channel, works.channel)}
    labels = {*(machine.channels.values() if machine else ()), *(word for pair in OPPOSITES for word in pair)}
    return set(name.casefold().split()) & {label.casefold() for label in labels}


def _channel_of(place: str, machine: Machine | None) -> set[str]:
    """Labels of the channel that a place lies in: of its parts in the file, else in its words."""
    if machine is not None and machine.has_place(place):
        net, part = machine.net_of(place), machine.parts.get(place.rpartition(".")[0])
        parts = [part] if part else [machine.parts[name] for name, _ in machine.pins_on(net)]
        marks = {one.channel for one in parts if one.channel}
        return {machine.channels.get(mark, mark) for mark in marks} if len(marks) == 1 else set()
    return set(place.casefold().split()) & {word for pair in OPPOSITES for word in pair}
