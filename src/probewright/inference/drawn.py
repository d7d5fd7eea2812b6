"""A small sample of the draws of a circuit, and what they answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOT_LISTED
from probewright.inference.belief import Belief, Extremes, weigh, weighted_quantiles
from probewright.inference.population import CROWD, Table, considered
from probewright.prediction.bank import Bank, Lenders, Span
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.latents import below
from probewright.prediction.likelihood import (
    EAR,
    HONEST,
    LOOSE,
    MODEL_FLOOR,
    MODEL_SD,
    SHARE_WORDS,
    chance_of_share,
    is_loose,
    loose_ruler,
)  # fmt: skip
from probewright.prediction.outcomes import FAINT, fed_ahead, quick_show, show, unharmed
from probewright.prediction.provoking import comes_and_goes
from probewright.readings import Question
from probewright.readings.as_told import NOT_TOLD, AsTold
from probewright.readings.cooling import Bare
from probewright.readings.instruments import Law, law
from probewright.readings.kit import UNTOLD, Kit
from probewright.readings.owner import NOT_ASKED, Owner
from probewright.simulation.meters import Shown

POPULATION = 640  # chosen: draws the planner thinks with
FOLLOWED = 160  # chosen: of these, for what takes a run in time
FEWEST = 6  # chosen: of any suspect it still considers
BINS = 48  # chosen: at most; a bin is never narrower than 1.5 standard deviations of the instrument
LEARNT = 1.0  # chosen: standard deviation, in the natural logarithm, within which a level counts as learnt
ALIKE = 3.0  # chosen: standard deviations within which two predictions count as the same
LOST = 600.0  # nat; a draw that an answer speaks so much against keeps a trace, so that its suspect keeps a draw
BEYOND = 4.0  # chosen: times the greatest figure of all draws, for "never"
ANYTHING = 1e12  # stands for over-limit among finite figures


@dataclass(frozen=True)
class DrawnPopulation:
    """A small weighted sample of the belief.

    suspects: their indices in the belief; origin (variant of the bank,) which draw of the laws each
    is; row (variant,) which draws of the bank are meant, one after the other or the same more than
    once; member (variant,) position in `suspects`; weight (variant,), summing to one.
    known: the questions that a quick look may ask, as their answers are at hand; None for any; kit: of the bench where
    the next step is taken; as_told: how it stands by what was told since the last reading; owner: what the owner
    allowed and refused; whole: the sample of all draws that this one, with few of them, was made from.
    """

    belief: Belief[Laws]
    bank: Bank
    suspects: tuple[int, ...]
    origin: np.ndarray
    row: np.ndarray
    member: np.ndarray
    weight: np.ndarray
    known: tuple[Question, ...] | None = field(default=None, repr=False)
    kit: Kit = UNTOLD
    as_told: AsTold = NOT_TOLD
    owner: Owner = NOT_ASKED
    whole: DrawnPopulation | None = field(default=None, repr=False)

    @cached_property
    def alone(self) -> DrawnPopulation:
        """The same draws standing for all others, so that one more reading is weighed in these few at once.

        Where only ratios of levels are known the population itself: what is learnt of them takes all draws.
        """
        laws = self.belief.laws
        if laws.model.unknown:
            return self
        assert np.array_equal(self.row, np.arange(self.bank.size)), "only a sample as it was drawn"
        these = self.origin
        said = self.belief.log_weight[these] - laws.log_prior[these]
        few = weigh(laws.in_few(self.bank, np.log(self.weight) - said), self.belief.readings)
        return replace(self, belief=few, origin=np.arange(self.bank.size), whole=self)

    @property
    def bare(self) -> tuple[Bare, ...]:
        """What runs without its heatsink now."""
        return self.as_told.bare

    @property
    def hasty(self) -> bool:
        """A quick look at what was foreseen."""
        return self.known is not None

    @property
    def asleep(self) -> bool:
        """The fault was not to be seen at the last reading of this machine."""
        mine = (one for one in reversed(self.belief.readings) if not one.question.setup.sister)
        return next((one.showing for one in mine), "yes") == "no"

    @property
    def chance(self) -> np.ndarray:
        """(suspect,) probability of each considered suspect."""
        return np.bincount(self.member, self.weight, len(self.suspects))

    @cached_property
    def different(self) -> np.ndarray:
        """(suspect,) how many different draws stand for each: the same one may be meant more than once."""
        pairs = np.unique(np.stack([self.member, self.row]), axis=1)
        origins = np.unique(np.stack([pairs[0], self.origin[pairs[1]]]), axis=1)
        return np.bincount(origins[0], minlength=len(self.suspects))

    def answer(self, ask: Question) -> Shown:
        """What the question would show in each variant."""
        if self.known is not None and ask not in self.known and self.belief.laws.has(ask):
            kept = self.belief.laws.outcome(ask)  # what was read has been worked out for every draw
            return Shown(kept.value[self.origin[self.row]], kept.judged[self.origin[self.row]])
        return self._picked(quick_show(self.bank, ask))

    def work_ahead(self, asks: Sequence[Question]) -> None:
        """Solve what these questions will be asked, those that can be together."""
        fed_ahead(self.bank, asks)

    def now(self, ask: Question) -> Shown:
        """What the question would show as the fault is now: while it is not to be seen, what comes and goes reads as if
        it were sound. A quick look has no such answers at hand."""
        shown, belief = self.answer(ask), self.belief
        if self.hasty or not self.asleep:
            return shown
        shy = np.array([comes_and_goes(belief.suspects[n]) for n in self.suspects])[self.member]
        sound = self._picked(unharmed(self.bank, lambda bank: quick_show(bank, ask)))
        return Shown(np.where(shy, sound.value, shown.value), np.where(shy, sound.judged, shown.judged))

    def quantiles(self, ask: Question, suspect: int, shares: Sequence[float]) -> np.ndarray:
        """Figures below which these shares of a suspect's weight lie; NaN where none of its draws was judged.

        suspect: its index in the belief.
        """
        shown, mine = self.answer(ask), np.array(self.suspects)[self.member] == suspect
        use = mine & shown.judged
        if not use.any():
            return np.full(len(shares), np.nan)
        return weighted_quantiles(shown.value[use], self.weight[use], shares)

    @cached_property
    def _spans(self) -> dict[Question, Extremes]:
        return {}

    def extremes(self, ask: Question) -> Extremes:
        """The middle and the most that a question would show, over all draws of the belief; on few of them no less than
        all of them said before."""
        if ask not in self._spans:
            here = self.belief.extremes(ask)
            before = None if self.whole is None else self.whole.extremes(ask)
            self._spans[ask] = before if before is not None and before.most > here.most else here
        return self._spans[ask]

    def unharmed(self, ask: Question) -> Shown:
        """What the question would show in each variant if its fault were gone."""
        return self._picked(unharmed(self.bank, lambda bank: show(bank, ask)))

    def _picked(self, shown: Shown) -> Shown:
        """The answers of the draws that are meant, from those of the whole bank."""
        return Shown(shown.value[self.row], shown.judged[self.row])

    def table(self, ask: Question) -> Table:
        """Answer bins of a metered question: even in units of the instrument's own error; a share's words."""
        if ask.instrument == "share":
            return _shares(self, ask)
        if not _is_learnt(self, ask):
            words = _shares(self, replace(ask, instrument="share")).chance
            return Table(np.stack([words[:, 0], words[:, 1:].sum(axis=1)], axis=1), np.zeros(0), ("none", "some"))
        return _loosely(self, ask) if is_loose(self.belief.laws.model.machine, ask) else _answers(self, ask)

    def fell(self, ask: Question) -> np.ndarray | None:
        """(variant,) the answer bin of `table` that each draw falls into; None where an answer is a word, or too loose
        for a bin."""
        if ask.instrument == "share" or not _is_learnt(self, ask) or is_loose(self.belief.laws.model.machine, ask):
            return None
        return _binned(self, ask)[0]

    def apart(self, ask: Question) -> np.ndarray:
        """(suspect, suspect) more than ALIKE standard deviations between the two, the instrument's
        error and the spread of each suspect's own draws together; a question that was not judged
        sets nobody apart."""
        middle, sd = _signatures(self, ask)
        with np.errstate(invalid="ignore"):
            return np.abs(middle[:, None] - middle) / np.hypot(sd[:, None], sd) > ALIKE


def draw_population(belief: Belief[Laws], kit: Kit = UNTOLD) -> DrawnPopulation:
    """Draws of the suspects still considered, each suspect in proportion but never too few.

    Systematic: no random numbers, so the same belief gives the same population.
    """
    suspects = considered(belief)
    order, member, weight = _drawn_evenly(belief, suspects, lambda n: belief.suspect_of == n, belief.weight)
    cells = belief.laws.cell_of[order]
    by_cell = np.argsort(cells, kind="stable")
    order, cells = order[by_cell], cells[by_cell]
    z = belief.laws.latents_of(order)
    edges = np.flatnonzero(np.diff(cells)) + 1
    starts, stops = [0, *edges.tolist()], [*edges.tolist(), len(cells)]
    spans = [Span(int(cells[a]), a, b) for a, b in zip(starts, stops, strict=True)]
    laws = belief.laws
    bank = Bank(laws.model, spans, z, middle=laws.base.middle, others=laws.others, ring=laws.ring_of(order), cut=False)
    bank.lenders, bank.planned = Lenders(laws.banks, order), _planned(spans, len(order))
    row, total = np.arange(len(order)), weight[by_cell]
    weight = total / total.sum()
    return DrawnPopulation(belief, bank, suspects, order, row, member[by_cell], weight, kit=kit)


def _planned(spans: Sequence[Span], size: int) -> np.ndarray:
    """(variant,) which draw stands for each where an answer takes a run in time: a few of each cell, FOLLOWED of all
    or so."""
    found = np.arange(size)
    for span in spans:
        count = max(1, round(FOLLOWED * (span.stop - span.start) / size))
        found[span.start : span.stop] = span.start + np.arange(span.stop - span.start) % count
    return found


def _drawn_evenly(
    belief: Belief[Laws], suspects: Sequence[int], here: Callable[[int], np.ndarray], weight: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Which draws stand for each suspect (variant,), its position (variant,), and their weights (variant,).

    here(n) (draw,) bool: draws of suspect n; weight (draw,): how much each of them counts among its like.
    """
    picked, member, share = [], [], []
    for position, n in enumerate(suspects):
        mine = np.flatnonzero(here(n) & (weight > 0.0))
        least = FEWEST if len(suspects) < CROWD else FEWEST // 2
        count = min(max(least, int(POPULATION * belief.probability[n])), 4 * len(mine))
        steps = np.cumsum(weight[mine])
        picked.append(
            mine[np.minimum(np.searchsorted(steps, (np.arange(count) + 0.5) / count * steps[-1]), len(mine) - 1)]
        )
        member.append(np.full(count, position))
        share.append(np.full(count, belief.probability[n] / count))
    return np.concatenate(picked), np.concatenate(member), np.concatenate(share)


