"""Why a part died, at both doors: the story of a repair, what is checked before power, siblings that are only offered."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from hidden import NOW, opened
from probewright.errors import BadInput
from probewright.hypotheses.usual import Tally, Usual
from probewright.jobs import bench, practice
from probewright.jobs.cases import BAD, Intake
from probewright.jobs.deciding import add_option, option_said, tell_money
from probewright.jobs.why_died import _is_a_joint, before_power, offer, part_located, related, say_checked, why
from probewright.machine import read
from probewright.prediction.cells import build_model
from probewright.report.bench import standing
from probewright.report.why import why as written
from rail import RAIL

BOARD = (
    RAIL.format(name="Smaller rail")
    + """\
  R1: resistor 1k 1W  V5 > A
  C3: capacitor 47u 20% 25V electrolytic  A > GND
works:
  rail: V5 dc at run within 10% of healthy
stimuli:
  run: {}
"""
)
PAIR = """
machine: Two amplifiers in one case
extras:
  V1: source 10V series 1R  SUP > GND
parts:
  U2: opamp dual  vplus=SUP vminus=GND
  OAL: of U2  plus=P minus=A out=A
  OAR: of U2  plus=P minus=B out=B
  R1: resistor 10k  SUP > P
  R2: resistor 10k  P > GND
  C1: capacitor 10u electrolytic  P > GND
