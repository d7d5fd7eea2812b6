"""Suspects that the questions considered cannot tell apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses import NOT_LISTED
from probewright.inference.answers import Population
from probewright.prediction.likelihood import MODEL_FLOOR, MODEL_SD
from probewright.readings import Question
from probewright.readings.instruments import law

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
    ids = [population.belief.suspects[n].id for n in population.suspects]
    unlisted = ids.index(NOT_LISTED) if NOT_LISTED in ids else -1  # it may read anything: alike to nobody
    left = [int(n) for n in np.argsort(-population.chance, kind="stable")]
    classes = []
    while left:
        members = [
            n for n in left if n == left[0] or (unlisted not in (n, left[0]) and _alike(shown[left[0]], shown[n]))
        ]
        classes.append(
            LookAlikes(tuple(population.suspects[n] for n in members), float(population.chance[members].sum()))
        )
        left = [n for n in left if n not in members]
    return sorted(classes, key=lambda one: -one.probability)


def _signatures(population: Population, asks: Iterable[Question]) -> np.ndarray:
    """(suspect, question, 2): middle and standard deviation of what each suspect shows."""
    count = len(population.suspects)
    columns = []
    for ask in asks:
        answer = population.answer(ask)
        value = np.where(np.isfinite(answer.value), answer.value, ANYTHING)
        use = answer.judged
        number = np.bincount(population.member[use], minlength=count)
        with np.errstate(invalid="ignore", divide="ignore"):
            middle = np.bincount(population.member[use], value[use], count) / number
            off = value[use] - middle[population.member[use]]
            scatter = np.sqrt(np.bincount(population.member[use], off**2, count) / number)
        law_ = law(ask.instrument)
        gain = float(np.hypot(np.hypot(law_.gain_sd, law_.own_gain_sd), MODEL_SD))
        floor = float(
            np.hypot(np.hypot(law_.floor_sd, law_.shared_floor_sd), 0.0 if ask.instrument == "ohms" else MODEL_FLOOR)
        )
        error = np.hypot(gain * np.where(np.isfinite(middle), middle, 0.0), floor)
        columns.append(np.stack([middle, np.hypot(error, np.where(np.isfinite(scatter), scatter, 0.0))], axis=1))
    return np.array(columns).transpose(1, 0, 2) if columns else np.zeros((count, 0, 2))


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
