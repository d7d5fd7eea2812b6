"""Values that are made: the tables of the standard, the laws by hand, the nearest of all choices."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from probewright.errors import BadInput
from probewright.jobs.added_values import SUMS, values_for
from probewright.planning.preferred import (
    adjusted,
    alone,
    best,
    delay,
    divider,
    gain,
    in_parallel,
    in_series,
    made,
    nearest_two,
    pick,
)
from probewright.units import E24, E96

# IEC 60063:2015, tables of the E24 and E96 series, retyped; the E96 one compared with eight lists of makers and
# programs that name the standard, which agree. Reliability A.
TABLE_E24 = "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"
TABLE_E96 = (
    "100 102 105 107 110 113 115 118 121 124 127 130 133 137 140 143 147 150 154 158 162 165 169 174 "
    "178 182 187 191 196 200 205 210 215 221 226 232 237 243 249 255 261 267 274 280 287 294 301 309 "
    "316 324 332 340 348 357 365 374 383 392 402 412 422 432 442 453 464 475 487 499 511 523 536 549 "
    "562 576 590 604 619 634 649 665 681 698 715 732 750 768 787 806 825 845 866 887 909 931 953 976"
)

ohms = st.floats(20.0, 5e6)
shares = st.floats(0.001, 0.2)


def test_the_series_are_those_of_the_standard():
    assert " ".join(map(str, E24)) == TABLE_E24
    assert " ".join(map(str, E96)) == TABLE_E96


def test_the_older_series_does_not_follow_the_formula():
    """IEC 60063: E24 keeps historical values; eight of them are not the rounded power of ten."""
    formula = [round(10.0 * 10.0 ** (k / 24)) for k in range(24)]
    apart = [one for one, by_formula in zip(E24, formula, strict=True) if one != by_formula]
    assert apart == [27, 30, 33, 36, 39, 43, 47, 82]


def test_values_are_made_in_every_decade_ends_included():
    found = made(E24, 10.0, 10e6)
    assert len(found) == 6 * 24 + 1 and found[0] == 10.0 and found[-1] == 10e6
    assert np.all(np.diff(found) > 0.0)
    assert made(E96, 1e3, 1.1e3).tolist() == [1000.0, 1020.0, 1050.0, 1070.0, 1100.0]


def test_the_laws_are_those_of_the_book():
    """Horowitz and Hill, The Art of Electronics: divider and RC, chapter 1; non-inverting op-amp, chapter 4; regulator of
    1.25 V with two resistors, chapter 9. Data sheets add the current of the adjusting pin, here 50 uA."""
    assert divider(2e3, 1e3) == pytest.approx(1 / 3)
    assert gain(1e3, 10e3) == pytest.approx(11.0)
    assert adjusted(240.0, 720.0) == pytest.approx(5.0 + 0.036)
    assert delay(0.5)(100e3, 1e-6) == pytest.approx(0.1 * math.log(2.0))
    assert delay(1.0 - math.exp(-1.0))(100e3, 1e-6) == pytest.approx(0.1)


@given(ohms, ohms, shares, shares)
def test_the_ends_hold_every_machine_between(one, other, near, far):
    """Of ten thousand pairs inside their tolerances none lies outside, and the ends are reached at the corners."""
    found = pick(divider, (one, other), 0.4, (near, far))
    dice = np.random.default_rng(1)
    upper, lower = (value * dice.uniform(1 - t, 1 + t, 2000) for value, t in ((one, near), (other, far)))
    strayed = divider(upper, lower)
    assert found.low * (1 - 1e-12) <= strayed.min() and strayed.max() <= found.high * (1 + 1e-12)
    assert found.low == pytest.approx(divider(one * (1 + near), other * (1 - far)))
    assert found.high == pytest.approx(divider(one * (1 - near), other * (1 + far)))


@settings(max_examples=25)
@given(st.floats(0.02, 0.98))
def test_nothing_in_the_drawer_is_nearer(target):
    """Against every pair, one by one; those within a tenth of the tolerance count as alike."""
    upper, lower = made(E24, 1e3, 1e4), made(E24, 10.0, 1e6)
    nearest = min(abs(divider(a, b) / target - 1.0) for a in upper for b in lower)
    first = best(divider, [upper, lower], target, (0.01, 0.01))[0]
    assert abs(first.off) <= nearest + 0.1 * 0.01


@pytest.mark.parametrize(("law", "sign"), [(in_series, "in series"), (in_parallel, "in parallel")])
def test_two_that_could_change_places_are_named_once(law, sign):
    drawer = made(E24, 100.0, 1e5)
    found = best(law, [drawer, drawer], 3450.0, (0.05, 0.05))
    assert all(one.values[0] <= one.values[1] for one in found)
    assert len({one.values for one in found}) == len(found) == 3


def test_a_single_value_is_the_nearest_below_or_above():
    found = nearest_two(gain, [10e3], made(E24, 10.0, 1e6), 3.25, (0.01, 0.01), 1)
    assert [one.values for one in found] == [(10e3, 22e3), (10e3, 24e3)]
    assert best(alone, [made(E24, 10.0, 1e6)], 12.3e3, (0.05,))[0].values == (12e3,)


def test_what_is_next_to_exact_is_said_without_digits_that_nobody_needs():
    pairs = values_for("gain", "3.2", "E96").pairs
    assert 0.0 < abs(pairs[2].off) < 1e-4 and "less than 0.1 % off" in pairs[2].says
    single = values_for("gain", "3.2", "E96").single
    assert "+0.31 %" in single[0].says and "exactly" in values_for("divider", "0.4").pairs[0].says


def test_the_spread_of_a_regulator_holds_that_of_its_reference():
    """1.2 to 1.3 V in the data sheets: 4 % more to either side than the resistors alone."""
    with_reference = values_for("adjust", "8V", "E96").pairs[0]
    parts = tuple(with_reference.values.values())
    bare = pick(adjusted, parts, 8.0, (0.01, 0.01))
    assert with_reference.low == pytest.approx(0.96 * bare.low)
    assert with_reference.most == pytest.approx(math.hypot(bare.most, 0.04))


def test_what_is_told_of_the_other_value_counts():
    view = values_for("delay", "100ms", with_="4u7 20%", share="63.2%")
    assert view.single[0].values == {"resistor": 22e3, "capacitor": pytest.approx(4.7e-6)}
    assert view.single[0].high / view.single[0].result == pytest.approx(1.05 * 1.2)


@pytest.mark.parametrize("kind", list(SUMS))
def test_every_sum_answers_in_words(kind):
    target = {"divider": "0.4", "gain": "3.2", "adjust": "8V", "delay": "50ms", "resistor": "12.3k"}[kind]
    view = values_for(kind, target)
    assert view.single and view.pairs
    for one in (*view.single, *view.pairs):
        assert "at the worst" in one.says and one.low <= one.result <= one.high
    assert abs(view.pairs[0].off) <= abs(view.single[0].off) + 0.1 * view.tolerance


@pytest.mark.parametrize(
    ("told", "says"),
    [(("dividr", "0.4"), "no sum"), (("divider", "1.4"), "no divider gives"), (("gain", "0.5"), "no gain gives"),
     (("adjust", "1V"), "no adjust gives"), (("gain", "?"), "not one figure"), (("delay", "5V"), "target"),
     (("gain", "3", "E13"), "no series"), (("gain", "3", "E24", "", "0R"), "with"),
     (("delay", "5ms", "E24", "", "", "120%"), "no part of"), (("divider", "0.4", "E24", "100%"), "100 % or more"),
     (("resistor", "12.3k", "E24", "150%"), "100 % or more"), (("delay", "5ms", "E24", "", "1u 150%"), "100 % or more")],
)  # fmt: skip
def test_what_cannot_be_is_refused(told, says):
    with pytest.raises(BadInput, match=says):
        values_for(*told)