"""


def test_the_killer_is_named_and_a_sound_reading_of_it_takes_it_away(book):
    """C2 is short; U1 may have passed its input on. Before the new C2 is powered that is looked into."""
    job = opened(book, BOARD, "C2 short")
    job.type("set-up: power off", "C2 ? ohm")
    found = why(book, job.case, None, "C2")
    assert found.died == "C2 is short" or found.died.startswith("C2")
    assert "U1 is short from input to output" in found.conclusion
    killer = next(one for one in found.killers if one.killer == "U1 is short from input to output")
    assert killer.stands == "not yet" and killer.check is not None and not killer.check.live
    assert killer.times > 1.5 and any("U1 is short" in one for one in found.first)
    job.type("fitted a new C2", "U1.in to U1.out 520 ohm")
    found = why(book, job.case, None, "C2")
    killer = next(one for one in found.killers if one.killer == killer.killer)
    assert killer.stands in ("read", "against") and not any("U1 is short" in one for one in found.first)
    assert found.fitted


def test_first_power_after_the_new_part_names_what_would_kill_it(book):
    job = opened(book, BOARD)
    job.type("set-up: power on", "fitted a new C2")
    view = job.now()
    assert view.first_power is not None
    assert any("U1 is short from input to output" in one for one in view.first_power.check)
    assert "Check first:" in standing(view)
    job.type("power off: U1.in to U1.out 520 ohm")
    assert not any("U1 is short" in one for one in before_power(job.case, view.search))
    assert before_power(opened(book, BOARD).case, view.search) == ()


def test_what_a_person_says_was_checked_is_kept_with_its_words(book):
    job, view = opened(book, BOARD), None
    mark = job.case.mark
    case = say_checked(book, job.case, "C2", "U1", "520 ohm, out of circuit", NOW, view)
    assert case.mark == mark  # nothing is weighed by it
    one = next(one for one in why(book, case, view, "C2").killers if one.killer.startswith("U1 is short"))
    assert (one.stands, one.words) == ("said", "520 ohm, out of circuit")
    assert bench.find_case(book, case.number).checked == case.checked
    with pytest.raises(BadInput, match="no killer of C2"):
        say_checked(book, case, "C2", "R77", "fine", NOW, view)
    with pytest.raises(BadInput, match="missing"):
        say_checked(book, case, "C2", "U1", " ", NOW, view)


def test_what_nothing_overloads_died_of_age(book):
    job = opened(book, BOARD)
    found = why(book, job.case, None, "R1")
    assert found.conclusion.startswith("Age or wear: no fault in this file overloads it")
    assert not [one for one in found.killers if one.chance is not None] and found.first == ()
    assert "watts" in written(found)


def test_what_a_sound_machine_overloads_is_said_to_be_too_weak(book):
    job = opened(book, BOARD.replace("R1: resistor 1k 1W  V5 > A", "R1: resistor 1k 0.005W  V5 > GND"))
    found = why(book, job.case, None, "R1")
    assert "bears more than it may already" in found.conclusion
    assert next(one for one in found.strains if one.what == "watts").verdict == "beyond"


def test_a_joint_did_not_die(book):
    job = opened(book, BOARD)
    view = job.now()
    joint = next(one for one in view.search.suspects if one.id == "C2.1 joint-open")
    first = replace(view, search=replace(view.search, suspects=(joint,)))
    found = why(book, job.case, first)
    assert found.part == "C2" and "itself did not die" in found.conclusion
    assert found.killers == () and found.siblings == () and found.first == ()


def test_a_fault_of_a_unit_is_one_of_its_case_and_no_joint(book):
    job = opened(book, PAIR)
    view = job.now()
    for name in ("OAL output-open", "U2 supply-short"):
        died = next(one for one in view.search.suspects if one.id == name)
        first = replace(view, search=replace(view.search, suspects=(died,)))
        found = why(book, job.case, first, "U2")
        assert "itself did not die" not in found.conclusion and found.died


def test_a_joint_of_one_part_is_none_of_a_part_whose_name_it_holds(book):
    """The name C1 stands in IC1: what touches IC1 says nothing of C1."""
    machine = read(PAIR.replace("U2", "IC1"))
    known = {one.id: one for one in build_model(machine, "k").suspects}
    assert _is_a_joint(machine, known["IC1.vplus joint-open"], "IC1")
    assert not _is_a_joint(machine, known["IC1.vplus joint-open"], "C1")
    assert _is_a_joint(machine, known["C1.1 joint-open"], "C1") and not _is_a_joint(machine, known["C1 short"], "C1")


def test_siblings_are_offered_and_priced_by_the_persons_own_figures_alone(book):
    job = opened(book, BOARD)
    case = job.case
    found = why(book, case, None, "C2")
    by_name = {one.part: one for one in found.siblings}
    assert {"C1", "C3"} == set(by_name) and by_name["C1"].parts is None and by_name["C1"].labour is None
    assert by_name["C1"].minutes == pytest.approx(8.0)  # `planning/data/removal.csv`, two pins
    assert case.options == () and case.bench.fitted == ()  # nothing is done unasked
    tell_money(book, 60.0, "EUR", NOW)
    case = add_option(book, case, option_said("new", "a new C1", {"parts": 1.5}, 2), NOW)
    one = {one.part: one for one in why(book, case, None, "C2").siblings}["C1"]
    assert (one.parts, one.labour, one.offered) == (1.5, pytest.approx(8.0), True) and "1.5 EUR" in one.says
    case = offer(book, case, "C3", 0.4, NOW)
    assert {one.name: one.parts for one in case.options} == {"a new C1": 1.5, "a new C3": 0.4}


def test_siblings_are_of_the_same_kind_and_the_nearest_come_first(demo_folder):
    machine = read((demo_folder / "fernside-lm-2.yaml").read_text("utf-8"))
    names = [name for name, _ in related(machine, "C12L")]
    assert names[0] == "C12R" and all(name.startswith("C") for name in names)
    assert [name for name, _ in related(machine, "R13L")] == ["R13R"]  # films hardly age: the other channel alone
    assert related(read(BOARD), "R1") == []


def test_bad_input_says_what_to_do(book, demo_folder):
    job = opened(book, BOARD)
    with pytest.raises(BadInput, match="no part 'C9'"):
        why(book, job.case, None, "C9")
    with pytest.raises(BadInput, match="no part is suspected yet"):
        why(book, job.case, None)
    other = bench.open_job(book, replace(job.case.intake), NOW)
    with pytest.raises(BadInput, match="no machine file"):
        why(book, other, None, "C2")
    made_up = practice.open_practice(book, BOARD, "b.yaml", "k", NOW)
    with pytest.raises(BadInput, match="practice"):
        why(book, made_up, None, "C2")


def test_what_was_worked_out_is_kept_and_told_alike(book, monkeypatch):
    case = opened(book, BOARD).case
    first = why(book, case, None, "C2")
    monkeypatch.setattr("probewright.jobs.why_died.bearings", None)  # nothing is worked out again
    assert why(book, case, None, "C2") == first


def test_what_was_kept_is_not_told_once_something_else_is_believed(book):
    """Another fault of the part leads, a killer is found, the bench has no instrument at all: each is worked out anew."""
    job = opened(book, BOARD)
    view = job.now()
    by_id = {one.id: one for one in view.search.suspects if one.id in ("C2 short", "C2 leak", "U1 in-out-short")}

    def killer(chance: float = 0.4, has: frozenset[str] | None = None, lead: str = "C2 short"):
        rest = [replace(one, probability=chance) for name, one in by_id.items() if name != lead]
        first = replace(view, search=replace(view.search, suspects=(by_id[lead], *rest)))
        found = why(book, replace(job.case, kit=replace(job.case.kit, has=has)), first, "C2")
        return next(one for one in found.killers if one.killer == "U1 is short from input to output")

    assert killer(0.4).stands == "not yet" and killer(0.6).stands == "found"
    assert killer(has=None).check is not None and killer(has=frozenset()).check is None
    assert killer(lead="C2 short").chance != killer(lead="C2 leak").chance


def test_how_sure_a_killer_is_goes_by_what_this_bench_has_found(book):
    """Regulators that failed short here move their rate as in the search itself."""
    case = opened(book, BOARD).case
    usual = Usual(9, {("regulator.three_terminal", "in-out-short"): Tally(9.0, 0.01)})
    before, after = (
        next(one for one in why(book, asked, None, "C2").killers if one.killer == "U1 is short from input to output")
        for asked in (case, replace(case, usual=usual, mark=case.mark + 1))
    )
    assert before.chance is not None and after.chance is not None and after.chance > 2.0 * before.chance


def test_the_command_says_why(probewright, book):
    opened(book, BOARD)
    book.close()
    said = probewright(
        "why", "--part", "C2", "--checked", "U1", "--words", "520 ohm", "--offer", "C3", "--parts", "0.4"
    )
    assert "checked: 520 ohm" in said.stdout and "offered, not fitted" in said.stdout and "part 0.4" in said.stdout
    wrong = probewright("why", "--part", "C77", "--json")
    assert wrong.returncode == 2 and "no part 'C77'" in json.loads(wrong.stdout)["errors"][0]["text"]


def test_the_page_says_why_and_takes_what_was_checked(page, book):
    opened(book, BOARD)
    text = page.get("/jobs/1/why?part=C2&wait=yes").text
    assert 'placeholder="capacitor ' in text
    assert "Before the new C2 is powered, check:" in text and "Siblings of the same age" in text
    token = re.search(r'name="token" value="([^"]*)"', text).group(1)
    killer = re.search(r'name="killer" value="(U1 is short[^"]*)"', text).group(1)

    def post(**said: str):
        return page.post("/jobs/1/why", data={"token": token, "part": "C2", **said})

    post(do="checked", killer=killer, words="520 ohm.")
    assert "“520 ohm.”</strong>" in page.get("/jobs/1/why?part=C2&wait=yes").text
    assert post(do="checked", killer=killer, words="").status_code == 422
    post(do="offer", sibling="C3", parts="0,40")
    assert bench.find_case(book, 1).options[0].parts == 0.4
    assert "Another part" in page.get("/jobs/1/why?wait=yes").text
    shown = page.get("/jobs/1/why?part=C2&with=100u+16V+0.3A&wait=yes").text
    assert "Nothing speaks against it for C2" in shown and "enough" in shown
    refused = page.get("/jobs/1/why?part=C2&with=teapot&wait=yes").text
    assert "means nothing" in refused and 'value="teapot"' in refused and "What it bears" in refused  # all else stands


def test_the_part_that_is_meant_is_found_whatever_its_capitals_and_only_in_a_file(book):
    assert bench.named_part(read(PAIR), " u2 ") == "U2" and bench.named_part(read(PAIR), "oal") == "OAL"
    with pytest.raises(BadInput, match="no part 'Q7'"):
        bench.named_part(read(PAIR), "Q7")
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": BAD}, key="k"), NOW)
    with pytest.raises(BadInput, match="no machine file"):
        say_checked(book, case, "C2", "U1", "520 ohm", NOW)


def test_the_part_that_was_located_is_offered_first_where_one_comes_out(page, book):
    job = opened(book, BOARD, "C2 short")
    assert part_located(job.case, job.now().search) == ""
    assert "as located" not in page.get("/jobs/1/fit-list").text
    found = job.now().search
    lead = next(one for one in found.suspects if one.faults and one.faults[0].item == "C2")
    assert part_located(job.case, replace(found, finding="located", suspects=(lead,))) == "C2"
