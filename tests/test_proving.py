"""Stories of repairs that hold, that do not, and of which nothing can be said yet."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from checked import checked
from hidden import opened as hidden_job
from probewright.errors import BadInput
from probewright.jobs import bench
from probewright.jobs.cases import BAD, Intake, Tried
from probewright.jobs.finishing import FINISH, to_finish
from probewright.jobs.heard_again import LISTEN, to_hear
from probewright.jobs.proving import RUN, STARTS, adjusted, begin_run, end_run, hours_said, prove, take_back, tried
from probewright.jobs.putting_together import put_back
from probewright.jobs.standing import stand
from probewright.jobs.stripping import take_off
from probewright.jobs.view import is_powered
from probewright.planning.proof import tries_needed
from probewright.report import bench as report
from probewright.report.proofs import proof
from probewright.report.times import local

NOW = "2026-11-26T13:00:00+00:00"


def later(hours: float) -> str:
    return f"2026-11-26T{13 + int(hours):02}:{round(60 * (hours % 1)):02}:00+00:00"


def brought(book, when: str = "now and then"):
    told = Intake("amplifier", ticks={"sound left": BAD}, when=when, key="k")
    return bench.open_job(book, told, NOW)


def starts(book, case, amount: int, shown: int = 0, under: str = "cold", **more):
    return tried(book, case, Tried(0, NOW, STARTS, float(amount), shown, under, **more), NOW)


def repaired(book, case):
    return bench.enter_line(book, case, "fitted a new C12", NOW)


def heard(book, case):
    return bench.enter_line(book, case, "sound left ok", NOW)


def test_what_came_and_went_is_proven_by_as_many_starts_as_its_chance_asks(book):
    case = repaired(book, starts(book, brought(book), 10, 3))
    needed = tries_needed(3, 10)
    case = heard(book, starts(book, case, needed - 1))
    almost = prove(case)
    assert almost.standing == "to be tried" and "1 start clean (cold) is still needed" in almost.steps[0].says
    done = prove(starts(book, case, 1))
    assert done.standing == "proven" and done.steps[0].passes <= 0.05 < almost.steps[0].passes
    assert f"Clean in {needed} starts (cold)" in done.claim and "It may still fail at up to 1 in" in done.claim


def test_few_starts_are_claimed_as_a_share_and_many_as_one_in_so_many(book):
    """None of n starts bad: 95 % sure at most 1 - 0.05 ** (1 / n), 0.950 of one start and 0.095 of thirty."""
    case = heard(book, repaired(book, starts(book, brought(book), 10, 3)))
    assert "It may still fail in up to 95 % of starts (95% sure)" in prove(starts(book, case, 1)).claim
    assert "It may still fail at up to 1 in 11 starts" in prove(starts(book, case, 30)).claim


def test_starts_under_another_provocation_prove_nothing(book):
    case = heard(book, repaired(book, starts(book, brought(book), 10, 3, "warm")))
    view = prove(starts(book, case, 500, under="cold"))
    assert view.standing == "to be tried" and view.steps[0].done == 0 and "Nothing is claimed" in view.claim


def test_it_came_back_whatever_else_was_clean(book):
    case = heard(book, repaired(book, starts(book, brought(book), 10, 3)))
    view = prove(starts(book, starts(book, case, 100), 2, 1, "warm"))
    assert view.standing == "came back" and view.claim == "Not cured: it showed 1 time since the repair."


@pytest.mark.parametrize("word", ["bad", "half"])
def test_what_is_heard_not_to_work_since_the_repair_is_not_cured_until_it_works(book, word):
    case = checked(book, repaired(book, brought(book, "always")))
    case = bench.enter_line(book, case, "power on: sound left ok", NOW)
    case = bench.enter_line(book, case, f"sound left {word}", NOW)
    view = prove(starts(book, case, 5, under=""))
    assert view.standing == "came back" and view.claim.startswith("Not cured: sound left: the last word since")
    with pytest.raises(BadInput, match="sound left does not work; repair it further"):
        bench.close(book, case, "repaired", "", NOW)
    assert bench.close(book, case, "returned", "", NOW).closed
    case = heard(book, bench.reopen(book, bench.find_case(book, case.number), NOW))
    assert prove(case).standing == "to be tried"
    assert bench.close(book, case, "repaired", "", NOW).closed


def test_tries_before_the_last_repair_speak_of_the_machine_as_it_was(book):
    case = repaired(book, starts(book, brought(book), 10, 3))
    case = starts(book, case, 20, 2)  # the first repair was in vain
    case = heard(book, bench.enter_line(book, case, "fitted a new C13", NOW))
    view = prove(case)
    assert [one.since for one in view.tries] == [False, False] and view.standing == "to be tried"
    assert view.steps[0].needed == tries_needed(5, 30)


def test_nobody_counted_is_said_and_taken_as_seldom(book):
    (step,) = prove(repaired(book, brought(book))).steps
    assert "Nobody counted" in step.says and step.needed == tries_needed(1, 10)


def test_what_always_showed_needs_a_few_starts_and_a_warm_run(book):
    case = heard(book, repaired(book, brought(book, "always")))
    assert [(one.what, one.needed, one.passes) for one in prove(case).steps] == [(STARTS, 3, None), (RUN, 0.5, None)]
    case = starts(book, case, 3, under="")
    assert prove(case).standing == "to be tried"
    case = tried(book, case, Tried(0, later(0.5), RUN, 0.5, 0), later(0.5))
    view = prove(case)
    assert view.standing == "proven" and "before, it always showed" in view.claim


def test_what_was_tried_clean_before_any_repair_did_not_always_show(book):
    case = repaired(book, starts(book, brought(book, "always"), 5, under=""))
    view = prove(starts(book, case, 3, under=""))
    assert "always showed" not in view.claim and view.steps[0].needed == tries_needed(1, 10)
    assert "It did not show in 5 starts before" in view.steps[0].says
    case = starts(book, repaired(book, brought(book, "always")), 5, under="")  # clean since a repair: of that one
    assert "always showed" in prove(bench.enter_line(book, case, "fitted a new C13", NOW)).steps[0].says


def test_it_cannot_run_longer_than_the_clock_allows_unless_somebody_insists(book):
    case = heard(book, repaired(book, brought(book, "always")))
    with pytest.raises(BadInput, match="repaired 12 min ago"):
        tried(book, case, Tried(0, NOW, RUN, 0.5, 0), later(0.2))
    case = tried(book, case, Tried(0, NOW, RUN, 0.2, 0), later(0.2))
    with pytest.raises(BadInput, match="repaired 24 min ago"):  # both together
        tried(book, case, Tried(0, NOW, RUN, 0.4, 0), later(0.4))
    assert "clock shows less" not in prove(case).claim
    case = tried(book, case, Tried(0, NOW, RUN, 0.4, 0), later(0.4), insist=True)
    assert "The repairer states 36 min running; the program's clock shows less" in prove(case).claim
    case = heard(book, bench.enter_line(book, case, "fitted a new C13", later(0.5)))
    assert "clock shows less" not in prove(tried(book, case, Tried(0, NOW, RUN, 0.5, 0), later(1))).claim


def test_it_is_not_proven_while_what_did_not_work_was_not_heard(book):
    case = starts(book, repaired(book, starts(book, brought(book), 10, 3)), 400)
    assert (prove(case).standing, prove(case).unseen) == ("to be tried", ("sound left",))
    assert (prove(heard(book, case)).standing, prove(heard(book, case)).unseen) == ("proven", ())


def test_a_run_is_timed_by_the_clock_and_an_interruption_is_kept(book):
    case = repaired(book, tried(book, brought(book), Tried(0, NOW, RUN, 6.0, 3, "warm"), NOW))
    case = begin_run(book, case, "warm", NOW)
    assert prove(case).running == NOW
    with pytest.raises(BadInput, match="end that first"):
        begin_run(book, case, "", later(1))
    case = end_run(book, case, False, True, "called away", later(1.5))
    view = prove(case)
    assert view.running == "" and view.steps[0].done == pytest.approx(1.5)
    assert view.tries[-1].says == "90 min running (warm): it did not show, interrupted; called away"
    with pytest.raises(BadInput, match="begin a run first"):
        end_run(book, case, False, False, "", later(2))
    case = end_run(book, begin_run(book, case, "warm", later(2)), True, False, "", later(2.25))
    assert prove(case).standing == "came back"
    assert "Stay with it" in view.caution


def test_tries_taken_back_count_no_more_and_stay_in_the_record(book):
    case = repaired(book, starts(book, brought(book), 10, 3))
    case = starts(book, case, 5, 5)
    case = take_back(book, case, case.tried[-1].event, NOW)
    assert prove(case).standing == "to be tried" and len(case.tried) == 1
    assert sum(event.kind == "tried" for event in book.events(case.number)) == 2
    assert bench.find_case(book, case.number).tried == case.tried


def test_a_form_sent_twice_counts_once(book):
    case = brought(book)
    for _ in range(2):
        case = tried(book, case, Tried(0, NOW, STARTS, 4.0, 1), NOW, once="a")
    assert len(case.tried) == 1


@pytest.mark.parametrize("amount, shown", [(0, 0), (-3, 0), (4, 5), (4, -1), (1e9, 0)])
def test_tries_that_cannot_be_are_refused_and_not_kept(book, amount, shown):
    case = brought(book)
    with pytest.raises(BadInput):
        starts(book, case, amount, shown)
    assert not bench.find_case(book, case.number).tried


@pytest.mark.parametrize(
    "text, hours", [("2h", 2), ("40 min", 2 / 3), ("1h 30min", 1.5), ("1,5 h", 1.5), ("90 minutes", 1.5)]
)
def test_a_time_as_people_write_it(text, hours):
    assert hours_said(text) == pytest.approx(hours)


@pytest.mark.parametrize("text", ["", "2", "two hours", "2x", "h", "-1h"])
def test_what_is_no_time_is_asked_back(text):
    with pytest.raises(BadInput, match="2h, 40min"):
        hours_said(text)


def test_places_read_before_and_after_stand_side_by_side_with_what_should_be(book, demo_folder):
    text = (demo_folder / "fernside-ds-3.yaml").read_text("utf-8")
    job = hidden_job(book, text)
    job.type("VCC 3 V", "E1 1.2 V", "fitted a new C1", "VCC 14.5 V")
    (change,) = [one for one in prove(job.case).changes if one.where.startswith("VCC")]
    assert (change.before, change.after) == ("3 V DC", "14.5 V DC")
    assert change.healthy is not None and 0.0 < change.healthy.low < change.healthy.high < 20.0
    assert len(prove(job.case).changes) == 1  # E1 was read before alone


def test_an_adjustment_says_from_what_to_what(book):
    case = adjusted(book, repaired(book, brought(book)), "RV1 bias", "4 mV", "5 mV", NOW)
    (one,) = prove(case).adjusted
    assert (one.what, one.before, one.after) == ("RV1 bias", "4 mV", "5 mV")
    with pytest.raises(BadInput, match="from and to"):
        adjusted(book, case, "RV1", "", "5 mV", NOW)


def test_nothing_is_entered_into_a_closed_job(book):
    case = bench.close(book, checked(book, repaired(book, brought(book))), "repaired", "", NOW)
    with pytest.raises(BadInput, match="is closed"):
        starts(book, case, 3)
    assert prove(case).standing == "to be tried"


def test_what_is_tried_changes_nothing_that_is_computed(book):
    case = brought(book)
    assert starts(book, case, 3, 1).mark == case.mark
    assert replace(starts(book, case, 3, 1), tried=(), touched="") == replace(case, touched="")


def test_the_command_enters_and_shows(probewright, book):
    brought(book)
    book.close()
    assert "Count how often it shows" in probewright("prove").stdout
    probewright("prove", "--starts", "10", "--shown", "3", "--under", "cold")
    probewright("reading", "add", "fitted a new C12")
    told = probewright("prove", "1", "--starts", "8", "--under", "cold", "--json")
    view = json.loads(told.stdout)
    assert view["standing"] == "to be tried" and view["steps"][0]["done"] == 8
    wrong = probewright("prove", "--ran", "2x")
    assert wrong.returncode == 2 and "write 2h" in wrong.stderr


def test_a_run_is_said_to_go_on_since_when_and_for_how_long(probewright, book):
    view = prove(begin_run(book, repaired(book, brought(book)), "", NOW))
    said = f"Running on trial since {local(NOW)}, 1 h 30 min by now."
    book.close()
    assert said in proof(view, later(1.5))
    assert re.search(rf"since {local(NOW)}, (\d+ h )?\d+ min by now", probewright("prove").stdout)


def test_the_page_enters_times_and_takes_back(page, book):
    case = repaired(book, starts(book, brought(book), 10, 3))
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/proof").text).group(1)

    def post(**said: str):
        return page.post("/jobs/1/proof", data={"token": token, **said})

    assert "8 starts (cold): it did not show" in post(starts="8", under="cold").text
    refused = post(starts="8", ran="2h", under="tapping C4")
    assert refused.status_code == 422 and 'value="tapping C4"' in refused.text
    assert "It runs since" in post(do="begin", under="warm").text
    assert post(do="begin", under="warm").status_code == 200  # sent twice
    again = post(do="begin", under="cold")
    assert again.status_code == 422 and "end that first" in again.text
    for once in ("one", "one", "another"):
        said = post(do="adjusted", what="RV1", before="4", after="5", once=once).text
    assert said.count("RV1: from 4 to 5") == 2 and re.search('name="once" value="[0-9a-f]{16}a"', said)
    event = bench.find_case(book, case.number).tried[-1].event
    assert "8 starts" not in post(do="back", event=str(event)).text


def test_what_was_tried_and_never_showed_is_not_said_to_have_shown(book):
    (step,) = prove(repaired(book, starts(book, brought(book), 20, 0))).steps
    assert "It did not show in 20 starts (cold) before: taken as once in ten starts" in step.says


def test_a_run_that_a_repair_fell_into_counts_from_the_repair(book):
    case = begin_run(book, repaired(book, starts(book, brought(book), 10, 3)), "", NOW)
    case = bench.enter_line(book, case, "fitted a new C13", later(2))
    case = end_run(book, case, False, False, "", later(3))
    assert case.tried[-1].amount == pytest.approx(1.0)


def test_after_a_repair_it_is_heard_first_whether_it_cured(book):
    case = brought(book)
    assert to_hear(case) is None
    mended = repaired(book, bench.enter_line(book, case, "power off", NOW))
    step = to_hear(mended)
    assert step is not None and step.kind == LISTEN and "does sound left work now" in step.do
    assert '"power on: sound left ok"' in step.do and is_powered(step)
    again = bench.enter_line(book, mended, "power on: sound left bad", NOW)
    assert to_hear(again) is None  # it was told, and the search goes on
    assert to_hear(repaired(book, again)) is not None


def test_each_function_is_heard_after_a_repair_then_the_job_is_finished_in_order(book):
    ticks = {"sound left": BAD, "sound right": BAD}
    case = bench.open_job(book, Intake("amplifier", ticks=ticks, when="always", key="k"), NOW)
    case = put_back(book, take_off(book, case, "lid: earth wire", NOW), "1", NOW)
    case = bench.enter_line(book, repaired(book, case), "power on: sound right ok", NOW)
    step = to_hear(case)
    assert step is not None and "does sound left work now?" in step.do and "right" not in step.do
    assert to_finish(case) is None
    case = heard(book, case)
    card = stand(book, case, NOW).card
    assert to_hear(case) is None and card is not None and card.kind == FINISH and "3 starts" in card.do
    places = [f"{card.do} {card.why}".index(f"`probewright {one}") for one in ("prove", "strip", "safety", "job close")]
    assert places == sorted(places)
    case = tried(book, starts(book, case, 3, under=""), Tried(0, later(1), RUN, 0.5, 0), later(1))
    card = stand(book, case, NOW).card  # what was worked out for these lines is kept; the step is not
    assert card is not None and card.do.startswith("Put it together")
    said = report.standing(stand(book, case, NOW))
    assert "Next: Put it together" in said and "\nOr:" not in said
    assert to_finish(starts(book, case, 2, 1)) is None, "it came back: the search goes on"


def test_what_was_heard_to_be_bad_before_the_repair_has_to_be_heard_after_it(book):
    case = bench.open_job(book, Intake("amplifier", words="weak", key="k"), NOW)
    case = bench.enter_line(book, case, "sound left bad", NOW)
    assert prove(repaired(book, case)).unseen == ("left sound",)
    assert prove(bench.enter_line(book, repaired(book, case), "left sound ok", NOW)).unseen == ()


def test_an_adjustment_sent_twice_is_one_and_made_again_after_another_repair_is_two(book):
    case = repaired(book, brought(book))
    for _ in range(2):
        case = adjusted(book, case, "RV1, bias", "4 mV", "5 mV", NOW, "one form")
    assert len(case.adjusted) == 1
    case = adjusted(book, bench.enter_line(book, case, "fitted a new R2", NOW), "RV1, bias", "4 mV", "5 mV", later(2))
    assert [one.at for one in prove(case).adjusted] == [NOW, later(2)]
