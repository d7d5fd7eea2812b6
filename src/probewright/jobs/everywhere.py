"""What every place reads in one set-up, on the healthy machine and under one suspect."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from probewright.hypotheses import Severity
from probewright.hypotheses.suspects import made_of
from probewright.jobs.files import questions_everywhere
from probewright.jobs.view import SuspectView
from probewright.machine import Machine
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, Model, build_model, grown
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.readings.instruments import unit_of

SIGNALS = ("pp", "rms")
SILENT = 1e-3  # chosen: a place with less than this share of the largest signal carries none
EDGE = 1e-6  # chosen: a severity at the very end of its law is taken this share inside


@dataclass(frozen=True)
class PlaceView:
    """One place through one instrument. healthy, suspect: figures in the unit, NaN where no answer was found.

    unit: "V", "ohm", or "%" of healthy where levels are known as ratios only. Every part stands in the middle of its
    tolerance; suspect: None where none was asked for.
    """

    place: str
    instrument: str
    healthy: float
    suspect: float | None
    unit: str


def read_everywhere(machine: Machine, setup: Setup, suspect: SuspectView | None = None) -> tuple[PlaceView, ...]:
    """What every net reads when healthy, and what it would read if this suspect were the fault.

    The suspect's severity is the middle of what is believed of it. KeyError when the machine has no such suspect.
    """
    model = build_model(machine, machine.name)
    healthy = _one(model.only_healthy(), 0.0)
    faulty = None if suspect is None else _suspected(model, suspect)
    found = []
    for ask, place in questions_everywhere(machine, setup):
        usual, shown = _figure(healthy, ask), None if faulty is None else _figure(faulty, ask)
        unit = unit_of(ask.instrument)
        found.append(PlaceView(place, ask.instrument, usual, shown, unit))
    return _as_shares(found) if model.unknown else tuple(found)


def _as_shares(found: list[PlaceView]) -> tuple[PlaceView, ...]:
    """Signals as shares of healthy, as nobody knows how many volts that is; a place that carries none is left out."""
    signals = [row.healthy for row in found if row.instrument in SIGNALS and math.isfinite(row.healthy)]
    most, rows = max(signals, default=0.0), []
    for row in found:
        if row.instrument not in SIGNALS:
            rows.append(row)
        elif row.healthy > SILENT * most:
            share = None if row.suspect is None else row.suspect / row.healthy
            rows.append(replace(row, healthy=1.0, suspect=share, unit="%"))
    return tuple(rows)


def _suspected(model: Model, suspect: SuspectView) -> Bank:
    model, n, which, z, second = middling(model, suspect)
    return _one(replace(model, suspects=(model.suspects[n],), cells=(Cell(0, which),)), z, second)


def middling(model: Model, suspect: SuspectView) -> tuple[Model, int, int, float, float]:
    """A suspect with its severity in the middle of what is believed: the model, grown where it does not list it, its
    index there, the bin, and the standard normals that give its severity and that of its second fault.

    KeyError when the machine has no such suspect.
    """
    if suspect.id not in model.index:
        model = grown(model, (made_of({one.id: one for one in model.suspects}, suspect.id),))
    n = model.index[suspect.id]
    laws, believed = [fault.severity for fault in model.suspects[n].faults], [one.severity for one in suspect.faults]
    places = [
        (0, 0.0) if law is None or size is None else _place_in(law if at == 0 else replace(law, bins=1), size)
        for at, (law, size) in enumerate(zip(laws, believed, strict=True))
    ] or [(0, 0.0)]
    which, z = places[0]
    return model, n, which, z, places[-1][1]


def _place_in(severity: Severity, value: float) -> tuple[int, float]:
    """The bin of its law that this severity falls in, and the standard normal that gives it there."""
    if severity.law == "log":
        share = math.log(value / severity.low) / math.log(severity.high / severity.low)
    else:
        share = (value - severity.low) / (severity.high - severity.low)
    inside = min(max(share, EDGE), 1.0 - EDGE) * severity.bins
    which = min(int(inside), severity.bins - 1)
    return which, NormalDist().inv_cdf(min(max(inside - which, EDGE), 1.0 - EDGE))


def _one(model: Model, severity: float, second: float = 0.0) -> Bank:
    """A bank of one variant in the model's only cell, every figure in the middle of its law."""
    z = np.zeros((len(model.latents.keys) + 1, 1))
    z[model.second] = second
    z[-1] = severity
    return Bank(model, [Span(0, 0, 1)], z)


def _figure(bank: Bank, ask: Question) -> float:
    shown = show(bank, ask)
    return float(shown.value[0]) if shown.judged[0] else math.nan
