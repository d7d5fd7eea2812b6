"""What a captured trace reads, with noise and steps of a converter, and where the screen cuts it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright.captures import Capture, measure
from probewright.captures.measuring import noise_of, step_of
from probewright.readings import NEVER
from probewright.simulation import scope

POINTS = 2500
SECONDS = np.linspace(-0.02, 0.08, POINTS)  # 0.1 s, five periods of 50 Hz


def captured(volts: np.ndarray, seconds: np.ndarray = SECONDS, beyond: tuple[int, int] = (0, 0)) -> Capture:
    """Two channels, the trace on the second one; the first has something else."""
    return Capture(seconds, np.stack([np.cos(777.0 * seconds), volts]), ("other", "trace"), ((0, 0), beyond))


def stepped(volts: np.ndarray, low: float, high: float, bits: int = 8) -> np.ndarray:
    """As a converter of so many bits has it whose screen goes from low to high."""
    step = (high - low) / 2**bits
    return low + step * np.clip(np.floor((volts - low) / step), 0, 2**bits - 1)


def noisy(volts: np.ndarray, sd: float, seed: int = 1) -> np.ndarray:
    return volts + sd * np.random.default_rng(seed).normal(size=len(volts))


SINE = 3.0 + 2.0 * np.sin(2.0 * np.pi * 50.0 * SECONDS + 1.0)
SQUARE = np.where((SECONDS * 50.0 + 0.6) % 1.0 < 0.3, 5.0, 0.0)


def test_figures_of_a_clean_sine():
    found = measure(captured(SINE), 1)
    assert found.of("dc").value == approx(3.0, abs=2e-3)
    assert found.of("pp").value == approx(4.0, abs=1e-3)
    assert (found.of("top").value, found.of("valley").value) == (approx(5.0, abs=1e-3), approx(1.0, abs=1e-3))
    assert found.of("rms").value == approx(2.0 / np.sqrt(2.0), rel=1e-3)
    assert found.of("frequency").value == approx(50.0, rel=1e-4)
    assert found.of("period").value == approx(0.02, rel=1e-4)
    assert found.of("duty").value == approx(0.5, abs=2e-3)
    assert found.of("rise") is None
    assert (found.periods, found.points, found.cut) == (4, POINTS, ())
    assert found.interval == approx(0.1 / (POINTS - 1))


@pytest.mark.parametrize("share", [0.01, 0.02, 0.05])
@pytest.mark.parametrize("shape", ["sine", "square"])
def test_noise_of_one_to_five_per_cent_leaves_the_rhythm(shape: str, share: float):
    """Of ten noises none makes a wobble a period, and the figure stays within three of its own errors."""
    clean, duty = (SINE, 0.5) if shape == "sine" else (SQUARE, 0.3)
    for seed in range(10):
        volts = stepped(noisy(clean, share * np.ptp(clean), seed), -2.0, 8.0)
        found = measure(captured(volts), 1)
        frequency = found.of("frequency")
        assert frequency.value == approx(50.0, abs=3.0 * frequency.error)
        assert frequency.error < 0.5
        assert found.of("duty").value == approx(duty, abs=0.02)
        pp = found.of("pp")
        assert pp.low <= np.ptp(clean) <= pp.high + 10.0 / 256
        assert found.noise == approx(share * np.ptp(clean), rel=0.15)


def test_the_mean_is_of_whole_periods():
    """Of a square high 30 % of the time, cut off in the middle of a period, the whole trace has another mean."""
    seconds = SECONDS[:1800]
    volts = np.where((seconds * 50.0) % 1.0 < 0.3, 5.0, 0.0)
    assert scope.mean(seconds, volts[None])[0] != approx(1.5, rel=0.02)
    assert measure(captured(volts, seconds), 1).of("dc").value == approx(1.5, rel=0.01)


def test_a_rail_with_noise_does_not_repeat():
    for seed in range(5):
        found = measure(captured(noisy(np.full(POINTS, 5.0), 0.01, seed)), 1)
        assert found.of("frequency") is None
        assert found.periods == 0
        assert found.of("dc").value == approx(5.0, abs=1e-3)
        assert found.of("pp").low < 0.01  # all of it may be noise


@given(st.integers(6, 12), st.floats(0.5, 50.0))
def test_the_step_of_a_converter_is_seen(bits: int, span: float):
    volts = stepped(0.4 * span * np.sin(2.0 * np.pi * 50.0 * SECONDS), -span / 2, span / 2, bits)
    assert step_of(volts) == approx(span / 2**bits, rel=1e-6)


def test_more_different_figures_than_a_converter_has_are_no_steps():
    assert step_of(np.random.default_rng(3).normal(size=9000)) == 0.0
    assert step_of(np.full(50, 1.25)) == 0.0


def test_noise_is_not_mistaken_for_a_slow_shape_or_an_edge():
    assert noise_of(SINE) < 1e-4
    assert noise_of(SQUARE) == 0.0
    assert noise_of(np.arange(5.0)) == 0.0


def test_the_edge_of_the_screen_is_told_from_a_machine_that_limits():
    """At the edge the converter stands still; an amplifier at its rail goes on wobbling by the noise."""
    wobbling = noisy(SINE, 0.03)
    over = measure(captured(stepped(wobbling, 0.5, 4.5)), 1)
    assert over.cut == ("top",)
    assert over.of("pp").high == over.of("dc").high == over.of("top").high == NEVER
    assert over.of("valley").high < NEVER
    both = measure(captured(stepped(wobbling, 1.5, 4.5)), 1)
    assert both.cut == ("bottom", "top")
    assert both.of("dc").low == -NEVER
    limited = measure(captured(stepped(noisy(np.minimum(SINE, 4.5), 0.03), 0.0, 6.0)), 1)
    assert limited.cut == ()
    assert measure(captured(stepped(SINE, 0.5, 4.5)), 1).cut == ()  # nothing wobbles: nobody can tell


def test_cells_beyond_the_screen_say_that_it_cuts():
    assert measure(captured(SINE, beyond=(3, 0)), 1).cut == ("bottom",)
    assert measure(captured(SINE, beyond=(0, 1)), 1).cut == ("top",)


def test_a_single_rise_through_a_level():
    """5 V (1 - exp (-t / 10 ms)) from nought on passes 3 V at 10 ms ln 2.5 = 9.163 ms, and never 5.5 V."""
    charge = np.where(SECONDS > 0.0, 5.0 * (1.0 - np.exp(-np.maximum(SECONDS, 0.0) / 0.01)), 0.0)
    for seed in range(5):
        found = measure(captured(noisy(charge, 0.02, seed)), 1, level=3.0)
        rise = found.of("rise")
        assert rise.value == approx(0.01 * np.log(2.5), abs=4.0 * rise.error)
        assert rise.error < 5e-4
        assert found.periods == 0
    assert measure(captured(charge), 1, level=5.5).of("rise").value == NEVER


def test_a_single_fall_through_a_level():
    """5 V exp (-t / 10 ms) from nought on falls through 2 V at 10 ms ln 2.5 = 9.163 ms, and never through -0.5 V."""
    left = np.where(SECONDS > 0.0, 5.0 * np.exp(-np.maximum(SECONDS, 0.0) / 0.01), 5.0)
    for seed in range(5):
        found = measure(captured(noisy(left, 0.02, seed)), 1, 2.0, "fall")
        fall = found.of("fall")
        assert fall.value == approx(0.01 * np.log(2.5), abs=4.0 * fall.error)
        assert fall.error < 5e-4
        assert found.of("rise") is None
    assert measure(captured(left), 1, -0.5, "fall").of("fall").value == NEVER


def crossings_one_by_one(seconds: np.ndarray, volts: np.ndarray, level: float) -> list[float]:
    """The rule of `scope.crossings` for one trace, point by point."""
    above, needs = volts - level, scope.ARMED * np.ptp(volts)
    armed, found = above[0] < 0.0, []
    for n in range(1, len(volts)):
        hit = armed and above[n] >= 0.0 > above[n - 1]
        if hit:
            share = above[n - 1] / (above[n - 1] - above[n])
            found.append(seconds[n - 1] + share * (seconds[n] - seconds[n - 1]))
        armed = (armed and not hit) or (above[n] <= -needs < 0.0)
    return found


@given(
    st.lists(st.lists(st.integers(-9, 9), min_size=23, max_size=23), min_size=1, max_size=5),
    st.integers(-5, 5).map(lambda one: one + 0.5) | st.integers(-5, 5).map(float),
)
def test_crossings_all_at_once_are_those_one_by_one(rows: list[list[int]], level: float):
    seconds = np.cumsum(np.linspace(0.5, 1.5, 23))
    volts = np.array(rows, float)
    together = scope.crossings(seconds, volts, level)
    for mine, row in zip(together, volts, strict=True):
        alone = crossings_one_by_one(seconds, row, level)
        assert mine[np.isfinite(mine)] == approx(alone)
