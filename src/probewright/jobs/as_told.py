"""How the machine of a job stands by its lines: what was told of it since the last reading, and what none tells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from probewright.jobs.cases import COUNTS, Case
from probewright.machine import Machine
from probewright.planning.reach import PROBED, lies, side_up
from probewright.readings import PROVOKE, Reading, Setup, as_wired, is_live
from probewright.readings.bench import Bench
from probewright.readings.boards import BACK, BOTTOM, OUT, OVER, TOP
from probewright.readings.cooling import WATTS, Bare
from probewright.readings.instruments import UNPOWERED
from probewright.readings.plausible import is_charge
from probewright.readings.powering import FIRST_POWER, SERIES_LAMP


@dataclass(frozen=True)
class Standing:
    """How the machine stands, on the names that were given.

    told: lines have said so since the last reading that is weighed; side: of the board that lies up; sided: a line has
    spoken of it; charged: something has fed the machine since it was last measured with the power off.
    """

    setup: Setup = Setup()
    told: bool = False
    side: str = TOP
    sided: bool = False
    charged: bool = True


def standing_of(case: Case, machine: Machine, weighed: Sequence[Reading]) -> Standing:
    """The machine after every line that counts; weighed: the readings of the job as they are weighed on its file."""
    placed = {(one.hookup, one.text): one for one in weighed}
    now, said = Standing(), Bench()
    for line in case.live:
        if line.status != COUNTS or line.bench is None:
            continue
        for reading in line.readings:
            now = _read(now, reading, placed.get((reading.hookup, reading.text)), machine)
        if line.bench.turns != said.turns:
            now = replace(now, side=turned(now.side, line.bench.side), sided=True)
        if line.bench.told != said.told or _made(line.bench) != _made(said):
            now = _told(now, said, line.bench)
        said = line.bench
    begun = any(one.question.instrument in PROBED for one in weighed)
    return now if begun or _is_more_than_power(now.setup) else replace(now, told=False)


def _is_more_than_power(setup: Setup) -> bool:
    """Something is lifted, new or joined. Before anything was read the power as it happens to be decides nothing:
    whether ohms or volts come first is asked of the whole way."""
    return replace(setup, power="on", stimulus="", hertz=0.0) != Setup()


def _read(now: Standing, reading: Reading, placed: Reading | None, machine: Machine) -> Standing:
    """After a reading; placed: as it is weighed, None where it is not. Another machine says nothing of this one."""
    ask = reading.question
    if ask.setup.sister:
        return now
    if ask.instrument in PROBED:
        fed = is_live(ask.setup) or is_charge(reading)
        charged = fed or (now.charged and ask.instrument not in UNPOWERED)
        side = side_up(machine, [placed], now.side) if placed else now.side
        return replace(now, setup=ask.setup, told=placed is None, side=side, charged=charged)
    if ask.instrument in ("works", PROVOKE):
        return replace(now, setup=ask.setup, charged=now.charged or is_live(ask.setup))
    if ask.instrument == "look" and ask.red in (FIRST_POWER, SERIES_LAMP):
        return replace(now, setup=replace(now.setup, power="on"), told=True, charged=True)
    return now


def _told(now: Standing, before: Bench, after: Bench) -> Standing:
    """After a line that tells of the bench; what it does not speak of stays as it was: what is put on, and with a
    repair the power."""
    stands, setup = as_wired(after.setup), now.setup
    if stands.stimulus == before.setup.stimulus:
        stands = replace(stands, stimulus=setup.stimulus, hertz=setup.hertz)
    repaired = (before.fitted, before.mended) != (after.fitted, after.mended)
    spoken = after.told != before.told and not repaired
    if not spoken and stands.power == before.setup.power:
        stands = replace(stands, power=setup.power)
    return replace(now, setup=stands, told=True, charged=now.charged or is_live(stands))


def turned(side: str, said: str) -> str:
    """The side that lies up once a line has spoken of it; a board that is out stays out until it is back."""
    if said == BACK:
        return TOP
    if said == OVER:
        said = BOTTOM if side == TOP else TOP
    return OUT if said == OUT else lies(side, said)


def _made(bench: Bench) -> tuple[object, ...]:
    """What lines have made of the bench."""
    return as_wired(bench.setup), bench.fitted, bench.mended


def bare_now(case: Case) -> tuple[Bare, ...]:
    """What runs without its heatsink, with the watts that were worked out for it last."""
    names = case.known.names if case.known else {}
    told = {r.question.red: r.answer for r in case.readings if r.question.instrument == WATTS}
    return tuple(
        Bare(names.get(part, part), clip, None if part not in told else float(told[part]))
        for part, clip in case.bench.setup.bare
    )
