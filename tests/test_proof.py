"""How surely a repair holds, against tables that others printed or that follow from closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from probewright.planning.proof import (
    highest_chance,
    highest_rate,
    hours_needed,
    passes_hours,
    passes_tries,
    tries_at,
    tries_needed,
)  # fmt: skip

# No event in n trials, one-sided 95 %: exact 1 - 0.05^(1/n); beside it the rule of three, Jovanovic and Levy,
# The American Statistician 51 (1997).
NONE_SEEN = {5: 0.4507, 10: 0.2589, 20: 0.1391, 30: 0.0950, 50: 0.0582, 59: 0.0495, 100: 0.0295, 300: 0.0099}
# Upper one-sided 95 % bounds: Beta(0.95; k + 1, n - k), Clopper and Pearson, Biometrika 26 (1934)
CLOPPER_PEARSON = {(1, 10): 0.3942, (2, 10): 0.5069, (5, 10): 0.7776, (1, 20): 0.2161, (3, 20): 0.3437, (1, 50): 0.0914,
                   (3, 50): 0.1478, (5, 100): 0.1023}  # fmt: skip
# Clean trials before an intermittent of chance p counts as cured, n = ln(1 - sure) / ln(1 - p), rounded up
CYCLES = {
    0.5: (4, 5, 7),
    0.3: (7, 9, 13),
    0.2: (11, 14, 21),
    0.1: (22, 29, 44),
    0.05: (45, 59, 90),
    0.01: (230, 299, 459),
}
# Test time over the mean time between failures to be shown, by failures seen: chi-square(sure; 2 r + 2) / 2, IEC 61124
MTBF = {0.6: (0.9163, 2.0223, 3.1054, 4.1753), 0.8: (1.6094, 2.9943, 4.2790, 5.5150), 0.9: (2.3026, 3.8897, 5.3223, 6.6808),
        0.95: (2.9957, 4.7439, 6.2958, 7.7537), 0.99: (4.6052, 6.6384, 8.4059, 10.0451)}  # fmt: skip


@pytest.mark.parametrize("tries, bound", NONE_SEEN.items())
def test_none_seen_leaves_open_what_the_tables_say(tries, bound):
    assert highest_chance(0, tries) == pytest.approx(bound, abs=6e-5)
    assert highest_chance(0, tries) <= 3.0 / tries  # the rule of three is on the safe side


@pytest.mark.parametrize("seen, bound", CLOPPER_PEARSON.items())
def test_some_seen_leave_open_what_the_tables_say(seen, bound):
    assert highest_chance(*seen) == pytest.approx(bound, abs=6e-5)
    assert highest_chance(seen[1], seen[1]) == 1.0


@pytest.mark.parametrize("chance, tries", CYCLES.items())
def test_clean_tries_where_the_chance_is_known(chance, tries):
    assert tuple(tries_at(chance, sure) for sure in (0.9, 0.95, 0.99)) == tries


@pytest.mark.parametrize("sure, times", MTBF.items())
def test_a_rate_that_is_not_ruled_out(sure, times):
    for seen, factor in enumerate(times):
        assert 7.0 * highest_rate(seen, 7.0, sure) == pytest.approx(factor, abs=6e-5)  # as printed, four places


def test_what_an_uncured_machine_passes_is_the_mean_over_every_chance_left_open():
    """Against the integral itself, by Simpson's rule on 0..1; beta law of 3 in 10 tries."""
    p = np.linspace(0.0, 1.0, 20001)[1:-1]
    law = p ** (3 - 0.5) * (1 - p) ** (7 - 0.5)
    for clean in (0, 1, 6, 25):
        assert passes_tries(3, 10, clean) == pytest.approx(
            float(np.sum(law * (1 - p) ** clean) / np.sum(law)), rel=1e-4
        )
    rate = np.linspace(0.0, 20.0, 400001)[1:]
    law = rate ** (2 - 0.5) * np.exp(-rate * 5.0)
    for clean in (0.0, 0.7, 12.0):
        mean = float(np.sum(law * np.exp(-rate * clean)) / np.sum(law))
        assert passes_hours(2, 5.0, clean) == pytest.approx(mean, rel=1e-4)


def test_needed_is_the_least_that_is_enough():
    for seen, tries in ((1, 3), (3, 10), (1, 40), (9, 10), (5, 5)):
        needed = tries_needed(seen, tries)
        assert passes_tries(seen, tries, needed) <= 0.05 < passes_tries(seen, tries, needed - 1)
    assert passes_hours(3, 6.0, hours_needed(3, 6.0)) == pytest.approx(0.05)


def test_what_was_seen_often_needs_what_a_known_chance_needs_and_little_seen_needs_more():
    assert tries_needed(300, 1000) == tries_at(0.3) == 9
    assert tries_needed(3, 10) > tries_at(0.3)
    assert hours_needed(300, 600.0) == pytest.approx(2.0 * -math.log(0.05), rel=0.01)  # every 2 h: 6 h
    assert hours_needed(3, 6.0) > 6.0
    assert tries_needed(0, 10) > 1000  # what was never seen is not proven by a few tries
