"""How well a class of causes fits the answers to the tests of a table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from probewright.hypotheses import NOTHING_WRONG
from probewright.inference.belief import Belief, weigh
from probewright.inference.fit import LED, SURPRISE, Fit, Surprise
from probewright.inference.lookalikes import LookAlikes
from probewright.machine.tables import Test
from probewright.prediction.table_laws import TableLaws, sound_row

FORETOLD = 0.5  # chosen: a class foretells the word that it makes more probable than all others together
SHARPER = 4.0  # chosen: so many times as probable as on a sound machine makes that word a verification
GRAIN = 0.01  # chosen, nat: how finely improbable sets of answers are compared
AGREEING = 2  # healthy answers that verify "nothing wrong"


def fit_table(belief: Belief[TableLaws], top: LookAlikes) -> Fit:
    """Surprises, joint tail and verification of the answers under the leading class."""
    counted = [n for columns in belief.laws.by_test(belief.readings) for n in columns]
    causes, ids = belief.laws.model.causes, [belief.suspects[n].id for n in top.members]
    outside = all(one in causes and causes[one].outside for one in ids)
    return Fit(_surprises(belief, counted), _joint_tail(belief, top), _verified(belief, top, counted), outside)


def _honest(belief: Belief[TableLaws], n: int) -> float:
    """Chance that the answer names what was there to be seen."""
    return float(np.sum(belief.weight * belief.honest[:, n]))


def _surprises(belief: Belief[TableLaws], counted: Sequence[int]) -> tuple[Surprise, ...]:
    """Answers that were more probably a slip; asked again when another hook-up answered the same test."""
    found = []
    for n in sorted(counted):
        if _honest(belief, n) < SURPRISE:
            reading = belief.readings[n]
            again = any(m != n and belief.readings[m].question.red == reading.question.red for m in counted)
            found.append(Surprise(n, _tail_of(belief, n), again))
    return tuple(found)


def _tail_of(belief: Belief[TableLaws], n: int) -> float:
    """Chance of an answer as improbable as this one, over the causes that know."""
    reading = belief.readings[n]
    rows = belief.laws.chance(reading.question)
    said = rows[:, belief.laws.model.tests[reading.question.red].outcomes.index(str(reading.answer))]
    known = ~np.isnan(said)
    tail = np.where(rows <= said[:, None] + 1e-12, rows, 0.0).sum(axis=1)
    return float(belief.weight[known] @ tail[known] / max(belief.weight[known].sum(), 1e-300))


def _joint_tail(belief: Belief[TableLaws], top: LookAlikes) -> float:
    """Chance that the class gives a set of answers as improbable as these; averaged over its members."""
    asked = [columns[0] for columns in belief.laws.by_test(belief.readings) if _honest(belief, columns[0]) >= SURPRISE]
    members = list(top.members)
    weight = belief.probability[members] / belief.probability[members].sum()
    return float(sum(w * _tail_under(belief, n, asked) for w, n in zip(weight, members, strict=True)))


def _tail_under(belief: Belief[TableLaws], suspect: int, asked: Sequence[int]) -> float:
    """The same under one suspect; tests that do not speak of it are left out.

    The law of the summed log chances of independent tests is built up test by test, on a grid.
    """
    law, seen = {0: 1.0}, 0
    for n in asked:
        reading = belief.readings[n]
        row = belief.laws.chance(reading.question)[suspect]
        if np.isnan(row[0]):
            continue
        steps = np.rint(np.log(np.maximum(row, 1e-300)) / GRAIN).astype(int)
        seen += int(steps[belief.laws.model.tests[reading.question.red].outcomes.index(str(reading.answer))])
        law = _one_more(law, row, steps)
    return sum(chance for at, chance in law.items() if at <= seen)


def _one_more(law: dict[int, float], row: np.ndarray, steps: np.ndarray) -> dict[int, float]:
    """Law of a sum (grid point -> chance) with one more test in it."""
    found: dict[int, float] = {}
    for at, chance in law.items():
        for step, more in zip(steps, row, strict=True):
            found[at + int(step)] = found.get(at + int(step), 0.0) + chance * float(more)
    return found


def _verified(belief: Belief[TableLaws], top: LookAlikes, counted: Sequence[int]) -> bool:
    """Some answer was foretold: the class already led, named that unhealthy word, and it came.

    A swap that cures proves itself: it counts when the old one brought the fault back. For
    "nothing wrong" any two healthy answers do.
    """
    tests = belief.laws.model.tests
    if any(belief.suspects[m].id == NOTHING_WRONG for m in top.members):
        sound = [n for n in counted if belief.readings[n].answer == tests[belief.readings[n].question.red].outcomes[0]]
        return len(sound) >= AGREEING
    for n in sorted(counted):
        test = tests[belief.readings[n].question.red]
        if foretells(belief, top.members, test) != belief.readings[n].answer:
            continue
        before = weigh(belief.laws, belief.readings[:n]).probability[list(top.members)].sum()
        if test.state == "outside" or before >= LED:
            return True
    return False


def foretells(belief: Belief[TableLaws], members: Sequence[int], test: Test) -> str | None:
    """The unhealthy word that a class names for a test, much more probable than on a sound machine."""
    rows = belief.laws.model.rows[test.id][list(members)]
    known = ~np.isnan(rows[:, 0])
    if not known.any():
        return None
    weight = belief.probability[list(members)] * known
    if weight.sum() <= 0.5 * belief.probability[list(members)].sum():
        return None  # most of the class has nothing to say
    chance = weight[known] @ rows[known] / weight.sum()
    word = int(np.argmax(chance[1:])) + 1
    sharp = chance[word] > FORETOLD and chance[word] > SHARPER * sound_row(len(test.outcomes))[word]
    return test.outcomes[word] if sharp else None
