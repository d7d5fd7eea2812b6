"""Suspects grown on demand: two faults at once where no single one explains, and new parts that are bad as well.

All pairs of some hundred suspects are too many to draw. A cheap look at one middling answer of each
pair names the few worth drawing; they then stand in the same belief, with draws of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import NormalDist

import numpy as np

from probewright.hypotheses import Suspect
from probewright.hypotheses.causes import together
from probewright.hypotheses.mending import stays, times_mended
from probewright.hypotheses.modes import edits
from probewright.hypotheses.suspects import bad_again, pair
from probewright.machine.edits import FreePin
from probewright.machine.model import Machine
from probewright.prediction.bank import Bank, Ring, Span
from probewright.prediction.cells import Cell, Model, bins_of, grown, severity_share, ways_fitted
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.latents import SECOND, draw_latents, draw_one
from probewright.prediction.likelihood import carries_number, normal_nats
from probewright.prediction.redraw import Facts, areas_read, facts_of
from probewright.readings import Reading

REACH = 8.0  # chosen, nat: a pair this far below the best of the look cannot matter
GRID = (-1.6, -0.8, 0.0, 0.8, 1.6)  # chosen: standard normal numbers at which a further fault's severity is solved
GRID_IN_TIME = (-1.2, 0.0, 1.2)  # chosen: the same where each is followed in time, some thousand of them
BETWEEN = 8  # chosen: steps between two of them, answers put on a straight line
SLIPPED = 0.03  # chosen: chance that a reading is anything at all, as in the scout
NEARLY = 1e-6  # share of a severity's law that is never quite reached


class JoinedBank(Bank):
    """Two banks, the second behind the first: what is solved for either is not solved again."""

    def __init__(self, model: Model, first: Bank, more: Bank) -> None:
        shift = [Span(s.cell, s.start + first.size, s.stop + first.size) for s in more.spans]
        rows, draws = len(model.latents.keys), first.size // len(first.spans)
        z = first.z if len(first.z) > rows else np.insert(first.z, rows - 1, _second(model, first.size, draws), axis=0)
        super().__init__(
            model, [*first.spans, *shift], np.hstack([z, more.z]), middle=first.middle,
            copies=1 if model.unsure_boards else len(first.spans) + len(more.spans),
        )  # fmt: skip
        self.pieces = (first, more)
        if first.ring is not None and more.ring is not None:
            self.ring = Ring(first.ring.calm, np.concatenate([first.ring.led, more.ring.led]))

    @cached_property
    def healthy(self) -> Bank:
        """Healthy machines of the same job, as solved before."""
        return self.pieces[0].healthy

    @property
    def twin(self) -> Bank:
        """The same draws with their faults away."""
        return self._joined("_twin", lambda one: one.twin)

    @property
    def gone(self) -> Bank:
        """The same draws while what comes and goes is gone."""
        return self._joined("_gone", lambda one: one.gone)

    def _joined(self, name: str, of: Callable[[Bank], Bank]) -> Bank:
        if getattr(self, name) is None:
            first, more = self.pieces
            setattr(self, name, JoinedBank(self.model, of(first), of(more)))
        found: Bank = getattr(self, name)
        return found


def _second(model: Model, size: int, draws: int) -> np.ndarray:
    """(variant,) the latent of the second fault where the same draws repeat."""
    return np.tile(draw_one(model.job, SECOND, False, draws), size // draws)


def grow(laws: Laws, more: Sequence[Suspect]) -> Laws:
    """The laws as before any reading with these suspects besides; the draws of all others stay as they were."""
    ids = tuple(suspect.id for suspect in more)
    if ids not in laws.base.grown:
        model, draws = grown(laws.model, more), laws.base.size // len(laws.base.spans)
        cells = range(len(laws.model.cells), len(model.cells))
        z = np.tile(draw_latents(model.latents, model.job, draws), len(cells))
        keys = [("severity", model.suspects[model.cells[n].suspect].id, str(model.cells[n].bin)) for n in cells]
        bad = np.concatenate([draw_one(model.job, key, False, draws) for key in keys])
        spans = [Span(cell, n * draws, (n + 1) * draws) for n, cell in enumerate(cells)]
        first = laws.base.ring
        ring = None if first is None else Ring(first.calm, np.tile(np.arange(draws), len(cells)))
        fresh = Bank(model, spans, np.vstack([z, bad]), middle=laws.base.middle, ring=ring)
        laws.base.grown.clear()  # the last alone is kept: a reading more grows others
        laws.base.grown[ids] = Laws(model, JoinedBank(model, laws.base, fresh))
    found: Laws = laws.base.grown[ids]
    return found


def second_ones(
    laws: Laws,
    said: Sequence[Reading],
    living: Sequence[np.ndarray],
    cells: Sequence[int],
    most: int,
    ring: Ring | None = None,
) -> list[Suspect]:
    """Suspects worth growing after what was said: pairs of a living suspect and any other, and repairs in vain.

    most: pairs at most; cells: one of each living suspect; living: latents (row,) of a draw of it that fits as well
    as it can; ring: what lies round the areas of those draws. In a machine of areas the other fault is looked for where
    something was read or the living one lies: elsewhere it would not show.
    """
    again = [
        more for one in laws.model.suspects if is_plain(one) for more in _outlasting(laws.model.machine, one, said)
    ]
    tries = _tries(laws, said, living, cells, [0] * len(cells) if ring is None else list(ring.led))
    return [*again, *_best(laws, said, tries)[:most]]


def _outlasting(machine: Machine, one: Suspect, said: Sequence[Reading]) -> list[Suspect]:
    """The same fault after each repair of it: a new part, or something mended in place."""
    found: list[Suspect] = []
    for fault in one.faults:
        parts = {fault.item, fault.item.rpartition(".")[0]} - {""}
        new = max((_times(machine, parts, reading.question.setup.replaced) for reading in said), default=0)
        again = max((times_mended(machine, fault, reading.question.setup.mended) for reading in said), default=0)
        for n in range(new + again):
            often = stays()[fault.mode] if again and not (n or new) else None
            found.append(bad_again(found[-1] if found else one, often))
    return found


def _times(machine: Machine, parts: set[str], replaced: Sequence[str]) -> int:
    """How often one of these parts or cases is new."""
    return max(
        (sum(part == one for part in replaced) for one in replaced if parts & {one, machine.parts[one].package}),
        default=0,
    )


@dataclass(frozen=True)
class Try:
    """A pair with the bin of its first fault and latents (row, point) to try; led: in which sound machine it stands."""

    pair: Suspect
    prior: float
    bin: int
    z: np.ndarray
    led: int = 0
    absent: tuple[str, ...] = ()


def _tries(
    laws: Laws, said: Sequence[Reading], living: Sequence[np.ndarray], cells: Sequence[int], leds: Sequence[int]
) -> list[Try]:
    """Every pair of a living suspect and any other that one machine can have and that would show, once each."""
    found: dict[frozenset[str], list[Try]] = {}
    model = laws.model
    read = areas_read(laws, facts_of(laws, said)) if laws.base.ring is not None else frozenset[int]()
    for latents, cell, led in zip(living, cells, leds, strict=True):
        number = model.cells[cell].suspect
        one, near = model.suspects[number], read | (model.homes[number] or frozenset())
        for n, other in enumerate(model.suspects):
            home = model.homes[n] if laws.base.ring is not None else None
            key = frozenset((one.id, other.id))
            if home and not home & near or not is_plain(other) or key in found:
                continue
            if go_together(model.machine, one, other):
                points, absent = _points(model, latents, cell, one, other), model.cells[cell].absent
                there = absent in [parts for parts, _ in ways_fitted(model.machine, points[0].pair)]
                found[key] = [replace(point, led=led, absent=absent if there else ()) for point in points]
    return [each for some in found.values() for each in some]


def is_plain(suspect: Suspect) -> bool:
    """A listed fault: what nobody listed is no half of a pair, for with it anything could be explained."""
    return bool(suspect.faults) and not suspect.unlisted


def go_together(machine: Machine, a: Suspect, b: Suspect) -> bool:
    """Two faults of one machine: in different items; of two pins off their nets the solver knows but one."""
    items = [{fault.item, fault.item.rpartition(".")[0] or fault.item} for fault in (*a.faults, *b.faults)]
    freed = [any(isinstance(edit, FreePin) for edit in edits(machine, f)) for f in (*a.faults, *b.faults)]
    return not items[0] & items[1] and not all(freed)


def _points(model: Model, latents: np.ndarray, cell: int, one: Suspect, other: Suspect) -> list[Try]:
    """The living fault as bad as its draw has it, the other at a grid of severities."""
    rows, both = len(model.latents.keys), pair(one, other, together(model.machine, model.suspects, one, other))
    prior = float(np.log(both.prior))
    mine = latents[rows]  # its severity, inside its bin
    grid = np.array(GRID_IN_TIME if model.in_time else GRID) if other.faults[0].severity else np.zeros(1)
    if both.faults[0] is one.faults[0]:
        return [Try(both, prior, model.cells[cell].bin, _rows(latents[:rows], grid, np.full(len(grid), mine)))]
    severity = one.faults[0].severity
    share = 0.5 if severity is None else severity_share(severity.bins, model.cells[cell].bin, mine)
    whole = NormalDist().inv_cdf(min(max(float(share), NEARLY), 1.0 - NEARLY))
    z = _rows(latents[:rows], np.full(len(grid), whole), grid)
    return [Try(both, prior, number, z) for number in range(bins_of(both))]


def _rows(latents: np.ndarray, second: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Latents (row, point) of a pair: what is healthy, how bad the second fault is, how bad the first."""
    return np.vstack([np.repeat(latents[:, None], len(first), axis=1), second[None], first[None]])