def redrawn_population(before: DrawnPopulation, belief: Belief[Laws]) -> DrawnPopulation | None:
    """The same draws as another belief on the same laws weighs them: nothing is solved.

    Suspects of which `before` has no draw are left out; None when it has none of any.
    """
    assert belief.laws is before.belief.laws, "draws of other laws are other machines"
    origin = before.origin[before.row]
    moved = np.exp(np.clip(belief.log_weight[origin] - before.belief.log_weight[origin], -LOST, LOST))
    weight, mine = before.weight * moved, np.array(before.suspects)[before.member]
    alive = np.bincount(mine, weight, len(belief.suspects)) > 0.0
    suspects = tuple(n for n in considered(belief) if alive[n])
    if not suspects:
        return None
    row, member, share = _drawn_evenly(belief, suspects, lambda n: mine == n, weight)
    return replace(
        before, belief=belief, suspects=suspects, row=before.row[row], member=member, weight=share / share.sum()
    )


def _binned(population: DrawnPopulation, ask: Question) -> tuple[np.ndarray, np.ndarray, float]:
    """(variant,) the bin that each answer falls into, (bin + 1,) edges in SI, and their width in the instrument's own
    standard deviations."""
    shown, tool = population.now(ask), law(ask.instrument)
    gain = float(np.hypot(np.hypot(tool.gain_sd, tool.own_gain_sd), MODEL_SD))
    floor = float(np.hypot(tool.floor_sd, tool.shared_floor_sd)) or 1e-6
    value = np.clip(np.where(np.isfinite(shown.value), shown.value, _over(shown.value, tool)), -tool.high, tool.high)
    ruler = np.arcsinh(gain * value / floor) / gain  # one unit is one standard deviation
    low, high = float(ruler.min()), float(ruler.max())
    width = max(1.5, (high - low) / BINS)
    bins = int((high - low) / width) + 1
    at = np.minimum(((ruler - low) / width).astype(int), bins - 1)
    return at, np.sinh((low + width * np.arange(bins + 1)) * gain) * floor / gain, width


