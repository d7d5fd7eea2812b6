"""Ten circuits in time beside ngspice, some faults of each; `python -m benchmarks --only time` takes fifty of each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

import in_time
from in_time import CIRCUITS, TimeDeck, apart, compare, prepared, some
from probewright.machine.waves import Course, Step
from probewright.simulation.newton import come_to_rest
from probewright.simulation.stepping import figures_at
from probewright.simulation.tracing import trace

FAULTS = {  # as many as some seconds hold
    "supply with a regulator": 2, "bridge": 4, "reset with a Schmitt gate": 4, "sample and hold": 4,
    "transistor stage, clipping": 4, "coupling that tilts": 4, "relaxation oscillator": 3,
    "multivibrator of two transistors": 3, "slow timer": 1, "filter of coil and capacitor": 3,
}  # fmt: skip


@pytest.mark.parametrize("name", CIRCUITS)
def test_what_a_scope_reads_agrees(name: str, ngspice):
    """10 mV and 1 % of levels and ripples, 1 % of periods, half a percent of distortion and tilt; tolerances drawn, faults
    as listed."""
    found = compare(name, FAULTS[name])
    assert found.apart == [] and found.unsolved == [] and found.refused == [] and found.finer == []
    assert found.compared == FAULTS[name] + 1
    one = CIRCUITS[name]
    assert all(found.figures[says] for says in one.read if not says.endswith("still"))


@pytest.mark.parametrize(("late", "rail"), [("VP", -10.65), ("VN", 10.02)])
def test_a_latch_goes_by_the_supply_that_comes_late(late: str, rail: float, ngspice):
    """The sample and hold with its store joined to the output has two rests, and both are honest: ours and ngspice go, at a
    switch-on, to the rail of whichever supply is there first, whatever the offset; what is found at rest is one of them."""
    one, (circuit, whole, says) = CIRCUITS["sample and hold"], prepared("sample and hold")
    up = tuple(Course(name, share=Step(5e-4 if name == late else 0.0, 1e-3)) for name in ("VP", "VN"))
    switched = replace(one, courses=(*one.courses, *up), stop=4e-3, from_nought=True)
    joined = whole.take(np.array([says.index("HOLD~OUT joins 0")]))
    ours = trace(circuit, joined, switched.courses, ["OUT"], switched.stop, one.step, from_nought=True)
    theirs = TimeDeck(circuit, joined, 0, switched.courses).traces(switched, one.step / 4.0)["OUT"][1]
    assert [ours.volts["OUT"][0, -1], theirs[0, -1]] == approx([rail, rail], abs=0.01)
    rest = come_to_rest(circuit, figures_at(joined, one.courses, 0.0)).volts[circuit.at("OUT"), 0]
    assert min(abs(rest + 10.65), abs(rest - 10.02)) < 0.01


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
