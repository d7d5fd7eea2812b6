"""The channel of a field-effect transistor: Shockley's square law, the same seen from either end."""

import numpy as np

from probewright.machine.kinds import THERMAL_VOLTS, Stay
from probewright.machine.kinds.saturating import rounded

WEAK = 2.0 * THERMAL_VOLTS  # below threshold the current falls by e a thermal voltage, as in any silicon channel
ON_VOLTS = 0.5  # chosen: so far from its threshold a channel is on or off beyond doubt
FIRST_REACH = 2.0  # chosen, V: how far from the threshold the first step may go


def overdriven(u):
    """Square of the volts above threshold, with a tail below; and its slope.

    F(u) = (w ln(1 + exp(u / w)))^2 (Enz, Krummenacher and Vittoz, Analog Integrated Circuits and
    Signal Processing 8, 1995): u^2 where u is many w, w^2 exp(2 u / w) below.
    """
    soft, gate = rounded(u / WEAK)
    above = WEAK * soft
    return above * above, 2.0 * above * gate


def channel(source, drain, beta, early):
    """i = beta (F(source) - F(drain)) (1 + |v_ds| / early), drain to source, and its slopes.

    source, drain: volts of the gate above threshold, seen from either end; their difference is v_ds,
    so 2 u v_ds - v_ds^2 below pinch-off and u^2 above come out by themselves. Returns
    (A, d / d source, d / d drain).
    """
    near, near_slope = overdriven(source)
    far, far_slope = overdriven(drain)
    longer = 1.0 + np.abs(source - drain) / early
    bend = beta * (near - far) * np.sign(source - drain) / early
    return beta * (near - far) * longer, beta * near_slope * longer + bend, -beta * far_slope * longer - bend


def held_overdrive(volts, last):
    """Overdrive to linearise at, and where the step was shortened.

    A step from on to off stops at the threshold, others go out in doubling strides, as the limits
    of Nagel (SPICE2, UCB/ERL M520, 1975). last None: a trusted start; Stay: taken from there.
    """
    if last is None:
        return volts, False
    if isinstance(last, Stay):
        return last.at, last.at != volts
    reach = FIRST_REACH + 2.0 * np.abs(last)
    crossed = (volts * last < 0.0) & (np.abs(last) > ON_VOLTS) & (np.abs(volts) > ON_VOLTS)
    at = np.where(crossed, 0.0, np.clip(volts, last - reach, last + reach))
    return at, at != volts
