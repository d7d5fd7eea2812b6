"""What is read off a trace, against shapes whose answers are known on paper."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from probewright.simulation import scope

SECONDS = np.unique(np.concatenate([np.linspace(0.0, 0.1, 4001), np.linspace(0.03031, 0.04042, 137)]))  # uneven


def square(high: float, low: float, hertz: float, share: float = 0.5) -> np.ndarray:
    return np.where((SECONDS * hertz + 0.25) % 1.0 < share, high, low)


def three(*rows: np.ndarray) -> np.ndarray:
    """(variant, time), the last one not solved."""
    return np.stack([*rows, np.full(len(SECONDS), np.nan)])


def test_mean_top_valley_and_rms_of_a_sine_on_a_level():
    volts = three(3.0 + 2.0 * np.sin(2 * np.pi * 50 * SECONDS), np.full(len(SECONDS), -1.5))
    assert scope.mean(SECONDS, volts)[:2] == approx([3.0, -1.5], abs=1e-5)
    assert scope.rms(SECONDS, volts)[:2] == approx([2.0 / np.sqrt(2.0), 0.0], abs=1e-5)
    assert scope.top(volts)[:2] == approx([5.0, -1.5], abs=1e-4)
    assert scope.valley(volts)[:2] == approx([1.0, -1.5], abs=1e-4)
    assert scope.peak_to_peak(volts)[:2] == approx([4.0, 0.0], abs=1e-4)
    assert scope.middle(volts)[0] == approx(3.0, abs=1e-4)


def test_what_is_not_solved_has_no_reading_at_all():
    volts = three(np.sin(2 * np.pi * 50 * SECONDS))
    for read in (scope.mean, scope.rms, scope.period, scope.frequency, scope.duty, scope.tilt, scope.unsteady):
        assert np.isnan(read(SECONDS, volts)[-1])
    for read in (scope.top, scope.valley, scope.peak_to_peak):
        assert np.isnan(read(volts)[-1])
    assert np.isnan(scope.level_at(SECONDS, volts, 50.0)[-1])
    assert np.isnan(scope.once_or_twice(SECONDS, volts, 50.0)[-1])
    assert np.isnan(scope.distortion(SECONDS, volts, 50.0)[-1])
    assert np.isnan(scope.rise_through(SECONDS, volts, 0.0)[-1])
    assert np.isnan(scope.sag(SECONDS, volts, 0.01, 0.02)[-1])


def test_a_rise_is_timed_between_two_instants_and_never_is_no_number():
    """5 V (1 - exp (-t / 20 ms)) passes 2.0 V at 20 ms ln (5/3); it never comes to 5.1 V."""
    volts = three(5.0 * (1.0 - np.exp(-SECONDS / 0.02)), 5.0 * np.exp(-SECONDS / 0.02))
    assert scope.rise_through(SECONDS, volts, 2.0)[0] == approx(0.02 * np.log(5.0 / 3.0), rel=1e-5)
    assert np.isnan(scope.rise_through(SECONDS, volts, 5.1)).all()
    assert np.isnan(scope.rise_through(SECONDS, volts, 2.0)[1])  # above from the start
    assert scope.fall_through(SECONDS, volts, 2.0)[1] == approx(0.02 * np.log(5.0 / 2.0), rel=1e-5)
    assert np.isnan(scope.fall_through(SECONDS, volts, 2.0)[0])


def test_a_level_of_its_own_for_each_variant():
    ramp = np.stack([SECONDS, SECONDS, SECONDS])
    assert scope.rise_through(SECONDS, ramp, np.array([0.02, 0.03, 0.2])) == approx([0.02, 0.03, np.nan], nan_ok=True)


def test_period_frequency_and_duty():
    volts = three(
        np.sin(2 * np.pi * 120 * SECONDS), square(9.0, 0.0, 80.0, 0.3), square(1.0, -3.0, 100.0, 0.8), 0.0 * SECONDS
    )
    assert scope.period(SECONDS, volts)[:3] == approx([1 / 120, 1 / 80, 1 / 100], rel=1e-3)
    assert scope.frequency(SECONDS, volts)[:3] == approx([120.0, 80.0, 100.0], rel=1e-3)
    assert scope.duty(SECONDS, volts)[:3] == approx([0.5, 0.3, 0.8], abs=4e-3)
    assert np.isnan(scope.period(SECONDS, volts)[3]) and np.isnan(scope.duty(SECONDS, volts)[3])
    assert scope.unsteady(SECONDS, volts)[:3] == approx([0.0, 0.0, 0.0], abs=6e-3)


def test_a_slowing_beat_is_unsteady_and_one_period_is_not_enough_to_say():
    slowing = np.stack([np.sin(2 * np.pi * 100 * SECONDS / (1.0 + 3.0 * SECONDS))])
    assert scope.unsteady(SECONDS, slowing)[0] > 0.02
    assert np.isnan(scope.unsteady(SECONDS, np.stack([np.sin(2 * np.pi * 22 * SECONDS)])))[0]


def test_a_wobble_on_an_edge_is_one_crossing():
    wobble = np.sin(2 * np.pi * 20 * SECONDS - 1.0) + 0.04 * np.sin(2 * np.pi * 1900 * SECONDS)
    found = scope.crossings(SECONDS, np.stack([wobble]), 0.0)
    assert np.isfinite(found).sum() == 2


def test_what_it_carries_at_a_frequency():
    """Also where the trace is no whole number of periods long: the last whole ones count."""
    volts = three(0.7 + 1.3 * np.sin(2 * np.pi * 50 * SECONDS + 0.4) + 0.2 * np.cos(2 * np.pi * 100 * SECONDS))
    assert scope.level_at(SECONDS, volts, 50.0)[0] == approx(1.3, rel=1e-3)
    assert scope.level_at(SECONDS, volts, 100.0)[0] == approx(0.2, rel=3e-3)
    assert scope.once_or_twice(SECONDS, volts, 50.0)[0] == approx(6.5, rel=3e-3)
    assert scope.distortion(SECONDS, volts, 50.0)[0] == approx(0.2 / 1.3, rel=3e-3)
    odd = np.stack([np.sin(2 * np.pi * 33 * SECONDS)])
    assert scope.level_at(SECONDS, odd, 33.0)[0] == approx(1.0, rel=1e-3)
    assert np.isnan(scope.level_at(SECONDS, odd, 7.0))[0]
    assert np.isnan(scope.once_or_twice(SECONDS, 0.0 * odd, 50.0))[0]
    assert np.isnan(scope.distortion(SECONDS, 0.0 * odd, 50.0))[0]


def test_distortion_of_a_square_and_of_a_half_wave():
    """Harmonics of a square are 1/3, 1/5, 1/7, 1/9; of a half-wave rectified sine 2/pi / (n^2 - 1) against 1/2."""
    volts = three(square(1.0, -1.0, 50.0), np.maximum(0.0, np.sin(2 * np.pi * 50 * SECONDS)))
    assert scope.distortion(SECONDS, volts, 50.0)[:2] == approx(
        [
            np.sqrt(sum(n**-2.0 for n in (3, 5, 7, 9))),
            4.0 / np.pi * np.sqrt(sum((n * n - 1.0) ** -2.0 for n in (2, 4, 6, 8, 10))),
        ],
        rel=4e-3,
    )


@pytest.mark.parametrize("hertz", [200.0, 330.0])
def test_a_limit_of_bandwidth_is_one_pole(hertz: float):
    volts = np.stack([np.sin(2 * np.pi * 330 * SECONDS)])
    found = scope.limited(SECONDS, volts, hertz)
    late = SECONDS > 0.04
    assert found[:, late].max() == approx(1.0 / np.sqrt(1.0 + (330.0 / hertz) ** 2), rel=2e-3)


def test_coupling_takes_the_mean_off_and_lets_a_square_tilt():
    """Through tau a top of length T falls to exp (-T / tau); a corner at 1/8 of the square's frequency shows it."""
    volts = np.stack([7.0 + square(1.0, -1.0, 100.0), 0.0 * SECONDS - 2.0])
    found = scope.coupled(SECONDS, volts, 12.5)
    assert abs(scope.mean(SECONDS, found)[0]) < 0.05
    falls = 1.0 - np.exp(-2.0 * np.pi * 12.5 * 0.005)
    # a settled square swings from v0 to v0 exp (-T / tau), and the edge is the whole 2 V: v0 = 2 / (1 + exp (-T / tau))
    assert scope.tilt(SECONDS, found)[0] == approx(falls / (2.0 - falls), rel=0.03)
    assert scope.tilt(SECONDS, volts)[0] == approx(0.0, abs=1e-9)
    assert found[1] == approx(0.0, abs=1e-9)


def test_sag_between_two_instants():
    volts = np.stack([4.0 - 3.0 * SECONDS, 1.0 + 0.0 * SECONDS])
    assert scope.sag(SECONDS, volts, 0.01, 0.06) == approx([0.15, 0.0], abs=1e-9)
    assert np.isnan(scope.sag(SECONDS, volts, 0.05, 0.2)).all()