def _best(laws: Laws, said: Sequence[Reading], tries: list[Try]) -> list[Suspect]:
    """The few pairs whose middling answers come nearest to what was said, the nearest first."""
    if not tries:
        return []
    keys = (*laws.model.latents.keys, SECOND)
    model = replace(
        laws.model, suspects=tuple(one.pair for one in tries),
        cells=tuple(Cell(n, one.bin, one.absent) for n, one in enumerate(tries)),
        latents=replace(laws.model.latents, keys=keys),
    )  # fmt: skip
    ends = np.cumsum([0, *(one.z.shape[1] for one in tries)])
    spans = [Span(n, int(ends[n]), int(ends[n + 1])) for n in range(len(tries))]
    ring = laws.base.ring
    if ring is not None:
        led = np.repeat([one.led for one in tries], np.diff(ends))
        ring = Ring(ring.calm, led, areas_read(laws, facts_of(laws, said)))
    bank = Bank(model, spans, np.hstack([one.z for one in tries]), middle=laws.base.middle, ring=ring)
    scores: dict[str, float] = {}
    for one, best in zip(tries, _fits(laws, said, Laws(model, bank)), strict=True):
        scores[one.pair.id] = max(one.prior + best, scores.get(one.pair.id, -np.inf))
    pairs = {one.pair.id: one.pair for one in tries}
    order = sorted(scores, key=lambda name: -scores[name])
    return [pairs[name] for name in order if scores[name] > scores[order[0]] - REACH]


