"""What a part has to bear in every draw of a bank: watts, volts across it, amps through it, ripple current.

At rest a signal is laid on the rest point as its small signal says, so that a resistor or a coupling capacitor is
judged with what it carries, and no further than until the first stage is at a limit. Watts and amps of a part that is
not straight are those of the rest point alone, for its law does not hold for volts that were found on a straight line.
Watts and amps of what happens once, as of a switch-on, are not asked: parts bear far more than their rating for an
instant.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from probewright.machine.kinds import Kind, Strain
from probewright.machine.ratings import WATTS, strains_of
from probewright.prediction.bank import SOUND, SOUND_IN_TIME, Bank, Solved, Span
from probewright.prediction.cells import Model, bins_of
from probewright.prediction.heating import Along, along, units_at
from probewright.prediction.latents import draw_latents
from probewright.prediction.outcomes import frequency, in_play
from probewright.prediction.timed import happens_once, way_of
from probewright.readings import Question, Setup
from probewright.simulation import heating, scope
from probewright.simulation.alternating import Phasors
from probewright.simulation.meters import Shown
from probewright.simulation.storing import admittance

INSTANTS = 32  # chosen: of one period of a small signal; a sine is exact with any number
HARMONICS = 256  # chosen: instants of a settled period that a ripple current is worked out from
AT_RAIL = 0.99  # chosen: share of its swing from which on an output is at its rail, its own resistance allowed for
SLACK = 0.05  # chosen: share of all supplies together by which a rail may give way under the signal itself
CLOSED = 0.3  # V, chosen: a transistor with no more across it is a closed switch, or shorts what it lies across
TINY = 1e-12  # V, so that what does not swing has room
RIPPLE = "ripple amps"


def borne(bank: Bank, part: str, setup: Setup) -> dict[str, Shown]:
    """What each thing that a part, or a case with all its units, has to bear comes to in this set-up, (variant,) in its
    unit; those that nobody can say here are left out.

    Of a case watts are summed, of all else the greatest unit counts.
    """
    setup = in_play(bank.model.machine, setup)
    found: dict[str, Shown] = {}
    for unit in units_at(bank, Question("watts", part, setup=setup)):
        for what, shown in _borne(bank, unit, setup).items():
            before = found.get(what)
            found[what] = shown if before is None else _together(before, shown, what)
    return found


def _together(one: Shown, other: Shown, what: str) -> Shown:
    both = one.value + other.value if what == WATTS else np.maximum(one.value, other.value)
    return Shown(both, one.judged & other.judged)


def _borne(bank: Bank, part: str, setup: Setup) -> dict[str, Shown]:
    way = way_of(bank, setup, "dc")
    once = way is not None and happens_once(way)
    moves = way is not None and any(course.part == part for course in way.courses)
    here = along(bank, part, setup, way) if way is not None else _signal(bank, part, setup)
    if here is None or moves:
        return {}
    found: dict[str, Shown] = {}
    straight = here.kind.nonlinear is None and here.kind.storing is None and here.kind.lag is None
    flows = here if straight or (way is not None and _holds(here.kind)) else _at_rest(here)
    knows = not once and (way is None or _holds(here.kind))
    if knows and not here.kind.feeds and here.kind.storing is None:
        found[WATTS] = here.for_all(bank, _folded(flows.by(heating.dissipated), flows, "mean"))
    for strain in strains_of(bank.model.machine.parts[part]):
        if strain.unit == "V":
            found[strain.what] = here.for_all(bank, _folded(_across(here, strain), here, strain.how))
        elif strain.what == RIPPLE:
            if not once:
                found[RIPPLE] = here.for_all(bank, ripple(here))
        elif knows:
            amps = _sized(flows.by(_into(strain.pins[0])), strain)
            found[strain.what] = here.for_all(bank, _folded(amps, flows, strain.how))
    return found


def _holds(kind: Kind) -> bool:
    """Its law at rest holds at every instant."""
    return kind.storing is None and kind.lag is None


def _at_rest(here: Along) -> Along:
    """The same at the middle of what moves alone: a period ends with the instant that it began with."""
    once = here.pins[:, :, :-1] if len(here.seconds) > 1 else here.pins
    middle = once.mean(axis=2, keepdims=True)
    return Along(here.kind, here.variants, here.seconds[:1], middle, here.figures, here.solved)


def _across(here: Along, strain: Strain) -> np.ndarray:
    """(row, time) V from the first pin of a strain to the second."""
    a, b = (here.kind.pins.index(pin) for pin in strain.pins)
    return _sized(here.pins[a] - here.pins[b], strain)


def _sized(values: np.ndarray, strain: Strain) -> np.ndarray:
    return np.abs(values) if strain.either else values


def _into(pin: str) -> Callable[[Kind, np.ndarray, Mapping[str, Any]], np.ndarray]:
    """The law of the amps that flow into a pin."""
    return lambda kind, pins, figures: heating.amps_into(kind, pins, figures)[pin]


def _folded(values: np.ndarray, here: Along, how: str) -> np.ndarray:
    """(row,) from (row, time); never below nought: what is borne the other way round is no strain."""
    if how == "peak":
        folded = values.max(axis=1)
    elif values.shape[1] == 1:
        folded = np.abs(values[:, 0]) if how == "rms" else values[:, 0]
    else:
        seconds = here.seconds
        folded = scope.mean(seconds, values) if how == "mean" else np.sqrt(scope.mean(seconds, values**2))
    return np.maximum(folded, 0.0)


def ripple(here: Along) -> np.ndarray:
    """(row,) A rms through a capacitor, from the volts across it over one settled period.

    Each harmonic of the volts times the admittance of capacitance and ESR at its frequency, I = Y U: exact for what
    repeats, and free of differences between instants.
    """
    period = here.seconds[-1] - here.seconds[0]
    if len(here.seconds) < 2 or period <= 0.0:
        return np.zeros(len(here.variants))
    instants = here.seconds[0] + period * np.arange(HARMONICS) / HARMONICS
    across = scope.at(here.seconds, here.pins[0] - here.pins[1], instants)
    peaks = np.fft.rfft(across, axis=1)[:, 1:-1] * 2.0 / HARMONICS
    assert here.kind.storing is not None
    store, squares = here.kind.storing(here.figures), np.zeros(len(here.variants))
    for n in range(peaks.shape[1]):
        siemens = admittance(store, 2j * np.pi * (n + 1) / period)[0, 0][0]
        squares += 0.5 * np.abs(siemens * peaks[:, n]) ** 2
    return np.sqrt(squares)


def _signal(bank: Bank, part: str, setup: Setup) -> Along:
    """A part at rest, and along one period of the signal where one is on whose level is known."""
    solved = bank.solved(setup)
    rest = heating.pin_volts(solved.circuit, solved.batch, part, solved.rest.volts)[:, :, None]
    figures = {
        name: np.broadcast_to(value, (1, bank.size))
        for name, value in heating.figures_of(solved.circuit, solved.batch, part).items()
    }
    judged, seconds = solved.rest.solved, np.zeros(1)
    hertz = 0.0 if bank.model.playing else frequency(bank, setup)
    if hertz:
        phasors = solved.phasors(hertz)
        swing = heating.pin_volts(solved.circuit, solved.batch, part, phasors.volts)[:, :, None]
        swing = swing * np.where(_clips(solved, phasors), 0.0, _fitting(solved, phasors))[:, None]
        seconds = np.linspace(0.0, 1.0 / hertz, INSTANTS + 1)
        rest, judged = rest + np.real(swing * np.exp(2j * np.pi * hertz * seconds)), judged & phasors.solved
    kind = heating.group_of(solved.circuit, part).kind
    return Along(kind, np.arange(bank.size), seconds, rest, figures, judged)


def _clips(solved: Solved, phasors: Phasors) -> np.ndarray:
    """(variant,) bool: some amplifier is at its rail. What it draws then is no small signal; the rest point alone
    counts."""
    found = np.zeros(solved.batch.size, bool)
    for group in solved.circuit.groups:
        for part in group.parts if group.kind.swing is not None else ():
            assert group.kind.swing is not None
            pins = heating.pin_volts(solved.circuit, solved.batch, part, solved.rest.volts)
            figures = heating.figures_of(solved.circuit, solved.batch, part)
            reach = np.asarray(group.kind.swing(pins[:, None], figures))[0]
            out = heating.pin_volts(solved.circuit, solved.batch, part, phasors.volts)[group.kind.pins.index("out")]
            found |= np.abs(out) >= AT_RAIL * reach
    return found


def _fitting(solved: Solved, phasors: Phasors) -> np.ndarray:
    """(variant,) share of the signal, 0 to 1, at which the first transistor, comparator or gate is at a limit: a pin
    that is no input at an end of all supplies, or nothing left across it. Beyond that it clips, and no straight line
    says more.

    A pin with a coil on its net may leave the supplies. What is closed at rest adds nothing of its own.
    """
    circuit, batch = solved.circuit, solved.batch
    signal = np.where(phasors.solved, phasors.volts, 0.0)
    low, high = _supplies(solved)
    coils = {int(n) for group in circuit.groups if group.kind.storing and not group.kind.tame for n in group.nodes.flat}
    share = np.ones(batch.size)
    for group in circuit.groups:
        kind = group.kind
        for column, part in enumerate(group.parts if kind.inputs and kind.strains and kind.swing is None else ()):
            rest, swing = (heating.pin_volts(circuit, batch, part, volts) for volts in (solved.rest.volts, signal))
            a, b = (group.pin_index[pin] for pin in kind.strains[0].pins)
            across = np.abs(rest[a] - rest[b])
            rooms = [_share_of(across, swing[a] - swing[b])]
            for pin, row in group.pin_index.items():
                if pin not in kind.inputs and group.nodes[row, column] not in coils:
                    rooms.append(_share_of(np.minimum(high - rest[row], rest[row] - low), swing[row]))
            share = np.where(across > CLOSED, np.minimum(share, np.minimum.reduce(rooms)), share)
    return share


def _share_of(room: np.ndarray, swing: np.ndarray) -> np.ndarray:
    """(variant,) share of a swing, peak V, for which there is room, V."""
    return np.clip(room, 0.0, None) / np.maximum(np.abs(swing), TINY)


def _supplies(solved: Solved) -> tuple[np.ndarray, np.ndarray]:
    """(variant,) V of the lowest and of the highest pin of all that feeds the machine, ground among them, with their
    slack."""
    feeds = [part for group in solved.circuit.groups if group.kind.feeds for part in group.parts]
    pins = [heating.pin_volts(solved.circuit, solved.batch, part, solved.rest.volts) for part in feeds]
    every = np.vstack([np.zeros((1, solved.batch.size)), *pins])
    low, high = every.min(axis=0), every.max(axis=0)
    return low - SLACK * (high - low), high + SLACK * (high - low)


def every_fault(model: Model) -> Bank:
    """Every listed suspect in each bin of its severity, all figures in the middle and all boards there that may be: a
    variant for each such cell. Where something is followed in time, in the middle bin alone: hundreds of runs."""
    cells = [n for n, cell in enumerate(model.cells) if not cell.absent and not model.suspects[cell.suspect].unlisted]
    if model.in_time:
        cells = [n for n in cells if model.cells[n].bin == bins_of(model.suspects[model.cells[n].suspect]) // 2]
    return Bank(model, [Span(cell, n, n + 1) for n, cell in enumerate(cells)], _middle(model, len(cells)))


def sound_ones(model: Model, middle: Bank | None = None) -> Bank:
    """Sound machines over their tolerances, all boards there that may be; a few of them stand for all in time.

    middle: the machine that says what is healthy, where that is another one.
    """
    z = draw_latents(model.latents, model.job, SOUND)
    found = Bank(model, [Span(model.healthy_cell, 0, SOUND)], np.vstack([z, np.zeros(SOUND)]), middle=middle)
    found.planned = np.arange(SOUND) % SOUND_IN_TIME
    return found


def middling(model: Model) -> Bank:
    """The sound machine with every figure in the middle."""
    return Bank(model, [Span(model.healthy_cell, 0, 1)], _middle(model, 1))


def _middle(model: Model, size: int) -> np.ndarray:
    return np.zeros((len(model.latents.keys) + 1, size))
