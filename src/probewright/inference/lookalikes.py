"""Suspects that the questions considered cannot tell apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses import NOT_LISTED
from probewright.inference.population import Population
from probewright.readings import Question


@dataclass(frozen=True)
class LookAlikes:
    """Suspects that read alike: indices in the belief, most probable first; probability of all."""

    members: tuple[int, ...]
    probability: float


def look_alikes(population: Population, asks: Iterable[Question]) -> list[LookAlikes]:
    """Classes of look-alikes over these questions, most probable first.

    Two suspects are alike when no question sets them apart. Each class gathers round its most
    probable member, so it depends on nothing but the belief.
    """
    apart = _apart(population, asks)
    left = [int(n) for n in np.argsort(-population.chance, kind="stable")]
    classes = []
    while left:
        members = [n for n in left if n == left[0] or not apart[left[0], n]]
        classes.append(
            LookAlikes(tuple(population.suspects[n] for n in members), float(population.chance[members].sum()))
        )
        left = [n for n in left if n not in members]
    return sorted(classes, key=lambda one: -one.probability)


def _apart(population: Population, asks: Iterable[Question]) -> np.ndarray:
    """(suspect, suspect) some question sets the two apart; what is not listed may read anything."""
    found = np.zeros((len(population.suspects), len(population.suspects)), bool)
    for ask in asks:
        found |= population.apart(ask)
    unlisted = [n for n, s in enumerate(population.suspects) if population.belief.suspects[s].id == NOT_LISTED]
    found[unlisted, :] = found[:, unlisted] = True
    return found


def splitting(population: Population, members: Sequence[int], asks: Iterable[Question]) -> Question | None:
    """The first of these questions (cheapest first) that sets two members apart; None if none does."""
    rows = [population.suspects.index(n) for n in members]
    return next((ask for ask in asks if population.apart(ask)[rows[0], rows].any()), None)
