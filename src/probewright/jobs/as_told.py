"""How the machine of a job stands by what its lines told of it, beside its readings."""

from __future__ import annotations

from dataclasses import replace

from probewright.jobs.cases import COUNTS, Case
from probewright.machine import Machine
from probewright.planning.reach import PROBED, side_up
from probewright.readings import Setup, as_wired
from probewright.readings.bench import Bench
from probewright.readings.cooling import WATTS, Bare
from probewright.readings.powering import FIRST_POWER, SERIES_LAMP


def setup_told(case: Case) -> Setup | None:
    """How the machine stands where a line has told of it since its last reading with a probe, on the names that were
    given; None where it stands as it was then."""
    told: Setup | None = None
    stood, said = Setup(), Bench()
    for line in case.live:
        if line.status != COUNTS or line.bench is None:
            continue
        for ask in (one.question for one in line.readings):
            if ask.instrument in PROBED:
                told, stood = None, ask.setup
            elif ask.instrument == "works" and told is not None:
                told = ask.setup
            elif ask.instrument == "look" and ask.red in (FIRST_POWER, SERIES_LAMP):
                told = replace(told or stood, power="on")
        if _made(line.bench) != _made(said):
            told = _told_by(told or stood, said, line.bench)
        said = line.bench
    return None if told == stood else told


def side_told(case: Case, machine: Machine) -> str:
    """The side of the board that lies up where a line has told of it, after what was read since; "" where none has."""
    told = said = ""
    for line in case.live:
        if line.status != COUNTS or line.bench is None:
            continue
        if told:
            told = side_up(machine, line.readings, told)
        told = line.bench.side if line.bench.side != said else told
        said = line.bench.side
    return told


def _made(bench: Bench) -> tuple[object, ...]:
    """What lines have made of the bench."""
    return as_wired(bench.setup), bench.fitted, bench.mended


def _told_by(stood: Setup, before: Bench, after: Bench) -> Setup:
    """How the machine stands once a line has told of it; what it does not speak of, the power and what is put on, stays
    as it stood. Nobody fits or mends anything with the power on."""
    was, now = before.setup, after.setup
    if was.stimulus == now.stimulus:
        now = replace(now, stimulus=stood.stimulus, hertz=stood.hertz)
    if (before.fitted, before.mended) != (after.fitted, after.mended):
        return replace(now, power="off")
    return replace(now, power=stood.power) if was.power == now.power else now


def bare_now(case: Case) -> tuple[Bare, ...]:
    """What runs without its heatsink, with the watts that were worked out for it last."""
    names = case.known.names if case.known else {}
    told = {r.question.red: r.answer for r in case.readings if r.question.instrument == WATTS}
    return tuple(
        Bare(names.get(part, part), clip, None if part not in told else float(told[part]))
        for part, clip in case.bench.setup.bare
    )
