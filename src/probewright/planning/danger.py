"""Places that can hurt: the highest voltage any plausible suspect puts there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses.provoking import AROUND
from probewright.inference.belief import Belief
from probewright.machine.edits import SetFigure
from probewright.machine.following import brought_by
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine
from probewright.prediction.bank import Bank
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.outcomes import bare_volts
from probewright.readings import PROVOKE, SCOPED, Question
from probewright.readings.setups import with_supplies
from probewright.units import write_reading

# Limits of what may be touched: 60 V d.c. and 30 V rms (42.4 V peak) up to 1 kHz, IEC 62368-1 ES1
# (Ed. 3, 5.2.2.2, table 4). Above them the caution is shown.
TOUCH_DC = 60.0
TOUCH_RMS = 30.0
AMPLE = 1.3  # chosen: how far above its figure a source may stand
PLAUSIBLE = 1e-6  # chosen: a suspect less probable than this does not count


@dataclass(frozen=True)
class Caution:
    """Why a place needs care: volts and whether they alternate."""

    place: str
    volts: float
    alternating: bool

    def __str__(self) -> str:
        kind = f"{self.volts:.0f} V AC" if self.alternating else f"{self.volts:.0f} V DC"
        return (
            f"Caution: up to {kind} at {self.place}. One hand, leads and meter rated for it, "
            "clips fitted with power off. "
            "Mains and tube voltages are for people trained and allowed to work on them where you are."
        )


def caution(belief: Belief[Laws], ask: Question, among: Sequence[Bank] | None = None) -> Caution | None:
    """The caution that a reading carries, node to node and each node to ground; None when harmless.

    The highest value any plausible draw gives counts, before a meter loads it, solved or not: an
    unsolved one is taken as it stands, but for what no supply of the machine could give. among: banks of draws,
    all those of the laws when not given.
    """
    if among is None:  # what was drawn afresh is dear to follow in time, and no wilder than the draws it came from
        among = (belief.laws.base,) if belief.laws.takes_time(ask) else belief.laws.banks
    if ask.instrument == PROVOKE:
        return _under_the_hand(belief, ask, among)
    if ask.instrument not in ("dc", "pp", "rms", *SCOPED) or not (ask.setup.power == "on" or ask.setup.supplied):
        return None
    if _is_low(belief.laws.model.machine, ask):
        return None
    prior = np.array([s.prior for s in belief.suspects])
    plausible = (belief.probability > PLAUSIBLE) | ((prior > PLAUSIBLE) & (len(belief.readings) == 0))
    cells = plausible[belief.laws.model.suspect_of]
    worst: Caution | None = None
    for red, black in {(ask.red, ask.black), (ask.red, GROUND), (ask.black, GROUND)}:
        if red == black:
            continue
        volts = _highest(among, Question("dc", red, black, ask.setup), cells)
        if volts > TOUCH_DC and (worst is None or volts > worst.volts):
            worst = Caution(red, volts, False)
        if _is_playing(belief, ask):
            continue  # nobody knows how loud, and a chain's signals are no higher than its rails
        rms = _highest(among, Question("rms", red, black, ask.setup), cells)
        if rms > TOUCH_RMS and (worst is None or rms > worst.volts):
            worst = Caution(red, rms, True)
    return worst


def _is_low(machine: Machine, ask: Question) -> bool:
    """No place of this machine can hurt, whatever is broken in it, so nothing need be solved to know it.

    Where all but its sources gives no more volts than it gets, no two nodes are further apart than all sources and
    signals together (the no-gain property: Willson, IEEE Trans. CAS-22, 1975). With charged capacitors they may
    be twice that apart for an instant; an alternating voltage between such ends has no more than half of it rms.
    """
    fed = with_supplies(ask.setup, machine).parts.values()
    if not all(KINDS[part.kind].tame or KINDS[part.kind].feeds for part in fed if part.kind in KINDS):
        return False
    stimulus = machine.stimuli.get(ask.setup.stimulus)
    edits = stimulus.edits if stimulus is not None else ()
    put_on = [one for one in edits if isinstance(one, SetFigure) and one.figure in ("signal", "volts")]
    signals = [abs(float(one.value)) for one in put_on]
    return AMPLE * (sum(brought_by(part) for part in fed) + sum(signals)) < TOUCH_RMS


def _under_the_hand(belief: Belief[Laws], ask: Question, among: Sequence[Bank]) -> Caution | None:
    """The highest volts on what a hand comes near that taps, presses, warms or chills this part."""
    machine, name = belief.laws.model.machine, ask.red.removeprefix(AROUND)
    pins = {net for part in machine.parts.values() if name in (part.name, part.package) for net in part.pins.values()}
    nets = sorted(net for net in pins if net != GROUND and not net.startswith("nc:"))
    found = (caution(belief, Question("dc", net, setup=ask.setup), among) for net in nets)
    return max((one for one in found if one is not None), key=lambda one: one.volts, default=None)


def _is_playing(belief: Belief, ask: Question) -> bool:
    stimulus = belief.laws.model.machine.stimuli.get(ask.setup.stimulus)
    return stimulus is not None and stimulus.playing


def _highest(among: Sequence[Bank], ask: Question, cells: np.ndarray) -> float:
    """Highest figure in a draw of these cells (cell,) bool."""
    shown = [bare_volts(bank, ask) for bank in among]
    value, solved = np.concatenate([one.value for one in shown]), np.concatenate([one.judged for one in shown])
    fed = sum(brought_by(part) for part in among[0].model.machine.parts.values())
    most = np.max(value[solved & np.isfinite(value)], initial=fed)
    value = np.where(solved, value, np.minimum(value, most))[np.concatenate([cells[bank.cell_of] for bank in among])]
    return float(np.max(value[np.isfinite(value)], initial=0.0))


def off_limits(machine: Machine) -> set[str]:
    """Places that the file puts off limits with power on, each with its net."""
    return set(machine.never_live) | {machine.net_of(one) for one in machine.never_live if _is_known(machine, one)}


def _is_known(machine: Machine, place: str) -> bool:
    return place in machine.nets or place in machine.points or place.rpartition(".")[0] in machine.parts


def broken_rule(belief: Belief) -> str | None:
    """What must not run as it is: the last direct reading of a net that breaks a power rule of the file."""
    machine = belief.laws.model.machine
    for reading in reversed(belief.readings):
        ask = reading.question
        if (
            ask.instrument != "dc"
            or ask.setup.power != "on"
            or ask.black != GROUND
            or not isinstance(reading.answer, float)
        ):
            continue
        for rule in machine.power_rules:
            broken = reading.answer >= rule.volts if rule.side == "below" else reading.answer <= rule.volts
            if machine.net_of(rule.net) == machine.net_of(ask.red) and broken:
                must = f"must stay {rule.side} {write_reading(rule.volts, 'V')}"
                return f"{rule.net} reads {write_reading(reading.answer, 'V')} and {must}"
        return None
    return None
