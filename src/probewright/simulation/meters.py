"""What an instrument shows: always part of the circuit it measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.simulation.alternating import Phasors
from probewright.simulation.circuit import Batch, Circuit, Path, Push
from probewright.simulation.newton import BLOCK, Rest, Sheet, Start, blocks
from probewright.simulation.pattern import back_substitute, eliminate
from probewright.simulation.resting import come_to_rest

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
        judged[heavy] = again.solved & circuit.in_frame(loaded, again.volts, ohms[:, heavy])
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


def volts_fed(
    circuit: Circuit, batch: Batch, rest: Rest, red: str, black: str, open_volts: float, series_ohms: float,
) -> Shown:  # fmt: skip
    """Volts that stay between two places of a circuit without power when a meter feeds open_volts behind series_ohms
    into red; rest: the answer without the meter."""
    tested = batch.with_meter(red, black, series_ohms, open_volts)
    fed = come_to_rest(circuit.with_room(red, black), tested, Start(rest.volts))
    judged = fed.solved & circuit.in_frame(tested, fed.volts)
    return Shown(circuit.volts_at(red, tested, fed.volts) - circuit.volts_at(black, tested, fed.volts), judged)


def all_volts_fed(
    circuit: Circuit, batch: Batch, rest: Rest, pairs: Sequence[tuple[str, str]], open_volts: float, series_ohms: float,
) -> list[Shown]:  # fmt: skip
    """The same between many pairs (red, black), one after the other, solved together: a block costs much the same
    whatever its size. What lies round a piece is taken to stay as it is."""
    found: list[Shown] = []
    for red, black in pairs:
        circuit = circuit.with_room(red, black)
    some = max(1, BLOCK // max(batch.size, 1))
    for first in range(0, len(pairs), some):
        here, ends = pairs[first : first + some], [(n * batch.size, (n + 1) * batch.size) for n in range(some)]
        wide = batch.times(len(here))
        paths = [Path(red, black, *end, series_ohms) for (red, black), end in zip(here, ends, strict=False)]
        amps = open_volts / series_ohms
        pushes = [Push(red, black, amps, *end) for (red, black), end in zip(here, ends, strict=False)]
        tested = replace(wide, paths=(*wide.paths, *paths), pushes=tuple(pushes))
        fed = come_to_rest(circuit, tested, Start(np.tile(rest.volts, len(here))))
        for (red, black), (start, stop) in zip(here, ends, strict=False):
            volts = circuit.volts_at(red, tested, fed.volts) - circuit.volts_at(black, tested, fed.volts)
            found.append(Shown(volts[start:stop], fed.solved[start:stop]))
    return found


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
    fed = volts_fed(circuit, batch, rest, red, black, open_volts, series_ohms)
    volts = fed.value
    with np.errstate(divide="ignore"):
        value = series_ohms * volts / np.maximum(open_volts - volts, 1e-15)
    return Shown(np.where(value > most_ohms, np.inf, np.maximum(value, 0.0)), fed.judged)


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def impedance_between(circuit: Circuit, batch: Batch, rest: Rest, red: str, black: str, hertz: float) -> Shown:
    """Complex impedance between two places of a circuit without power, for a signal too small to open silicon.

    rest: the answer without the instrument. value (variant,), complex, ohm.
    """
    driven = replace(batch, pushes=(*batch.pushes, Push(red, black, 1.0)))  # one ampere in, and the volts are the ohms
    volts = np.zeros(rest.volts.shape, complex)
    for here, block in blocks(circuit, driven, np.arange(batch.size)):
        sheet = Sheet(circuit, block, 2j * np.pi * hertz)
        matrix, right = sheet.base, sheet.pushed.astype(complex)
        for which, _, companion in sheet.companions(rest.volts[:, here], None):
            kind, slope = circuit.groups[which].kind, companion.slope
            if kind.alternating is not None:
                slope = kind.alternating(sheet.figures[which], slope, 2.0 * np.pi * hertz)
            sheet.stamp_slopes(matrix, which, slope)
        eliminate(circuit.pattern, matrix, right)
        volts[:-1, here] = back_substitute(circuit.pattern, matrix, right)
    value = circuit.volts_at(red, batch, volts) - circuit.volts_at(black, batch, volts)
    return Shown(value, rest.solved & np.isfinite(value))