def _answers(population: DrawnPopulation, ask: Question) -> Table:
    at, edges, width = _binned(population, ask)
    bins = len(edges) - 1
    count = len(population.suspects)
    chance = np.bincount(population.member * bins + at, population.weight, count * bins).reshape(count, bins)
    side = 0.25 / max(1.0, width / 2.0)  # how much of a bin the instrument's error carries next door
    spread = (1.0 - 2.0 * side) * chance
    spread[:, 1:] += side * chance[:, :-1]
    spread[:, :-1] += side * chance[:, 1:]
    return Table(_with_slips(population, spread), edges, flattery=_flattery(population, chance))


def _over(value: np.ndarray, tool: Law) -> float:
    """What stands for over-limit and for never among these answers: beyond all others of them, and in reach."""
    if tool.unit in ("V", "ohm", "F"):
        return tool.high
    finite = np.abs(value[np.isfinite(value)])
    return float(min(tool.high, BEYOND * np.max(finite, initial=tool.low)))


def _flattery(population: DrawnPopulation, chance: np.ndarray) -> float:
    """Nat by which a sample overstates what suspects and answers have in common: draws of one suspect fall into
    other bins than those of another by chance alone.

    An entropy worked out from n draws in b bins is too low by (b - 1) / 2n (Miller, in: Information theory in
    psychology, 1955). chance (suspect, bin), before anything is spread.
    """
    bins, draws = np.count_nonzero(chance, axis=1), population.different
    own = float(np.sum(population.chance * (bins - 1) / (2.0 * draws)))
    return max(own - (np.count_nonzero(chance.any(axis=0)) - 1) / (2.0 * float(draws.sum())), 0.0)


