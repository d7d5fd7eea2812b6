"""A table's causes, answers and steps in the repairer's words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from probewright.inference.belief import Belief
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.population import Population
from probewright.inference.table_fit import foretells
from probewright.jobs.view import FaultView, RangeView, WordView
from probewright.machine import Machine
from probewright.machine.tables import Test
from probewright.planning.choosing import Choice
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Question, Reading, echo
from probewright.units import sentence

POWER = {"ask": "", "outside": "", "off": "power off", "limited": "limited power", "live": "power on"}
DEEPER = "nothing in this list; type a chain or a stage round it and measure inside"


@dataclass(frozen=True)
class TableWords:
    """What to say of a belief about the causes of a table."""

    machine: Machine | None
    belief: Belief[TableLaws]

    def _test(self, ask: Question) -> Test:
        return self.belief.laws.model.tests[ask.red]

    def say(self, reading: Reading) -> str:
        """What was asked and answered; readings that the table does not know as they were typed."""
        if self.belief.laws.knows(reading):
            return f"{self._test(reading.question).do.rstrip('.?! ')}: {reading.answer}"
        if self.machine is not None and reading.question.instrument != "test":
            return echo.say(reading, self.machine)
        return reading.text or f"{reading.question.red}: {reading.answer}"

    def ask(self, ask: Question) -> str:
        """The test as an instruction, with the words to answer by and what is expected."""
        test = self._test(ask)
        words = f"{sentence(test.do)} Answer: {', '.join(test.outcomes)}."
        return f"{words} Healthy: {sentence(test.expected)}" if test.expected else words

    def setup(self, ask: Question) -> str:
        """How the power stands; nothing where it does not matter."""
        return POWER[self._test(ask).state]

    def live(self, choice: Choice) -> bool:
        """Hands or probes go in with power on."""
        ask = choice.action.ask
        return ask is not None and self._test(ask).state in ("limited", "live")

    def name(self, n: int) -> str:
        """A cause in its own words."""
        return self.belief.suspects[n].says

    def mend(self, item: str) -> str:
        """What a repair of an item is."""
        causes = [cause for cause in self.belief.laws.model.causes.values() if cause.item == item]
        outside = all(cause.outside for cause in causes)
        return f"Use another {item}" if outside else f"Mend or exchange: {item}"

    def healthy(self, choice: Choice) -> RangeView | WordView:
        """The word of a healthy machine."""
        ask = choice.action.ask
        return WordView("cured" if ask is None else self._test(ask).outcomes[0])

    def groups(self, choice: Choice) -> list[tuple[str, np.ndarray]]:
        """Each word with its bin."""
        return [(word, np.array([n])) for n, word in enumerate(choice.table.words)]

    def refutes(self, choice: Choice, leader: str) -> str:
        """Why a step puts the leader to the test; a table has no strangers, so there is none."""
        return self.verifies(choice, leader)

    def verifies(self, choice: Choice, leader: str) -> str:
        """Why a step would settle it."""
        assert choice.action.ask is not None
        test, top = self._test(choice.action.ask), int(np.argmax(self.belief.probability))
        return f'If it is {leader}, the answer is "{foretells(self.belief, [top], test)}". That would settle it.'

    def again(self, choice: Choice) -> str:
        """Why a test is made once more."""
        return "This answer does not fit what the others say. Do it once more with fresh eyes."

    def advice(self, reading: Reading) -> str:
        """What to do about a surprise."""
        return f"No likely cause answers that here. Do it once more with fresh eyes: {self.ask(reading.question)}"

    def split_by(self, population: Population, one: LookAlikes) -> str:
        """Every test of the table was considered, so the step lies outside it."""
        return DEEPER

    def faults(self, n: int) -> Iterator[FaultView]:
        """The item that a cause lies in."""
        for fault in self.belief.suspects[n].faults:
            yield FaultView(fault.item, fault.mode, None, "")
