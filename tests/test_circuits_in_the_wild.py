"""Circuits that are no demos, faults planted and read by ngspice: does the truth come out first?"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest

from probewright import jobs, machine
from probewright.jobs.telling import decide
from probewright.machine.model import GROUND
from probewright.prediction.bank import Bank, Span
from probewright.prediction.latents import draw_one
from probewright.readings import Question, Reading, Setup
from probewright.readings.instruments import error
from spice import Deck

CIRCUITS = ("two-transistor-amplifier", "zener-follower-supply", "line-driver", "two-channel-stage")
EACH, READINGS = 3, 8
TONE = Setup(stimulus="tone")
SHOWS = 0.2  # a fault is planted when some place reads this share off: else nobody would complain


def plant(job: jobs.Search, random: np.random.Generator) -> tuple[str, list[Reading]]:
    """A fault picked by its prior, and eight readings of it by ngspice with tolerances and meter error.

    Half of the readings at places picked at random, half at those a repairer would go to: where
    the machine reads farthest from healthy.
    """
    model = job.laws.model
    nets = [net for net in job.machine.nets if net != GROUND and not net.startswith("nc:")]
    listed = np.array([s.prior if s.faults else 0.0 for s in model.suspects])
    while True:
        suspect = int(random.choice(len(listed), p=listed / listed.sum()))
        cell = int(random.choice(np.flatnonzero(model.suspect_of == suspect)))
        tag = f"planted {random.integers(1 << 30)}"
        z = [
            draw_one(tag, key, bool(heavy), 1)
            for key, heavy in zip(model.latents.keys, model.latents.heavy, strict=True)
        ]
        bank = Bank(model, [Span(cell, 0, 1)], np.vstack([*z, random.standard_normal((1, 1))]))
        solved = bank.solved(TONE)
        deck = Deck(solved.circuit, solved.batch, 0, nets)
        deck.start_near(solved.rest.volts)
        try:
            volts, signals = deck.run((1e3,))
        except (RuntimeError, subprocess.TimeoutExpired):
            continue
        shown = {Question("dc", net, setup=TONE): float(v) for net, v in zip(nets, volts, strict=True)}
        shown |= {Question("pp", net, setup=TONE): 2.0 * float(v) for net, v in zip(nets, signals[0], strict=True)}
        healthy = {ask: job.laws.healthy(ask)[1] for ask in shown}
        off = {ask: abs(v - healthy[ask]) / max(abs(healthy[ask]), 0.05) for ask, v in shown.items()}
        if max(off.values()) > SHOWS:
            break
    far = sorted(shown, key=lambda ask: -off[ask])[: READINGS // 2]
    rest = [ask for ask in shown if ask not in far]
    asks = far + [rest[n] for n in random.permutation(len(rest))[: READINGS // 2]]
    readings = []
    for n, ask in enumerate(asks):
        slack = error(ask, shown[ask])
        read = shown[ask] + slack.shared * random.standard_normal() + slack.own * random.standard_normal()
        readings.append(Reading(ask, float(read), f"h{n}"))
    return model.suspects[suspect].id, readings


@pytest.mark.slow
def test_the_truth_is_in_the_first_class(ngspice):
    random = np.random.default_rng(2026)
    first, wrong = 0, []
    for name in CIRCUITS:
        job = jobs.open_search(machine.load(Path(__file__).parent / "circuits" / f"{name}.yaml"))
        for _ in range(EACH):
            truth, readings = plant(job, random)
            belief = jobs.enter_readings(job, readings).belief
            _, verdict, classes, _ = decide(belief)
            ids = [belief.suspects[n].id for n in classes[0].members]
            first += truth in ids
            if truth not in ids and classes[0].probability > 0.9:
                wrong.append((name, truth, ids))
            rank = 1 + sum(p > belief.probability[belief.laws.model.index[truth]] for p in belief.probability)
            print(
                f"{name}: {truth}; first class {ids[:4]} {classes[0].probability:.2f}, truth ranks {rank}; {verdict.finding}"
            )
    assert first >= 10
    assert not wrong
