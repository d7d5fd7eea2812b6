"""The power clock: what it says of a part that is warm, and what stands before a card that asks for care."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from pytest import approx

from probewright.inference.belief import Extremes
from probewright.jobs.clock import State, clock_of, open_clock
from probewright.jobs.heat_words import at_least, at_most, heat_view
from probewright.jobs.view import BurstView, ClockView, SpellView
from probewright.jobs.warming import _from_here
from probewright.planning.bursts import Allowance, body_of, told_or_reckoned
from probewright.planning.minutes import minutes
from probewright.readings import Setup
from probewright.readings.cooling import Bare
from probewright.readings.kit import UNTOLD
from probewright.web import setting
from probewright.web.clock import BLOCKS, clock, figure, off_line

NOW = "2026-11-26T10:00:00+00:00"
AT = datetime.fromisoformat(NOW).timestamp()
WATTS = 2.4
NEED = 60.0 * minutes("burst meter")


def stamp(seconds: float) -> str:
    return (datetime.fromisoformat(NOW) + timedelta(seconds=seconds)).isoformat(timespec="seconds")


def state(watts: float | None, *past: SpellView, on: bool = False, warm: float = 0.0) -> State:
    """A bare regulator with so many watts told, warmed for so many seconds."""
    one = Bare("U1", 0.0, watts)
    hot = told_or_reckoned(one, *body_of(None, one), Extremes(0.0, 0.0, -1, 0.0))
    warmth = hot.body.after(hot.body.cold, watts or 0.0, watts or 0.0, warm)
    left = hot.seconds(warmth)
    left = left if left == math.inf else float(math.floor(left))
    return replace(heat_view(hot, "", None, UNTOLD), past=past, on=on, left=left), hot, warmth


def spell(seconds: float, on: bool, watts: float = WATTS) -> SpellView:
    return SpellView(stamp(seconds), on, watts if on else 0.0, watts if on else 0.0, 0.0)


def test_no_clock_where_no_limit_is_near() -> None:
    assert clock_of([state(0.1)], None, NOW) is None and clock_of([], None, NOW) is None


def test_the_power_may_stay_on_as_long_as_heat_leaves_and_then_it_cools_as_long_as_that_takes() -> None:
    one = state(WATTS, spell(-600, False), spell(-10, True), on=True, warm=10.0)
    view = clock_of([one], None, NOW)
    heat, hot, warmth = one
    assert view is not None and view.state == "running" and view.since == stamp(-10)
    assert view.until == stamp(heat.left) and 0.0 < heat.left < 100.0
    end = hot.body.after(warmth, WATTS, WATTS, heat.left)
    for sooner, allowed in ((0.0, True), (3.0, False)):
        cooled = hot.body.after(end, 0.0, 0.0, view.then - sooner)
        assert (hot.seconds(cooled) >= NEED) == allowed


def test_when_the_time_is_up_it_says_so_and_still_how_long_it_cools() -> None:
    view = clock_of([state(WATTS, spell(-300, True), on=True, warm=300.0)], None, NOW)
    assert view is not None and view.state == "over" and view.until == NOW and view.then > 60.0
    assert "limit by the clock" in view.says


def test_of_two_hot_parts_the_sooner_one_counts() -> None:
    past = (spell(-5, True),)
    both = [state(WATTS, *past, on=True, warm=5.0), state(1.5 * WATTS, *past, on=True, warm=5.0)]
    view = clock_of(both, None, NOW)
    assert view is not None and view.until == stamp(both[1][0].left) and both[1][0].left < both[0][0].left


def test_off_it_may_come_on_or_must_wait_as_the_step_does() -> None:
    cold, warm = state(WATTS), state(WATTS, spell(-100, True), spell(-1, False), warm=60.0)
    ready = clock_of([cold], None, NOW)
    assert ready is not None and (ready.state, ready.since) == ("ready", "") and 0.0 < ready.then <= cold[0].cold
    cooling = clock_of([warm], None, NOW)
    assert cooling is not None and cooling.state == "cooling" and cooling.since == stamp(-1)
    step = BurstView(40.0, 90.0, 200.0, True, ("U1",), (WATTS,), "", 15.0)
    told = clock_of([warm], step, NOW)
    assert told is not None and told.until == stamp(90.0) and told.then == 40.0
    never = clock_of([cold], replace(step, wait=math.inf, seconds=0.0), NOW)
    assert never is not None and never.state == "never" and never.until == ""


def test_where_nobody_knows_the_watts_there_is_no_end() -> None:
    for on in (True, False):
        view = clock_of([state(None, spell(-20, on), on=on)], None, NOW)
        assert view is not None and (view.state, view.until) == ("unknown", "")
        assert view.since == (stamp(-20) if on else "") and ("switch off" in view.says) == on
    waiting = open_clock(["U1"], [spell(-30, False), spell(-20, True), spell(-10, True)], NOW)
    assert (waiting.state, waiting.since) == ("open", stamp(-20))


# As the page lays it out ----------------------------------------------------------------------------


def shown(at: float = 0.0, **told: object):  # type: ignore[no-untyped-def]
    view = ClockView("running", ("U1",), NOW, stamp(-10), stamp(30), 120.0, "left", "over")
    return clock(replace(view, **told), Setup(), "", AT + at)  # type: ignore[arg-type]


def test_figure_and_blocks_run_out_together_and_never_show_too_much() -> None:
    seen = [shown(at) for at in (0.0, 0.4, 10.0, 20.0, 29.6)]
    assert [one.figure for one in seen] == ["0:30", "0:29", "0:20", "0:10", "0:00"]
    assert [one.full for one in seen] == [9, 9, 6, 3, 1] and BLOCKS == 12
    assert all(one.last and one.on and not one.must_end for one in seen)
    assert not shown(-1.0).last and figure(125.9) == "2:05" and figure(-3.0) == "0:00"


def test_a_page_made_after_the_end_says_that_it_is_over() -> None:
    late = shown(31.0)
    assert (late.state, late.figure, late.full, late.says) == ("over", "0:00", 0, "over") and late.must_end


def test_the_button_says_what_the_key_does_next() -> None:
    assert shown().button == "Power is off" and shown().line == off_line(Setup())
    ready = shown(state="ready", since="", until="", then=25.0)
    assert (ready.button, ready.figure, ready.full, ready.on) == ("Power is on", "0:25", 12, False)
    assert "power on" in ready.line and shown(state="cooling").button == ""
    fed = Setup(power="off", supplied=(("V5", 5.0, 0.5),))
    assert "supply" not in off_line(fed) and off_line(fed).startswith("set-up: power off")


def test_the_time_of_day_is_that_of_this_computer() -> None:
    local = datetime.fromtimestamp(AT + 30.0, UTC).astimezone().strftime("%H:%M:%S")
    assert shown().by.startswith(f"Off by {local}, on again from ")
    assert shown(state="unknown", until="").by.startswith("On since ")
    assert shown(then=math.inf).by == f"Off by {local}." and shown(then=math.inf).then == ""
    assert float(shown().until) == approx(1000.0 * (AT + 30.0))


# Steps before a reading -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("now", "there", "emptied", "clip", "expected"),
    [
        pytest.param("on", "off", ("E",), "", [setting.POWER_OUT, "E"], id="off, then emptied"),
        pytest.param("off", "off", ("E",), "", ["E"], id="off already, still charged"),
        pytest.param("on", "off", (), "", [setting.POWER_FIRST["off"]], id="nothing charged that was reckoned"),
        pytest.param("off", "on", (), "C", ["C", setting.POWER_FIRST["on"]], id="clips before the power"),
        pytest.param("on", "on", (), "C", [setting.POWER_FIRST["off"], "C", setting.POWER_FIRST["on"]], id="no clip is fitted live"),
        pytest.param("on", "on", (), "", [], id="as it stands"),
    ],
)  # fmt: skip
def test_clips_and_iron_only_with_the_power_off(
    now: str, there: str, emptied: tuple[str, ...], clip: str, expected: list[str]
) -> None:
    assert list(setting.steps(Setup(power=now), Setup(power=there), None, emptied, clip)) == expected


def test_a_card_says_its_seconds_as_the_clock_shows_them() -> None:
    for seconds in (45.9, 119.4, 120.0, 214.7, 599.2, 1507.8):
        whole, rest = map(int, figure(seconds).split(":"))
        shown = 60 * whole + rest
        said = [int(one) for one in at_most(seconds).split() if one.isdecimal()]
        assert at_most(seconds).endswith(("s", "min"))
        assert (said[0] if shown < 120 else 60 * said[0] + sum(said[1:])) == shown
    assert (at_most(214.7), at_most(240.0), at_least(213.1)) == ("3 min 34 s", "4 min", "3 min 34 s")


def test_with_the_power_on_a_card_leaves_no_longer_than_the_clock() -> None:
    running = state(WATTS, spell(-10, True), on=True, warm=10.0)
    heat, hot, _ = running
    cooler = Allowance((replace(hot, worst=0.6 * WATTS),), 1.0, False)  # the step itself would heat it less
    wait, said = _from_here(cooler, [running])
    assert wait == 0.0 and said is not None and said.seconds == heat.left
    view = clock_of([running], said, NOW)
    assert view is not None and view.until == stamp(said.seconds) and at_most(said.seconds) in said.says
