"""The benchmark's own arithmetic, on small sizes; its figures are printed by `make bench`, never asserted."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.__main__ import deck, ladder, variants
from probewright.simulation.newton import come_to_rest


def test_the_ladder_has_three_nodes_a_stage_and_the_supply():
    circuit, _ = variants(ladder(4), 2)
    assert circuit.size == 3 * 4 + 1


def test_variants_differ_and_are_the_same_every_time():
    _, one = variants(ladder(2), 5)
    _, two = variants(ladder(2), 5)
    assert np.array_equal(one.figures["R11", "resistance"], two.figures["R11", "resistance"])
    assert len(set(one.figures["R11", "resistance"])) == 5


def test_the_race_is_run_on_the_same_circuit(ngspice):
    """ngspice's loop and ours give the same collector volts, so that the ratio compares like with like."""
    import re
    import subprocess

    circuit, batch = variants(ladder(3), 4)
    figures = {**batch.figures, **{key: np.full(4, 200.0) for key in batch.figures if key[1] == "gain"}}
    ours = come_to_rest(circuit, type(batch)(4, figures)).volts[circuit.at("C1")]
    done = subprocess.run(
        ["ngspice", "-b", "/dev/stdin"],
        input=deck(circuit, batch, range(4)),
        capture_output=True,
        text=True,
        check=True,
    )
    theirs = [float(x) for x in re.findall(r"^v\(\S+\) = (\S+)", done.stdout, re.M)]
    assert theirs == pytest.approx(list(ours), abs=2e-3)
