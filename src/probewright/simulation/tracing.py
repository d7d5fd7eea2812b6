"""What happens at some places from one instant to another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.machine.waves import Course
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.marching import march_of
from probewright.simulation.stepping import BLOCK, Moment, Stepper, ticks


@dataclass(frozen=True)
class Trace:
    """Volts of a batch over time.

    seconds (time,), not all steps alike; volts: place -> (variant, time) in V, NaN where not solved;
    solved (variant,), False where any step was not closed.
    """

    seconds: np.ndarray
    volts: Mapping[str, np.ndarray]
    solved: np.ndarray


def run(
    stepper: Stepper, moment: Moment, places: Sequence[str], window: tuple[float, float, float], since: float
) -> tuple[np.ndarray, np.ndarray, Moment]:
    """(time,) s, (place, variant, time) V and the last moment of one block; window: start, stop and step in s.

    Kept is what happens from `since` on, the start of the window counted.
    """
    start, stop, step = window
    steps = ticks(stepper.courses, start, stop, step)
    seconds = [start, *(tick.stop for tick in steps)]
    kept = [n for n, at in enumerate(seconds) if at >= since - 1e-9 * step]
    march = march_of(stepper)
    if march is not None:
        found, moment = march.run(moment, places, steps, start, kept[0])
        return np.array(seconds)[kept], found, moment
    volts = np.empty((len(kept), len(places), stepper.batch.size))
    for n in range(len(seconds)):
        if n:
            moment = stepper.advance(moment, seconds[n - 1], steps[n - 1])
        if n >= kept[0]:
            for row, place in enumerate(places):
                volts[n - kept[0], row] = stepper.circuit.volts_at(place, stepper.batch, moment.volts)
    return np.array(seconds)[kept], np.moveaxis(volts, 0, 2), moment


def trace(
    circuit: Circuit,
    batch: Batch,
    courses: Sequence[Course],
    places: Sequence[str],
    stop: float,
    step: float,
    *,
    from_nought: bool = False,
    since: float = 0.0,
) -> Trace:
    """Volts at these places from the start to `stop` s, in steps of at most `step` s.

    It starts from rest with every wave as it is at nought, or from_nought: all discharged, as at a switch-on. Only
    what happens from `since` s on is kept.
    """
    seconds, volts = np.zeros(0), []
    solved = np.zeros(batch.size, bool)
    for first in range(0, batch.size, BLOCK):
        here = np.arange(first, min(first + BLOCK, batch.size))
        stepper = Stepper(circuit, batch.take(here), courses)
        moment = stepper.at_nought() if from_nought else stepper.at_rest(0.0)
        seconds, found, last = run(stepper, moment, places, (0.0, stop, step), since)
        solved[here] = last.solved
        volts.append(np.where(last.solved[None, :, None], found, np.nan))
    whole = np.concatenate(volts, axis=1)
    return Trace(seconds, dict(zip(places, whole, strict=True)), solved)
