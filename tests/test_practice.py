"""A practice: lines typed against a made-up machine, its minutes, its end, and the two paths side by side."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from conftest import Run
from dividers import DIVIDERS
from probewright.errors import BadInput
from probewright.jobs import adding, bench, practice, teaching
from probewright.jobs.blanks import as_typed, filled, questions
from probewright.jobs.case_view import typed
from probewright.jobs.cases import Case, Intake
from probewright.jobs.pacing import kit_of
from probewright.jobs.spending import spent
from probewright.jobs.taught import healthy_readings
from probewright.jobs.two_paths import (
    PathsView,
    Trail,
    caution,
    first_lines,
    keep_paths,
    kept_paths,
    may_hurt,
    overheated,
    two_paths,
)
from probewright.planning.minutes import minutes
from probewright.readings import Question, Reading, Setup
from probewright.record import Book
from probewright.report import practice as words
from probewright.report.practice import side_by_side

DOOR = "fernside-ds-3.yaml"
NOW = "2026-11-26T10:00:00+00:00"

HOT = """\
machine: Loaded rail
extras:
  SUPPLY: source 230V 2% series 1R  VIN > GND
parts:
  R1: resistor 1k                   VIN > OUT
  R2: resistor 4k7 5W               OUT > GND
stimuli:
  idle: {do: switch it on}
works:
  output: OUT dc at idle; below 70% of healthy = low; above 130% of healthy = high
