"""One table is one problem, however its rows and columns are named and in whatever order they are typed.

Colours are given to states and steps by what they are, then by the colours of what they have to do with, until
nothing is told apart any more (Weisfeiler and Leman, Nauchno-Technicheskaya Informatsia 2, 1968). Where states are
still of one colour the first is taken by itself and the colours run on: as far as the rest can be exchanged for each
other it makes no difference which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from probewright.planning.problem import Problem, Step

FINE = 9  # decimals of a chance or a minute that count
Colours = list[int]


def in_order(problem: Problem) -> tuple[Problem, np.ndarray, np.ndarray]:
    """The same problem with states and steps in an order of its own, and which they were: (state,), (step,)."""
    state, step = _settled(problem, _alone(problem), _own(problem))
    while len(set(state)) < len(state):
        first = state.index(min(one for one in state if state.count(one) > 1))
        state, step = _settled(problem, [2 * one + (n == first) for n, one in enumerate(state)], step)
    states, steps = np.argsort(state, kind="stable"), np.argsort(step, kind="stable")
    taken = tuple(replace(one, chance=one.chance[states]) for one in (problem.steps[n] for n in steps))
    tidy = replace(
        problem, prior=problem.prior[states], steps=taken, group=problem.group[states], closing=problem.closing[states]
    )
    return tidy, states, steps


def _alone(problem: Problem) -> Colours:
    """(state,) colours by what a state is by itself."""
    return _ranked([(_fine(p), _fine(c)) for p, c in zip(problem.prior, problem.closing, strict=True)])


def _own(problem: Problem) -> Colours:
    """(step,) colours by what a step takes."""
    into = [sorted(map(_fine, problem.change[:, one.stand])) if one.stand >= 0 else [] for one in problem.steps]
    out = [sorted(map(_fine, problem.change[one.stand])) if one.stand >= 0 else [] for one in problem.steps]
    here = [one.stand == problem.stood for one in problem.steps]
    own = [(_fine(one.minutes), one.cures, len(one.says)) for one in problem.steps]
    return _ranked([(*a, tuple(b), tuple(c), d) for a, b, c, d in zip(own, into, out, here, strict=True)])


def _settled(problem: Problem, state: Colours, step: Colours) -> tuple[Colours, Colours]:
    """Colours that another round does not split further."""
    finer = _round(problem, state, step)
    if (len(set(finer[0])), len(set(finer[1]))) == (len(set(state)), len(set(step))):
        return finer
    return _settled(problem, *finer)


def _round(problem: Problem, state: Colours, step: Colours) -> tuple[Colours, Colours]:
    """Each coloured anew: a step by how its outcomes part the states, a state by its group and by its outcomes."""
    outcome = [_outcomes(one, state) for one in problem.steps]
    stand = [one.stand for one in problem.steps]
    beside = [tuple(sorted(step[m] for m, other in enumerate(stand) if other == one)) for one in stand]
    seen = [tuple(sorted(outcome[n])) for n in range(len(step))]
    new_step = _ranked(list(zip(step, seen, beside, strict=True)))
    group = {g: tuple(sorted(c for c, of in zip(state, problem.group, strict=True) if of == g)) for g in problem.group}
    says = [
        tuple(sorted((new_step[n], outcome[n][k], _fine(one.chance[s, k]))
                     for n, one in enumerate(problem.steps) for k in np.flatnonzero(one.chance[s])))
        for s in range(len(state))
    ]  # fmt: skip
    return _ranked([(state[s], group[g], says[s]) for s, g in enumerate(problem.group)]), new_step


def _outcomes(one: Step, state: Colours) -> list[Any]:
    """A description of each outcome: which colours of states bring it, with what chance; a cure is no other."""
    chances = [one.chance[:, k] for k in range(len(one.says))]
    parts = [tuple(sorted((state[s], _fine(row[s])) for s in np.flatnonzero(row))) for row in chances]
    return [(one.cures and k == 0, part) for k, part in enumerate(parts)]


def _ranked(signs: Sequence[Any]) -> Colours:
    """Colours in the order of these descriptions, equal ones of one colour."""
    number = {one: n for n, one in enumerate(sorted(set(signs)))}
    return [number[one] for one in signs]


def _fine(figure: float) -> float:
    return round(float(figure), FINE)
