"""What an instrument shows: always part of the circuit it measures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.simulation.alternating import Phasors
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.newton import Rest, Start, come_to_rest

# A meter that takes less than this share of the reading is corrected by its share; one that takes
# more is put into the circuit and the circuit solved again. The correction is exact where the
# circuit is straight; where it bends, what is left out is of the order of the share squared.
HEAVY_SHARE = 0.002


@dataclass(frozen=True)
class Shown:
    """What the instrument shows in each variant: value (variant,) in V or ohm, judged (variant,)."""

    value: np.ndarray
    judged: np.ndarray


def dc_volts(
    circuit: Circuit, batch: Batch, rest: Rest, ohms: np.ndarray, red: str, black: str, meter_ohms: float
) -> Shown:
    """Direct volts between two places through a meter of meter_ohms.

    rest, ohms: the answer and source resistances without the meter.
    """
    value = circuit.volts_at(red, batch, rest.volts) - circuit.volts_at(black, batch, rest.volts)
    seen = np.abs(circuit.volts_at(red, batch, ohms)) + np.abs(circuit.volts_at(black, batch, ohms))
    share = seen / (seen + meter_ohms)
    single = circuit.at(black) < 0
    value = value * (1.0 - share) if single else value
    judged = rest.solved.copy()
    heavy = np.flatnonzero(rest.solved & (share > (HEAVY_SHARE if single else HEAVY_SHARE / 10)))
    if heavy.size:
        loaded = batch.take(heavy).with_meter(red, black, meter_ohms)
        again = come_to_rest(circuit.with_room(red, black), loaded, Start(rest.volts[:, heavy]))
        value = value.copy()
        value[heavy] = circuit.volts_at(red, loaded, again.volts) - circuit.volts_at(black, loaded, again.volts)
        judged[heavy] = again.solved
    return Shown(value, judged)


def ac_volts(
    circuit: Circuit,
    batch: Batch,
    phasors: Phasors,
    red: str,
    black: str,
    hertz: float,
    meter_ohms: float,
    meter_farads: float,
) -> Shown:
    """Peak volts of the signal between two places through a meter or probe.

    The loading is exact to ground (the circuit is linear for the signal); between two places the
    impedance between them is taken as the sum of both to ground, its upper bound for a passive
    neighbourhood, which a probe of 10 Mohm does not feel.
    """
    value = circuit.volts_at(red, batch, phasors.volts) - circuit.volts_at(black, batch, phasors.volts)
    seen = circuit.volts_at(red, batch, phasors.ohms) + circuit.volts_at(black, batch, phasors.ohms)
    siemens = 1.0 / meter_ohms + 2j * np.pi * hertz * meter_farads
    return Shown(np.abs(value / (1.0 + seen * siemens)), phasors.solved)


def ohms_between(
    circuit: Circuit,
    batch: Batch,
    rest: Rest,
    red: str,
    black: str,
    open_volts: float,
    series_ohms: float,
    most_ohms: float,
) -> Shown:
    """Ohms an ohmmeter shows between two places of a circuit without power.

    rest: the answer without the meter. The meter puts out open_volts behind series_ohms, too little
    to open a silicon junction;
    above most_ohms it shows over-limit (inf).
    """
    tested = batch.with_meter(red, black, series_ohms, open_volts)
    fed = come_to_rest(circuit.with_room(red, black), tested, Start(rest.volts))
    volts = circuit.volts_at(red, tested, fed.volts) - circuit.volts_at(black, tested, fed.volts)
    with np.errstate(divide="ignore"):
        value = series_ohms * volts / np.maximum(open_volts - volts, 1e-15)
    return Shown(np.where(value > most_ohms, np.inf, np.maximum(value, 0.0)), fed.solved)
