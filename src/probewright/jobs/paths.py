"""Millivolts along a path that carries a known current, as ohms and watts; machine file or not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from probewright.machine.model import GROUND
from probewright.readings import DRAWN, Question, Reading, echo, instruments
from probewright.readings.bench import physical
from probewright.readings.lines import step_of
from probewright.units import write_reading

MOST = 1.0  # V, chosen: more is no longer a drop along copper, a contact or a fuse
STANDS_OUT = 3.0  # chosen: lengths and widths of a row differ, two or three times is nothing


def say_path(reading: Reading, earlier: Sequence[Reading]) -> str:
    """What a drop between two places comes to at the current that flows; "" where none is known, or it is no drop."""
    if not _is_drop(reading):
        return ""
    amps, how = _current(reading, earlier)
    if amps == 0.0:
        return ""
    volts, floor = abs(float(reading.answer)), 2.0 * _error(reading)
    if volts <= floor:
        most = _ohms(floor / amps, 1)
        return f"between {_ends(reading.question)}: less than {most}, too little for this range{how}"
    good = f"within {float(f'{100.0 * floor / volts:.1g}'):g} %" if floor < 0.5 * volts else "roughly"
    drop = f"{_ohms(volts / amps, 2)} {good}, {write_reading(float(f'{volts * amps:.2g}'), 'W')}"
    return f"between {_ends(reading.question)}: {drop} at {write_reading(amps, 'A')}{how}{_row(reading, earlier)}"


def _ohms(ohms: float, digits: int) -> str:
    """Ohms as they are said of copper: 38 mΩ below one ohm."""
    small = ohms < 1.0
    figure = float(f"{ohms * (1e3 if small else 1.0):.{digits}g}")
    return f"{figure:g} {'mΩ' if small else 'Ω'}"


def _is_drop(reading: Reading) -> bool:
    ask = reading.question
    figure = isinstance(reading.answer, float) and reading.bound is None and abs(reading.answer) <= MOST
    return ask.instrument == "dc" and figure and GROUND not in (ask.red, ask.black) and not ask.setup.sister


def _current(reading: Reading, earlier: Sequence[Reading]) -> tuple[float, str]:
    """Amps through the path, 0 when unknown: said or measured in this sitting, else the limit of the bench supply."""
    here = physical(reading.question.setup)
    for other in reversed(earlier):
        ask = other.question
        if ask.instrument in ("amps", DRAWN) and other.sitting == reading.sitting and physical(ask.setup) == here:
            return abs(float(other.answer)), "" if other.bound is None else ", the current only known to that"
    if len(here.supplied) == 1:
        return here.supplied[0][
            2
        ], ", if the supply stands at its limit; with less current it is more ohms and less heat"
    return 0.0, ""


def _error(reading: Reading) -> float:
    """Standard deviation of the volts; the current is taken as said."""
    step = step_of(reading) if reading.text else 0.0
    error = instruments.error(reading.question, float(reading.answer), reading.about, step)
    return math.hypot(error.shared, error.own)


def _ends(ask: Question) -> str:
    return f"{ask.red} and {ask.black}"


def _row(reading: Reading, earlier: Sequence[Reading]) -> str:
    """Which drop of this sitting stands out among three or more."""
    setup = physical(reading.question.setup)
    drops = {
        echo.where(one.question): abs(float(one.answer))
        for one in (*earlier, reading)
        if _is_drop(one) and one.sitting == reading.sitting and physical(one.question.setup) == setup
    }
    most = max(drops, key=lambda where: drops[where])
    rest = [drops[where] for where in drops if where != most]
    if len(rest) < 2 or drops[most] <= STANDS_OUT * max(median(rest), 2.0 * _error(reading)):
        return ""
    times = drops[most] / max(median(rest), 2.0 * _error(reading))
    return f"; of this row {most} drops most, {times:.2g} times the middle of the others"