def _fits(laws: Laws, said: Sequence[Reading], tried: Laws) -> list[float]:
    """How well each try fits at its best severity, in nat, widened by what a healthy machine's tolerances do."""
    said = [one for one in said if not one.question.setup.sister]  # a sound machine tells nothing between the tries
    facts, words = facts_of(laws, said), [one for one in said if not carries_number(laws.model.machine, one)]
    told = tried.sitting_nats(words).nats if words else np.zeros(tried.base.size)
    shape = (len(facts.readings), 1)
    sd = np.hypot(facts.sd, _strays(laws, facts)).reshape(shape)
    answers, wide = facts.answers.reshape(shape), facts.wide.reshape(shape) + np.log(SLIPPED)
    predicted, found = facts.predict(tried.base) if facts.readings else np.zeros((0, tried.base.size)), []
    for span in tried.base.spans:
        here = slice(span.start, span.stop)
        shown, apart = _between(predicted[:, here])
        honest = normal_nats(answers - shown, np.hypot(sd, apart)) + np.log1p(-SLIPPED)
        nats = np.sum(np.logaddexp(honest, wide), axis=0) + _between(told[None, here])[0][0]
        found.append(float(np.max(nats)))
    return found


def _between(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Values (row, point) with steps between the points on straight lines, and half of each step (row, step)."""
    if values.shape[1] < 2:
        return values, np.zeros(values.shape)
    share = np.arange(BETWEEN) / BETWEEN
    rise = np.diff(values, axis=1)
    inner = (values[:, :-1, None] + rise[:, :, None] * share).reshape(len(values), -1)
    half = np.repeat(np.abs(rise), BETWEEN, axis=1) / (2.0 * BETWEEN)
    return np.hstack([inner, values[:, -1:]]), np.hstack([half, half[:, -1:]])


def _strays(laws: Laws, facts: Facts) -> np.ndarray:
    """(reading,) standard deviation of healthy machines at each reading, in the scale of the facts."""
    if not facts.readings:
        return np.zeros(0)
    shown = facts.predict(laws.base)[:, laws.base.cell_of == laws.model.healthy_cell]
    return np.minimum(np.std(shown, axis=1), 1e3)
