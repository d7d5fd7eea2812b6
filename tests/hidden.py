"""A bench that hides a fault: it answers each line that is typed as a repairer would type it.

A machine in the middle of its tolerances, each fault in the middle of its severity, a meter without error: what comes
out is owed to the program and not to the luck of a draw.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from probewright.hypotheses import NOTHING_WRONG, Fault, Suspect
from probewright.hypotheses.provoking import AT, NEAR, distance_of
from probewright.jobs import adding, bench
from probewright.jobs.bench import machine_of
from probewright.jobs.blanks import as_typed, filled, questions
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case, Intake
from probewright.jobs.standing import asked, stand
from probewright.machine import Machine, read
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, Model, build_model
from probewright.prediction.likelihood import chance_of_beep
from probewright.prediction.outcomes import chance_works, show
from probewright.readings import PROVOKE, Question, Reading, on_this_one
from probewright.record import Book

NOW = "2026-11-25T10:00:00+00:00"


def broken(machine: Machine, *faults: Fault, unknown: float = 0.0, bad: int | None = None) -> Bank:
    """A machine in the middle of its tolerances with these faults: what the hidden board reads.

    unknown: how far from the middle of its range, in standard deviations, each figure lies that nobody knows; bad: which
    bin of severity the first fault is in, the middle one where nothing is said.
    """
    model = build_model(machine, "hidden")
    sound = model.suspects[model.index[NOTHING_WRONG]]
    hidden = Suspect("hidden", faults, 1.0, 1.0, "", "") if faults else sound
    severity = faults[0].severity if faults else None
    cell = Cell(0, (severity.bins // 2 if bad is None else bad) if severity else 0)
    suspects, cells = ((hidden, sound), (cell, Cell(1, 0))) if faults else ((sound,), (cell,))
    model = Model(machine, suspects, cells, model.latents, "hidden")
    z = np.zeros((len(model.latents.keys) + 1, 1))
    for one in model.latents.free:
        if one.figure.unknown:
            z[[latent for latent, _ in one.terms]] = unknown
    return Bank(model, [Span(0, 0, 1)], z)


def planted(machine: Machine, *ids: str, unknown: float = 0.0, bad: int | None = None) -> Bank:
    """The same with suspects of the file by their ids, like "C1 high-esr"."""
    model = build_model(machine, "hidden")
    faults = (fault for one in ids for fault in model.suspects[model.index[one]].faults)
    return broken(machine, *faults, unknown=unknown, bad=bad)


def sound_one(hidden: Bank) -> Bank:
    """A machine like this one without the fault."""
    return Bank(hidden.model, [Span(hidden.model.healthy_cell, 0, 1)], hidden.z)


def reads(hidden: Bank, ask: Question) -> float:
    """What lies between the tips."""
    shown = show(hidden, ask)
    assert shown.judged[0], ask
    return float(shown.value[0])


def says(hidden: Bank, ask: Question) -> str:
    """The answer as a person would type it: a figure of three digits, OL above the range, or a word."""
    if ask.instrument == "works":
        (works,) = (one for one in hidden.model.machine.works if one.name == ask.red)
        good, judged = chance_works(hidden, works, ask.setup)
        assert judged[0], ask
        return "ok" if good[0] > 0.5 else "bad"
    value = reads(hidden, ask)
    if ask.instrument == "beep":
        return "beeps" if chance_of_beep(np.array([value]))[0] > 0.5 else "no beep"
    return as_typed(Reading(ask, value, ""))


@dataclass
class HiddenBench:
    """A job, and the machine with a planted fault that answers it.

    asleep: the fault comes and goes and is not to be seen: the machine reads as a sound one, every line says so, and it
    wakes when its part is provoked. at: the time on the bench.
    """

    book: Book
    case: Case
    hidden: Bank
    asleep: bool = False
    at: str = NOW

    @property
    def machine(self) -> Machine:
        """Its file, as the job has it."""
        machine = machine_of(self.case)
        assert machine is not None
        return machine

    def type(self, *lines: str) -> tuple[str, ...]:
        """Enter lines; "? V", "? ohm" and the like become what the hidden machine shows. What the last one says."""
        for line in lines:
            typed = self.answered(line) if "?" in line else line
            typed += "; not showing" if self.asleep and "set-up" not in line else ""
            self.case = bench.enter_line(self.book, self.case, typed, self.at, asked(self.case))
            assert self.case.lines[-1].status == "counts", (typed, self.case.lines[-1].says)
        return tuple(self.case.lines[-1].says)

    def _says(self, ask: Question) -> str:
        """As the machine is now; of a sister as a sound one."""
        there = sound_one(self.hidden) if self.asleep or ask.setup.sister else self.hidden
        return says(there, replace(ask, setup=on_this_one(ask.setup)))

    def ask(self, line: str) -> str:
        """Enter a line that is asked back instead of counted; what is asked."""
        self.case = bench.enter_line(self.book, self.case, line, self.at, asked(self.case))
        assert self.case.lines[-1].status == "asked", (line, self.case.lines[-1].says)
        return " ".join(self.case.lines[-1].says)

    def answered(self, line: str) -> str:
        """The line with its figures, as this machine gives them."""
        return filled(line, [self._says(ask) for ask in questions(self.case, self.machine, line)])

    def now(self) -> BenchView:
        """Where the job stands, refined."""
        view = stand(self.book, self.case, self.at)
        self.case = bench.find_case(self.book, self.case.number)  # with what was shown
        return view

    def follow(self, most: int = 8) -> BenchView:
        """Answer the cards as they come, until nothing is to be read any more. Where the job stands then."""
        for _ in range(most):
            view = self.now()
            if view.search.finding != "undecided" or view.card is None or view.card.ask is None:
                break
            self.type(self.answer_to(view.card.ask))
        return self.now()

    def answer_to(self, ask: Question) -> str:
        """A bare answer to a card."""
        if ask.instrument == "swap":
            return "same"  # what is swapped is sound in these machines
        if ask.instrument == PROVOKE:
            place = ask.red.removeprefix("near ")
            reach = (AT, NEAR) if ask.red.startswith("near ") else (AT,)
            machine, faults = self.hidden.model.machine, self.hidden.model.suspects[0].faults
            felt = any(distance_of(machine, fault.item, place) in reach for fault in faults)
            self.asleep = self.asleep and not felt
            return "fault comes" if felt else "same"
        return self._says(ask)

    def leaders(self, count: int = 3) -> list[tuple[str, float]]:
        """The first suspects with how sure, for a message."""
        return [(one.id, round(one.probability, 3)) for one in self.now().search.suspects[:count]]


def opened(book: Book, text: str, *ids: str, model: str = "", unknown: float = 0.0, key: str = "k") -> HiddenBench:
    """A job with this machine file tied to it, and a machine that hides these suspects."""
    case = bench.open_job(book, Intake("amplifier", model=model, key=key), NOW)
    case = adding.tie(book, case, text, adding.propose_tie(case, text, "file.yaml", {}), NOW)
    return HiddenBench(book, case, planted(read(text), *ids, unknown=unknown))
