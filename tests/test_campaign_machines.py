"""The machines of a campaign: textbook circuits that do what the book says, and enough rehearsals of all."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pytest import approx

from benchmarks.campaign import DANGEROUS, MACHINES, TEXTBOOK, plans_of
from hidden import planted, reads
from probewright import machine
from probewright.hypotheses import NOTHING_WRONG
from probewright.jobs.pretend_bench import PretendBench
from probewright.jobs.rehearsing import Rehearsals, Terms, withheld
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.readings import Question, Setup


def read(name: str) -> machine.Machine:
    return machine.read(MACHINES[name].read_text("utf-8"), name)


PP = 2.0 * math.sqrt(2.0)  # of a sine, to its rms


# Worked by hand. common-emitter: 1.7 mA, so 15 ohm in the emitter besides 150; 3k3 beside 10k over that; 600 ohm into 47k
# beside 10k beside the base. non-inverting: 1 + 47 / 4.7. two-transistors: 2k7 beside the follower's base over 570 ohm.
@pytest.mark.parametrize(
    ("name", "volts", "within"),
    [
        ("common-emitter", 0.020 * PP * (2481.0 / 165.0) * 0.92, 0.08),
        ("non-inverting", 0.050 * PP * 11.0, 0.03),
        ("two-transistors", 0.020 * PP * (2160.0 / 570.0) * 0.956 * 0.976, 0.08),
    ],
)
def test_a_stage_of_the_textbook_amplifies_as_the_textbook_says(name: str, volts: float, within: float) -> None:
    assert reads(planted(read(name)), Question("pp", "OUT", setup=Setup(stimulus="tone"))) == approx(volts, rel=within)


def test_the_follower_stands_a_junction_below_its_zener() -> None:
    """9.1 V and 8 ohm x 14 mA more than where that holds, less 0.75 V."""
    out = reads(planted(read("zener-follower")), Question("dc", "OUT", setup=Setup(stimulus="on")))
    assert out == approx(9.1 + 0.11 - 0.75, abs=0.15)


@pytest.mark.parametrize("name", [*TEXTBOOK, DANGEROUS])
def test_its_owner_can_complain_and_every_plan_can_be_rehearsed(name: str) -> None:
    file = read(name)
    assert not file.warnings and file.works
    model = build_model(file)
    assert all(withheld(model, plan.terms.withhold) for plan in plans_of(name) if plan.terms.withhold)
    assert Rehearsals(file, Terms("brought", brought=True)).bench(0).fails()


@pytest.mark.parametrize("name", MACHINES)
def test_a_sound_machine_keeps_within_the_limits_of_its_own_functions(name: str) -> None:
    """Else machines with nothing wrong are brought, for what the file itself allows. A person's judgement is soft, so a few
    fail all the same."""
    sound = Rehearsals(read(name), Terms("limits", sound=True))
    assert sum(sound.bench(n).fails() for n in range(100)) <= 8


def test_a_part_far_off_its_figure_fails_the_machine_and_a_new_one_cures_it() -> None:
    """What is cured goes by what works at the bench, beside the fault that was hidden."""
    model = build_model(read("zener-follower"))
    bench = PretendBench(model, model.suspects[model.index[NOTHING_WRONG]], "far off")
    usual = bench.bank.z
    strayed = np.where([[key == ("", "", "Z1", "volts")] for key in model.latents.keys], -9.0, 0.0)
    assert strayed.any() and strayed.shape == usual[: len(strayed)].shape
    for z, cured in ((usual, []), (np.vstack([strayed, usual[len(strayed) :]]), ["Z1", "R1 and Z1"])):
        bench.bank = Bank(bench.bank.model, [Span(0, 0, 1)], z)
        assert bench.fails() == bool(cured)
        assert [one for one in ("R1", "Z1", "Q1", "R1 and Z1") if bench.is_cured_by(one)] == cured


def test_a_campaign_is_at_least_a_thousand_rehearsals_and_two_hundred_where_it_can_kill() -> None:
    assert sum(plan.count for name in MACHINES for plan in plans_of(name)) >= 1000
    assert sum(plan.count for plan in plans_of(DANGEROUS)) >= 200
    assert len(TEXTBOOK) == 4 and {plan.terms.trained for plan in plans_of(DANGEROUS)} == {True, False}
