"""What an oscilloscope would show at a place: sound machines and the leading suspects, each followed in time.

Nothing of a search is touched: every suspect is one machine with its parts in the middle of their tolerances and its
severity in the middle of what is believed, so that a picture costs a few runs and disturbs nobody.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.captures import read_capture, thinned
from probewright.hypotheses import NOTHING_WRONG
from probewright.jobs.capturing import kept_file
from probewright.jobs.cases import Captured, Case, Line
from probewright.jobs.everywhere import middling
from probewright.jobs.view import SuspectView
from probewright.jobs.weighing import place_reading
from probewright.machine import Machine
from probewright.machine.stimuli import Followed
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, Model, build_model
from probewright.prediction.latents import draw_latents
from probewright.prediction.timed import SEEN, Sight, follow, happens_once, waveform
from probewright.readings import Question
from probewright.record import Book
from probewright.simulation.scope import within

SOUND = 24  # chosen: sound machines behind the band; its ends are the outermost two
MOST_PARTS = 120  # chosen: 35 parts take 3 s of a core, and twice as many more than twice that
PERIODS = 2  # chosen: of what repeats, as many are drawn: a shape is told by one, that it repeats by the next
ARMED = 0.2  # chosen: share of the swing by which a rise must begin below and end above its middle, as noise does not


@dataclass(frozen=True)
class Curve:
    """Volts against time. seconds, volts (time,)."""

    seconds: tuple[float, ...]
    volts: tuple[float, ...]


@dataclass(frozen=True)
class Shows:
    """What would be seen at a place.

    healthy: every part in the middle of its tolerance; low, high (time,): where sound machines lie at its instants;
    suspects: by id; period: s after which it repeats, inf where it happens once, from nought when that begins.
    """

    healthy: Curve
    low: tuple[float, ...]
    high: tuple[float, ...]
    suspects: dict[str, Curve]
    period: float


def would_show(machine: Machine, ask: Question, suspects: Sequence[SuspectView]) -> Shows | None:
    """What an oscilloscope would show where a question is asked, set as the question says.

    What repeats begins at its own rise through the middle, as an oscilloscope triggers. None where nothing moves, where
    levels are known as ratios only, where a sound machine cannot be followed and in a machine of more than MOST_PARTS;
    a suspect that cannot be followed is left out.
    """
    if len(machine.parts) > MOST_PARTS:
        return None
    model = build_model(machine, machine.name)
    way = model.followed(ask.setup)
    if ask.setup.power != "on" or not (way.courses or way.switched_on) or model.unknown:
        return None
    calm, *rest = _curves(_bank(model, suspects), ask, way)
    if calm is None:
        return None
    found = {one.id: curve for one, curve in zip(suspects, rest, strict=False) if curve is not None}
    every = [calm, *(one for one in rest[len(suspects) :] if one is not None)]
    volts = np.array([np.interp(calm.seconds, one.seconds, one.volts) for one in every])
    low, high = tuple(volts.min(axis=0).tolist()), tuple(volts.max(axis=0).tolist())
    return Shows(calm, low, high, found, math.inf if happens_once(way) else way.period)


def _bank(model: Model, suspects: Sequence[SuspectView]) -> Bank:
    """One run for all: a sound machine with every part in the middle of its tolerance, each suspect on the like, then
    SOUND sound ones."""
    placed = []
    for one in suspects:
        model, n, which, severity, second = middling(model, one)
        placed.append((n, which, severity, second))
    rows = np.zeros((len(model.latents.keys) + 1, 1 + len(placed)))
    rows[model.second, 1:] = [second for *_, second in placed]
    rows[-1, 1:] = [severity for _, _, severity, _ in placed]
    calm = model.suspects[model.index[NOTHING_WRONG]]
    kept = (calm, *(model.suspects[n] for n, *_ in placed))
    cells = (Cell(0, 0), *(Cell(at, which) for at, (_, which, *_) in enumerate(placed, 1)), Cell(0, 0))
    spans = [Span(at, at, at + 1) for at in range(len(kept))]
    spans.append(Span(len(kept), len(kept), len(kept) + SOUND))
    sound = np.vstack([draw_latents(model.latents, model.job, SOUND), np.zeros(SOUND)])
    return Bank(replace(model, suspects=kept, cells=cells), spans, np.hstack([rows, sound]))


def _curves(bank: Bank, ask: Question, way: Followed) -> Iterator[Curve | None]:
    """What each draw of a bank shows; None for one that cannot be followed."""
    once = happens_once(way)
    window = None if once else (0.0, (PERIODS + 2.0) * way.period)  # one more for the trigger, one to settle the input
    variants = np.arange(bank.size)
    run = follow(bank, ask.setup, way, variants)
    sight = Sight(ask.red, ask.black, ask.setup, way, replace(ask.look, window=window))
    seconds, every = waveform(bank, sight, run, variants)
    for volts, solved in zip(every, run.solved[run.row_of[variants]], strict=True):
        if not solved:
            yield None
        elif once:
            yield stretch(seconds, volts, *(ask.look.window or way.read or (float(seconds[0]), float(seconds[-1]))))
        else:
            later = seconds >= way.period
            yield from_trigger(seconds[later], volts[later], PERIODS * way.period)


def beside(book: Book, taken: Captured, shows: Shows) -> Curve | None:
    """A waveform that was captured as it is drawn with what would be seen there: as long a stretch, from its own rise
    through the middle or from the moment the power came on. None where the file does not tell that moment."""
    seconds, volts = read_capture(kept_file(book, taken), taken.file).trace(taken.channel - 1)
    if math.isinf(shows.period):
        if not taken.single or seconds[-1] <= 0.0:
            return None
        found = stretch(seconds, volts, max(0.0, shows.healthy.seconds[0]), shows.healthy.seconds[-1])
    else:
        found = from_trigger(seconds, volts, PERIODS * shows.period)
    thin = thinned(np.array(found.seconds), np.array(found.volts))
    return Curve(tuple(thin[0].tolist()), tuple(thin[1].tolist()))


def question_of(case: Case, line: Line, machine: Machine | None) -> Question | None:
    """Where the waveform of a line was taken, on the names of the machine file; None where the file does not know."""
    if case.known is None or machine is None or not line.readings:
        return None
    placed, _ = place_reading(line.readings[0], case.known, machine)
    return None if placed is None else placed.question


def from_trigger(seconds: np.ndarray, volts: np.ndarray, length: float) -> Curve:
    """So much of a trace (time,) from its first rise through the middle, which is nought; from its begin where none
    is seen."""
    begin = _trigger(seconds, volts)
    begin = float(seconds[0]) if begin is None else begin
    cut = stretch(seconds, volts, begin, min(begin + length, float(seconds[-1])))
    return Curve(tuple(one - begin for one in cut.seconds), cut.volts)


def stretch(seconds: np.ndarray, volts: np.ndarray, begin: float, end: float) -> Curve:
    """A trace (time,) from one instant to another, with the points at its ends."""
    instants, shown = within(seconds, volts[None], begin, end)
    return Curve(tuple(instants.tolist()), tuple(shown[0].tolist()))


def _trigger(seconds: np.ndarray, volts: np.ndarray) -> float | None:
    """When a trace (time,) first rises through its middle, s; None where it does not move or only falls."""
    low, high = float(np.min(volts)), float(np.max(volts))
    middle, hold = 0.5 * (low + high), ARMED * (high - low)
    below = np.flatnonzero(volts < middle - hold)
    if high - low < SEEN or not below.size:
        return None
    above = np.flatnonzero((volts > middle + hold) & (np.arange(len(volts)) > below[0]))
    if not above.size:
        return None
    at = int(np.flatnonzero(volts[: above[0]] <= middle)[-1])
    share = (middle - volts[at]) / (volts[at + 1] - volts[at])
    return float(seconds[at] + share * (seconds[at + 1] - seconds[at]))
