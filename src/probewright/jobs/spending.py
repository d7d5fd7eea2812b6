"""Bench minutes of the lines of a job by the table of minutes, as a plan reckons them: each reading and swap, and every
change of the set-up before it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from probewright.jobs.cases import Case, Line
from probewright.machine import Machine
from probewright.planning.actions import repair_row, slip_minutes
from probewright.planning.minutes import change, held, minutes, rows
from probewright.planning.parting import LIFT, TAKE_OUT, TAKE_OUT_CASE
from probewright.readings import PROVOKE, Reading, Setup
from probewright.readings.kit import Kit, tool_of
from probewright.readings.setups import CONTACTS, is_soldered

OWNER = "owner:"  # a hook-up that begins so is what the owner said, which takes no time at the bench


@dataclass(frozen=True)
class Spent:
    """Minutes of a line: of what was read or mended, and of changing the set-up for it."""

    doing: float = 0.0
    changing: float = 0.0

    @property
    def whole(self) -> float:
        """Both together."""
        return self.doing + self.changing


@dataclass(frozen=True)
class _Stand:
    """The bench between two readings: set-up, None before the first; the instrument in hand, "" for none; told: the
    set-up as the lines say it, without what was put on for one reading alone."""

    setup: Setup | None = None
    tool: str = ""
    told: Setup = Setup()


def spent(case: Case, machine: Machine) -> tuple[Spent, ...]:
    """Minutes of each line of a job, in order; what was taken back took its time all the same."""
    stand, found = _Stand(), []
    for line in case.lines:
        stand, took = _line(line, stand, machine, case.kit)
        found.append(took)
    return tuple(found)


def _line(line: Line, stand: _Stand, machine: Machine, kit: Kit) -> tuple[_Stand, Spent]:
    """How the bench stands after a line, and what that took."""
    doing = changing = 0.0
    for reading in (one for one in line.readings if not one.hookup.startswith(OWNER)):
        ask = reading.question
        tool = ask.instrument if tool_of(ask.instrument) else ""
        changing += change(stand.setup, ask.setup, tool, stand.tool if tool else "", kit)
        doing += _reading(reading, kit) + sum(_by_iron(stand.setup or Setup(), ask.setup, machine, kit))
        stand = replace(stand, setup=ask.setup, tool=tool or stand.tool)
    if line.bench is not None and line.bench.setup != stand.told:
        there = _as_told(stand, line.bench.setup)
        changing += change(stand.setup, there, "", "", kit)
        doing += sum(_by_iron(stand.setup or Setup(), there, machine, kit))
        stand = replace(stand, setup=there, told=line.bench.setup)
    return stand, Spent(doing, changing)


def _as_told(stand: _Stand, told: Setup) -> Setup:
    """How the bench stands once a line told of its set-up; a stimulus that it does not speak of stays as it is."""
    same = stand.setup is not None and told.stimulus == stand.told.stimulus
    return replace(told, stimulus=stand.setup.stimulus) if same and stand.setup else told


def _reading(reading: Reading, kit: Kit) -> float:
    """Minutes of what was asked, the bench standing ready; a look at what works takes none."""
    ask = reading.question
    row = {PROVOKE: ask.black, "swap back": "swap"}.get(ask.instrument, ask.instrument)
    return minutes(row, kit) + slip_minutes(ask, kit) if held(row) in rows() else 0.0


def _by_iron(before: Setup, after: Setup, machine: Machine, kit: Kit) -> Iterator[float]:
    """Minutes of each leg, part or joint that is otherwise; putting back what was out is in those of taking it out."""
    yield from (minutes(LIFT, kit) for leg in after.lifted if leg not in before.lifted)
    out = [part for part in after.unplugged if part not in before.unplugged]
    cases = {machine.parts[part].package or part for part in out if is_soldered(part, machine)}
    yield from (minutes(_out_row(machine, name), kit) for name in cases)
    yield from (minutes("swap", kit) for part in out if not is_soldered(part, machine))
    new = Counter(after.replaced) - Counter(before.replaced)
    units = dict.fromkeys(machine.parts[part].package or part for part in new.elements())
    yield from (minutes(repair_row(machine, item), kit) for item in units)
    mended = Counter(after.mended) - Counter(before.mended)
    for item in mended.elements():
        yield minutes("repair joint" if item.startswith(CONTACTS) else repair_row(machine, item), kit)


def _out_row(machine: Machine, name: str) -> str:
    """Row of the minutes table for taking a part or a case out."""
    part = machine.parts.get(name)
    return TAKE_OUT if part is not None and len(part.pins) <= 3 else TAKE_OUT_CASE
