"""The junction law and the step limit that lets Newton's method reach it."""

import numpy as np

from probewright.machine.kinds import THERMAL_VOLTS, Companion, Stay

LEAST_SIEMENS = 1e-12  # across every junction, the usual minimum conductance of circuit simulators
STEEPEST = 80.0  # exponent above which the exponential is continued by its tangent


def junction(volts, amps, ideality):
    """Shockley's law: current and slope of a junction, tangent beyond STEEPEST thermal volts.

    volts, amps (saturation), ideality broadcast together; returns (A, S).
    """
    scale = ideality * THERMAL_VOLTS
    x = volts / scale
    e = np.exp(np.minimum(x, STEEPEST))
    beyond = np.maximum(x - STEEPEST, 0.0)
    return (amps * (e * (1.0 + beyond) - 1.0) + LEAST_SIEMENS * volts, amps * e / scale + LEAST_SIEMENS)


def held_junction(volts, last, amps, ideality, carries=True):
    """Junction volts to linearise at, and where the step was shortened.

    Above the critical voltage a step of more than two thermal volts is replaced by the one that
    would give the same current on the old tangent (Nagel, SPICE2, UCB/ERL M520, 1975).
    last None: a trusted start, nothing is held; Stay: the step is taken from there. carries: False
    where the junction is broken: it bends nothing, however many volts stand across it.
    """
    if last is None:
        return volts, False
    if isinstance(last, Stay):
        return last.at, (last.at != volts) & carries
    scale = ideality * THERMAL_VOLTS
    critical = scale * np.log(scale / (np.sqrt(2.0) * np.maximum(amps, 1e-300)))
    far = (np.abs(volts - last) > 2.0 * scale) & (volts > critical) & carries
    step = 1.0 + (volts - last) / scale
    with np.errstate(invalid="ignore", divide="ignore"):
        from_on = np.where(step > 0.0, last + scale * np.log(np.maximum(step, 1e-300)), critical)
        from_off = scale * np.log(np.maximum(volts, 1e-300) / scale)
    held = np.where(last > 0.0, from_on, from_off)
    return np.where(far, held, volts), far


def between_ends(through, slope, at, held) -> Companion:
    """Companion of a part of two ends, a to k, that carries `through` amps with this slope."""
    return Companion(
        {"a": through, "k": -through},
        {("a", "a"): slope, ("a", "k"): -slope, ("k", "a"): -slope, ("k", "k"): slope},
        {"at": at},
        held,
    )
