"""Jobs like this one: the same model or kind, the same complaint, words in common, a culprit that is suspected.

A score of a few plain terms, and each of them is said: nobody should have to guess why two jobs are alike.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from probewright.hypotheses.suspects import made_of, suspects_of
from probewright.hypotheses.usual import kind_of
from probewright.jobs.bench import every_case, machine_of
from probewright.jobs.cases import Case, complained_of
from probewright.jobs.culprits import as_compared, came_back
from probewright.jobs.found import Culprit, in_words, likeliest
from probewright.jobs.view import SCHEMA
from probewright.jobs.ways_to_end import REPAIRED
from probewright.record import Book

# What is alike, and how much it counts: chosen. A function counts the more the rarer it is among those that fail, as a
# word does among those that were written: by ln(jobs / jobs with it).
MODEL, KIND, FUNCTION, CULPRIT = 4.0, 0.5, 1.0, 2.0
LEAST = 1.0  # below this two jobs are not alike: a kind of machine in common is none
MOST = 8  # chosen: as many as one looks at
WORD = re.compile(r"[^\W\d_]{4,}")  # shorter ones, chosen, are seldom about a fault


@dataclass(frozen=True)
class AlikeView:
    """A job like this one. why: what they have in common; ended: its way to end, "" for an open one; was: its
    culprits, as proved by the repair, and what is at least half as sure as the first."""

    job: int
    kind: str
    model: str
    words: str
    ended: str
    elsewhere: bool
    score: float
    why: tuple[str, ...]
    was: tuple[str, ...]


@dataclass(frozen=True)
class LikeView:
    """Jobs like this one, the most alike first."""

    job: int
    jobs: tuple[AlikeView, ...]
    schema: str = SCHEMA


def like(book: Book, case: Case) -> LikeView:
    """The jobs of the book that are like this one."""
    cases = every_case(book)
    said = {one.number: _words(one) for one in cases}
    rare = _rarity(said.values())
    rare_functions = _rarity(complained_of(one.intake) for one in cases)
    back = came_back(book)
    mine, here = _suspected(case, back), said.get(case.number, _words(case))
    found = []
    for one in cases:
        if one.number == case.number:
            continue
        common = sorted(here & said[one.number], key=lambda word: (-rare[word], word))
        terms = list(_terms(case, one, mine, [word for word in common if rare[word] > 0.0], rare, rare_functions, back))
        score = sum(worth for worth, _ in terms)
        if score >= LEAST:
            again = [f"but it came back as job {back[one.number]}"] if one.number in back else []
            found.append(_view(one, score, (*(says for _, says in terms), *again), back))
    return LikeView(case.number, tuple(sorted(found, key=lambda one: (-one.score, -one.job))[:MOST]))


def _rarity(some: Iterable[Collection[str]]) -> dict[str, float]:
    """How much each of what jobs have counts."""
    jobs = list(some)
    return {one: math.log(len(jobs) / count) for one, count in Counter(one for job in jobs for one in job).items()}


def _terms(
    case: Case, other: Case, mine: Mapping[tuple[str, str], str], common: Sequence[str], rare: Mapping[str, float],
    rare_functions: Mapping[str, float], back: Collection[int],
) -> Iterator[tuple[float, str]]:  # fmt: skip
    """What two jobs have in common, each with how much it counts."""
    model = as_compared(case.intake.model)
    if model and model == as_compared(other.intake.model):
        yield MODEL, "the same model"
    elif case.intake.kind == other.intake.kind:
        yield KIND, f"the same kind, {case.intake.kind}"
    both = [name for name in complained_of(case.intake) if name in complained_of(other.intake)]
    if both:
        yield sum(FUNCTION * rare_functions[name] for name in both), f"the same does not work: {', '.join(both)}"
    if common:
        yield sum(rare[word] for word in common), f"words in common: {', '.join(common[:5])}"
    for one in _proved(other, back):
        if (name := mine.get((one.kind, one.mode))) is not None:
            yield CULPRIT * one.share, f"{in_words(one)} was it there, and {name} {_is(case, back)} here"
            return


def _proved(case: Case, back: Collection[int]) -> tuple[Culprit, ...]:
    """What it was, where a repair bears that out. back: jobs that came back, whose repair proved nothing."""
    held = case.ending == REPAIRED and case.number not in back
    return case.found.culprits if held and case.found is not None else ()


def _is(case: Case, back: Collection[int]) -> str:
    return "was it" if _proved(case, back) else "is suspected"


def _suspected(case: Case, back: Collection[int]) -> dict[tuple[str, str], str]:
    """Kind and mode -> name, of what was the culprit, else of the suspects that were shown last."""
    if culprits := _proved(case, back):
        return {(one.kind, one.mode): in_words(one) for one in reversed(culprits)}
    machine = machine_of(case)
    if machine is None:
        return {}
    listed, found = {one.id: one for one in suspects_of(machine)}, {}
    for name, _, _ in reversed((case.shown or {}).get("suspects", ())):
        try:
            faults = made_of(listed, name).faults
        except KeyError:
            continue
        found.update({(kind, one.mode): name.replace("-", " ") for one in faults if (kind := kind_of(machine, one))})
    return found


def _words(case: Case) -> frozenset[str]:
    """Words of the complaint and of the end."""
    told = f"{case.intake.words} {case.intake.when} {(case.closed or {}).get('words', '')}"
    return frozenset(WORD.findall(told.casefold()))


def _view(case: Case, score: float, why: tuple[str, ...], back: Collection[int]) -> AlikeView:
    told = case.intake
    was = tuple(map(in_words, likeliest(_proved(case, back))))
    return AlikeView(
        case.number, told.kind, told.model, told.words, case.ending, bool(told.elsewhere),
        score, why, was,
    )  # fmt: skip
