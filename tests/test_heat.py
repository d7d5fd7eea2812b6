"""Heat of a part without its heatsink: closed forms, and bursts that never exceed its limit.

The ladder here is our own, of many sections stepped by backward Euler, and knows nothing of the closed forms.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pytest import approx

from probewright.inference.belief import Extremes
from probewright.machine.model import Heat
from probewright.machine.packages import CLIP, band, packages
from probewright.planning.bursts import SWITCH, Hot, burst, told_or_reckoned
from probewright.planning.heat import (
    AIR,
    PAIN,
    PAIN_SD,
    THERMOMETER_SD,
    Body,
    Path,
    Warmth,
    bare,
    clipped,
    with_finger,
    with_thermometer,
)
from probewright.readings.cooling import Bare

WATTS = 2.4  # of the worked rows: (9 V - 5 V) at 0.6 A


def to(path: Path, limit: float, watts: float = WATTS, air: float = AIR) -> float:
    """Seconds until a cold junction stands at `limit` °C."""
    return path.until((0.0,) * len(path.ohms), watts, limit - air - watts * path.to_case)


# Worked rows -------------------------------------------------------------------------------------


# Worked by T(t) = Ta + P thJC + P (thJA - thJC) (1 - exp(-t / tau)), tau = (thJA - 5) x 1.0 J/K, with P 2.4 W, Ta 25 °C:
# thJA of L7800 (STMicroelectronics rev 12, 50), LM340 note 3 (54), default (60), KA78XX (65), no sink.
@pytest.mark.parametrize(
    ("to_air", "settles", "to_125", "to_150"),
    [(50, 145.0, 75.9, math.inf), (54, 154.6, 67.6, 158.8), (60, 169.0, 60.4, 106.6), (65, 181.0, 56.7, 92.1)],
)
def test_a_bare_regulator_agrees_with_the_worked_rows(
    to_air: float, settles: float, to_125: float, to_150: float
) -> None:
    path = Path(5.0, (to_air - 5.0,), (1.0,))
    assert AIR + path.steady(WATTS)[0] + 5.0 * WATTS == approx(settles)
    assert to(path, 125.0) == approx(to_125, abs=0.05)
    assert to(path, 150.0) == approx(to_150, abs=0.05)


# A ladder of three sections (0.0022 J/K - 3.5 K/W - 0.1 J/K - 1.5 K/W - rest), integrated by LSODA: thJA 65, heat
# capacity 0.7, 1.0, 1.4 J/K. There a tenth of a J/K stands up to 1.5 K/W times the watts above the case, which takes
# heat that the two-stage form has not to find: it is early, by about that heat over the watts that the air does not take.
@pytest.mark.parametrize(("capacity", "to_125", "to_150"), [(0.7, 40.1, 65.0), (1.0, 57.1, 92.7), (1.4, 79.8, 129.5)])
def test_it_agrees_with_a_ladder_of_three_sections(capacity: float, to_125: float, to_150: float) -> None:
    path = Path(5.0, (60.0,), (capacity,))
    for limit, seconds in ((125.0, to_125), (150.0, to_150)):
        early = 0.1 * 1.5 * WATTS / (WATTS - (limit - AIR - 5.0 * WATTS) / 60.0)
        assert seconds - 1.5 * early < to(path, limit) <= seconds


# The same ladder with the regulator's own 5 mA at 9 V: 2.445 W.
def test_its_own_current_counts() -> None:
    path = Path(5.0, (60.0,), (1.0,))
    assert AIR + path.steady(2.445)[0] + 5.0 * 2.445 == approx(183.9, abs=0.05)
    assert to(path, 125.0, 2.445) == approx(55.2, rel=0.01)
    assert to(path, 150.0, 2.445) == approx(88.4, rel=0.01)


# One pole for the whole path: -65 ln(1 - 100 / 156), -65 ln(1 - 125 / 156).
def test_one_pole_agrees_with_the_logarithm() -> None:
    path = Path(0.0, (65.0,), (1.0,))
    assert (to(path, 125.0), to(path, 150.0)) == (approx(66.6, abs=0.05), approx(105.0, abs=0.05))


# Time constants: 55 K/W x 1.0 J/K, and 20 K/W x (8 g x 0.897 + 1.0) J/K with the sink's own resistance 1 K/W: the junction
# settles at 25 + 2.4 (20 + 1 + 5) °C.
def test_time_constants_of_a_bare_case_and_of_one_on_a_sink() -> None:
    alone = Path(5.0, (55.0,), (1.0,))
    assert alone.after((100.0,), 0.0, 55.0)[0] == approx(100.0 / math.e)
    sunk = Path(5.0, (1.0, 20.0), (1.0, 8.0 * 0.897))
    assert AIR + sunk.steady(WATTS)[0] + 5.0 * WATTS == approx(87.4)
    late = sunk.after((0.0, 0.0), WATTS, 400.0), sunk.after((0.0, 0.0), WATTS, 564.0)
    left = [sunk.steady(WATTS)[0] - one[0] for one in late]
    assert left[1] / left[0] == approx(1.0 / math.e, rel=0.01)


# Worked texts: 4.5 W x 54 K/W over 25 °C; 1.25 W behind 13 ohm; a heatsink maker's tutorial, 2.78 W x 62 K/W over 50 °C.
@pytest.mark.parametrize(
    ("watts", "to_air", "air", "celsius"),
    [(4.5, 54.0, 25.0, 268.0), (1.25, 54.0, 25.0, 92.5), (2.78, 62.0, 50.0, 222.0)],
)
def test_the_junction_settles_where_worked_texts_say(watts: float, to_air: float, air: float, celsius: float) -> None:
    path = Path(4.0, (to_air - 4.0,), (1.0,))
    assert air + path.steady(watts)[0] + 4.0 * watts == approx(celsius, abs=0.5)


# Cauer ladder of a power MOSFET die (FDB3632-F085, ON Semiconductor data sheet, SPICE thermal model), case held still:
# K/W after 1 ms, 10 ms, 100 ms, 1 s.
def test_a_ladder_of_six_stages_agrees_with_a_published_one() -> None:
    ohms = (0.00031, 0.0025, 0.022, 0.081, 0.135, 0.15)
    path = Path(0.0, ohms, (0.0075, 0.008, 0.009, 0.024, 0.034, 0.065))
    for seconds, rise in ((1e-3, 0.02656), (1e-2, 0.13389), (0.1, 0.37604), (1.0, 0.39081)):
        assert path.after((0.0,) * 6, 1.0, seconds)[0] == approx(rise, rel=2e-3)


# Our own ladder ----------------------------------------------------------------------------------

DIE = 0.0022  # J/K of a die of 2 x 2.2 x 0.3 mm: 1.32 mm3 x 2.33 g/cm3 x 0.71 J/gK
TAB = 0.1  # J/K of what warms with the die before the rest of the case does: as in the ladder of three sections


class Ladder:
    """Junction, `count` sections to the case, the case, perhaps a sink, the air; all K above the air.

    Backward Euler: never above the true course while it warms from rest, by the concavity of that, but by its own
    truncation; steps are short enough for that to stay below 0.2 K, see the test of steps.
    """

    def __init__(self, to_case: float, ohms: Sequence[float], capacity: Sequence[float], count: int = 7) -> None:
        self.ohms = [*([to_case / count] * count), *ohms]
        masses = [DIE, *([TAB / count] * (count - 1)), *capacity]
        masses[count] = max(masses[count] - TAB - DIE, 0.5 * masses[count])
        self.masses, self.at = np.array(masses), np.zeros(len(masses))

    def run(self, watts: float, seconds: float, step: float = 0.05) -> float:
        """The highest the junction gets."""
        count = len(self.masses)
        matrix = np.diag(self.masses / step)
        for n, ohms in enumerate(self.ohms):
            matrix[n, n] += 1.0 / ohms
            if n + 1 < count:
                matrix[n + 1, n + 1] += 1.0 / ohms
                matrix[n, n + 1] -= 1.0 / ohms
                matrix[n + 1, n] -= 1.0 / ohms
        inverse, push = np.linalg.inv(matrix), np.zeros(count)
        push[0] = watts
        top = float(self.at[0])
        for _ in range(math.ceil(seconds / step)):
            self.at = inverse @ (self.masses / step * self.at + push)
            top = max(top, float(self.at[0]))
        return top


@pytest.mark.parametrize(("ohms", "capacity"), [((55.0,), (1.0,)), ((1.5, 20.0), (1.0, 7.2))], ids=["bare", "clip-on"])
def test_bursts_and_pauses_agree_with_a_ladder_of_many_sections(
    ohms: Sequence[float], capacity: Sequence[float]
) -> None:
    """Within 3 % of the rise of the hottest burst: the sections carry a tenth of the capacity ahead of the case."""
    path, ladder = Path(5.0, tuple(ohms), tuple(capacity)), Ladder(5.0, ohms, capacity)
    rises = np.zeros(len(ohms))
    largest = 0.0
    for watts, seconds in ((3.0, 20.0), (0.0, 31.0), (4.5, 12.0), (0.0, 90.0), (1.2, 77.0), (2.0, 5.0)):
        rises = path.after(rises, watts, seconds)
        ladder.run(watts, seconds)
        largest = max(largest, rises[0] + 5.0 * watts)
        assert rises[0] + 5.0 * watts == approx(ladder.at[0], abs=0.03 * largest), (watts, seconds)
    assert largest > 35.0


def test_steps_of_the_ladder_are_short_enough() -> None:
    tops = [Ladder(5.0, (55.0,), (1.0,)).run(4.0, 25.0, step) for step in (0.05, 0.005)]
    assert tops[0] == approx(tops[1], abs=0.2)


# Seconds and pauses ------------------------------------------------------------------------------

RISES = st.floats(0.0, 90.0)
STAGES = st.sampled_from([1, 2])


@given(stages=STAGES, data=st.data(), watts=st.floats(0.05, 12.0), rise=st.floats(1.0, 120.0))
def test_until_is_the_first_time_that_the_case_stands_so_high(
    stages: int, data: st.DataObject, watts: float, rise: float
) -> None:
    path = Path(5.0, (55.0,), (1.0,)) if stages == 1 else Path(5.0, (1.5, 20.0), (1.0, 7.2))
    rises = tuple(data.draw(RISES) for _ in range(stages))
    seconds = path.until(rises, watts, rise)
    course = [path.after(rises, watts, one)[0] for one in np.linspace(0.0, min(seconds, 2000.0), 73)]
    assert max(course[:-1] if seconds < math.inf else course) < rise + 1e-3 or seconds == 0.0
    if 0.0 < seconds < math.inf:
        assert path.after(rises, watts, seconds)[0] == approx(rise, abs=1e-3)


def test_a_case_beside_a_hot_sink_warms_without_watts() -> None:
    path = Path(5.0, (1.5, 20.0), (1.0, 7.2))
    seconds = path.until((0.0, 60.0), 0.0, 40.0)
    assert 0.5 < seconds < 10.0
    assert path.until((0.0, 60.0), 0.0, 60.0) == math.inf


CASES = [*packages(), CLIP]


def body_of(case: str) -> Body:
    return clipped("TO-220") if case == CLIP else bare(case)


def some_of(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high)


@st.composite
def real_ones(draw: st.DrawFn, case: str) -> Path:
    """A part as it may really be: every figure anywhere in its band."""
    package = "TO-220" if case == CLIP else case
    within = {name: draw(some_of(band(package, name).low, band(package, name).high)) for name in
              ("junction to case", "junction to air", "heat capacity")}  # fmt: skip
    if case == CLIP:
        pad, sink, mass = (draw(some_of(band(CLIP, n).low, band(CLIP, n).high)) for n in ("case to sink", "to air", "heat capacity"))  # fmt: skip
        return Path(within["junction to case"], (pad, sink), (within["heat capacity"], mass))
    ohms = within["junction to air"] - within["junction to case"]
    return Path(within["junction to case"], (ohms,), (within["heat capacity"],))


def hot_one(case: str, worst: float) -> Hot:
    body = body_of(case)
    return Hot("U1", case, 0.0, body, 0.5 * worst, worst, 0, True)


@pytest.mark.parametrize("case", packages())
@given(data=st.data())
def test_the_worst_bounds_every_part_whose_figures_lie_in_their_bands(case: str, data: st.DataObject) -> None:
    true, body = data.draw(real_ones(case)), body_of(case)
    warmth, rises = body.cold, np.zeros(1)
    for _ in range(data.draw(st.integers(1, 6))):
        worst, seconds = data.draw(st.sampled_from([0.0, 0.7, 2.4, 9.0])), data.draw(st.floats(0.1, 400.0))
        rises = true.after(rises, worst * data.draw(st.floats(0.0, 1.0)), seconds)
        warmth = body.after(warmth, 0.5 * worst, worst, seconds)
        assert rises[0] <= warmth.worst[0] + 1e-6
        assert warmth.likely[0] <= warmth.worst[0]


@pytest.mark.parametrize("case", CASES)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_no_row_of_bursts_that_the_plan_allows_gets_a_part_too_hot(case: str, data: st.DataObject) -> None:
    """The hand does the worst that the plan allows: it waits no longer than it is told, switches off late by all that a
    hand may take, and the part is any in its bands with any watts up to the worst. A true ladder of many sections stays
    below the limit; 0.2 K are left for the steps of the ladder."""
    worst = data.draw(st.floats(0.3, 14.0) if case != "TO-92" else st.floats(0.1, 1.0))
    true, hot = data.draw(real_ones(case)), hot_one(case, worst)
    need = data.draw(st.sampled_from([4.0, 15.0, 60.0]))
    ladder, warmth = Ladder(true.to_case, true.ohms, true.capacity), hot.body.cold
    bursts = 0
    for _ in range(data.draw(st.integers(1, 7))):
        idle = data.draw(st.sampled_from([0.0, 3.0, 40.0, 300.0]))
        ladder.run(0.0, idle, 0.1)
        warmth = hot.body.after(warmth, 0.0, 0.0, idle)
        next_one = burst((hot,), (warmth,), need)
        if next_one.wait == math.inf:
            break
        ladder.run(0.0, next_one.wait, 0.1)
        warmth = hot.body.after(warmth, 0.0, 0.0, next_one.wait)
        spent = min(next_one.seconds, 500.0) * data.draw(st.sampled_from([0.2, 1.0]))
        late = SWITCH if spent >= next_one.seconds else 0.0
        assert spent + late <= 0.2 * next_one.seconds + SWITCH or next_one.seconds >= need
        top = ladder.run(worst * data.draw(st.sampled_from([0.3, 1.0])), spent + late)
        warmth = hot.body.after(warmth, hot.likely, worst, spent + late)
        bursts += 1
        assert AIR + top <= hot.body.limit + 0.2, (next_one, spent)
    assume(bursts or hot.body.seconds(hot.body.cold, worst) < need + SWITCH)


def test_the_plan_uses_the_time_there_is() -> None:
    """A limit that is never met would be no plan: a part at the worst of its bands comes within a kelvin of it."""
    hot = hot_one("TO-220", 2.4)
    next_one = burst((hot,), (hot.body.cold,), 15.0)
    hottest = hot.body.corners[0]
    top = hottest.after((0.0,), 2.4, next_one.seconds + SWITCH)[0] + 2.4 * hottest.to_case
    assert AIR + top == approx(hot.body.limit, abs=3.0)
    assert AIR + top <= hot.body.limit
    assert next_one.seconds == math.floor(next_one.seconds) > 15.0


def test_heat_is_carried_from_burst_to_burst() -> None:
    hot = hot_one("TO-220", 2.4)
    first = burst((hot,), (hot.body.cold,), 15.0)
    warm = hot.body.after(hot.body.cold, hot.likely, hot.worst, first.seconds)
    second = burst((hot,), (warm,), 15.0)
    assert first.wait == 0.0
    assert second.wait == first.again > 10.0
    assert second.seconds < first.seconds
    cooler = burst((hot,), (hot.body.after(warm, 0.0, 0.0, 60.0),), 15.0)
    assert second.seconds <= cooler.seconds < first.seconds
    assert cooler.wait < second.wait


def test_what_gets_too_hot_at_once_may_never_run_and_what_stays_cool_may_for_ever() -> None:
    assert burst((hot_one("TO-220", 25.0),), (body_of("TO-220").cold,), 2.0).wait == math.inf
    free = burst((hot_one("TO-220", 0.5),), (body_of("TO-220").cold,), 60.0)
    assert (free.seconds, free.wait, free.again) == (math.inf, 0.0, 0.0)


def test_of_two_hot_parts_the_sooner_one_counts() -> None:
    slow, quick = hot_one("TO-220", 2.0), hot_one("TO-220", 4.0)
    cold = (slow.body.cold, quick.body.cold)
    assert burst((slow, quick), cold, 5.0).seconds == burst((quick,), cold[1:], 5.0).seconds
    assert burst((slow, quick), cold, 5.0).seconds < burst((slow,), cold[:1], 5.0).seconds


def test_what_the_file_says_of_the_path_and_the_limit_counts() -> None:
    told = bare("TO-220", Heat(bare=40.0, limit=150.0))
    assert told.limit == bare("TO-220").limit + 25.0
    assert told.settles(2.0) < bare("TO-220").settles(2.0)
    better = clipped("TO-220", 5.0)
    assert better.settles(5.0) < clipped("TO-220").settles(5.0) < bare("TO-220").settles(5.0)


# Watts that somebody told -------------------------------------------------------------------------


def test_told_watts_count_where_nothing_was_reckoned_or_less() -> None:
    body, reckoned, nobody = body_of("TO-220"), Extremes(1.0, 2.0, 7, 0.9), Extremes(0.0, 0.0, -1, 0.0)
    for watts, found, worst, suspect, known in (
        (None, reckoned, 2.0, 7, True), (1.5, reckoned, 2.0, 7, True), (3.0, reckoned, 3.0, -1, True),
        (1.5, nobody, 1.5, -1, True), (None, nobody, 0.0, -1, False),
    ):  # fmt: skip
        hot = told_or_reckoned(Bare("U1", 0.0, watts), "TO-220", body, found)
        assert (hot.worst, hot.suspect, hot.known) == (worst, suspect, known)
    assert hot.seconds(body.cold) == 0.0


# Fingers and thermometers -------------------------------------------------------------------------


def by_grid(warmth: Warmth, likelihood) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    """Mean and standard deviation of the case after something was said, summed on a fine grid."""
    celsius = np.linspace(-100.0, 400.0, 500_001)
    sd = max((warmth.worst[0] - warmth.likely[0]) / 2.0, 2.0)
    weight = np.exp(-0.5 * ((celsius - warmth.case) / sd) ** 2) * likelihood(celsius)
    weight /= weight.sum()
    mean = float(np.sum(weight * celsius))
    return mean, math.sqrt(float(np.sum(weight * (celsius - mean) ** 2)))


WARMTHS = st.builds(
    lambda likely, more: Warmth((likely,), (likely + more,)), st.floats(0.0, 80.0), st.floats(0.0, 60.0)
)


@given(warmth=WARMTHS, borne=st.booleans())
def test_a_finger_says_as_much_as_bayes_does(warmth: Warmth, borne: bool) -> None:
    side = -1.0 if borne else 1.0
    erf = np.vectorize(math.erf)
    mean, sd = by_grid(warmth, lambda c: 0.5 * (1.0 + side * erf((c - PAIN) / PAIN_SD / math.sqrt(2.0))))
    assume(mean > AIR + 1.0)  # nothing lies below the air
    after = with_finger(warmth, borne)
    assert after.case == approx(mean, abs=0.05)
    assert after.worst_case == approx(mean + 2.0 * sd, abs=0.2)
    assert (after.case <= warmth.case) if borne else (after.case >= warmth.case)


test_a_finger_says_as_much_as_bayes_does = settings(max_examples=12, deadline=None)(
    test_a_finger_says_as_much_as_bayes_does
)


@given(warmth=WARMTHS, celsius=st.floats(30.0, 120.0))
@settings(max_examples=12, deadline=None)
def test_a_thermometer_says_as_much_as_bayes_does(warmth: Warmth, celsius: float) -> None:
    mean, sd = by_grid(warmth, lambda c: np.exp(-0.5 * ((c - celsius) / THERMOMETER_SD) ** 2))
    after = with_thermometer(warmth, celsius)
    assert after.case == approx(mean, abs=0.05)
    assert after.worst_case == approx(mean + 2.0 * sd, abs=0.1)


def test_what_was_felt_changes_how_long_it_may_run() -> None:
    hot = hot_one("TO-220", 2.4)
    warm = hot.body.after(hot.body.cold, hot.likely, hot.worst, 20.0)
    seconds = {said: hot.seconds(with_finger(warm, said)) for said in (True, False)}
    assert seconds[True] > hot.seconds(warm) > seconds[False]
    assert hot.seconds(with_thermometer(warm, 30.0)) > hot.seconds(with_thermometer(warm, 80.0))


def test_a_sink_behind_the_case_moves_with_what_was_felt() -> None:
    body = clipped("TO-220")
    warm = body.after(body.cold, 4.0, 6.0, 100.0)
    cooler = with_thermometer(warm, AIR + 0.5 * warm.likely[0])
    assert cooler.likely[1] / cooler.likely[0] == approx(warm.likely[1] / warm.likely[0])


# The table ----------------------------------------------------------------------------------------


def test_every_row_of_the_table_has_a_source_and_a_band() -> None:
    text = files("probewright.machine").joinpath("data/packages.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert len(rows) == 4 * len(packages()) + 3
    for row in rows:
        assert row["source"] and row["reliability"] in "ABCD"
        assert 0.0 < float(row["low"]) <= float(row["usual"]) <= float(row["high"])


def test_a_body_of_every_package_has_its_limit_and_a_worse_corner() -> None:
    for package in packages():
        body = bare(package)
        assert body.settles(1.0) >= body.about(1.0) > AIR
        assert replace(body, limit=0.0).limit < body.limit
