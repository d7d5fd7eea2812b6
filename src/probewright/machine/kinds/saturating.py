"""Laws that run straight in the middle and level off: op-amp rails, current limits."""

import numpy as np

from probewright.machine.kinds import Stay, last_control

UNDECIDED = object()  # the control before a cold start: neither end is believed


FLAT = 20.0  # beyond this a tanh has no slope left in double precision
FIRST_REACH = 2.0  # chosen: how far out of the middle the first step may go


def held_across(control, last, middle=0.0):
    """Control to linearise at, and where the step was shortened.

    A step from one flat end to the other stops in the middle of the straight band, and a step into
    a flat end goes out in doubling strides; else the line drawn there has no slope, the next volts
    are absurd, and Newton's method hops between the ends for ever. last: control of the step
    before, None for a trusted start, UNDECIDED for a cold one (as if it came from the middle).
    """
    target = np.clip(control, -FLAT, FLAT)
    if last is None:
        return target, False
    if isinstance(last, Stay):
        return last.at, last.at != target
    came = (middle if last is UNDECIDED else last) - middle
    reach = FIRST_REACH + 2.0 * np.abs(came)
    crossed = ((target - middle) * came < 0.0) & (np.abs(came) > 1.0)
    at = np.where(crossed, middle, np.clip(target, middle - reach, middle + reach))
    return at, at != target


def freed(at, moved, memory, name, middle=0.0):
    """The control `at`, put in the middle of its band where another control of the part has moved;
    left alone where the step is taken at given controls."""
    return at if isinstance(last_control(memory, name), Stay) else np.where(moved, middle, at)


def levelled(at):
    """tanh and its slope."""
    flat = np.tanh(at)
    return flat, 1.0 - flat * flat


def rounded(x):
    """ln (1 + e^x) and its slope, from one exponential that never overflows."""
    small = np.exp(-np.abs(x))
    return np.maximum(x, 0.0) + np.log1p(small), np.where(x > 0.0, 1.0, small) / (1.0 + small)


def one_way(at, knee):
    """tanh of the positive part of `at`, the corner rounded over `knee`; and its slope.

    The law of a supply that gives but cannot take.
    """
    positive, gate = rounded(at / knee)
    flat = np.tanh(knee * positive)
    return flat, (1.0 - flat * flat) * gate


def positive_part(x, knee):
    """(x + sqrt(x^2 + knee^2)) / 2 and its slope: x where large, a sliver where negative."""
    root = np.sqrt(x * x + knee * knee)
    return 0.5 * (x + root), 0.5 * (1.0 + x / root)
