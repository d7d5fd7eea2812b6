"""What closed jobs leave to the next ones: usual culprits, machines that come back, repairs that hold."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from checked import checked
from conftest import Run
from dividers import DIVIDERS
from hidden import NOW, opened
from probewright.errors import BadInput
from probewright.hypotheses.suspects import pair, suspects_of
from probewright.hypotheses.usual import Tally, Usual, expected, factor, kind_of, moved
from probewright.jobs import bench, culprits, remembering
from probewright.jobs.alike import like
from probewright.jobs.cases import Case, Intake, Tried, fold
from probewright.jobs.culprits import _culprits, usual_of
from probewright.jobs.erasing import erase_owner
from probewright.jobs.finding import find
from probewright.jobs.found import keep_usual, kept_usual
from probewright.jobs.handing_over import OWNER, hand_over, tell_owner
from probewright.jobs.proving import RUN, STARTS, adjusted, tried
from probewright.jobs.remembering import CureView, MovedView, StockView, learnt, share_held
from probewright.jobs.standing import stand
from probewright.jobs.teaching import learn, view_taught
from probewright.machine import read
from probewright.record import Book
from probewright.report.bench import suspects as suspect_words
from probewright.report.remembering import cures as cure_words
from probewright.report.remembering import found as found_words
from probewright.report.remembering import learnt as learnt_words
from probewright.web import remember_pages

MACHINE = read(DIVIDERS)
LATER = "2026-12-05T10:00:00+00:00"  # ten days on
tallies = st.builds(Tally, st.integers(0, 40).map(float), st.floats(0.0, 40.0))


def repaired(book: Book, part: str = "R3", mode: str = "open", model: str = "Model 7", **told: object) -> Case:
    """A machine with this part broken, read, mended and closed."""
    job = opened(book, DIVIDERS, f"{part} {mode}", model=model)
    if told:
        job.case = bench.amend(book, job.case, told, NOW)
    before = {"R3": ("OUT 0 V", "MID 6 V"), "F1": ("VIN 12 V", "RAW 0 V")}[part]
    # in order: 12 V through 10k to 10k || (22k + 47k), of that 47k of 69k
    job.type(*before, f"replaced {part}", "output ok", "sound left ok", "OUT 3.81 V")
    job.now()
    case = proven(book, bench.find_case(book, job.case.number))
    return bench.close(book, checked(book, case), "repaired", f"{part} was {mode}", NOW)


def proven(book: Book, case: Case) -> Case:
    """What always showed is proven by three starts and half an hour."""
    for what, amount in ((STARTS, 3.0), (RUN, 0.5)):
        case = tried(book, case, Tried(0, NOW, what, amount, 0), NOW, insist=True)
    return case


def test_a_repair_that_nobody_proved_counts_for_nothing(book):
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    job.type("OUT 0 V", "MID 6 V", "replaced R3", "output ok")
    bench.close(book, checked(book, bench.find_case(book, job.case.number)), "repaired", "", NOW)
    cures = learnt(book, NOW).cures
    assert (cures.repaired, cures.unproven, cures.back) == (0, 1, 0)
    assert cure_words(cures) == "Repairs: none proven yet. 1 other ended unproven, and tell nothing."


# The mathematics ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("weighs", "found", "expects", "times"),
    [
        (1.0, 0.0, 0.0, 1.0),  # nothing seen: as the tables say
        (1.0, 3.0, 1.0, 2.0),  # (1 + 3) / (1 + 1)
        (2.0, 10.0, 15.0, 12.0 / 17.0),
        # Gelman et al., Bayesian data analysis, section 2.6, idiopathic deaths of asthma, from memory: Gamma(3, 5), 3 deaths in 2 x
        # 100,000 person-years give Gamma(6, 7), of mean 0.86; 30 in ten years Gamma(33, 25), of mean 1.32. Prior mean 0.6.
        (3.0, 3.0, 0.6 * 2.0, 0.857 / 0.6),
        (3.0, 30.0, 0.6 * 20.0, 1.32 / 0.6),
    ],
)
def test_a_rate_moves_as_gamma_and_poisson_say(weighs: float, found: float, expects: float, times: float) -> None:
    assert moved(weighs, Tally(found, expects)) == pytest.approx(times, rel=1e-3)


@given(tallies, st.floats(0.1, 5.0))
def test_a_rate_ends_where_the_bench_is_and_never_beyond(tally: Tally, weighs: float) -> None:
    times, own = moved(weighs, tally), tally.found / tally.expected if tally.expected else math.inf
    assert min(1.0, own) - 1e-9 <= times <= max(1.0, own) + 1e-9
    if tally.expected > 0.01:
        many = Tally(tally.found * 1e6, tally.expected * 1e6)
        assert moved(weighs, many) == pytest.approx(own, rel=1e-3, abs=1e-3)


def test_the_tables_expect_one_culprit_in_a_machine_with_one() -> None:
    share = expected(MACHINE, suspects_of(MACHINE))
    assert math.fsum(share.values()) == pytest.approx(1.0)
    # four film resistors of weight 1, a fuse; the mode shares of film resistors are 0.6, 0.37, 0.03
    assert share["resistor.film", "open"] == pytest.approx(share["resistor.film", "drift-up"] * 0.6 / 0.37)


def test_by_hand_the_same_part_of_a_model_and_its_kind_count_once_each() -> None:
    """5 jobs of which 2 are of the model, where R3 was it twice; in the other 3 some other resistor was it once.

    In all others of the kind 3 - 2 were found where 2.0 - 2 x 0.1 were expected; R3 twice where 2 x 0.1 were, moved so.
    """
    usual = Usual(5, {("resistor.film", "open"): Tally(3.0, 2.0)}, 2, {("R3", "open"): 2.0}, 2.0)
    kind = (1.0 + 1.0) / (1.0 + 1.8)
    assert factor(usual, "resistor.film", "R3", "open", 0.1) == pytest.approx(kind * 2.5 / (0.5 + 0.2 * kind))
    assert factor(usual, "resistor.film", "R4", "open", 0.1) == pytest.approx(
        (1.0 + 3.0) / (1.0 + 1.8) * 0.5 / (0.5 + 0.2 * 4.0 / 2.8)
    )
    assert factor(Usual(), "resistor.film", "R3", "open", 0.1) == 1.0


def test_a_job_counts_for_the_part_of_its_model_by_what_it_proved() -> None:
    """Half a culprit was proved, of which the tables expect 0.05 of this part, and it was just that half of it."""
    usual = Usual(1, {("resistor.film", "open"): Tally(0.05, 0.05)}, 1, {("R3", "open"): 0.05}, 0.5)
    assert factor(usual, "resistor.film", "R3", "open", 0.1) == pytest.approx(1.0), "found as often as expected"


def test_the_prior_of_the_next_machine_moves_and_the_standing_ones_stay() -> None:
    usual = Usual(4, {("resistor.film", "open"): Tally(4.0, 1.0)}, 4, {("R3", "open"): 4.0}, 4.0)
    before = {one.id: one for one in suspects_of(MACHINE)}
    now = {one.id: one for one in suspects_of(MACHINE, usual=usual)}
    assert list(now) == list(before)
    assert math.fsum(one.prior for one in now.values()) == pytest.approx(1.0)
    for name in ("nothing-wrong", "not-listed", "OUT loads-net"):
        assert now[name].prior == pytest.approx(before[name].prior)
    assert all(now[name].handbook == pytest.approx(before[name].handbook) for name in now)
    assert now["R3 open"].prior > 3.0 * now["R1 open"].prior  # four times it was this very one
    assert "4 jobs of this bench" in now["R3 open"].source
    own = {name: one for name, one in before.items() if one.faults and kind_of(MACHINE, one.faults[0])}
    whole = math.fsum(one.prior for one in own.values())
    grown = {name: now[name].prior / one.prior for name, one in own.items()}
    times = {
        name: factor(usual, kind_of(MACHINE, fault), fault.item, fault.mode, one.prior / whole)
        for name, one in own.items() if (fault := one.faults[0])
    }  # fmt: skip
    for name in own:
        assert grown[name] / grown["F1 open"] == pytest.approx(times[name] / times["F1 open"])


def test_what_is_no_part_of_the_machine_has_no_kind() -> None:
    kinds = {one.id: kind_of(MACHINE, one.faults[0]) for one in suspects_of(MACHINE) if one.faults}
    assert kinds["R3 open"] == "resistor.film" and kinds["F1 open"] == "fuse"
    assert kinds["R3.1 joint-open"] == "joint.ordinary"
    assert kinds["OUT loads-net"] == ""


def test_usual_culprits_are_kept_as_they_were() -> None:
    usual = Usual(5, {("resistor.film", "open"): Tally(3.0, 2.0)}, 2, {("R3", "open"): 2.0}, 2.0)
    assert kept_usual(json.loads(json.dumps(keep_usual(usual)))) == usual


# A bench that learns --------------------------------------------------------------------------


def test_a_repair_proves_its_culprit_and_the_next_machine_begins_there(book: Book) -> None:
    first = repaired(book)
    assert first.found is not None
    assert [(one.item, one.mode, one.kind) for one in first.found.culprits][:1] == [("R3", "open", "resistor.film")]
    proved_ = math.fsum(one.share for one in first.found.culprits)
    assert 0.9 < proved_ <= 1.0  # the rest is of no kind: a bridge over it
    assert math.fsum(first.found.expected.values()) == pytest.approx(proved_)
    again = opened(book, DIVIDERS, "R3 open", model="model  7")
    other = opened(book, DIVIDERS, "R3 open", model="Model 8")
    by_table = {one.id: one.prior for one in suspects_of(MACHINE)}
    priors = [{one.id: one.prior for one in stand(book, job.case, NOW).search.suspects} for job in (again, other)]
    assert priors[0]["R3 open"] > priors[1]["R3 open"] > by_table["R3 open"]
    assert "moved by what 1 job of this bench proved; they decide" in suspect_words(stand(book, again.case, NOW))


def test_an_open_job_keeps_what_it_began_with(book: Book) -> None:
    repaired(book)
    job = opened(book, DIVIDERS, "R1 open", model="Model 7")
    before = job.case.usual
    repaired(book, "F1")
    assert before.jobs == 1 and fold(book.events(job.case.number)).usual == before
    assert bench.open_job(book, Intake("amplifier", model="Model 7", key="k"), NOW).usual.jobs == 2


def test_a_job_taken_up_again_or_ended_otherwise_proves_nothing(book: Book) -> None:
    first = repaired(book)
    assert usual_of(book, "").jobs == 1
    case = bench.reopen(book, first, NOW)
    assert usual_of(book, "").jobs == 0
    bench.close(book, case, "returned", "", NOW)
    assert usual_of(book, "").jobs == 0


def test_of_several_parts_changed_at_once_nothing_is_learnt(book: Book) -> None:
    job = opened(book, DIVIDERS, "R3 open")
    job.type("replaced R1", "replaced R4")
    bench.close(book, checked(book, job.case), "repaired", "", NOW)
    assert usual_of(book, "").jobs == 0
    one = opened(book, DIVIDERS, "R3 open")
    one.type("replaced R4")
    closed = bench.close(book, checked(book, one.case), "repaired", "", NOW)
    assert closed.found is not None and {c.item.split(".")[0] for c in closed.found.culprits} == {"R4"}
    by = {(c.item, c.mode): c.share for c in closed.found.culprits}
    assert by["R4", "open"] / by["R4", "short"] == pytest.approx(0.6 / 0.03, rel=1e-4), "as the tables share it out"


def test_a_job_that_an_earlier_version_closed_is_learnt_from_when_somebody_looks(book: Book) -> None:
    first = repaired(book)
    assert first.found is not None
    with_out = [one for one in book.events(first.number) if one.kind != "found"]
    job = book.open_job(with_out[0].payload, NOW, "0.6.0").job
    for one in with_out[1:]:
        book.append(job, one.kind, one.payload, NOW, "0.6.0")
    assert usual_of(book, "").jobs == 1
    view = learnt(book, NOW)
    assert view.jobs == 2 and usual_of(book, "").jobs == 2
    resistor = next(one for one in view.culprits if (one.kind, one.mode) == ("resistor.film", "open"))
    assert resistor.moved == pytest.approx((1.0 + resistor.found) / (1.0 + resistor.expected))
    assert resistor.here == pytest.approx(0.6 * resistor.moved) and resistor.found > 1.0
    assert view.stock[0].item == "R3" and view.stock[0].jobs == 2 and view.stock[0].moved > 2.0
    assert view.healthy[0].model == "Model 7"


def test_a_suspect_of_two_faults_is_one_culprit() -> None:
    listed = {one.id: one for one in suspects_of(MACHINE)}
    found = list(_culprits(MACHINE, [(pair(listed["R1 open"], listed["R3 open"]), 0.8)]))
    assert {one.item: one.share for one in found} == {"R1": 0.5, "R3": 0.5}


def test_what_the_jobs_of_a_model_prove_is_summed_as_the_tables_count_it(book: Book) -> None:
    found = [repaired(book).found, repaired(book).found]
    usual = usual_of(book, "Model 7")
    proved_ = math.fsum(one.share for job in found if job is not None for one in job.culprits)
    assert usual.alike == 2 and usual.proved == pytest.approx(proved_) and 1.8 < usual.proved < 2.0


# Machines that come back -----------------------------------------------------------------------


def comes_again(book: Book, **told: object) -> Case:
    return bench.open_job(book, Intake("amplifier", key="k", **told), LATER)


def test_the_same_serial_number_is_the_same_machine(book: Book) -> None:
    first = repaired(book, serial="0047", ticks={"sound left": "bad"})
    case = comes_again(book, serial=" 0047", ticks={"sound left": "partly", "powers up": "good"})
    view = bench.view_case(case).before
    assert view is not None and (view.job, view.days, view.touched, view.again) == (first.number, 10, ("R3",), True)
    assert view.says == (
        f"Job {first.number}, 10 days ago: mended R3, closed as repaired; the same is complained of: sound left"
    )
    assert usual_of(book, "").jobs == 0, "a repair that came back proves nothing"
    assert [(one.kind, one.places) for one in case.zones] == [("earlier work", ("R3",))]
    told = learnt(book, NOW)
    assert not told.healthy, "what was read on it then was no sound machine's"
    page = hand_over(book, bench.find_case(book, first.number), None, OWNER, NOW)
    assert page.ending.title.endswith("but it came back")
    assert page.ending.says[-1] == f"It came back with the same fault, as job {case.number}."
    case = bench.amend(book, case, {"model": "Model 7"}, LATER)
    (alike,) = like(book, case).jobs
    assert f"but it came back as job {case.number}" in alike.why and alike.was == ()
    assert not view_taught(book, case).teachers
    with pytest.raises(BadInput, match="teaches nothing: it came back with the same"):
        learn(book, case, first.number, "M1", True, LATER)
    cures = told.cures
    assert (cures.repaired, cures.back, cures.again[0].again, cures.again[0].days) == (1, 1, case.number, 10)


def test_the_record_of_a_repair_says_as_which_job_it_came_back(probewright: Run, book: Book) -> None:
    first = repaired(book, serial="0047", ticks={"sound left": "bad"})
    case = comes_again(book, serial="0047", ticks={"sound left": "bad"})
    book.close()
    said = f"It came back with the same fault, as job {case.number}."
    assert said in probewright("job", "show", first.number).stdout
    assert said not in probewright("job", "show", case.number).stdout


def test_another_function_that_fails_is_no_failed_repair(book: Book) -> None:
    repaired(book, serial="0047", ticks={"sound left": "bad"})
    case = comes_again(book, serial="0047", ticks={"sound left": "good", "powers up": "bad"})
    assert case.earlier is not None and not bench.view_case(case).before.again
    assert usual_of(book, "").jobs == 1 and learnt(book, NOW).cures.back == 0
    case = bench.was_here(book, case, case.earlier.job, True, NOW)
    assert bench.view_case(case).before.again and usual_of(book, "").jobs == 0


def test_what_a_repair_taught_is_not_held_against_the_machine_on_which_it_failed(book: Book) -> None:
    first = repaired(book, serial="0047", ticks={"sound left": "bad"})
    other = repaired(book, "F1", serial="0048")
    case = comes_again(book, model="Model 7", serial="0047", ticks={"sound left": "bad"})
    assert case.usual == usual_of(book, "Model 7") and case.usual.jobs == 1, "only the other one still proves a thing"
    case = bench.was_here(book, case, first.number, False, NOW)
    assert case.usual.jobs == 2 and fold(book.events(case.number)).usual == case.usual
    case = bench.was_here(book, case, first.number, None, NOW)
    assert case.usual.jobs == 1
    assert bench.amend(book, case, {"ticks": {"sound left": "good", "powers up": "bad"}}, NOW).usual.jobs == 2
    bench.reopen(book, other, NOW)
    assert bench.was_here(book, case, first.number, True, NOW).usual == Usual(), "what was pinned is taken out again"


def test_two_machines_of_one_owner_are_two(book: Book) -> None:
    first = repaired(book, owner="Anna Möller", serial="1")
    assert comes_again(book, owner="Anna Möller", model="Model 7", serial="2").earlier is None
    assert comes_again(book, owner="anna möller", model="model 7").earlier.job == first.number
    assert comes_again(book, owner="Anna Möller", model="Model 8").earlier is None
    assert comes_again(book, model="Model 7").earlier is None
    assert bench.open_job(book, Intake("radio", owner="Anna Möller", model="Model 7"), NOW).earlier is None


def test_what_is_said_comes_before_what_is_looked_up(book: Book) -> None:
    first = repaired(book, serial="0047")
    told = Intake("amplifier", serial="0047", key="k")
    assert bench.open_job(book, told, LATER, 0).earlier is None
    case = bench.open_job(book, replace(told, serial=""), LATER, first.number)
    assert case.earlier is not None and bench.view_case(case).before.why == "as said"
    for job in (case.number, 99):
        with pytest.raises(BadInput):
            bench.was_here(book, case, job, None, NOW)
    assert bench.was_here(book, case, 0, None, NOW).earlier is None
    late = comes_again(book)
    assert late.earlier is None and bench.amend(book, late, {"serial": "0047"}, LATER).earlier is not None


def test_a_come_back_that_a_slip_made_goes_with_the_slip(book: Book) -> None:
    first = repaired(book, owner="Anna Möller", serial="0047")
    case = comes_again(book, owner="Anna Möller", model="Model 7")
    assert case.earlier is not None and usual_of(book, "").jobs == 0
    case = bench.amend(book, case, {"owner": "Anna Moll"}, LATER)
    assert case.earlier is None and fold(book.events(case.number)).earlier is None
    assert usual_of(book, "").jobs == case.usual.jobs == 1 and learnt(book, NOW).cures.back == 0
    case = bench.amend(book, case, {"serial": "0047"}, LATER)
    assert case.earlier is not None and (case.earlier.job, case.earlier.why) == (first.number, "same serial number")
    case = bench.was_here(book, case, first.number, True, LATER)
    bench.reopen(book, first, LATER)
    case = bench.amend(book, case, {"owner": "Anna Möller"}, LATER)
    assert case.earlier is not None and case.earlier.same, "what was said of the fault stays with the same job"
    said = bench.open_job(book, Intake("amplifier", key="k"), LATER, first.number)
    assert bench.amend(book, said, {"owner": "Anna Moll"}, LATER).earlier is not None, "so somebody said"


@pytest.mark.parametrize(
    ("repaired_", "back", "low", "high"),
    # two-sided 95 % limits of Clopper and Pearson; 0 of 10 and 10 of 10 by 0.025^(1/10), 9 of 10 as in Newcombe,
    # Statistics in Medicine 17 (1998) 857, from memory: 0.5550 and 0.9975
    [(10, 0, 0.6915, 1.0), (10, 10, 0.0, 0.3085), (10, 1, 0.5550, 0.9975), (0, 0, 0.0, 1.0)],
)
def test_the_share_of_repairs_that_hold_by_clopper_and_pearson(
    repaired_: int, back: int, low: float, high: float
) -> None:
    assert share_held(repaired_, back) == pytest.approx((low, high), abs=1e-4)


def test_a_job_whose_owner_was_erased_is_not_the_one_touched_last(book: Book) -> None:
    old = bench.open_job(book, Intake("amplifier", owner="Anna Möller", key="k"), NOW)
    new = bench.open_job(book, Intake("amplifier", key="k"), "2026-11-26T10:00:00+00:00")
    erase_owner(book, old, [], LATER)
    assert bench.find_case(book).number == new.number
    assert bench.find_case(book, old.number).touched == NOW and bench.find_case(book, old.number).erased == LATER


# At the two doors ------------------------------------------------------------------------------


def test_the_commands_show_what_was_learnt(probewright: Run, book: Book) -> None:
    first = repaired(book, serial="0047", ticks={"sound left": "bad"})
    book.close()
    said = probewright("book", "learnt")
    assert said.returncode == 0 and re.search(r"resistor.film +open .*x1\.", said.stdout), said.stdout
    assert "1 of 1 proven ones hold so far" in said.stdout and re.search(
        r"Model 7: R3 open was it in \S+ of 1 job;", said.stdout
    )
    opened_ = probewright("job", "open", "--kind", "amplifier", "--serial", "0047", "--bad", "sound left")
    assert f"Job {first.number}, " in opened_.stdout and "counts as no cure" in opened_.stdout
    other = probewright("job", "comes-back", str(first.number), "--other-fault")
    assert other.returncode == 0 and "another fault, as said" in other.stdout
    told = json.loads(probewright("book", "learnt", "--json").stdout)
    assert told["cures"]["repaired"] == 1 and told["cures"]["back"] == 0


def test_what_was_learnt_names_a_mode_in_words(page: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    told = replace(
        learnt(book, NOW),
        culprits=(MovedView("resistor.film", "drift-up", 1.0, 2.0, 2.0, 3.0, 1.0, 4),),
        stock=(StockView("Model 7", "R3", "drift-up", 1.0, 1, 2.0),),
    )
    monkeypatch.setattr(remember_pages, "learnt_of", lambda *_: told)
    for said in (learnt_words(told), re.sub(r"</?strong>", "", page.get("/learnt").text)):
        assert said.count("drift up") == 2 and "R3 drift up was it in" in said and "drift-up" not in said


def test_the_page_shows_what_was_learnt(page: TestClient, book: Book) -> None:
    repaired(book, serial="0047", ticks={"sound left": "bad"})
    shown = page.get("/learnt").text
    assert "resistor, film: open" in shown and "1 of 1 proven ones hold so far" in shown
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/new?kind=amplifier").text).group(1)
    form = {"token": token, "once": "o", "kind": "amplifier", "serial": "0047", "tick sound left": "bad"}
    came = page.post("/jobs", data=form)
    assert "the same is complained of: sound left" in came.text
    mended = {"token": token, "was serial": "0047", "serial": "0047", "tick sound left": "bad",
              "was tick sound left": "bad", "before": "1", "was before": "1", "same": "no", "was same": ""}  # fmt: skip
    assert "another fault, as said" in page.post("/jobs/2/intake", data=mended).text
    wrong = page.post("/jobs/2/intake", data={**mended, "before": "99"})
    assert wrong.status_code == 422 and "no job 99" in wrong.text
    assert bench.find_case(book, 2).earlier.job == 1


# Found again -----------------------------------------------------------------------------------


def test_a_job_is_found_by_symptom_machine_part_and_decisive_reading(book: Book) -> None:
    first = repaired(book, serial="LM2-00417", words="quiet since the move, anna says", ticks={"sound left": "bad"})
    bench.open_job(book, Intake("radio", words="quiet: nothing", key="k"), NOW)
    assert first.found is not None and first.found.decisive > 0
    for words, column in {
        "since move": "complaint", "sound left bad": "complaint", "00417": "machine", "R3 open": "it was",
        first.found.text: "decided by", "r3 was": "at the end", "replaced R3": "noted",
    }.items():  # fmt: skip
        found = find(book, words)
        assert [one.job for one in found.jobs] == [first.number], words
        (where,) = [one for one in found.jobs[0].why if one.where == column]
        hits = " ".join(piece.text for piece in where.pieces if piece.hit).casefold()
        assert hits.split()[0] in words.casefold(), (words, where)
    assert [one.job for one in find(book, "quiet").jobs] == [2, 1], "the shorter text says it more"


def test_what_many_jobs_say_is_cut_to_the_best(book: Book) -> None:
    for number in range(52):
        bench.open_job(book, Intake("radio", words="hum", key=str(number)), NOW)
    view = find(book, "hum")
    assert (len(view.jobs), view.more) == (50, 2) and found_words(view).endswith("and 2 jobs more; say another word")


def test_a_practice_is_not_among_the_jobs_found(book: Book) -> None:
    bench.open_job(book, Intake("radio", words="hum", key="k", practice="p"), NOW)
    assert not find(book, "hum").jobs


def test_jobs_like_this_one_and_why(book: Book) -> None:
    same = repaired(book, words="quiet and crackling", ticks={"sound left": "bad"})
    far = bench.open_job(book, Intake("radio", words="hum from the transformer", key="k"), NOW)
    kind = bench.open_job(book, Intake("amplifier", words="smells of smoke", key="k"), NOW)
    words = bench.open_job(book, Intake("tape recorder", words="crackling, somebody says", key="k"), NOW)
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    job.case = bench.amend(book, job.case, {"words": "crackling again", "ticks": {"sound left": "partly"}}, NOW)
    job.follow()
    view = like(book, bench.find_case(book, job.case.number))
    found = {one.job: one for one in view.jobs}
    assert view.jobs[0].job == same.number and far.number not in found and kind.number not in found
    assert found[same.number].why[:3] == (
        "the same model", "the same does not work: sound left", "words in common: crackling"
    )  # fmt: skip
    assert "R3 open was it there, and R3 open is suspected here" in found[same.number].why[3]
    assert found[same.number].was[0] == "R3 open"
    assert words.number not in found, "one word in common is not enough"
    scores = [one.score for one in view.jobs]
    assert scores == sorted(scores, reverse=True) and min(scores) >= 1.0


def test_a_function_and_a_word_of_the_same_name_are_counted_apart(book: Book) -> None:
    """Both of the jobs say "sound", and of "sound" both complain: neither tells them apart, nor speaks against it."""
    for _ in range(2):
        told = {"words": "no sound", "ticks": {"sound": "bad"}, "model": "Fernside"}
        last = bench.open_job(book, Intake("radio", key="k", **told), NOW)
    (one,) = like(book, last).jobs
    assert one.score == pytest.approx(4.0) and one.why[0] == "the same model"


def test_the_commands_find(probewright: Run, book: Book) -> None:
    bench.open_job(book, Intake("radio", model="Fernside", words="hum, C12?", key="k"), NOW)
    bench.open_job(book, Intake("radio", model="Fernside", key="k"), NOW)
    book.close()
    found = probewright("job", "find", "fern", "-C1")
    assert found.returncode == 0 and "complaint: hum, [C12]?" in found.stdout, found
    messy = probewright("job", "find", '"', "a OR", "NEAR(", "x*y", "'; --")
    assert messy.returncode == 0 and "No job with" in messy.stdout, messy
    like_ = probewright("job", "like", "2")
    assert "Job 1 (open), Fernside" in like_.stdout and "the same model" in like_.stdout


def test_the_pages_find(page: TestClient, book: Book) -> None:
    bench.open_job(book, Intake("radio", model="Fernside", words="hum <b> C12", key="k"), NOW)
    bench.open_job(book, Intake("radio", model="Fernside", key="k"), NOW)
    found = page.get("/jobs?find=hum").text
    assert "<mark>hum</mark> &lt;b&gt; C12" in found and "complaint" in found
    assert page.get('/jobs?find=" OR *').status_code == 200
    shown = page.get("/jobs/2/like").text
    assert "The same model" in shown and 'href="/jobs/1"' in shown
    assert "/jobs/2/like" in page.get("/jobs/2").text


def test_only_what_was_said_read_done_and_found_is_found_and_no_step_that_was_proposed(book: Book) -> None:
    job = opened(book, DIVIDERS, "R3 open")
    job.type("OUT 0 V")
    job.now()
    case = bench.find_case(book, job.case.number)
    proposed = str((case.shown or {})["next"])
    assert proposed and not find(book, proposed).jobs
    tell_owner(book, case, {"cause": "baked beside the transformer"}, NOW)
    adjusted(book, case, "RV7, azimuth", "4 mV", "5 mV", NOW)
    for words in ("baked transformer", "azimuth", "OUT 0"):
        assert [one.job for one in find(book, words).jobs] == [case.number], words


@pytest.mark.parametrize(
    ("said", "asked", "hit"),
    [
        ("左の音が出ない。ランプは点灯する", "ランプ", "ランプ"),
        ("左の音が出ない。ランプは点灯する", "音", "音"),
        ("电容C12鼓包了", "C12鼓包", "C12鼓包"),
        ("电容C12鼓包了", "c12", "C12"),
        ("เสียงข้างซ้ายเงียบ", "ซ้าย", "ซ้าย"),
    ],
)
def test_words_of_scripts_without_spaces_are_found_in_the_middle_too(
    book: Book, said: str, asked: str, hit: str
) -> None:
    for words in (said, "another", asked[::-1] if len(asked) > 1 else "other"):
        bench.open_job(book, Intake("radio", words=words, key="k"), NOW)
    (one,) = find(book, asked).jobs
    shown = "".join(piece.text for piece in one.why[0].pieces).strip().strip("…")
    assert one.job == 1 and hit in "".join(piece.text for piece in one.why[0].pieces if piece.hit)
    assert shown in said  # no gap of the index is seen


def test_a_repair_after_which_the_fault_was_met_again_proves_and_teaches_nothing(book: Book) -> None:
    for shown in (0, 1):
        job = opened(book, DIVIDERS, "R3 open", model="Model 7")
        job.type("OUT 0 V", "MID 6 V", "replaced R3", "output ok", "OUT 3.81 V")
        job.now()
        case = tried(book, bench.find_case(book, job.case.number), Tried(0, NOW, STARTS, 3.0, shown), NOW)
        bench.close(book, checked(book, case), "repaired", "", NOW)
    last = bench.open_job(book, Intake("amplifier", model="Model 7", key="k"), NOW)
    told = learnt(book, NOW)
    assert told.jobs == 1 and [one.jobs for one in told.healthy] == [(1,)]
    assert {one.job: one.was for one in like(book, last).jobs} == {1: ("R3 open",), 2: ()}


def test_what_came_back_is_said_to_have_had_no_culprit_also_where_the_return_is_linked_late(book: Book) -> None:
    first = repaired(book, serial="0047", ticks={"sound left": "bad"})
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    job.type("OUT 0 V", "MID 6 V")
    job.now()
    case = bench.find_case(book, job.case.number)
    suspected = "R3 open was it there, and R3 open is suspected here"
    (before,) = like(book, case).jobs
    case = bench.was_here(book, case, first.number, True, NOW)
    (after,) = like(book, case).jobs
    assert suspected in before.why and suspected not in after.why and after.score < before.score


def test_a_job_that_was_given_back_tells_of_no_culprit(book: Book) -> None:
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    job.type("OUT 0 V", "MID 6 V", "replaced R3", "output ok")
    job.now()
    bench.close(book, checked(book, bench.find_case(book, job.case.number)), "returned", "", NOW)
    last = bench.open_job(book, Intake("amplifier", model="Model 7", key="k"), NOW)
    assert [one.was for one in like(book, last).jobs] == [()]


def test_a_page_of_what_was_learnt_reads_the_come_backs_once(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    repaired(book, serial="0047", ticks={"sound left": "bad"})
    comes_again(book, serial="0047", ticks={"sound left": "bad"})
    read_, asked = culprits.came_back, []
    monkeypatch.setattr(culprits, "came_back", lambda it: asked.append(it) or read_(it))
    before = remembering.cures
    monkeypatch.setattr(remembering, "cures", lambda it: asked.append(it) or before(it))
    assert learnt(book, NOW).cures.back == 1 and len(asked) == 2  # once in the record, once among the jobs at hand


def test_no_share_of_repairs_is_said_to_be_certain() -> None:
    """Clopper and Pearson: of 2 proven ones that hold, 0.025 ** (1 / 2) = 0.158 is the lower end."""
    said = [
        cure_words(CureView(proven_, 0, back, *share_held(proven_, back), ()))
        for proven_, back in ((2, 0), (2, 2), (2, 1))
    ]
    assert "at least 16 % of such repairs" in said[0] and "at most 84 % of such repairs" in said[1]
    assert "1 % to 99 % of such repairs" in said[2] and not any("100" in one for one in said)
