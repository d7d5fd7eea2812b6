"""Some circuits in time beside ngspice; `python -m benchmarks --only time` takes all of them and more faults of each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import in_time
from in_time import CIRCUITS, TimeDeck, apart, compare, prepared, some
from probewright.simulation.tracing import trace

FAULTS = 4


@pytest.mark.parametrize("name", ["bridge", "transistor stage, clipping", "coupling that tilts"])
def test_what_a_scope_reads_agrees(name: str, ngspice):
    """10 mV and 1 % of levels and ripples, half a percent of distortion and tilt; tolerances drawn, faults as listed."""
    found = compare(name, FAULTS)
    assert found.apart == [] and found.unsolved == [] and found.refused == []
    assert found.compared == FAULTS + 1


def test_the_reference_sees_a_change(ngspice):
    """The comparison can fail: a coupling capacitor a tenth larger tilts less."""
    one, name = CIRCUITS["coupling that tilts"], "coupling that tilts"
    circuit, whole, _ = prepared(name)
    batch = whole.take(np.array([0]))
    larger = replace(
        batch, figures={**batch.figures, ("C1", "capacitance"): 1.1 * np.asarray(batch.figures["C1", "capacitance"])}
    )
    ours = trace(circuit, larger, one.courses, ["OUT"], one.stop, one.step, since=one.since)
    mine = {says: float(read(ours.seconds, ours.volts[place])[0]) for says, (place, read, _) in one.read.items()}
    beside = apart(one, TimeDeck(circuit, whole, 0, one.courses).traces(one, one.step / 4.0), mine)
    assert beside["OUT tilt"][2] > 1.0


def test_ten_circuits_with_thirty_changed_variants_each_are_there_to_be_compared():
    assert len(CIRCUITS) == 10
    for name in CIRCUITS:
        assert len(some(name, 30)) == 31
    assert in_time.VOLTS == 10e-3 and in_time.SHARE == 0.01
