"""Machines with more than one fault: a repair that cures the first, two that no single one explains."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from probewright import jobs, machine
from probewright.hypotheses.suspects import pair
from probewright.jobs.searching import Search
from probewright.jobs.view import JobView
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, build_model, grown
from probewright.prediction.growing import grow
from probewright.prediction.outcomes import show
from probewright.readings import Question
from probewright.readings.lines import read_readings

# Two dividers with a follower each, of one supply: plain enough to be worked out by hand.
TWO = """\
machine: Two rails on one supply
extras:
  SUPPLY: source 20V 1% series 1R              HT > GND
parts:
  R1: resistor 10k 1%                          HT > A
  R2: resistor 10k 1%                          A > GND
  R3: resistor 10k 1%                          HT > B
  R4: resistor 10k 1%                          B > GND
  R5: resistor 10k 1%                          HT > C
  R6: resistor 10k 1%                          C > GND
stimuli:
  rest: {do: leave it alone}
works:
  first: A dc at rest; below 80% of healthy = low; above 120% of healthy = high
  second: B dc at rest; below 80% of healthy = low; above 120% of healthy = high
"""
# By Ohm's law: R1 at 20 kohm leaves A at 20 V x 10/30 = 6.67 V, R4 at 30 kohm lifts B to 20 V x 30/40 = 15 V. With power
# off R1 reads 20k beside 10k + (40k beside 20k) = 23.3k, so 10.8k; R4 30k beside 10k + (30k beside 20k) = 22k, so 12.7k.
BOTH = "first: low\nsecond: high\nA 6.67 V\nB 15.0 V\nC 10.0 V\nset-up: off\nR1 10.77k ohm\nR4 12.69k ohm\nR4 12.69k ohm\n"


@pytest.fixture(scope="module")
def two() -> Search:
    return jobs.open_search(machine.read(TWO, "two.yaml"))


def entered(search: Search, text: str) -> tuple[Search, JobView]:
    assert search.machine is not None
    found = jobs.enter_readings(search, read_readings(text, search.machine))
    return found, jobs.look(found)


def items(view: JobView) -> set[str]:
    return {fault.item for fault in view.suspects[0].faults}


def test_two_faults_that_no_single_one_explains_are_both_named(two: Search) -> None:
    _, view = entered(two, BOTH)
    assert items(view) == {"R1", "R4"}
    assert view.finding == "located"
    sizes = {fault.item: fault.severity for fault in view.suspects[0].faults}
    assert sizes["R1"] == pytest.approx(2.0, rel=0.1)  # of healthy: 20 of 10 kohm
    assert sizes["R4"] == pytest.approx(3.0, rel=0.1)