def _is_learnt(population: DrawnPopulation, ask: Question) -> bool:
    """Some reading has told how much a healthy place carries; before that a figure says no more than "some"."""
    model = population.belief.laws.model
    if ask.instrument not in ("pp", "rms") or not model.unknown:
        return True
    level = np.log(np.maximum(population.unharmed(ask).value, FAINT))
    middle = np.average(level, weights=population.weight)
    return bool(np.average((level - middle) ** 2, weights=population.weight) < LEARNT**2)


def _loosely(population: DrawnPopulation, ask: Question) -> Table:
    """Decades of ohms into a stage known from outside, good to LOOSE."""
    top = law("ohms").high
    edges = np.array([0.0, *10.0 ** np.arange(1, int(np.log10(top)) + 1), np.inf])
    with np.errstate(divide="ignore"):
        marks = np.log(edges)[:, None] - loose_ruler(population.answer(ask).value)
    shares, count = np.diff(below(marks / LOOSE), axis=0), len(population.suspects)
    chance = np.stack([np.bincount(population.member, population.weight * one, count) for one in shares], axis=1)
    return Table(_with_slips(population, chance), edges)


def _shares(population: DrawnPopulation, ask: Question) -> Table:
    """Chance of the words for a level: none, something between, ok (or more than that)."""
    share = population.answer(ask).value
    none, fine = chance_of_share(share, 0.0), np.where(share > 1.0, 1.0, chance_of_share(share, 1.0))
    fine = np.minimum(fine, 1.0 - none)
    spoken = np.stack([none, np.maximum(1.0 - none - fine, 0.0), fine])
    count = len(population.suspects)
    chance = np.stack([np.bincount(population.member, population.weight * one, count) for one in spoken], axis=1)
    return Table(_with_slips(population, chance), np.zeros(0), SHARE_WORDS)


def _with_slips(population: DrawnPopulation, chance: np.ndarray) -> np.ndarray:
    """Rows normalised; some answers come from anywhere; what is not in the file answers anything."""
    rows = chance / np.maximum(chance.sum(axis=1, keepdims=True), 1e-300)
    anywhere = np.full(chance.shape[1], 1.0 / chance.shape[1])
    rows = HONEST * rows + (1.0 - HONEST) * anywhere
    unlisted = [n for n, s in enumerate(population.suspects) if population.belief.suspects[s].id == NOT_LISTED]
    rows[unlisted] = 0.5 * rows[unlisted] + 0.5 * anywhere
    return rows


def _signatures(population: DrawnPopulation, ask: Question) -> tuple[np.ndarray, np.ndarray]:
    """(suspect,) middle and standard deviation of what each suspect shows."""
    count, answer = len(population.suspects), population.answer(ask)
    value = np.where(np.isfinite(answer.value), answer.value, ANYTHING)
    use = answer.judged
    number = np.bincount(population.member[use], minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = np.bincount(population.member[use], value[use], count) / number
        off = value[use] - middle[population.member[use]]
        scatter = np.sqrt(np.bincount(population.member[use], off**2, count) / number)
    if ask.instrument == "share":
        return middle, np.hypot(EAR / ALIKE, np.where(np.isfinite(scatter), scatter, 0.0))
    if is_loose(population.belief.laws.model.machine, ask):
        return middle, np.hypot(middle * LOOSE, np.where(np.isfinite(scatter), scatter, 0.0))
    tool = law(ask.instrument)
    gain = float(np.hypot(np.hypot(tool.gain_sd, tool.own_gain_sd), MODEL_SD))
    model = MODEL_FLOOR if tool.unit == "V" else 0.0
    floor = float(np.hypot(np.hypot(tool.floor_sd, tool.shared_floor_sd), model))
    error = np.hypot(gain * np.where(np.isfinite(middle), middle, 0.0), floor)
    return middle, np.hypot(error, np.where(np.isfinite(scatter), scatter, 0.0))
