"""Amps that a supply gives, in every draw of a bank."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from probewright.machine.edits import Unplug
from probewright.machine.kinds import KINDS, Kind
from probewright.machine.model import Machine
from probewright.prediction.bank import Bank
from probewright.prediction.heating import in_time
from probewright.readings import Question, Setup
from probewright.readings.setups import edits, with_supplies
from probewright.simulation import heating
from probewright.simulation.meters import Shown


def feeder(machine: Machine, ask: Question) -> str:
    """The part that feeds where a question about a supply asks, the bench supply of its set-up before all others; ""
    where none does, as when the power is off."""
    fed = with_supplies(ask.setup, machine).parts
    net = machine.net_of(ask.red)
    supplies = [name for name, part in fed.items() if name not in machine.parts and part.pins["plus"] == net]
    own = ask.red.rpartition(".")[0]
    gone = {one.part for one in edits(ask.setup, machine) if isinstance(one, Unplug)}
    if own in fed and own not in gone and KINDS[fed[own].kind].feeds:
        return own
    return supplies[0] if supplies else ""


def amps_at_rest(bank: Bank, part: str, setup: Setup) -> Shown:
    """(variant,) A that one supply gives, in draws that are solved together and hold it."""
    solved = bank.solved(setup)
    pins = heating.pin_volts(solved.circuit, solved.batch, part, solved.rest.volts)
    figures = heating.figures_of(solved.circuit, solved.batch, part)
    return Shown(_given(heating.group_of(solved.circuit, part).kind, pins, figures), solved.rest.solved)


def amps_in_time(bank: Bank, part: str, setup: Setup) -> Shown | None:
    """The mean over what is looked at where something moves, or what it ends at; None where nothing moves. Not judged
    of a supply that moves by itself: there volts and amps are not of one instant."""
    return in_time(bank, part, setup, _given, lambda amps: amps[:, -1])


def _given(kind: Kind, pins: np.ndarray, figures: Mapping[str, Any]) -> np.ndarray:
    """(variant,) A out of plus, turned round where the supply is a negative one, so that what it gives counts up."""
    return -heating.amps_into(kind, pins, figures)["plus"] * np.sign(figures["volts"][0])
