"""Machines with more than one fault: a repair that cures the first, two that no single one explains."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from probewright import jobs, machine
from probewright.hypotheses.suspects import pair
from probewright.jobs.everywhere import read_everywhere
from probewright.jobs.searching import Search
from probewright.jobs.view import JobView
from probewright.planning.actions import possible
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model, grown
from probewright.prediction.growing import grow
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.readings.hearing import Context, hear
from probewright.readings.lines import read_readings
from probewright.report.text import job as state
from probewright.report.text import named

# Two dividers with a follower each, of one supply: plain enough to be worked out by hand.
TWO = """\
machine: Two rails on one supply
extras:
  SUPPLY: source 20V 1% series 1R              HT > GND
parts:
  R1: resistor 10k 1%                          HT > A
  R2: resistor 10k 1%                          A > GND
  R3: resistor 10k 1%                          HT > B
  R4: resistor 10k 1%                          B > GND
  R5: resistor 10k 1%                          HT > C
  R6: resistor 10k 1%                          C > GND
stimuli:
  rest: {do: leave it alone}
works:
  first: A dc at rest; below 80% of healthy = low; above 120% of healthy = high
  second: B dc at rest; below 80% of healthy = low; above 120% of healthy = high
"""
# By Ohm's law: R1 at 20 kohm leaves A at 20 V x 10/30 = 6.67 V, R4 at 30 kohm lifts B to 20 V x 30/40 = 15 V. With power
# off R1 reads 20k beside 10k + (40k beside 20k) = 23.3k, so 10.8k; R4 30k beside 10k + (30k beside 20k) = 22k, so 12.7k.
BOTH = (
    "first: low\nsecond: high\nA 6.67 V\nB 15.0 V\nC 10.0 V\nset-up: off\nR1 10.77k ohm\nR4 12.69k ohm\nR4 12.69k ohm\n"
)


@pytest.fixture(scope="module")
def two() -> Search:
    return jobs.open_search(machine.read(TWO, "two.yaml"))


def entered(search: Search, text: str) -> tuple[Search, JobView]:
    assert search.machine is not None
    found = jobs.enter_readings(search, read_readings(text, search.machine))
    return found, jobs.look(found)


def items(view: JobView) -> set[str]:
    return {fault.item for fault in view.suspects[0].faults}


def test_two_faults_that_no_single_one_explains_are_both_named(two: Search) -> None:
    _, view = entered(two, BOTH)
    assert items(view) == {"R1", "R4"}
    assert view.finding == "located"
    sizes = {fault.item: fault.severity for fault in view.suspects[0].faults}
    assert sizes["R1"] == pytest.approx(2.0, rel=0.1)  # of healthy: 20 of 10 kohm
    assert sizes["R4"] == pytest.approx(3.0, rel=0.1)


def test_two_faults_at_once_are_mended_at_once(two: Search) -> None:
    _, view = entered(two, BOTH)
    cure = next(action for action in view.actions if action.kind == "repair")
    assert set(cure.where.split(" and ")) == {"R1", "R4"}
    assert "new R1" in cure.do and "new R4" in cure.do


# By Ohm's law as above: with a new R1 A is back at half of 20 V; B stays at 15 V for as long as R4 is as it was.
CURED_FIRST = (
    "first: low\nsecond: high\nA 6.67 V\nset-up: off\nR1 10.77k ohm\n"
    "set-up: power on, replaced R1\nfirst: ok\nA 10.0 V\nsecond: high\nB 15.0 V\nset-up: off, replaced R1\nR4 12.69k ohm\n"
)


def test_after_a_repair_that_cured_one_thing_the_search_goes_on_to_the_second_fault(two: Search) -> None:
    search, view = entered(two, CURED_FIRST)
    assert items(view) == {"R1", "R4"}
    cure = next(action for action in view.actions if action.kind == "repair")
    assert cure.where == "R4"  # R1 is new already
    # the first readings keep the set-up they were taken in, and every step offered has the new part in
    assert search.readings[2].question.setup.replaced == ()
    assert all(one.ask.setup.replaced == ("R1",) for one in view.actions if one.ask is not None)


@pytest.mark.parametrize("text", [BOTH, CURED_FIRST])
def test_what_is_shown_of_a_pair_adds_up(two: Search, text: str) -> None:
    _, view = entered(two, text)
    assert any(len(suspect.faults) == 2 for suspect in view.suspects)
    for suspect in view.suspects:
        if 1e-4 < suspect.probability < 1.0 - 1e-6:
            prior, posterior = (log(p / (1.0 - p)) for p in (suspect.prior, suspect.probability))
            assert prior + sum(one.nats for one in suspect.evidence) == pytest.approx(posterior, abs=1e-5)


def test_a_new_part_that_changes_nothing_may_be_bad_too(two: Search) -> None:
    # R1 at 20 kohm once more: the new one is no better, and nothing else need be wrong
    _, view = entered(
        two,
        "first: low\nA 6.67 V\nset-up: off\nR1 10.0k ohm\nset-up: power on, replaced R1\nfirst: low\nA 6.67 V\nB 10.0 V\n",
    )
    assert "new one too" in " ".join(suspect.id for suspect in view.suspects)


def test_one_fault_grows_no_pairs(two: Search) -> None:
    _, view = entered(two, "first: low\nA 6.67 V\nB 10.0 V\nset-up: off\nR1 10.0k ohm\n")
    assert items(view) == {"R1"}
    assert all(len(suspect.faults) < 2 for suspect in view.suspects)


def test_a_pair_reads_what_both_faults_give(two: Search) -> None:
    model = build_model(machine.read(TWO, "two.yaml"))
    ids = model.index
    both = pair(model.suspects[ids["R1 drift-up"]], model.suspects[ids["R4 drift-up"]])
    wide = grown(model, (both,))
    cell = len(model.cells)  # its first bin
    z = np.zeros((len(wide.latents.keys) + 1, 1))
    first, second = (float(one[0]) for one in wide.severities(cell, z) if one is not None)
    bank = Bank(wide, [Span(cell, 0, 1)], z)
    sizes = {fault.item: size for fault, size in zip(both.faults, (first, second), strict=True)}
    # 20 V across two resistors in a row; 1 ohm of the supply and 10 Mohm of the meter are below 1 in 1000
    assert show(bank, Question("dc", "A")).value[0] == pytest.approx(20.0 / (1.0 + sizes["R1"]), rel=2e-3)
    assert show(bank, Question("dc", "B")).value[0] == pytest.approx(20.0 * sizes["R4"] / (1.0 + sizes["R4"]), rel=2e-3)


def test_growing_leaves_the_draws_of_all_others_as_they_were(two: Search) -> None:
    laws = two.laws
    model = laws.model  # type: ignore[attr-defined]
    both = pair(model.suspects[model.index["R1 drift-up"]], model.suspects[model.index["R4 drift-up"]])
    more = grow(laws, (both,))  # type: ignore[arg-type]
    ask = Question("dc", "A")
    before, after = laws.outcome(ask).value, more.outcome(ask).value  # type: ignore[attr-defined]
    assert len(after) > len(before)
    np.testing.assert_array_equal(after[: len(before)], before)
    assert np.exp(more.log_prior).sum() == pytest.approx(1.0)
    alone = [more.model.suspects[model.index[name]].prior for name in ("R1 drift-up", "R4 drift-up")]
    assert more.model.suspects[-1].prior == pytest.approx(0.3 * alone[0] * alone[1], rel=0.01)  # 0.3: standing.csv


# Said at the bench -----------------------------------------------------------------------------


@pytest.mark.parametrize("said", [
    "fitted a new R1", "R1 replaced", "replaced R1", "new R1 fitted", "I've put in a new R1.", "R1 is new now",
    "replaced R1 with a new one", "changed R1", "R1 has been replaced", "new R1 in",
])  # fmt: skip
def test_a_new_part_is_heard_however_it_is_said(two: Search, said: str) -> None:
    heard = hear(said, Context(machine=two.machine))
    assert not heard.doubts and not heard.readings
    assert heard.bench.setup.replaced == ("R1",)
    assert any("R1 replaced" in one for one in heard.echo)
    assert read_readings(f"{said}\nA 10.0 V\n", two.machine)[0].question.setup.replaced == ("R1",)  # type: ignore[arg-type]


def test_a_new_part_stays_in_through_every_later_set_up_until_the_old_one_is_back(two: Search) -> None:
    assert two.machine is not None
    text = "A 6.67 V\nfitted a new R1 and R2\nset-up: off\nR3 6.6k ohm\nput the old R2 back\nset-up: on\nA 10.0 V\n"
    before, ohms, volts = read_readings(text, two.machine)
    assert [one.question.setup.replaced for one in (before, ohms, volts)] == [(), ("R1", "R2"), ("R1",)]
    assert ohms.question.setup.power == "off"
    assert before.sitting < ohms.sitting < volts.sitting


@pytest.mark.parametrize(("said", "why"), [("fitted a new R77", "R77"), ("replaced R1 and R99", "R99")])
def test_a_new_part_that_the_machine_does_not_have_is_asked_about(two: Search, said: str, why: str) -> None:
    heard = hear(said, Context(machine=two.machine))
    assert heard.doubts and why in heard.doubts[0].text
    assert heard.bench.setup.replaced == ()


@pytest.mark.parametrize("said", ["new lead fitted", "changed the speaker", "A 10 V", "R1 new 10k"])
def test_what_is_no_part_of_the_board_is_no_repair(two: Search, said: str) -> None:
    assert hear(said, Context(machine=two.machine)).bench.fitted == ()


# Shown -----------------------------------------------------------------------------------------


def test_both_faults_of_a_suspect_are_said_with_how_bad_they_are(two: Search) -> None:
    _, view = entered(two, BOTH)
    said = named(view.suspects[0])
    assert "R1 about x2" in said and "R4 about x3" in said
    assert said in state(view)


def test_a_picture_shows_what_both_faults_read(two: Search) -> None:
    search, view = entered(two, BOTH)
    assert search.machine is not None
    rows = read_everywhere(search.machine, Setup(stimulus="rest"), view.suspects[0])
    shown = {row.place: row.suspect for row in rows if row.instrument == "dc"}
    assert shown["A"] == pytest.approx(6.67, rel=0.03) and shown["B"] == pytest.approx(15.0, rel=0.03)


# Added boards ----------------------------------------------------------------------------------

BOARD = """\
added boards:
  lamp:
    fitted: yes
    parts:
      R7: resistor 10k 1%                      B > LAMP
      R8: resistor 1 1%                        LAMP > GND
"""


@pytest.mark.parametrize(("fitted", "volts"), [("yes", 20.0 / 3.0), ("no", 10.0)])
def test_a_board_that_is_not_fitted_is_not_in_the_healthy_circuit(fitted: str, volts: float) -> None:
    # 10 kohm beside R4 leaves 5 kohm under 10 kohm: a third of 20 V instead of half
    loaded = machine.read(TWO + BOARD.replace("fitted: yes", f"fitted: {fitted}"), "board.yaml")
    search = jobs.open_search(loaded)
    _, middle, _ = search.laws.healthy(Question("dc", "B"))  # type: ignore[attr-defined]
    assert middle == pytest.approx(volts, rel=2e-3)
    _, view = entered(search, f"first: low\nA 6.67 V\nB {volts:.3g} V\n")
    assert view.actions
    if fitted == "no":
        assert all(
            "LAMP" not in one.ask.red and "R7" not in one.ask.red for one in possible(search.population) if one.ask
        )
