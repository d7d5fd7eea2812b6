"""Suspects that the questions considered cannot tell apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.inference.answers import Population
from probewright.prediction.likelihood import spread
from probewright.readings import Question, Reading

ALIKE = 3.0  # chosen: standard deviations within which two predictions count as the same
ANYTHING = 1e12  # stands for over-limit among finite figures


@dataclass(frozen=True)
class LookAlikes:
    """Suspects that read alike: indices in the belief, most probable first; probability of all."""

    members: tuple[int, ...]
    probability: float


def look_alikes(population: Population, asks: Iterable[Question]) -> list[LookAlikes]:
    """Classes of look-alikes over these questions, most probable first.

    Two suspects are alike when no question shows a difference of more than ALIKE standard
    deviations, the instrument's error and the spread of each suspect's own draws together. Each
    class gathers round its most probable member, so it depends on nothing but the belief.
    """
    shown = _signatures(population, asks)
    left = [int(n) for n in np.argsort(-population.chance, kind="stable")]
    classes = []
    while left:
        members = [n for n in left if n == left[0] or _alike(shown[left[0]], shown[n])]
        classes.append(LookAlikes(tuple(population.suspects[n] for n in members), float(population.chance[members].sum())))
        left = [n for n in left if n not in members]
    return sorted(classes, key=lambda one: -one.probability)


def _signatures(population: Population, asks: Iterable[Question]) -> np.ndarray:
    """(suspect, question, 2): middle and standard deviation of what each suspect shows."""
    columns = []
    for ask in asks:
        answer = population.answer(ask)
        value = np.where(np.isfinite(answer.value), answer.value, ANYTHING)
        rows = []
        for n in range(len(population.suspects)):
            here = (population.member == n) & answer.judged
            if not here.any():
                rows.append((np.nan, 1.0))
                continue
            middle = float(np.median(value[here]))
            error = spread(Reading(ask, middle, ""), min(middle, 1e9))
            scatter = float(np.median(np.abs(value[here] - middle))) * 1.4826
            rows.append((middle, float(np.hypot(np.hypot(*error), scatter))))
        columns.append(rows)
    return np.array(columns).transpose(1, 0, 2) if columns else np.zeros((len(population.suspects), 0, 2))


def _alike(a: np.ndarray, b: np.ndarray) -> bool:
    """No question sets the two apart; a question that was not judged sets nobody apart."""
    off = np.abs(a[:, 0] - b[:, 0]) / np.hypot(a[:, 1], b[:, 1])
    return not bool(np.any(off > ALIKE))


def splitting(population: Population, members: Sequence[int], asks: Iterable[Question]) -> Question | None:
    """The first of these questions (cheapest first) that sets two members apart; None if none does."""
    rows = [population.suspects.index(n) for n in members]
    for ask in asks:
        shown = _signatures(population, [ask])[rows]
        if any(not _alike(shown[0], other) for other in shown[1:]):
            return ask
    return None
