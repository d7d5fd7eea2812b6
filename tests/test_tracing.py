"""What would be seen at a place: sound machines and suspects in one run, drawn as an oscilloscope triggers."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from pytest import approx

import timed_machines as made_up
from probewright.jobs.searching import look, open_search
from probewright.jobs.tracing import Shows, from_trigger, stretch, would_show
from probewright.jobs.view import SuspectView
from probewright.machine import Machine
from probewright.readings import Question, Setup
from probewright.simulation import scope


@cache
def listed(text: str) -> tuple[Machine, dict[str, SuspectView]]:
    machine = made_up.read(text)
    return machine, {one.id: one for one in look(open_search(machine)).suspects}


def seen(text: str, place: str, stimulus: str, *ids: str, instrument: str = "pp") -> Shows:
    machine, suspects = listed(text)
    ask = Question(instrument, place, setup=replace(Setup(), power="on", stimulus=stimulus))
    found = would_show(machine, ask, [suspects[one] for one in ids])
    assert found is not None
    return found


def swing(volts: tuple[float, ...]) -> float:
    return max(volts) - min(volts)


def test_the_ripple_of_a_sound_supply_and_of_a_dried_reservoir():
    """Ripple of a full-wave supply at 50 Hz repeats after 10 ms; a smaller reservoir has more of it (V = I t / C)."""
    found = seen(made_up.SUPPLY, "RAW", "run", "C1 low-value", "D1 open-ac1-plus")
    assert found.period == approx(0.02)
    assert found.healthy.seconds[0] == 0.0 and found.healthy.seconds[-1] == approx(0.04)
    dry = found.suspects["C1 low-value"]
    assert swing(dry.volts) > 3.0 * swing(found.healthy.volts)
    rises = scope.period(np.array(found.healthy.seconds), np.array([found.healthy.volts]))
    assert rises[0] == approx(0.01, rel=0.05)
    half = scope.period(
        *(
            np.array(one)
            for one in (found.suspects["D1 open-ac1-plus"].seconds, [found.suspects["D1 open-ac1-plus"].volts])
        )
    )
    assert half[0] == approx(0.02, rel=0.05)


def test_the_band_holds_the_healthy_trace_and_has_a_width():
    found = seen(made_up.SUPPLY, "RAW", "run")
    low, healthy, high = (np.array(one) for one in (found.low, found.healthy.volts, found.high))
    assert np.all(low <= healthy) and np.all(healthy <= high) and np.all(high - low > 0.01)


def test_what_happens_once_begins_when_the_power_comes_on():
    found = seen(made_up.RESET, "RES", "on", "R1 open", instrument="fall")
    assert math.isinf(found.period)
    assert (found.healthy.seconds[0], found.healthy.seconds[-1]) == (approx(0.0), approx(0.6))
    falls = scope.fall_through(np.array(found.healthy.seconds), np.array([found.healthy.volts]), 2.5)
    assert 0.02 < falls[0] < 0.2  # as the file's own sentence says
    never = found.suspects["R1 open"]
    assert min(never.volts[len(never.volts) // 2 :]) > 4.0


def test_nothing_is_drawn_where_nothing_moves_or_with_power_off():
    machine, _ = listed(made_up.SUPPLY)
    assert would_show(machine, Question("ohms", "RAW", setup=replace(Setup(), power="off")), []) is None
    still, _ = listed(made_up.STAGE)
    assert would_show(still, Question("dc", "C", setup=replace(Setup(), power="on")), []) is None


def test_a_machine_that_would_take_too_long_is_not_drawn(monkeypatch):
    machine, _ = listed(made_up.SUPPLY)
    ask = Question("pp", "RAW", setup=replace(Setup(), power="on", stimulus="run"))
    assert would_show(machine, ask, []) is not None
    monkeypatch.setattr("probewright.jobs.tracing.MOST_PARTS", len(machine.parts) - 1)
    assert would_show(machine, ask, []) is None


def test_a_trace_begins_at_its_own_rise_whatever_its_noise_and_its_phase():
    seconds = np.arange(4000) * 1e-5
    noise = 0.02 * np.random.default_rng(3).normal(size=len(seconds))
    for phase in (0.3, 2.0, 4.5):
        cut = from_trigger(seconds, 3.0 + np.sin(2.0 * np.pi * 100.0 * seconds + phase) + noise, 0.02)
        assert cut.seconds[0] == 0.0 and cut.seconds[-1] == approx(0.02)
        assert cut.volts[0] == approx(3.0, abs=0.1) and cut.volts[250] == approx(4.0, abs=0.1)


@pytest.mark.parametrize("volts", [np.full(500, 2.0), np.linspace(5.0, 0.0, 500)])
def test_what_does_not_rise_begins_where_it_begins(volts):
    cut = from_trigger(np.arange(500) * 1e-3, volts, 0.2)
    assert (cut.seconds[0], cut.volts[0]) == (0.0, volts[0])


def test_a_stretch_has_points_at_both_ends_and_none_outside():
    cut = stretch(np.arange(11.0), 2.0 * np.arange(11.0), 2.5, 6.25)
    assert (cut.seconds[0], cut.seconds[-1], cut.volts[0], cut.volts[-1]) == (2.5, 6.25, 5.0, 12.5)
    assert all(a < b for a, b in pairwise(cut.seconds)) and len(cut.seconds) == 6
