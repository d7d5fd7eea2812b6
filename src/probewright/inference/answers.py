"""What may be answered next: the planner's only view of belief."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses import NOT_LISTED
from probewright.inference.belief import Belief
from probewright.prediction.bank import Bank, Span
from probewright.prediction.likelihood import HONEST, MODEL_SD
from probewright.prediction.outcomes import quick_show, show
from probewright.readings import Question
from probewright.readings.instruments import law
from probewright.simulation.meters import Shown

POPULATION = 640  # chosen: draws the planner thinks with
FEWEST = 6  # chosen: of any suspect it still considers
CONSIDERED = 2e-3  # chosen: probability below which the planner forgets a suspect
BINS = 48  # chosen: at most; a bin is never narrower than 1.5 standard deviations of the instrument


@dataclass(frozen=True)
class Population:
    """A small weighted sample of the belief.

    suspects: their indices in the belief; member (variant,) position in `suspects`; weight
    (variant,), summing to one; source (variant,) where each came from, for answers already known.
    """

    belief: Belief
    bank: Bank
    suspects: tuple[int, ...]
    member: np.ndarray
    weight: np.ndarray

    @property
    def chance(self) -> np.ndarray:
        """(suspect,) probability of each considered suspect."""
        return np.bincount(self.member, self.weight, len(self.suspects))

    def answer(self, ask: Question) -> Shown:
        """What the question would show in each variant."""
        return quick_show(self.bank, ask) if ask.instrument == "ohms" else show(self.bank, ask)


def sample(belief: Belief) -> Population:
    """Draws of the suspects still considered, each suspect in proportion but never too few.

    Systematic: no random numbers, so the same belief gives the same population.
    """
    probability = belief.probability
    suspects = tuple(int(n) for n in np.argsort(-probability, kind="stable") if probability[n] >= CONSIDERED)
    picked, member, weight = [], [], []
    for position, n in enumerate(suspects):
        here = np.flatnonzero((belief.suspect_of == n) & (belief.weight > 0.0))
        count = min(max(FEWEST, int(POPULATION * probability[n])), 4 * len(here))
        steps = np.cumsum(belief.weight[here])
        chosen = here[np.minimum(np.searchsorted(steps, (np.arange(count) + 0.5) / count * steps[-1]), len(here) - 1)]
        picked.append(chosen)
        member.append(np.full(count, position))
        weight.append(np.full(count, probability[n] / count))
    order = np.concatenate(picked)
    cells = belief.laws.cell_of[order]
    by_cell = np.argsort(cells, kind="stable")
    order, cells = order[by_cell], cells[by_cell]
    z = np.concatenate([bank.z for bank in belief.laws.banks], axis=1)[:, order]
    edges = np.flatnonzero(np.diff(cells)) + 1
    starts, stops = [0, *edges.tolist()], [*edges.tolist(), len(cells)]
    spans = [Span(int(cells[a]), a, b) for a, b in zip(starts, stops, strict=True)]
    bank = Bank(belief.laws.model, spans, z, middle=belief.laws.base.middle)
    total = np.concatenate(weight)[by_cell]
    return Population(belief, bank, suspects, np.concatenate(member)[by_cell], total / total.sum())


@dataclass(frozen=True)
class Table:
    """Chance of each answer bin under each considered suspect.

    chance (suspect, bin), rows summing to one; edges (bin + 1,) in SI, or () for words.
    """

    chance: np.ndarray
    edges: np.ndarray
    words: tuple[str, ...] = ()


def answers(population: Population, ask: Question) -> Table:
    """Answer bins of a metered question: even in units of the instrument's own error."""
    shown, tool = population.answer(ask), law(ask.instrument)
    gain = float(np.hypot(np.hypot(tool.gain_sd, tool.own_gain_sd), MODEL_SD))
    floor = float(np.hypot(tool.floor_sd, tool.shared_floor_sd)) or 1e-6
    value = np.clip(np.where(np.isfinite(shown.value), shown.value, tool.high), -tool.high, tool.high)
    ruler = np.arcsinh(gain * value / floor) / gain  # one unit is one standard deviation
    low, high = float(ruler.min()), float(ruler.max())
    width = max(1.5, (high - low) / BINS)
    bins = int((high - low) / width) + 1
    at = np.minimum(((ruler - low) / width).astype(int), bins - 1)
    flat = np.bincount(population.member * bins + at, population.weight, len(population.suspects) * bins)
    chance = flat.reshape(len(population.suspects), bins)
    side = 0.25 / max(1.0, width / 2.0)  # how much of a bin the instrument's error carries next door
    spread = (1.0 - 2.0 * side) * chance
    spread[:, 1:] += side * chance[:, :-1]
    spread[:, :-1] += side * chance[:, 1:]
    edges = np.sinh((low + width * np.arange(bins + 1)) * gain) * floor / gain
    return Table(_with_slips(population, spread), edges)


def told(population: Population, chance_of_first: Sequence[float], words: tuple[str, str]) -> Table:
    """Two-worded answers (cured or not, same or better) with the chance of the first for each suspect."""
    first = np.asarray(chance_of_first)
    return Table(np.stack([first, 1.0 - first], axis=1), np.zeros(0), words)


def _with_slips(population: Population, chance: np.ndarray) -> np.ndarray:
    """Rows normalised; some answers come from anywhere; what is not in the file answers anything."""
    rows = chance / np.maximum(chance.sum(axis=1, keepdims=True), 1e-300)
    anywhere = np.full(chance.shape[1], 1.0 / chance.shape[1])
    rows = HONEST * rows + (1.0 - HONEST) * anywhere
    unlisted = [n for n, s in enumerate(population.suspects) if population.belief.suspects[s].id == NOT_LISTED]
    rows[unlisted] = 0.5 * rows[unlisted] + 0.5 * anywhere
    return rows


def gain(population: Population, table: Table) -> float:
    """Expected gain in nat: how far the answer is expected to narrow the suspects down."""
    prior = population.chance
    joint = prior[:, None] * table.chance
    marginal = joint.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = np.where(joint > 0.0, joint * np.log(joint / (prior[:, None] * marginal[None, :])), 0.0)
    return float(max(parts.sum(), 0.0))
