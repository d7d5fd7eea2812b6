"""Files of readings: one reading a line, understood whole or refused with a mend, never guessed.

What is taken for granted (volts where no unit stands, the only stimulus with a signal) is seen in
`echo.say`, which names everything.
"""

from __future__ import annotations

import re
from dataclasses import replace

from probewright.errors import BadInput, Complaint
from probewright.machine.model import Machine
from probewright.readings import Reading, traces
from probewright.readings.answers import Said as Said
from probewright.readings.answers import peak_to_peak as peak_to_peak
from probewright.readings.answers import read_answer as read_answer
from probewright.readings.answers import step_of as step_of  # likelihoods ask for it here
from probewright.readings.answers import words as words
from probewright.readings.bench import TAILS as TAILS
from probewright.readings.bench import Bench as Bench
from probewright.readings.bench import hold, move, read_tails
from probewright.readings.boards import to_side
from probewright.readings.cooling import to_cooling
from probewright.readings.formal import read_body
from probewright.readings.refitting import to_back_in
from probewright.readings.repairing import to_repair
from probewright.readings.setups import Piece, understand

SETUP = re.compile(r"set[- ]?up\s*:", re.IGNORECASE)
COMMENT = re.compile(r"(?:^|\s)#.*")


Read = tuple[Bench, tuple[Reading, ...], tuple[Complaint, ...]]  # the bench, what was read, what is wrong


def read_line(line: Piece, bench: Bench, machine: Machine) -> Read:
    """The bench after one line that is not blank, its readings, and what is wrong with the line."""
    if head := SETUP.match(line.text):
        setup, complaints = understand(line.cut(head.end()), machine, bench.setup.bare)
        return move(bench, setup), (), complaints
    try:
        found = to_repair(line, bench, machine) or to_back_in(line, bench) or to_cooling(line, bench, machine)
        if found := found or to_side(line, bench):
            return found[0], (), ()
    except BadInput as problem:
        return bench, (), problem.complaints
    body, *tails = line.split(";") or (line,)
    try:
        if line.text.startswith(";"):
            raise line.wrong("a remark stands behind its reading", "write both on one line: `TP4 2.61 V; not showing`")
        held: list[Reading] = []
        for reading in body_readings(body, bench, machine):
            bench = hold(replace(reading, text=line.text, line=line.line), read_tails(tuple(tails)), bench)
            assert bench.last is not None
            held.append(bench.last)
        return bench, tuple(held), ()
    except BadInput as problem:
        return bench, (), problem.complaints


def body_readings(body: Piece, bench: Bench, machine: Machine) -> tuple[Reading, ...]:
    """The readings before the remarks: those of a trace, of which one line may hold several, else one."""
    found = [
        traces.plain_reading(read_body(stand_in, bench.setup, machine), one, look, machine, body)
        for stand_in, one, look in traces.plainly(body, machine)
    ]
    told = tuple(one for one in found if one is not None)
    return told if told and len(told) == len(found) else (read_body(body, bench.setup, machine),)


def continue_readings(text: str, machine: Machine, bench: Bench, file: str = "") -> tuple[tuple[Reading, ...], Bench]:
    """The readings of a text typed while the bench stands so, and how it stands afterwards.

    BadInput with every complaint of every line.
    """
    readings: list[Reading] = []
    complaints: list[Complaint] = []
    for count, raw in enumerate(text.splitlines(), start=1):
        line = Piece(COMMENT.sub("", raw), count, 1, file).cut(0)
        if not line.text:
            continue
        bench, found, wrong = read_line(line, bench, machine)
        complaints.extend(wrong)
        readings.extend(found)
    if complaints:
        raise BadInput(*complaints)
    return tuple(readings), bench


def read_readings(text: str, machine: Machine, file: str = "") -> tuple[Reading, ...]:
    """Every reading of a text, one a line; docs/readings.md lists what can be typed.

    BadInput with every complaint of every line.
    """
    return continue_readings(text, machine, Bench(), file)[0]
