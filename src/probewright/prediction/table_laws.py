"""Laws of a table section: causes against tests with stated chances, no circuit, one draw a cause."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Fault, Suspect
from probewright.hypotheses.priors import standing
from probewright.machine.tables import Cause, TableSection, Test
from probewright.prediction.likelihood import FLOOR, LEAST, UNLISTED_HEALTHY, Judged
from probewright.readings import Question, Reading

TEST = "test"  # instrument of a question that a table answers; its red is the test's id
BAD = "bad"  # mode of every cause: a table says what is wrong in words, not in figures
SAYS = {NOTHING_WRONG: "nothing wrong in here", NOT_LISTED: "something not in this list"}
SOUND_SAYS = 0.95  # chosen: an old machine without this fault still shows something unexpected once in twenty looks


class UnsoundTable(ValueError):
    """A table section that cannot be weighed: chances that do not add up, or names that do not match."""


@dataclass(frozen=True)
class TableModel:
    """All that is fixed before any test: section, suspects and how probable each answer is.

    suspects: the causes in the order of the section, then those of the two standing ones that have
    a share. Every suspect is one cell.
    """

    section: TableSection
    suspects: tuple[Suspect, ...]

    @property
    def cells(self) -> tuple[Suspect, ...]:
        """One cell a suspect."""
        return self.suspects

    @cached_property
    def suspect_of(self) -> np.ndarray:
        """(cell,) index of the suspect."""
        return np.arange(len(self.suspects))

    @cached_property
    def index(self) -> dict[str, int]:
        """Suspect id -> index."""
        return {suspect.id: n for n, suspect in enumerate(self.suspects)}

    @cached_property
    def tests(self) -> dict[str, Test]:
        """Test id -> test, in the order of the section."""
        return {test.id: test for test in self.section.tests}

    @cached_property
    def causes(self) -> dict[str, Cause]:
        """Cause id -> cause."""
        return {cause.id: cause for cause in self.section.causes}

    @cached_property
    def rows(self) -> dict[str, np.ndarray]:
        """Test id -> (suspect, outcome) chance of what is there to be seen; NaN where nothing is known."""
        return {test.id: np.stack([self._row(test, one.id) for one in self.suspects]) for test in self.section.tests}

    def _row(self, test: Test, suspect: str) -> np.ndarray:
        """(outcome,) chances of one suspect: as stated, of a sound machine, of anything half the time."""
        count = len(test.outcomes)
        stated = self.section.chance.get((test.id, suspect))
        if stated is not None:
            return np.array(stated, float)
        if suspect == NOTHING_WRONG:
            return sound_row(count)
        if suspect == NOT_LISTED:
            return UNLISTED_HEALTHY * sound_row(count) + (1.0 - UNLISTED_HEALTHY) / count
        return np.full(count, np.nan)


@dataclass(frozen=True)
class TableLaws:
    """How probable every answer is under every cause; a cell has one draw, so all is exact.

    floor: chance of each wrong word when a person looks, listens or measures; an answer to one
    test is that of the machine on the bench, so asking again takes slips away and tells no more.
    """

    model: TableModel
    floor: float = FLOOR

    @classmethod
    def of(cls, section: TableSection, shares: Mapping[str, float] | None = None, floor: float = FLOOR) -> TableLaws:
        """Laws of a section; shares: chances of the standing suspects in place of those for old machines.

        A standing suspect without a share is left out. UnsoundTable when the section does not add up.
        """
        check(section)
        kept = {name: standing(name).value for name in SAYS} if shares is None else dict(shares)
        return cls(TableModel(section, (*_causes(section, 1.0 - sum(kept.values())), *_standing(kept))), floor)

    @cached_property
    def cell_of(self) -> np.ndarray:
        """(variant,) index of the cell: a variant is a cell."""
        return self.model.suspect_of

    @cached_property
    def log_prior(self) -> np.ndarray:
        """(variant,) log chance before any test, in nat."""
        return np.log([suspect.prior for suspect in self.model.suspects])

    def knows(self, reading: Reading) -> bool:
        """It answers a test of this section with one of its words; all else is kept and not weighed."""
        test = self.model.tests.get(reading.question.red) if reading.question.instrument == TEST else None
        return test is not None and reading.answer in test.outcomes

    def chance(self, ask: Question, said: Sequence[Reading] = ()) -> np.ndarray:
        """(suspect, outcome) chance of each word when a test is asked with fresh eyes, after what was
        said; rows sum to one, NaN where unknown."""
        test = self.model.tests[ask.red]
        earlier = [said[n] for columns in self.by_test(said) for n in columns if said[n].question.red == ask.red]
        joint = self._joint(test, earlier)
        with np.errstate(invalid="ignore"):
            there = joint / joint.sum(axis=1, keepdims=True)
        return there @ self._slips(test)

    def sitting_nats(self, said: Sequence[Reading]) -> Judged:
        """Log-likelihood of these answers in every variant; a cause that some asked test does not
        speak of is unjudged."""
        nats, honest = np.zeros(len(self.cell_of)), np.ones((len(self.cell_of), len(said)))
        judged = np.ones(len(self.cell_of), bool)
        for columns in self.by_test(said):
            one, right = self._one_test([said[n] for n in columns])
            nats, judged = nats + np.nan_to_num(one), judged & ~np.isnan(one)
            honest[:, columns] = np.where(np.isnan(right), 1.0, right)
        return Judged(np.maximum(nats, LEAST * 2), honest, judged, judged)

    def by_test(self, said: Sequence[Reading]) -> list[list[int]]:
        """Positions of the answers that count, those to one test together, in the order first asked.

        Of one hook-up only the first answer to a test counts.
        """
        found: dict[str, dict[str, int]] = {}
        for n, reading in enumerate(said):
            if self.knows(reading):
                found.setdefault(reading.question.red, {}).setdefault(reading.hookup, n)
        return [list(hookups.values()) for hookups in found.values()]

    def _one_test(self, said: Sequence[Reading]) -> tuple[np.ndarray, np.ndarray]:
        """Answers to one test: log-likelihood (variant,), NaN where unknown, and the chance
        (variant, answer) that each is what was there to be seen.

        What is there is one word for the whole job, with the chance of the table; each answer names
        it, or by a slip one of the others.
        """
        test = self.model.tests[said[0].question.red]
        joint = self._joint(test, said)
        total = joint.sum(axis=1)
        with np.errstate(divide="ignore"):
            nats = np.maximum(np.log(total), LEAST)
        named = [test.outcomes.index(str(r.answer)) for r in said]
        return nats, joint[:, named] / np.maximum(total, np.exp(LEAST))[:, None]

    def _joint(self, test: Test, said: Sequence[Reading]) -> np.ndarray:
        """(variant, outcome) chance that this outcome is there to be seen and that all said so."""
        named = [test.outcomes.index(str(r.answer)) for r in said]
        return self.model.rows[test.id] * np.prod(self._slips(test)[:, named], axis=1)

    def _slips(self, test: Test) -> np.ndarray:
        """(outcome there, outcome said) chance of each word for what is there, rows summing to one."""
        count = len(test.outcomes)
        return self.floor + (1.0 - count * self.floor) * np.eye(count)


def check(section: TableSection) -> None:
    """UnsoundTable when ids repeat, a chance names what is not there, or a row does not sum to one."""
    causes, tests = [one.id for one in section.causes], {one.id: one for one in section.tests}
    _refuse_repeats([*causes, *SAYS])
    _refuse_repeats([one.id for one in section.tests])
    if any(len(test.outcomes) < 2 for test in section.tests):
        raise UnsoundTable(f"{section.name}: a test with a single answer tells nothing")
    if any(cause.prior <= 0.0 for cause in section.causes):
        raise UnsoundTable(f"{section.name}: a cause without a chance before any test cannot be weighed")
    known = {*causes, *SAYS}
    for (test, cause), row in section.chance.items():
        if test not in tests or cause not in known:
            raise UnsoundTable(f"{section.name}: {test!r} against {cause!r} is not in the table")
        if len(row) != len(tests[test].outcomes) or min(row) < 0.0 or abs(sum(row) - 1.0) > 1e-9:
            raise UnsoundTable(f"{section.name}: {test!r} against {cause!r} needs one chance a word, summing to one")


def _refuse_repeats(ids: Iterable[str]) -> None:
    seen: set[str] = set()
    for one in ids:
        if one in seen:
            raise UnsoundTable(f"{one!r} stands twice in the table")
        seen.add(one)


def _causes(section: TableSection, share: float) -> Iterable[Suspect]:
    """The causes as suspects; their weights scaled to sum to `share`."""
    total = sum(cause.prior for cause in section.causes)
    for cause in section.causes:
        prior = share * cause.prior / total
        yield Suspect(cause.id, (Fault(cause.item, BAD),), prior, prior, cause.says, cause.source)


def _standing(shares: Mapping[str, float]) -> Iterable[Suspect]:
    for name, says in SAYS.items():
        if shares.get(name, 0.0) > 0.0:
            yield Suspect(name, (), shares[name], shares[name], says, standing(name).source)


def sound_row(count: int) -> np.ndarray:
    """(outcome,) a machine without the fault: the healthy word, now and then one of the others."""
    return np.array([SOUND_SAYS, *[(1.0 - SOUND_SAYS) / (count - 1)] * (count - 1)])