"""


def small(book: Book, key: str = "k") -> Case:
    return practice.open_practice(book, DIVIDERS, "small.yaml", key, NOW)


def enter(book: Book, case: Case, *lines: str) -> Case:
    for line in lines:
        case = practice.enter(book, case, line, NOW)
    return case


def of_fault(book: Book, fault: str) -> Case:
    """A practice in which this is hidden: keys are tried until one hides it."""
    for n in range(200):
        case = small(book, f"key {n}")
        if practice.hidden_of(case).hidden.id == fault:
            return case
    raise AssertionError(f"no key hides {fault}")


# A line with blanks ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "instruments", "power"),
    [
        ("OUT ? V", ["dc"], "on"), ("OUT?", ["dc"], "on"),
        ("R1 ? ohm", ["ohms"], "off"), ("R1?", ["ohms"], "off"), ("R1 ? kohm", ["ohms"], "off"),
        ("R1.1 to R1.2 diode ?", ["diode"], "off"), ("R1 beep ?", ["beep"], "off"), ("output ?", ["works"], "on"),
        ("output: ?", ["works"], "on"), ("OUT ? V, MID ? V", ["dc", "dc"], "on"), ("SUPPLY swapped: ?", ["swap"], "on"),
        ("tapped F1: ?", ["provoke"], "on"), ("old SUPPLY back, ?", ["swap back"], "on"),
    ],
)  # fmt: skip
def test_a_blank_is_asked_with_the_instrument_of_its_words(book: Book, line: str, instruments: list[str], power: str):
    case = small(book)
    case = enter(book, case, "power off") if power == "off" else case
    assert [ask.instrument for ask in questions(case, practice.machine_in(case), line)] == instruments


def test_answers_come_into_the_blanks_in_order():
    assert filled("Q1 c ? b ? e ? mV", ["4.9 V", "2.1 V", "1.5 V"]) == "Q1 c 4.9 V b 2.1 V e 1.5 V"
    assert filled("VCC?", ["4.9 V"]) == "VCC 4.9 V"


@pytest.mark.parametrize(
    ("instrument", "answer", "said"),
    [
        ("dc", 4.8765, "4.88 V"), ("pp", 0.02, "20 mVpp"), ("ohms", float("inf"), "OL"), ("dc", 1e-9, "0 V"),
        ("share", 0.5, "half"), ("beep", "beeps", "beeps"), ("swap back", "away", "stays away"),
    ],
)  # fmt: skip
def test_an_answer_is_typed_as_a_meter_shows_it(instrument: str, answer: float | str, said: str):
    assert as_typed(Reading(Question(instrument, "A"), answer, "")) == said


# Measuring ---------------------------------------------------------------------------------------


def test_the_same_key_makes_the_same_machine_which_reads_the_same(book: Book):
    one, other = (enter(book, small(book, "same"), "OUT?", "MID ? V") for _ in range(2))
    assert [line.text for line in one.lines] == [line.text for line in other.lines]
    assert practice.hidden_of(one).hidden.id == practice.hidden_of(other).hidden.id
    hidden = {practice.hidden_of(small(book, key)).hidden.id for key in "abcdefgh"}
    assert len(hidden) > 1


def test_the_hand_errs_anew_at_each_reading(book: Book):
    case = enter(book, small(book, "errs"), *["VIN ? V"] * 4)
    assert len({line.text for line in case.lines[2:]}) > 1


def test_it_goes_on_after_a_restart_as_if_nothing_had_been(book: Book):
    whole = enter(book, small(book, "again"), "OUT?", "MID?", "RAW?")
    case = enter(book, small(book, "again"), "OUT?")
    practice._made_up.cache_clear()  # a new process makes the hidden machine anew, from the record alone
    case = enter(book, bench.find_case(book, case.number), "MID?")
    practice._made_up.cache_clear()
    case = enter(book, bench.find_case(book, case.number), "RAW?")
    assert [line.text for line in case.lines] == [line.text for line in whole.lines]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("OUT 5 V", "brings its own figure"), ("output: ok", "brings its own figure"), ("what?", "what"),
        ("no such place ? V", "no such"), ("OUT ? V on the sister", "no sister machine"),
        ("", "empty"), ("\udcff", "not text"), ("fitted a new R99", "R99"),
        ("swapped R1", "is it a lead or an extra"), ("blah", r"no reading in 'blah'; write what you would measure, like `VCC \? V`"),
    ],
)  # fmt: skip
def test_a_messy_line_is_asked_back_and_takes_no_time(book: Book, line: str, says: str):
    case = small(book)
    with pytest.raises(BadInput, match=says):
        practice.enter(book, case, line, NOW)
    assert bench.find_case(book, case.number).lines == case.lines


def test_what_is_seen_with_power_on_alone_is_not_told_with_power_off(book: Book):
    case = enter(book, small(book), "power off")
    with pytest.raises(BadInput, match="seen with power on"):
        practice.enter(book, case, "tapped F1", NOW)
    with pytest.raises(BadInput, match="cannot be judged with power off"):
        practice.enter(book, case, "output ?", NOW)
    with pytest.raises(BadInput, match="power on"):
        practice.enter(book, enter(book, case, "power on"), "R1 ? ohm", NOW)


def test_a_card_is_answered_in_the_set_up_that_it_needs(book: Book):
    case = small(book)
    ask = Question("ohms", "R1.1", "R1.2", Setup(power="off"))
    case = practice.measure(book, case, ask, NOW, once="m")
    assert case.bench.setup.power == "off" and case.readings[-1].question == ask
    assert practice.measure(book, case, ask, NOW, once="m") is case  # a form sent twice
    assert spent(case, practice.machine_in(case))[-1].whole == minutes("ohms")


def test_minutes_are_those_of_the_table_with_every_change_of_the_set_up(book: Book):
    case = enter(
        book, small(book), "OUT ? V", "MID ? V", "power off", "R1 ? ohm", "lift R1.1", "R1 ? ohm", "power on",
        "fitted a new R4", "output ?", "no heatsink on R4",
    )  # fmt: skip
    took = [one.whole for one in spent(case, practice.machine_in(case))[2:]]
    assert took == [
        minutes("power on") + minutes("dc"), minutes("dc"), minutes("power off"),
        minutes("ohms") + minutes("instrument"), minutes("lift a leg"), minutes("ohms"), minutes("power on"),
        minutes("repair two pins"), minutes("stimulus"),
        minutes("heatsink"),  # and a signal that was on for one reading is not put on again
    ]  # fmt: skip


# The end -----------------------------------------------------------------------------------------


def test_a_repair_that_cures_ends_it_and_another_one_does_not(book: Book):
    case = enter(book, of_fault(book, "R3 open"), "fitted a new R1")
    assert case.closed is None
    case = enter(book, case, "fitted a new R3")
    assert case.closed is not None and case.closed["ending"] == "mended"
    with pytest.raises(BadInput, match="has ended"):
        practice.enter(book, case, "OUT?", NOW)


@pytest.mark.parametrize("said", ["R3 open", "r3 is open", "R3 is open"])
def test_a_fault_is_named_by_its_item_and_how_it_is_broken(book: Book, said: str):
    assert practice.meant(practice.hidden_of(small(book)), said).id == "R3 open"


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ("R3", "how is R3 broken"),
        ("R9 open", "no fault of this machine file"),
        ("it", "no fault"),
        ("nothing", "no fault"),
    ],
)
def test_half_a_name_is_asked_back(book: Book, said: str, says: str):
    case = small(book)
    with pytest.raises(BadInput, match=says):
        practice.name_fault(book, case, said, NOW)
    assert bench.find_case(book, case.number).closed is None


def test_a_file_that_says_nothing_of_what_works_cannot_be_practised_on(book: Book):
    with pytest.raises(BadInput, match="no owner can complain"):
        practice.open_practice(book, DIVIDERS[: DIVIDERS.index("works:")], "small.yaml", "k", NOW)


def test_a_reading_that_tells_nothing_new_is_named_and_one_that_does_is_not(book: Book):
    case = enter(book, of_fault(book, "R3 open"), "OUT?", "OUT?", "OUT?")
    case = practice.name_fault(book, case, "R3 open", NOW)
    view = two_paths(case)
    assert view.verdict == "right" and view.hidden == "R3 open"
    assert "3rd" in view.remark and "1st" not in view.remark and "could tell nothing apart" in view.remark
    assert [step.says.split()[0] for step in view.yours.steps] == ["OUT"] * 3
    assert all(0.0 <= step.sure <= 1.0 for path in (view.yours, view.plan) for step in path.steps)


def test_what_is_mended_with_it_is_no_wrong_name_and_what_is_mended_otherwise_is(book: Book):
    named = {
        said: two_paths(practice.name_fault(book, of_fault(book, "R3 open"), said, NOW)).verdict
        for said in ("R3.1 joint-open", "R3 drift-up", "R1 open")
    }
    assert named == {"R3.1 joint-open": "wrong", "R3 drift-up": "alike", "R1 open": "wrong"}


def test_where_the_difference_came_from_is_told_by_what_was_done(book: Book):
    """Repairs in vain come first; who stops while more can be told is told how sure the readings were."""
    vain = practice.give_up(book, enter(book, of_fault(book, "R3 open"), "OUT?", "fitted a new R1"), NOW)
    assert two_paths(vain).remark == f"{minutes('repair two pins'):g} min of yours went into repairs that did not cure."
    for end, said in ((practice.give_up, "gave up"), (practice.name_fault, "named something")):
        case = enter(book, of_fault(book, "R3 open"), "OUT?")
        view = two_paths(end(book, case, *(["R4 short"] if said != "gave up" else []), NOW))
        sure = view.yours.steps[-1].sure
        assert sure < 0.9 and view.remark == (
            f"When you {said}, your readings made what is hidden {100.0 * sure:.0f} % sure: more could have been told."
        )


def test_the_paths_are_kept_beside_the_book(book: Book):
    case = practice.give_up(book, small(book), NOW)
    assert kept_paths(book, case) is None
    view = keep_paths(book, case, two_paths(case))
    assert kept_paths(book, case) == view
    assert view.remark == "You read nothing." and view.yours.steps == ()


# Danger ------------------------------------------------------------------------------------------


def test_a_live_place_that_can_hurt_is_told_of_before_it_is_read(book: Book):
    case = practice.open_practice(book, HOT, "hot.yaml", "k", NOW)
    (ask,) = practice.want(case, "OUT ? V").asks
    assert may_hurt(practice.machine_in(case), [ask])
    assert "can kill" in caution(Trail(case).after(case)[0], ask)
    calm = small(book)
    (low,) = practice.want(calm, "OUT ? V").asks
    assert not may_hurt(practice.machine_in(calm), [low])


def test_a_part_without_its_heatsink_is_said_to_be_damaged_by_a_long_look(book: Book):
    case = practice.open_practice(book, HOT, "hot.yaml", "k", NOW)
    trail = Trail(case)
    assert trail.after(case)[0].as_told.bare == ()
    case = enter(book, case, "no heatsink on R2")
    (ask,) = practice.want(case, "OUT ? V").asks
    search, _ = trail.after(case)  # no reading more, but another bench
    assert "R2 would be damaged by now" in overheated(search, [ask], 30.0)
    assert overheated(search, [ask], 0.0) == ""
    assert overheated(trail.after(first_lines(case, 2))[0], [ask], 30.0) == ""


# Nothing is learnt -------------------------------------------------------------------------------


def test_a_practice_teaches_nothing_and_is_no_job_of_an_owner(book: Book):
    own = bench.open_job(book, Intake("amplifier", model="Two dividers", key="k"), NOW)
    case = of_fault(book, "R3 open")
    for n, line in enumerate(("OUT?", "MID?", "RAW?", "fitted a new R3")):
        case = practice.enter(book, case, line, f"2026-11-26T10:{10 * n:02}:00+00:00")
    assert case.closed is not None
    assert bench.every_case(book) == (bench.find_case(book, own.number),)
    assert case.number in [one.number for one in bench.every_practice(book)]
    assert bench.find_case(book).number == own.number  # the one touched last of the owners'
    assert teaching.view_taught(book, own).teachers == () and healthy_readings(case) == ()
    with pytest.raises(BadInput, match="no reading of a sound machine"):
        teaching.learn(book, own, case.number, "", False, NOW)
    assert kit_of(book).minutes == {}


def test_what_belongs_to_an_owners_machine_is_refused(book: Book):
    case = small(book)
    for do in (
        lambda: bench.enter_line(book, case, "OUT 5 V", NOW), lambda: bench.undo(book, case, NOW),
        lambda: bench.close(book, case, "repaired", "", NOW), lambda: adding.tell_chain(book, case, "head > phones", NOW),
        lambda: bench.reopen(book, practice.give_up(book, small(book), NOW), NOW),
    ):  # fmt: skip
        with pytest.raises(BadInput, match="is a practice"):
            do()
    own = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    with pytest.raises(BadInput, match="is no practice"):
        practice.enter(book, own, "OUT?", NOW)


# At the terminal ---------------------------------------------------------------------------------


LINES = "VCC?\nE2 ? V\nVCC 5 V\npower off\nR7 ? ohm\nit is R7\nso far\nit is R7 open\nVCC?\n"


@pytest.fixture(scope="module")
def story(probewright: Run, demo_folder: Path) -> dict[str, Any]:
    """A practice read from a pipe, on a fixed key that hides R7 open."""
    done = probewright("rehearse", demo_folder / DOOR, "--key", "a", "--json", typed=LINES)
    assert done.returncode == 0, done.stderr
    return {"view": json.loads(done.stdout), "said": done.stderr}


def test_story_from_a_pipe_the_fault_is_named_right_and_both_paths_are_told(story: dict[str, Any]):
    view = story["view"]
    assert (view["hidden"], view["named"], view["verdict"], view["ended"]) == ("R7 open", "R7 open", "right", "named")
    assert view["plan"]["ends"] == "names R7 open: right"
    assert view["yours"]["steps"][-1]["sure"] > 0.9 > view["yours"]["steps"][0]["sure"]


def test_the_minutes_of_the_story_add_up_to_those_of_the_table(story: dict[str, Any]):
    yours = [one["minutes"] for one in story["view"]["yours"]["steps"]]
    assert yours == [
        minutes("power on") + minutes("dc"), minutes("dc"), minutes("power off"), minutes("instrument") + minutes("ohms"),
    ]  # fmt: skip
    for path in (story["view"]["yours"], story["view"]["plan"]):
        assert path["minutes"] == sum(one["minutes"] for one in path["steps"]) == path["steps"][-1]["at"]


def test_what_is_messy_in_the_story_is_told_on_the_way_and_the_rest_goes_on(story: dict[str, Any]):
    assert "brings its own figure" in story["said"] and "how is R7 broken?" in story["said"]
    assert "6.5 min  in all" in story["said"] and "speech silent" in story["said"]
    assert "has ended" not in story["said"]  # what stands behind the end is not read


def test_the_two_paths_stand_side_by_side_in_order_of_time(story: dict[str, Any]):
    view = typed(PathsView, story["view"])
    rows = side_by_side(view)
    times = [(yours or plans).at for yours, plans in rows if yours or plans]
    assert times == sorted(set(times))
    assert [yours for yours, _ in rows if yours] == list(view.yours.steps)
    assert [plans for _, plans in rows if plans] == list(view.plan.steps)
    text = words.paths(view)
    assert practice.key_of(view.key) == "a" and "R7 5.77 MΩ" in text and view.remark in text
    assert len({line.index("|") for line in text.splitlines() if "|" in line}) == 1


def test_a_closed_door_and_giving_up_end_a_practice_with_what_it_was(probewright: Run, tmp_path: Path):
    file = tmp_path / "small.yaml"
    file.write_text(DIVIDERS)
    for lines in ("", "OUT?\ngive up\n"):
        done = probewright("rehearse", file, "--key", "k", typed=lines)
        assert done.returncode == 3 and "You: given up." in done.stdout, done.stderr
        assert "> " not in done.stdout  # no prompt where nobody sits
    assert not (tmp_path / "bench.db").exists()  # nothing of it is kept


@pytest.mark.parametrize("option", [["--withhold", "resistor:open"], ["--sound"], ["--readings", "3"]])
def test_what_is_of_many_rehearsals_is_refused_in_a_practice(probewright: Run, tmp_path: Path, option: list[str]):
    file = tmp_path / "small.yaml"
    file.write_text(DIVIDERS)
    done = probewright("rehearse", file, *option)
    assert done.returncode == 2 and f"{option[0]} is for many rehearsals; add --campaign" in done.stderr


def test_of_a_made_up_machine_nobody_has_to_be_asked(book):
    case = practice.open_practice(book, DIVIDERS, "dividers.yaml", "k", NOW)
    theirs = replace(case, intake=replace(case.intake, practice=""))
    assert case.owner.allows("new R1") and not theirs.owner.allows("new R1")
