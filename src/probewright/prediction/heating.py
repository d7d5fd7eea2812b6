"""Watts that parts turn into heat, in every draw of a bank."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from probewright.machine.edits import Unplug
from probewright.machine.kinds import Kind
from probewright.machine.stimuli import Followed
from probewright.prediction.bank import Bank
from probewright.prediction.timed import as_fitted, as_typed, follow, happens_once, way_of
from probewright.readings import Question, Setup
from probewright.readings.setups import edits, parts_called
from probewright.simulation import heating, scope
from probewright.simulation.meters import Shown

Law = Callable[[Kind, np.ndarray, Mapping[str, Any]], np.ndarray]
WATTS = "watts"  # the instrument of a question about heat; red is a part or a case


def ask_watts(part: str, setup: Setup) -> Question:
    """The question how many watts a part, or all units of a case, turn into heat in this set-up."""
    return Question(WATTS, part, setup=setup)


def units_at(bank: Bank, ask: Question) -> list[str]:
    """The parts meant by a question about heat that are there in this set-up."""
    machine = bank.model.machine
    gone = {one.part for one in edits(ask.setup, machine) if isinstance(one, Unplug)} | {*bank.absent}
    return [name for name in parts_called(machine, ask.red) if name not in gone]


def pins_of(bank: Bank, part: str) -> tuple[str, ...]:
    """Its pins as places."""
    return tuple(f"{part}.{pin}" for pin in bank.model.machine.parts[part].pins)


def is_solved(bank: Bank, part: str, setup: Setup) -> bool:
    """The part lies in the piece that was solved."""
    return any(part in group.parts for group in bank.solved(setup).circuit.groups)


def watts_at_rest(bank: Bank, part: str, setup: Setup) -> Shown:
    """(variant,) W in one part, in draws that are solved together and hold it."""
    solved = bank.solved(setup)
    pins = heating.pin_volts(solved.circuit, solved.batch, part, solved.rest.volts)
    figures = heating.figures_of(solved.circuit, solved.batch, part)
    kind = heating.group_of(solved.circuit, part).kind
    return Shown(heating.dissipated(kind, pins, figures), solved.rest.solved)


def watts_in_time(bank: Bank, part: str, setup: Setup) -> Shown | None:
    """The mean over what is looked at where something moves, or of what happens once the most at any instant; None
    where nothing moves.

    Not judged in a part that moves by itself or keeps something: there volts and watts are not of one instant.
    """
    return in_time(bank, part, setup, heating.dissipated, lambda watts: np.max(watts, axis=1))


def in_time(bank: Bank, part: str, setup: Setup, law: Law, once: Callable[[np.ndarray], np.ndarray]) -> Shown | None:
    """What a law of one part at rest says along the traces: its mean over what is looked at, and of what happens once
    what `once` makes of (variant, instant); None where nothing moves. Not judged as in `watts_in_time`.

    law: of the kind, volts (pin, variant) and figures, to (variant,).
    """
    way = way_of(bank, setup, "dc")
    if way is None:
        return None
    unknown = Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
    found = None if any(course.part == part for course in way.courses) else along(bank, part, setup, way)
    if found is None or found.kind.storing is not None or found.kind.lag is not None:
        return unknown
    instants = found.by(law)
    value = once(instants) if happens_once(way) else scope.mean(found.seconds, instants)
    return found.for_all(bank, value)


@dataclass(frozen=True)
class Along:
    """One part along the traces of a run, in the draws that stand for all.

    variants (row,): which draws; seconds (time,); pins (pin, row, time) V at its pins; figures -> (1, row); solved
    (row,).
    """

    kind: Kind
    variants: np.ndarray
    seconds: np.ndarray
    pins: np.ndarray
    figures: Mapping[str, Any]
    solved: np.ndarray

    def by(self, law: Law) -> np.ndarray:
        """(row, time) what a law of the part at rest says at each instant."""
        figures = {name: np.repeat(value, len(self.seconds), axis=1) for name, value in self.figures.items()}
        return law(self.kind, self.pins.reshape(len(self.pins), -1), figures).reshape(len(self.variants), -1)

    def for_all(self, bank: Bank, value: np.ndarray) -> Shown:
        """(variant,) of all draws of the bank, from those that stand for them (row,)."""
        if len(self.variants) == bank.size:
            return Shown(value, self.solved)
        found = Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
        there = bank.stands_for >= 0
        at = np.searchsorted(self.variants, bank.stands_for[there])
        found.value[there], found.judged[there] = value[at], self.solved[at]
        return found


def along(bank: Bank, part: str, setup: Setup, way: Followed) -> Along | None:
    """A part along the traces of this set-up; None where no draw of the bank is followed."""
    variants = np.unique(bank.stands_for[bank.stands_for >= 0])
    if not variants.size:
        return None
    run = follow(bank, setup, way, variants)
    rows = run.row_of[variants]
    batch = bank.part(variants, None).batch(run.circuit, as_fitted(bank, as_typed(bank, setup)))
    pins = heating.pin_volts(run.circuit, batch, part, run.volts[:, rows].astype(float))
    figures = {
        name: np.broadcast_to(value, (1, len(variants)))
        for name, value in heating.figures_of(run.circuit, batch, part).items()
    }
    kind = heating.group_of(run.circuit, part).kind
    return Along(kind, variants, run.seconds, pins, figures, run.solved[rows])
