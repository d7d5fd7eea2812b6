"""The rough answer at once: the same chances as the draws at hand give, and steps that were weighed up before."""

from __future__ import annotations

from importlib.resources import files

import pytest

from probewright.jobs.searching import enter_readings, glance, look, open_search, prepare, quick_look, refine_anew
from probewright.machine import read
from probewright.readings.lines import read_readings


@pytest.fixture(scope="module")
def begun():
    folder = files("probewright.demo")
    machine = read(folder.joinpath("fernside-ds-3.yaml").read_text("utf-8"), "ds-3")
    said = read_readings(folder.joinpath("fernside-ds-3.readings").read_text("utf-8"), machine, "ds-3")
    return enter_readings(open_search(machine), said[:1]), said


def test_a_glance_is_rough_and_says_what_the_draws_at_hand_say(begun):
    search, said = begun
    quick = quick_look(search, said[1:2])
    view = glance(quick, search)
    assert view.rough and not look(search).rough
    shown = {one.id: one.probability for one in view.suspects}
    believed = dict(zip((one.id for one in quick.belief.suspects), quick.belief.probability, strict=True))
    assert shown and all(shown[name] == pytest.approx(believed[name]) for name in shown)
    assert view.actions and said[1].question not in [one.ask for one in view.actions]


def test_working_ahead_changes_no_answer(begun):
    search, said = begun
    before = glance(quick_look(search, said[1:2]), search)
    prepare(search)
    assert glance(quick_look(search, said[1:2]), search) == before


def test_what_was_solved_before_changes_no_refined_answer(begun):
    search, said = begun
    fresh = enter_readings(open_search(search.machine), said[:2])
    assert look(refine_anew(search, said[:2])) == look(fresh)
