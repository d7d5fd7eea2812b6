"""Bench minutes of the lines of a job by the table of minutes, as a plan reckons them: each reading and swap, and every
change of the set-up before it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from probewright.jobs.as_told import turned
from probewright.jobs.cases import Case, Line
from probewright.machine import Machine
from probewright.planning.actions import repair_row, slip_minutes
from probewright.planning.minutes import Stand, change, held, minutes, rows
from probewright.planning.parting import LIFT, TAKE_OUT, TAKE_OUT_CASE
from probewright.planning.reach import side_of
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
class _Between:
    """The bench between two readings. told: the set-up as the lines say it, without what was put on for one reading
    alone; turns: how often they have spoken of the side of the board."""

    stand: Stand = Stand()
    told: Setup = Setup()
    turns: int = 0

    @property
    def setup(self) -> Setup:
        """The set-up; that of a machine as it came where nothing is set up."""
        return self.stand.setup or Setup()


def spent(case: Case, machine: Machine) -> tuple[Spent, ...]:
    """Minutes of each line of a job, in order; what was taken back took its time all the same."""
    between, found = _Between(), []
    for line in case.lines:
        between, took = _line(line, between, machine, case.kit)
        found.append(took)
    return tuple(found)


def _line(line: Line, bench: _Between, machine: Machine, kit: Kit) -> tuple[_Between, Spent]:
    """How the bench stands after a line, and what that took."""
    doing = changing = 0.0
    for reading in (one for one in line.readings if not one.hookup.startswith(OWNER)):
        ask = reading.question
        tool = ask.instrument if tool_of(ask.instrument) else bench.stand.tool
        there = bench.stand.reading(ask.setup, tool, side_of(machine, ask))
        changing += change(bench.stand, there, kit)
        doing += _reading(machine, reading, kit) + sum(_by_iron(bench.setup, ask.setup, machine, kit))
        bench = replace(bench, stand=there)
    if line.bench is not None and line.bench.turns != bench.turns:
        there = replace(bench.stand, side=turned(bench.stand.side, line.bench.side))
        stood = bench.stand.setup or Setup(power="off")  # where nobody has said that it is on, nothing is switched off
        changing += change(replace(bench.stand, setup=stood), replace(there, setup=stood), kit)
        bench = replace(bench, stand=there, turns=line.bench.turns)
    if line.bench is not None and line.bench.setup != bench.told:
        stands = _as_told(bench, line.bench.setup)
        there = replace(bench.stand, setup=stands)
        changing += change(bench.stand, there, kit) + sum(_heatsinks(bench.told, line.bench.setup, kit))
        doing += sum(_by_iron(bench.setup, stands, machine, kit))
        bench = replace(bench, stand=there, told=line.bench.setup)
    return bench, Spent(doing, changing)


def _as_told(bench: _Between, told: Setup) -> Setup:
    """How the bench stands once a line told of its set-up; a stimulus that it does not speak of stays as it is."""
    same = bench.stand.setup is not None and told.stimulus == bench.told.stimulus
    return replace(told, stimulus=bench.setup.stimulus) if same else told


def _heatsinks(before: Setup, after: Setup, kit: Kit) -> Iterator[float]:
    """Minutes of each heatsink that was taken off, put back or clipped on."""
    yield from (minutes("heatsink", kit) for _ in {part for part, _ in set(before.bare) ^ set(after.bare)})


def _reading(machine: Machine, reading: Reading, kit: Kit) -> float:
    """Minutes of what was asked, the bench standing ready; a look at what works takes none."""
    ask = reading.question
    row = {PROVOKE: ask.black, "swap back": "swap"}.get(ask.instrument, ask.instrument)
    return minutes(row, kit) + slip_minutes(machine, ask, kit) if held(row) in rows() else 0.0


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
