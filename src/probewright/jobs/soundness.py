"""Whether a reading is one that a healthy machine gives, by the machine file alone."""

from __future__ import annotations

from functools import lru_cache

from probewright.jobs.cases import Case
from probewright.jobs.files import healthy_laws
from probewright.jobs.weighing import place_reading
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.likelihood import is_exact, is_metered
from probewright.readings import Reading
from probewright.readings.instruments import error

WIDEST = 30.0  # chosen: a healthy range whose ends lie further apart than this factor tells nothing of a reading


def healthy_or_off(case: Case, machine: Machine, reading: Reading) -> str:
    """ "healthy", "off", or "" where the file cannot say: no figure, a place it does not know, a range too wide.

    machine: the job's own. Nothing but sound machines is solved, and each file's are kept at hand.
    """
    if case.known is None or not is_metered(reading):
        return ""
    placed, _ = place_reading(reading, case.known, machine)
    if placed is None or isinstance(placed.answer, str) or not is_exact(machine, placed):
        return ""  # the direct volts of a block known only from outside may stand at any
    low, _, high = _sound(case.known.text, case.known.file).healthy(placed.question)
    least, most = sorted((abs(low), abs(high)))
    if not low <= high or (most > WIDEST * least and low * high > 0.0):
        return ""
    off_by = error(placed.question, abs(placed.answer), placed.about)
    slack = off_by.shared + off_by.own
    return "healthy" if low - slack <= placed.answer <= high + slack else "off"


@lru_cache(maxsize=8)  # chosen: as many machines as a bench has open
def _sound(text: str, file: str) -> Laws:
    return healthy_laws(read_machine(text, file))
