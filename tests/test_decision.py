"""Deciding with the owner, at both doors: what is asked first, what is never done without their word."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from probewright.errors import BadInput
from probewright.jobs import bench, billing
from probewright.jobs.adding import tell_chain
from probewright.jobs.cases import BAD, Intake
from probewright.jobs.deciding import (
    Money,
    _says,
    add_option,
    agree,
    booked_hours,
    consent,
    decide_on,
    drop_option,
    hot_before,
    hot_said,
    money_of,
    option_said,
    tell_money,
)
from probewright.jobs.fitting_lists import heat_fit
from probewright.planning.deciding import Judged
from probewright.report.decisions import decision

NOW = "2026-11-26T13:00:00+00:00"
FILE = """machine: Porch lamp PL-4
parts:
  ADAPTOR: source 12V 5% series 0R3  SUP > GND
  R1: resistor 1k  SUP > MID
  R2: resistor 1k  MID > GND
"""


def brought(book):
    return bench.open_job(book, Intake("amplifier", ticks={"sound left": BAD}, key="k"), NOW)


def ready(book, **agreed):
    """A job of which money is known, and one option."""
    tell_money(book, 60.0, "EUR", NOW)
    case = agree(book, brought(book), {"value": 300.0, **agreed}, NOW)
    return add_option(book, case, option_said("new", "a new U3", {"parts": 8.0}, 16), NOW)


def test_what_is_missing_is_asked_and_nothing_advised(book):
    view = decide_on(book, brought(book), None)
    assert (view.advice, view.question, len(view.open_)) == ("", "", 3)
    view = decide_on(book, ready(book), None)
    assert view.advice and not view.open_


def test_hours_booked_come_from_the_stamps_and_count_against_the_ceiling(book):
    case = ready(book, ceiling=100.0)
    for minutes, line in ((10, "Q7 c 11.8 V"), (25, "Q7 b 0.6 V"), (58, "lunch was long"), (59, "Q7 e 0 V")):
        case = bench.enter_line(book, case, line, f"2026-11-26T13:{minutes:02}:00+00:00")
    assert booked_hours(case) == pytest.approx((10 + 15 + 1) / 60)  # 33 minutes are no work
    view = decide_on(book, case, None)
    assert view.booked == pytest.approx(26.0)
    fresh = next(one.over for one in decide_on(book, ready(book, ceiling=100.0), None).options if one.kind == "new")
    assert next(one.over for one in view.options if one.kind == "new") >= fresh


def test_no_certainty_is_whole(book):
    view = decide_on(book, ready(book), None)
    assert "sure of the diagnosis" in decision(sure := replace(view, located=True, right=0.9999))
    assert ">99 % sure" in decision(sure) and "100" not in decision(sure)
    kept = option_said("new", "a new U3", {"parts": 8.0, "bad": 0.0, "damage": 0.0}, 16)
    certain = Judged(kept, 0.999, 8.0, 8.0, 8.0, 290.0, 0.0, 0.999)
    assert _says(certain, Money(60.0, "EUR")).endswith("works afterwards in >99 %; worth it from >99 % sure")


def test_above_the_ceiling_nothing_is_done_without_the_owners_word(book):
    case = ready(book, ceiling=30.0)
    view = billing.decided(book, case, None)
    assert view.advice.startswith("Hand it back") and "you said 30.00 EUR. Shall I?" in view.question
    case = consent(book, case, "a new U3", "well, go on then, but not above 400", 400.0, NOW)
    view = billing.decided(book, case, None)
    assert "U3" in view.advice and view.question == "" and view.ceiling == 400.0
    assert (view.consents[0].words, view.consents[0].at) == ("well, go on then, but not above 400", NOW)
    assert bench.find_case(book, case.number).consents == view.consents


def test_the_words_are_kept_as_they_were_said_or_not_at_all(book):
    case = ready(book)
    with pytest.raises(BadInput, match="words are missing"):
        consent(book, case, "a new U3", "  ", 100.0, NOW)
    with pytest.raises(BadInput, match="no option"):
        consent(book, case, "a new U4", "yes", None, NOW)
    assert not bench.find_case(book, case.number).consents


def test_what_changes_it_is_asked_where_it_shall_stay_original(book):
    case = ready(book, keep=True)
    case = add_option(book, case, option_said("added circuit", "a follower", {"hours": 0.2}), NOW)
    view = decide_on(book, case, None)
    assert "would change it from how it was built" in view.question and "follower" not in view.advice
    view = decide_on(book, consent(book, case, "a follower", "fine with me", None, NOW), None)
    assert "follower" in view.advice and view.question == ""


def test_pins_say_hours_and_risk_and_a_person_says_otherwise():
    option = option_said("pulled", "U3 of the donor", {"hours": None, "damage": 0.5}, 16)
    assert (option.hours, option.damage, option.bad) == (pytest.approx(0.3), 0.5, 0.08)
    assert option_said("return", "back", {}, 16).damage == 0.0


def test_pads_that_were_hot_before_are_harmed_sooner(book):
    """Each heating beyond the third doubles the chance: 2 % for 16 pins, the fifth time four times that."""
    damage = [option_said("new", "a new U3", {}, 16, hot).damage for hot in (0, 2, 3, 4)]
    assert damage == pytest.approx([0.02, 0.02, 0.04, 0.08])
    with pytest.raises(BadInput, match="cannot have been hot"):
        option_said("new", "a new U3", {}, 16, -1)
    case = bench.know(book, brought(book), "file", "the file", FILE, "", NOW)
    for line in ("fitted a new R1", "fitted a new R1", "resoldered R2.1", "fitted a new R1"):
        case = bench.enter_line(book, case, line, NOW)
    assert [hot_before(case, name) for name in ("a new R1", "r2, old stock", "a new heart")] == [3, 1, 0]
    bare = bench.enter_line(book, brought(book), "fitted a new U3", NOW)  # no machine file
    assert [hot_before(bare, name) for name in ("a new U3", "a new U4")] == [1, 0]


def test_a_part_that_a_file_told_later_does_not_have_still_goes_into_an_option(book):
    case = bench.enter_line(book, brought(book), "fitted a new U3", NOW)
    case = tell_chain(book, case, "head > preamp > volume > phones", NOW)
    assert hot_before(case, "a new U3") == 1
    case = heat_fit(book, brought(book), "U7", 2, "by earlier hands", NOW)
    case = bench.know(book, case, "file", "the file", FILE, "", NOW)
    assert hot_before(case, "u7, pulled") == 2


def test_how_often_pads_were_hot_is_taken_only_where_it_counts(book):
    case = brought(book)
    for pins, damage in ((0, None), (16, 0.1), (0, 0.1)):
        with pytest.raises(BadInput, match="only with its pins"):
            hot_said(case, "a new U3", 4, pins, damage)
    assert (hot_said(case, "a new U3", 4, 16, None), hot_said(case, "a new U3", 0, 0, None)) == (4, 0)
    assert hot_said(bench.enter_line(book, case, "fitted a new U3", NOW), "a new U3", None, 0, 0.1) == 1


def test_both_doors_refuse_heatings_that_would_count_for_nothing(probewright, page, book):
    brought(book)
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/decision").text).group(1)
    said = {"token": token, "do": "option", "name": "a new U3", "kind": "new", "hot": "9"}
    assert page.post("/jobs/1/decision", data=said).status_code == 422
    assert page.post("/jobs/1/decision", data={**said, "pins": "16", "hot": "often"}).status_code == 422
    assert page.post("/jobs/1/decision", data={**said, "pins": "16", "hot": "4"}).status_code == 200
    assert bench.find_case(book, 1).options[0].damage == pytest.approx(0.08)
    assert probewright("decide", "--option", "a new U4", "--hot", "9").returncode == 2


def test_an_option_says_what_it_was_reckoned_from(book):
    view = decide_on(book, ready(book), None)
    takes = {one.name: one.takes for one in view.options}
    assert takes["a new U3"] == "new: parts 8 EUR, 18 min of work; part itself bad: 1 %; board harmed: 2 %"
    assert takes["hand it back unrepaired"] == "" and takes["a new U3"] in decision(view)


@pytest.mark.parametrize(
    "kind, name, told, says",
    [("nwe", "a", {}, "no kind of option"), ("new", " ", {}, "needs a name"), ("new", "a", {"bad": 1.2}, "no chance"),
     ("new", "a", {"parts": -3.0}, "no sum of money"), ("new", "a", {"hours": -1.0}, "cannot be"),
     ("new", "a", {"parts": float("nan")}, "no sum"), ("new", "a", {"hours": float("inf")}, "cannot be")],
)  # fmt: skip
def test_an_option_that_cannot_be_is_refused(kind, name, told, says):
    with pytest.raises(BadInput, match=says):
        option_said(kind, name, told)


def test_an_option_said_anew_takes_the_place_of_the_old_and_one_can_go(book):
    case = ready(book)
    case = add_option(book, case, option_said("pulled", "a new U3", {"parts": 2.0}, 16), NOW)
    assert [one.kind for one in case.options] == ["pulled"]
    case = drop_option(book, case, "a new U3", NOW)
    assert not case.options and not bench.find_case(book, case.number).options
    with pytest.raises(BadInput, match="no option"):
        drop_option(book, case, "a new U3", NOW)


def test_money_is_the_benchs_and_holds_for_the_next_job(book):
    ready(book)
    tell_money(book, None, "euro", NOW)
    assert (money_of(book).rate, money_of(book).currency) == (60.0, "euro")
    with pytest.raises(BadInput, match="rate"):
        tell_money(book, -1.0, None, NOW)


def test_what_is_decided_changes_nothing_that_is_computed(book):
    case = brought(book)
    assert ready(book).mark == case.mark


def test_the_command_decides(probewright, book):
    brought(book)
    book.close()
    assert "What does an hour cost here?" in probewright("decide").stdout
    probewright("decide", "--rate", "60", "--currency", "EUR", "--value", "300,00", "--ceiling", "40,50")
    told = probewright("decide", "--option", "a new U3", "--pins", "16", "--parts", "8", "--json")
    view = json.loads(told.stdout)
    assert view["options"][0]["name"].endswith("a new U3") and "Shall I?" in view["question"]
    said = probewright("decide", "--yes-to", "a new U3", "--words", "go ahead", "--up-to", "300")
    assert "go ahead" in said.stdout and "Ask the owner" not in said.stdout
    wrong = probewright("decide", "--option", "b", "--kind", "nwe")
    assert wrong.returncode == 2 and "no kind of option" in wrong.stderr


def test_a_command_that_is_refused_leaves_nothing_behind(probewright, book):
    number = brought(book).number
    refused = ("--rate", "60", "--value", "300", "--option", "a new U3", "--yes-to", "a new U4", "--words", "go ahead")
    wrong = probewright("decide", *refused)
    assert wrong.returncode == 2 and "no option" in wrong.stderr
    case = bench.find_case(book, number)
    assert (case.options, case.agreed.value, money_of(book)) == ((), None, Money())


def test_a_form_that_is_refused_leaves_nothing_behind(page, book):
    brought(book)
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/decision").text).group(1)
    wrong = page.post("/jobs/1/decision", data={"token": token, "do": "money", "rate": "60", "value": "-300"})
    assert wrong.status_code == 422 and money_of(book) == Money()


def test_the_page_decides(page, book):
    brought(book)
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/decision").text).group(1)

    def post(**said: str):
        return page.post("/jobs/1/decision", data={"token": token, **said})

    assert "Name a way to go on" in post(do="money", rate="60", value="300", ceiling="40,5", currency="EUR").text
    assert bench.find_case(book, 1).agreed.ceiling == 40.5
    refused = post(do="option", name="a new U3", kind="new", parts="eight")
    assert refused.status_code == 422 and 'value="a new U3"' in refused.text and "no figure" in refused.text
    assert "Shall I?" in post(do="option", name="a new U3", kind="new", parts="8", pins="16").text
    assert "“go ahead”" in post(do="consent", to="a new U3", words="go ahead", up_to="300").text
    assert "Drop" not in post(do="drop", name="a new U3").text


def test_the_rate_of_one_job_is_reckoned_with_and_never_kept_for_the_bench(page, book):
    case = ready(book)
    billing.tell_billed(book, case, {}, {"rate": "30"}, NOW)
    shown = page.get("/jobs/1/decision").text
    assert re.search(r'name="rate"[^>]*value="60"', shown)
    assert billing.decided(book, bench.find_case(book, 1), None).rate == 30.0


def test_the_owners_word_is_one_whoever_asked_for_it(book):
    """Said on the bench or when it was decided: a yes is a yes, a no a no."""
    case = consent(book, ready(book, ceiling=30.0), "a new U3", "go ahead", 300.0, NOW)
    assert case.owner.allows("new U3") and case.owner.allows("U3 out")
    case = bench.enter_line(book, case, 'owner says no to a new U3: "I found another one"', NOW)
    assert not case.owner.allows("new U3")
    view = decide_on(book, case, None)
    assert all("U3" not in one.name for one in view.options) and "U3" not in view.advice
    case = bench.enter_line(book, case, 'owner says yes to a new U3: "after all"', NOW)
    assert any("U3" in one.name for one in decide_on(book, case, None).options)


def test_who_spoke_last_of_the_ceiling_counts(book):
    case = consent(book, ready(book, ceiling=50.0), "a new U3", "up to a hundred", 100.0, NOW)
    assert decide_on(book, case, None).ceiling == 100.0
    case = agree(book, case, {"ceiling": 60.0}, NOW)
    assert decide_on(book, case, None).ceiling == 60.0 and bench.find_case(book, case.number).agreed.ceiling == 60.0


def test_the_same_word_said_again_after_another_ceiling_lifts_it_again(book):
    case = consent(book, ready(book, ceiling=30.0), "a new U3", "go ahead", 50.0, NOW)
    case = consent(book, agree(book, case, {"ceiling": 39.0}, NOW), "a new U3", "go ahead", 50.0, NOW)
    assert case.agreed.ceiling == 50.0 and len(case.consents) == 2
    assert len(consent(book, case, "a new U3", "go ahead", 50.0, NOW).consents) == 2  # a form that was sent twice


def test_of_a_no_on_the_bench_and_a_yes_when_it_was_decided_the_later_counts(book):
    case = consent(book, ready(book), "a new U3", "go ahead", None, NOW)
    case = bench.enter_line(book, case, "owner says no to a new U3", NOW)
    assert not case.owner.allows("new U3")
    case = consent(book, case, "a new U3", "go ahead", None, NOW)  # the same words as before
    assert case.owner.allows("new U3") and not case.owner.no and not bench.view_case(case).owner
    assert any("U3" in one.name for one in decide_on(book, case, None).options)
    case = bench.enter_line(book, case, "owner says no to a new U3", NOW)
    assert not case.owner.allows("new U3") and all("U3" not in one.name for one in decide_on(book, case, None).options)


def test_a_word_is_no_word_to_what_was_made_another_option(book):
    case = consent(book, ready(book), "a new U3", "fine", None, NOW)
    case = add_option(book, case, option_said("remake", "a new U3", {"hours": 3.0}), NOW)
    assert not case.consents and not case.owner.allows("new U3")


def test_a_word_that_is_sent_twice_is_one(book):
    case = ready(book)
    for _ in range(2):
        case = consent(book, case, "a new U3", "go ahead", None, NOW)
    assert len(case.consents) == 1
    assert len(consent(book, case, "a new U3", "go ahead, up to 90", 90.0, NOW).consents) == 2
