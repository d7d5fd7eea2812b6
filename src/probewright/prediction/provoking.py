"""How probable it is that a fault comes, goes or stays when somebody taps, bends, warms, chills or probes, or
exchanges two parts.

A fault answers to one provocation of one place or it does not; who does it again learns whether that was
chance, and no more. Nothing is solved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from probewright.hypotheses import Suspect
from probewright.hypotheses.exchanging import exchanged
from probewright.hypotheses.provoking import Reaction, reaction
from probewright.machine.model import Machine
from probewright.prediction.cells import Model
from probewright.readings import COMES, EXCHANGE, GOES, PROVOKE, SAME, Question, Reading

UNPROVOKED = 0.02  # chosen: a person sees a change that there was not, or misses one; as likelihood.FLOOR
BY_CHANCE = 0.06  # chosen: a fault that comes and goes does so just then, and would have without it
AGAIN = 0.8  # chosen: a fault that answers to it does so every time but one in five


def is_provoked(reading: Reading) -> bool:
    """Whether the reading tells of a provocation or an exchange: of what was done to the fault, and of no figure."""
    return reading.question.instrument in (PROVOKE, EXCHANGE)


def by_provocation(said: Sequence[Reading]) -> dict[Question, list[int]]:
    """Positions of the readings of each provocation of each place and each exchange, whatever the set-up was."""
    found: dict[Question, list[int]] = {}
    for n, reading in enumerate(said):
        ask = reading.question
        if is_provoked(reading):
            found.setdefault(Question(ask.instrument, ask.red, ask.black), []).append(n)
    return found


def provoked_nats(model: Model, said: Sequence[Reading]) -> np.ndarray:
    """(cell,) log-likelihood of what one or more provocations did."""
    total = np.zeros(len(model.suspects))
    shy = [comes_and_goes(one) for one in model.suspects]
    for ask, rows in by_provocation(said).items():
        answers = [str(said[n].answer) for n in rows]
        if ask.instrument == EXCHANGE:
            laws = [exchanged(one, ask.red, ask.black) for one in model.suspects]
            total += np.array([sum(np.log(law[said]) for said in answers) for law in laws])
            continue
        found = [reaction(model.machine, one, ask.black, ask.red) for one in model.suspects]
        total += np.array([_nats(one, by_itself, answers) for one, by_itself in zip(found, shy, strict=True)])
    return total[model.suspect_of]


def comes_and_goes(suspect: Suspect) -> bool:
    """Whether some fault of it is there at times only."""
    return any(fault.comes_and_goes for fault in suspect.faults)


def chances_next(
    machine: Machine, suspects: Sequence[Suspect], ask: Question, said: Sequence[str]
) -> list[Mapping[str, float]]:
    """Chance of each answer of each suspect to this provocation, after these answers to the same one.

    p(a | said) = p(said, a) / p(said): what was answered before says whether the fault answers at all.
    """
    found: list[Mapping[str, float]] = []
    for one in suspects:
        law, shy = reaction(machine, one, ask.black, ask.red), comes_and_goes(one)
        before = _nats(law, shy, said)
        found.append({a: float(np.exp(_nats(law, shy, (*said, a)) - before)) for a in (COMES, GOES, SAME)})
    return found


def _nats(one: Reaction, by_itself: bool, answers: Sequence[str]) -> float:
    """Log chance of these answers to one provocation: the fault answers to it, or it does not."""
    answering, silent = chances(one, True, by_itself), chances(one, False, by_itself)
    with_it, without = (np.prod([law[said] for said in answers]) for law in (answering, silent))
    return float(np.log(one.chance * with_it + (1.0 - one.chance) * without))


def chances(one: Reaction, answers: bool, by_itself: bool) -> dict[str, float]:
    """Chance of each answer of a fault that answers to the provocation, or does not; never nought, never one."""
    if answers:
        room = AGAIN - 2.0 * UNPROVOKED
        return {COMES: UNPROVOKED + room * one.comes, GOES: UNPROVOKED + room * (1.0 - one.comes), SAME: 1.0 - AGAIN}
    slip = BY_CHANCE if by_itself else UNPROVOKED
    return {COMES: slip, GOES: slip, SAME: 1.0 - 2.0 * slip}
