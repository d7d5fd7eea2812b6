"""Which action is worth its minutes most, and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.inference.answers import Population, Table, answers, gain, sample, told
from probewright.inference.belief import Belief
from probewright.inference.verdict import Verdict
from probewright.planning.actions import Action, bench_now, cures, possible
from probewright.planning.minutes import change, minutes, rung
from probewright.prediction.likelihood import spread
from probewright.readings import Reading

# No step up the order of risk while a lower rung still offers this share of the best gain a
# minute and at least LEAST_GAIN nat. Both chosen.
WELL_ENOUGH = 0.35
LEAST_GAIN = 0.05
SWAP_TELLS = 0.95  # chosen: a swap shows what it should, the spare being sound
REPAIR_CURES = 0.93  # chosen: a new part is good, fitted right and the diagnosis of its mode complete


@dataclass(frozen=True)
class Choice:
    """An action with what it is expected to bring.

    gain in nat; rate in nat per minute; table: chance of each answer under each suspect of the
    population; why: one of "splits", "measure again", "verify", "cure".
    """

    action: Action
    gain: float
    rate: float
    table: Table
    why: str = "splits"


def rank(belief: Belief) -> tuple[Population, list[Choice]]:
    """Every action worth something, best first within the order of risk."""
    population = sample(belief)
    choices = [_weigh(population, action) for action in possible(population)]
    choices = [c for c in choices if c.gain > 1e-4]
    choices.sort(key=lambda c: (-c.rate, c.action.minutes, c.action.item))
    if not choices:
        return population, []
    best = choices[0].rate
    enough = [c for c in choices if c.rate >= WELL_ENOUGH * best and c.gain >= LEAST_GAIN]
    lowest = min((c.action.rung for c in enough), default=choices[0].action.rung)
    first = [c for c in enough if c.action.rung == lowest]
    rest = [c for c in choices if c not in first]
    return population, [*first, *rest]


def choose(belief: Belief, verdict: Verdict) -> tuple[Population, list[Choice]]:
    """What to do next: a surprise is measured again, a leader is verified, else the best gain.

    Once something is located the cure comes first.
    """
    population, ranked = rank(belief)
    now, last = bench_now(belief.readings)
    urgent: list[Choice] = []
    for surprise in verdict.surprises:
        if not surprise.remeasured:
            ask = belief.readings[surprise.reading].question
            spent = minutes(ask.instrument) + change(now, ask.setup, ask.instrument, last)
            action = Action("reading", ask, ask.red, spent, rung(ask.instrument))
            found = _weigh(population, action)
            urgent.append(Choice(action, found.gain, found.rate, found.table, "measure again"))
    if verdict.finding == "located":
        urgent += [Choice(c.action, c.gain, c.rate, c.table, "cure") for c in _cures_first(population, ranked)]
    elif not urgent and _leader(population) > 0.8 and not verdict.verified:
        urgent += _verifications(population)
    seen = {(c.action.kind, c.action.ask, c.action.item) for c in urgent}
    return population, [*urgent, *(c for c in ranked if (c.action.kind, c.action.ask, c.action.item) not in seen)]


def _leader(population: Population) -> float:
    """Probability of the leading suspect other than the standing two; of its class when alike."""
    return float(population.chance[0]) if len(population.suspects) else 0.0


def _weigh(population: Population, action: Action) -> Choice:
    """Gain and gain per minute of one action."""
    table = _table(population, action)
    nats = gain(population, table)
    return Choice(action, nats, nats / action.minutes, table)


def _table(population: Population, action: Action) -> Table:
    suspects = [population.belief.suspects[n] for n in population.suspects]
    machine = population.belief.laws.model.machine
    if action.kind == "repair":
        return told(
            population,
            [REPAIR_CURES if cures(machine, s, action.item) else 0.02 for s in suspects],
            ("cured", "as before"),
        )
    if action.kind == "swap":
        on_it = [any(f.item.split(".")[0] == action.item for f in s.faults) for s in suspects]
        return told(population, [SWAP_TELLS if here else 1.0 - SWAP_TELLS for here in on_it], ("better", "same"))
    assert action.ask is not None
    return answers(population, action.ask)


def _cures_first(population: Population, ranked: list[Choice]) -> list[Choice]:
    """Repairs that cure the leading suspect."""
    leader = population.belief.suspects[population.suspects[0]]
    machine = population.belief.laws.model.machine
    repairs = [
        _weigh(population, a) for a in possible(population) if a.kind == "repair" and cures(machine, leader, a.item)
    ]
    return sorted(repairs, key=lambda c: c.action.minutes)[:1]


def _verifications(population: Population) -> list[Choice]:
    """The reading at which the leader says something sharp and far from healthy, cheapest a minute."""
    belief = population.belief
    leader = population.suspects[0]
    if belief.suspects[leader].id in (NOTHING_WRONG, NOT_LISTED):
        return []
    found: list[tuple[float, Choice]] = []
    for action in possible(population):
        if action.kind != "reading" or action.ask is None:
            continue
        shown = population.answer(action.ask).value[population.member == 0]
        shown = shown[np.isfinite(shown)]
        if not shown.size:
            continue
        _, healthy, _ = belief.laws.healthy(action.ask, quick=True)
        middle = float(np.median(shown))
        error = float(np.hypot(np.hypot(*spread(Reading(action.ask, middle, ""), middle)), np.std(shown)))
        sharpness = abs(middle - healthy) / error
        if sharpness > 6.0:
            choice = _weigh(population, action)
            found.append(
                (
                    min(sharpness, 50.0) / action.minutes,
                    Choice(action, choice.gain, choice.rate, choice.table, "verify"),
                )
            )
    found.sort(key=lambda pair: -pair[0])
    return [choice for _, choice in found[:1]]
