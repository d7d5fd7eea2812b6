"""Steps of a table section: its tests, least risk first, and at last the mending."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Suspect
from probewright.inference.answers import Table
from probewright.inference.listed import ListedPopulation
from probewright.inference.table_fit import foretells
from probewright.machine.tables import Test
from probewright.planning.actions import Action
from probewright.planning.bursts import Allowance, Hot
from probewright.planning.minutes import RUNGS, minutes, rung
from probewright.prediction.table_laws import TEST
from probewright.readings import Question, Setup

# state of a test -> kind of step, its place in the order of risk, and how the power stands for it
STATES = {
    "ask": ("look", "ask and look", ""),
    "outside": ("swap", "swap outside", ""),
    "off": ("reading", "unpowered", "off"),
    "limited": ("reading", "limited power", "on"),
    "live": ("reading", "passive probing", "on"),
}
WORD_SHARP = 1.0  # words are all alike sharp


@dataclass(frozen=True)
class TableWays:
    """What can be done about the causes of a table."""

    population: ListedPopulation

    @property
    def _tests(self) -> dict[str, Test]:
        return self.population.belief.laws.model.tests

    def possible(self) -> list[Action]:
        """Tests that were not answered yet; when none is left, mending what may be wrong."""
        answered = {r.question.red for r in self.population.belief.readings if r.question.instrument == TEST}
        tests = [self.again(question(test)) for test in self._tests.values() if test.id not in answered]
        return tests or self.repairs()

    def lacking(self) -> list[Action]:
        """A test says in words what it takes."""
        return []

    def unproven(self) -> tuple[Action, ...]:
        """A table knows no rare part."""
        return ()

    def proofs(self) -> tuple[Action, ...]:
        """Nor what hangs on it."""
        return ()

    def again(self, ask: Question) -> Action:
        """A test as an action; changing the power is charged."""
        test = self._tests[ask.red]
        kind, step, power = STATES[test.state]
        spent = test.minutes
        if power and power != self._power_now():
            spent += minutes(f"power {power}", self.population.kit)
        return Action(kind, ask, test.id, spent, RUNGS.index(step))

    def following(self, then: Action, first: Action) -> float:
        """Minutes of a test after another: the power stands as that one left it."""
        if then.ask is None or first.ask is None:
            return then.minutes
        test, power = self._tests[then.item], STATES[self._tests[then.item].state][2]
        left = STATES[self._tests[first.item].state][2] or self._power_now()
        return test.minutes + (minutes(f"power {power}", self.population.kit) if power and power != left else 0.0)

    def _power_now(self) -> str:
        """How the last measured test left the power; "" before any."""
        left = [STATES[self._tests[r.question.red].state][2] for r in self.population.belief.readings
                if r.question.instrument == TEST and r.question.red in self._tests]  # fmt: skip
        return next((power for power in reversed(left) if power), "")

    def repairs(self) -> list[Action]:
        """Mending each item in which a considered cause lies."""
        suspects = [self.population.belief.suspects[n] for n in self.population.suspects]
        return [self._repair(item) for item in dict.fromkeys(f.item for one in suspects for f in one.faults)]

    def _repair(self, item: str) -> Action:
        causes = [cause for cause in self.population.belief.laws.model.causes.values() if cause.item == item]
        # a list does not say what mending takes inside: the least, a part of two pins
        what = "repair extra" if all(cause.outside for cause in causes) else "repair two pins"
        return Action("repair", None, item, minutes(what, self.population.kit), rung(what))

    def is_past(self, ask: Question) -> bool:
        """A table knows no repairs."""
        return False

    def permits(self, action: Action) -> bool:
        """A table leaves nothing out; its tests carry their cautions."""
        return True

    def allowance(self, action: Action) -> Allowance | None:
        """A table knows no watts."""
        return None

    def standing(self, ask: Question) -> Question:
        """The question as it is."""
        return ask

    def hot(self) -> tuple[Hot, ...]:
        """Nor what gets hot."""
        return ()

    def tells(self, action: Action) -> Table:
        """Chance of each word of a test."""
        assert action.ask is not None
        return self.population.table(action.ask)

    def cures(self, suspect: Suspect, item: str) -> bool:
        """The cause lies in this item."""
        return any(fault.item == item for fault in suspect.faults)

    def refuting(self, leader: int, rivals: tuple[int, ...]) -> list[tuple[tuple[int, ...], Action]]:
        """A table has no strangers."""
        return []

    def verifying(self) -> list[tuple[float, Action]]:
        """Tests for which the leader names an unhealthy word; those not answered yet, else once more
        those answered so."""
        belief, leader = self.population.belief, self.population.suspects[0]
        if belief.suspects[leader].id in (NOTHING_WRONG, NOT_LISTED):
            return []
        said = {r.question.red: r.answer for r in belief.readings if r.question.instrument == TEST}
        word = {test.id: foretells(belief, [leader], test) for test in self._tests.values()}
        fresh = [one for one, named in word.items() if named is not None and one not in said]
        fresh = fresh or [one for one, named in word.items() if named is not None and said.get(one) == named]
        return [(WORD_SHARP, self.again(question(self._tests[one]))) for one in fresh]

    def considered(self) -> list[Question]:
        """Every test of the table."""
        return [question(test) for test in self._tests.values()]

    def caution(self, ask: Question | None) -> str | None:
        """What the table warns of."""
        return (self._tests[ask.red].caution or None) if ask is not None else None

    def carefree(self, ask: Question) -> bool:
        """A table knows no volts, and what is unknown counts as dangerous."""
        return False

    def before(self, ask: Question | None) -> tuple[str, ...]:
        """A table knows no capacitors; its cautions say what stays charged."""
        return ()

    def turned(self, ask: Question | None) -> str:
        """A table knows no board."""
        return ""

    def undone(self, ask: Question | None) -> tuple[str, ...]:
        """A table knows no legs."""
        return ()

    def clips(self, ask: Question) -> bool:
        """A table knows no volts; its cautions say what to do."""
        return False

    def deadly(self) -> list[str]:
        """A table knows no places; its tests carry their cautions."""
        return []

    def broken_rule(self) -> str | None:
        """A table states no power rules."""
        return None


def question(test: Test) -> Question:
    """A test as a question; the power as the test needs it."""
    return Question(TEST, test.id, setup=Setup(power=STATES[test.state][2] or "on"))
