"""What must not run on as it is: before any diagnosis the power goes off."""

from __future__ import annotations

import numpy as np

from probewright.inference.belief import Belief
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine
from probewright.planning.actions import repaired
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.outcomes import show
from probewright.readings import Reading, Setup, is_live
from probewright.units import write_reading

ABOVE = 1.15  # chosen: times the highest that a sound machine has there; 5 V logic stands some 7 V, from memory


def broken_rule(belief: Belief[Laws], since: Setup) -> str | None:
    """Why power must go off: the last direct reading of a net breaks a power rule of the file, or is of a rail that a
    regulator holds and well above it. A repair takes that back, a good reading of another net does not. since: what is
    repaired by now."""
    machine = belief.laws.model.machine
    found = (_by_the_file(machine, one) or _too_high(belief, one) for one in _last_of_each_net(belief, since))
    return next((why for why in found if why), None)


def _last_of_each_net(belief: Belief[Laws], since: Setup) -> list[Reading]:
    """Direct readings with something feeding the machine, the last first."""
    machine, found = belief.laws.model.machine, dict[str, Reading]()
    for reading in reversed(belief.readings):
        ask = reading.question
        direct = ask.instrument == "dc" and ask.black == GROUND and isinstance(reading.answer, float)
        if direct and is_live(ask.setup) and not ask.setup.sister and repaired((reading,)) == since:
            found.setdefault(machine.net_of(ask.red), reading)
    return list(found.values())


def _by_the_file(machine: Machine, reading: Reading) -> str | None:
    volts, ask = float(reading.answer), reading.question
    for rule in machine.power_rules:
        broken = volts >= rule.volts if rule.side == "below" else volts <= rule.volts
        if machine.net_of(rule.net) == machine.net_of(ask.red) and broken:
            must = f"must stay {rule.side} {write_reading(rule.volts, 'V')}"
            return f"{rule.net} reads {write_reading(volts, 'V')} and {must}"
    return None


def _too_high(belief: Belief[Laws], reading: Reading) -> str | None:
    """A regulator passes on what it should hold back, and all that hangs on its rail gets too much."""
    ask, machine, laws = reading.question, belief.laws.model.machine, belief.laws
    net = machine.net_of(ask.red)
    held = [p.name for p in machine.parts.values() if (pin := KINDS[p.kind].holds) and p.pins[pin] == net]
    if not held:
        return None
    sound = show(laws.base, ask)
    use = (laws.base.cell_of == laws.model.healthy_cell) & sound.judged
    most = float(np.max(np.abs(sound.value[use]), initial=0.0))
    volts = abs(float(reading.answer))
    if not use.any() or volts <= ABOVE * most:
        return None
    return (
        f"{net} reads {write_reading(float(reading.answer), 'V')}, where {held[0]} should hold at most"
        f" {write_reading(most, 'V')}"
    )
