"""Refined probabilities against a second opinion that shares nothing but stated constants."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

import brute_force
from benchmarks import opinion
from benchmarks.opinion import question, said
from brute_force import NETS, Asked, Stated, Table, log_likelihood, reference, take_readings, ways
from probewright import jobs
from probewright.prediction import latents
from probewright.prediction.bank import Bank, Span
from probewright.prediction.likelihood import hookup_nats
from probewright.prediction.outcomes import show

CASES, READINGS = 5, 8
ENOUGH = 500.0  # effective draws that a reference must have; with 250 one was seen to miss a whole suspect
WANTED = 800.0  # what it is grown to where it can be: at 200 its own error would pass for ours
GOAL = 0.05  # mean total variation
WAYS = ways()


@pytest.fixture(scope="module")
def job() -> jobs.Search:
    return opinion.opened(brute_force)


@pytest.fixture(scope="module")
def stated() -> Stated:
    found: Stated = opinion.constants(brute_force)
    return found


@pytest.fixture(scope="module")
def order(job: jobs.Search) -> np.ndarray:
    """Index of each of our ways among the engine's suspects."""
    assert {way.id for way in WAYS} == set(job.laws.model.index)
    return np.array([job.laws.model.index[way.id] for way in WAYS])


@pytest.fixture(scope="module")
def middles(job: jobs.Search, order: np.ndarray) -> Bank:
    """Every suspect once, at the middle of its first slice of severity, all figures in the middle."""
    model = job.laws.model
    cells = [int(np.flatnonzero(model.suspect_of == n)[0]) for n in order]
    return Bank(
        model,
        [Span(cell, n, n + 1) for n, cell in enumerate(cells)],
        np.zeros((len(model.latents.keys) + 1, len(cells))),
    )


@pytest.fixture(scope="module")
def numbers(middles: Bank) -> np.ndarray:
    """The same variants in our own numbers."""
    found = np.zeros((len(WAYS), brute_force.SIZE))
    for n, span in enumerate(middles.spans):
        severity = middles.model.severity_of(span.cell)
        found[n, -1] = NormalDist().inv_cdf(0.5 / severity.bins) if severity else 0.0
    return found


EVERY_ASK = [Asked(kind, net, lifted) for kind in ("dc", "pp") for net in NETS for lifted in (False, True)]


def test_both_solvers_show_the_same_volts_for_every_suspect(middles: Bank, numbers: np.ndarray) -> None:
    table = Table(WAYS, EVERY_ASK)
    ours = table.predict(np.arange(len(WAYS)), numbers)
    worst = max(
        float(np.abs(show(middles, question(ask)).value - ours[:, table.column(ask)]).max()) for ask in EVERY_ASK
    )
    print(f"largest difference: {worst * 1e6:.1f} uV over {len(WAYS)} suspects and {len(EVERY_ASK)} questions")
    assert worst < 10e-6


@pytest.mark.parametrize("factor", [1.0, 1.01, 0.6, 40.0, 1e-3, -1.0, 0.0])
def test_both_likelihoods_agree_for_every_suspect(
    middles: Bank, numbers: np.ndarray, stated: Stated, factor: float
) -> None:
    healthy = [way.id for way in WAYS].index("nothing-wrong")
    listed = np.array([way.id != "not-listed" for way in WAYS])
    for bare in EVERY_ASK:
        value = float(show(middles, question(bare)).value[healthy])
        if bare.kind == "pp" and factor < 0.0:
            continue
        ask = Asked(bare.kind, bare.net, bare.lifted, value * factor)
        table = Table(WAYS, [ask])
        which = np.arange(len(WAYS))
        ours = log_likelihood(table, which, table.predict(which, numbers), stated)
        theirs = hookup_nats(middles, said((ask,))).nats
        assert theirs[listed] == pytest.approx(ours[listed], abs=0.02), ask


def test_healthy_figures_are_drawn_from_the_same_laws(job: jobs.Search, stated: Stated) -> None:
    ours = brute_force.figures_of(brute_force.from_prior(np.random.default_rng(7), 20_000, stated))
    z = latents.draw_latents(job.laws.model.latents, "laws", 20_000)
    theirs = latents.figures_of(job.laws.model.latents, z)
    names = {
        "R1": ("R1", "resistance"),
        "C2": ("C2", "capacitance"),
        "C2 leak": ("C2", "leak"),
        "PSU": ("PSU", "volts"),
        "Q1 gain": ("Q1", "gain"),
        "Q2 saturation": ("Q2", "saturation"),
        "GEN level": ("GEN", "signal"),
    }
    for mine, key in names.items():
        for share in (0.03, 0.2, 0.5, 0.8, 0.97):
            a, b = np.quantile(np.log(ours[mine]), share), np.quantile(np.log(theirs[key]), share)
            spread = np.std(np.log(ours[mine]))
            assert abs(a - b) < 0.12 * spread, (mine, share)


@pytest.mark.slow
def test_refined_probabilities_are_near_a_large_reference(job: jobs.Search, order: np.ndarray, stated: Stated) -> None:
    random = np.random.default_rng(20261125)
    prior = np.array([job.laws.model.suspects[n].prior for n in order])
    listed = prior * [way.id != "not-listed" for way in WAYS]
    apart, effective = [], []
    for _ in range(CASES):
        truth = int(random.choice(len(WAYS), p=listed / listed.sum()))
        asks = take_readings(WAYS, truth, stated, random, READINGS)
        answer = reference(Table(WAYS, asks), prior, stated, random, WANTED)
        refined = jobs.enter_readings(job, said(asks)).belief
        apart.append(0.5 * float(np.abs(refined.probability[order] - answer.probability).sum()))
        effective.append(answer.effective)
        print(
            f"{WAYS[truth].id}: total variation {apart[-1]:.3f}; reference {answer.effective:.0f} of {answer.draws} draws, "
            f"refined {refined.quality[0]:.0f}; truth {answer.probability[truth]:.3f} there, {refined.probability[order[truth]]:.3f} here"
        )
    reached = float(np.mean(np.array(effective) >= ENOUGH))
    print(
        f"mean total variation {np.mean(apart):.3f}, {ENOUGH:.0f} effective draws reached in {reached:.0%} of {CASES} cases"
    )
    assert reached >= 0.8
    assert np.mean(apart) <= GOAL


def test_a_reading_far_from_all_suspects_is_left_to_slips(stated: Stated) -> None:
    ask = Asked("dc", "OUT", False, 55.0)
    table = Table(WAYS, [ask])
    nats = log_likelihood(
        table,
        np.arange(len(WAYS)),
        table.predict(np.arange(len(WAYS)), np.zeros((len(WAYS), brute_force.SIZE))),
        stated,
    )
    anywhere = np.log(stated.slip["anything"] / (np.pi * 12.0 * (1.0 + (55.0 / 12.0) ** 2)))
    assert nats[:-1] == pytest.approx(anywhere, abs=1e-6)
