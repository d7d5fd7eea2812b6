"""Shapes in time: where they stand, where they bend, what they refuse."""

from __future__ import annotations

import math

import pytest
from pytest import approx

from probewright.errors import NotAValue
from probewright.machine.waves import CHARGING, Course, Pulse, Ripple, Sine, Step


def test_a_sine_starts_at_its_phase_and_has_no_corner():
    assert [Sine(50.0).at(t) for t in (0.0, 0.005, 0.015)] == approx([0.0, 1.0, -1.0], abs=1e-12)
    assert Sine(50.0, 90.0).at(1000.0) == approx(1.0, abs=1e-9)
    assert Sine(50.0).corners(0.0, 1.0) == [] and Sine(50.0).period == approx(0.02)


def test_a_pulse_jumps_after_its_corner():
    """At a jump it still stands where it came from; it has been going since before its delay."""
    pulse = Pulse(period=10e-3, high=2e-3, delay=1e-3)
    assert [pulse.at(t) for t in (1e-3, 1.001e-3, 3e-3, 3.001e-3, 11.5e-3, -8e-3)] == [0.0, 1.0, 1.0, 0.0, 1.0, 1.0]
    assert pulse.corners(0.0, 12e-3) == approx([1e-3, 3e-3, 11e-3])
    assert pulse.corners(1e-3, 3e-3) == approx([1e-3])


def test_a_pulse_with_edges_is_as_high_as_long_as_it_says_from_middle_to_middle():
    pulse = Pulse(period=1.0, high=0.3, edge=0.1)
    assert [pulse.at(t) for t in (0.05, 0.1, 0.25, 0.35, 0.4, 0.9, 1.05)] == approx([0.5, 1.0, 1.0, 0.5, 0.0, 0.0, 0.5])
    assert pulse.corners(0.0, 1.0) == approx([0.0, 0.1, 0.3, 0.4])
    mean = sum(pulse.at((n + 0.5) / 2000) for n in range(2000)) / 2000
    assert mean == approx(0.3, abs=1e-3)


@pytest.mark.parametrize(("full", "period"), [(True, 0.01), (False, 0.02)])
def test_a_ripple_swings_by_one_once_or_twice_mains(full: bool, period: float):
    ripple = Ripple(50.0, full)
    assert ripple.period == approx(period)
    seen = [ripple.at(period * n / 1000) for n in range(3000)]
    assert max(seen) == approx(0.5) and min(seen) == approx(-0.5, abs=2e-3)
    assert ripple.at(0.3e-3) == approx(ripple.at(0.3e-3 + 7 * period))
    assert ripple.corners(0.0, period) == approx([0.0, (1.0 - CHARGING) * period])


def test_a_step_is_a_switch_on_with_or_without_a_rise():
    assert [Step().at(t) for t in (-1.0, 0.0, 1e-9)] == [0.0, 0.0, 1.0]
    slow = Step(moment=2.0, rise=0.5)
    assert [slow.at(t) for t in (2.0, 2.25, 9.0)] == [0.0, 0.5, 1.0]
    assert slow.corners(0.0, 10.0) == [2.0, 2.5] and slow.corners(2.1, 2.5) == []
    assert slow.period == math.inf


@pytest.mark.parametrize(
    "wrong", [lambda: Sine(0.0), lambda: Sine(math.nan), lambda: Ripple(-50.0), lambda: Pulse(0.0, 0.0)]
)
def test_no_shape_without_a_time_above_nought(wrong):
    with pytest.raises(NotAValue, match="above nought"):
        wrong()


def test_a_pulse_longer_than_its_period_is_refused_with_what_to_write():
    with pytest.raises(NotAValue, match="shorter pulse, or a longer period"):
        Pulse(period=1e-3, high=0.9e-3, edge=0.2e-3)


def test_a_course_is_made_of_its_waves():
    on, tone = Step(), Sine(1e3)
    assert Course("V1", share=on, swing=tone).waves() == [on, tone]
    assert Course("V1").waves() == []
