"""Belief: a weight on every draw of every cell; a pure fold of the readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, singledispatch
from typing import Generic, Protocol, TypeVar

import numpy as np

from probewright.hypotheses import Suspect
from probewright.inference.fit import SURPRISE
from probewright.prediction.circuit_laws import Laws, first_of
from probewright.prediction.likelihood import Judged, is_metered, spread
from probewright.prediction.provoking import by_provocation, is_provoked
from probewright.prediction.ratios import redraw_ratios
from probewright.prediction.redraw import facts_of, redraw, redraw_about, scout, stands_apart
from probewright.prediction.straying import heavy_of, stray_chance
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Question, Reading
from probewright.readings.instruments import METERED

REDRAWN = 60  # chosen: cells drawn afresh at most
FRESH = 400  # chosen: draws in each of them
REACH = 8.0  # chosen, nat: a cell this far below the best of the scout cannot matter
ENOUGH = 20.0  # chosen: effective draws with which a cell is left as it is
POINTS = 6  # chosen: draws about which such a cell is made straight
# chosen: (least, most, draws) of p (1 - p): the nearer a contest, the more draws its cells get
DEEP = ((0.0005, 0.03, 800), (0.03, 1.0, 6000))
KEEN_RANGE = (0.05, 0.7)  # chosen: shares of straying draws that are tried at least and at most
DEAD = 1e-3  # chosen: cells that together hold no more than this are not followed in time
AWAY, APART = 10.0, 0.3  # chosen: standard deviations, and share; two draws of a cell seldom come nearer to a figure
# Chosen: what takes time is dear, so fewer cells are drawn afresh, in fewer draws, and once more only a close contest.
MOST_AWAKE = 40  # chosen: cells of which more than a first few draws are followed
REDRAWN_IN_TIME, FRESH_IN_TIME, SECOND_IN_TIME = 12, 32, 4
CLOSE_IN_TIME = (0.03, 1.0)  # of p (1 - p)
PLENTY_IN_TIME = 20.0  # chosen: effective draws that are enough for such a cell then
# Chosen: a cell that holds so much and rests on fewer effective draws is drawn once more, however far it leads: with
# one or two neither its lead nor how well it fits is known.
HELD, THIN_IN_TIME = 0.01, 8.0
REACH_IN_TIME = 16.0  # chosen, nat: as REACH; the scout of a cell rests on two draws at times, and those may lie apart
AGAIN_IN_TIME = (64, 96)  # chosen: draws of such cells, turn by turn
PLENTY = 500.0  # chosen: effective draws that are enough for such a cell
MET = 2.0  # chosen, nat: two samples of a cell that differ by more than their own errors usually do
SECOND = 30  # chosen: cells looked at once more where their first redraw met little


LEFT_OUT = 1e-3  # chosen: chance of more than the most that is reckoned with
NEARLY = 0.9  # chosen: share of that from which on a suspect counts as what brings it about


@dataclass(frozen=True)
class Extremes:
    """The middle of what a question may show and the most, but for a chance of LEFT_OUT; suspect: index of the one that
    brings the most about; judged: share of the belief that could be judged."""

    likely: float
    most: float
    suspect: int
    judged: float


class Suspected(Protocol):
    """What belief asks of a model: suspects (suspect,), their cells, and suspect_of (cell,)."""

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """The suspects, in a stable order."""

    @property
    def cells(self) -> Sequence[object]:
        """The cells."""

    @property
    def suspect_of(self) -> np.ndarray:
        """(cell,) index of the suspect."""

    @property
    def index(self) -> Mapping[str, int]:
        """Suspect id -> index."""


class AnyLaws(Protocol):
    """What belief asks of the laws of a section, whatever its kind."""

    @property
    def model(self) -> Suspected:
        """Suspects and cells."""

    @property
    def cell_of(self) -> np.ndarray:
        """(variant,) index of the cell."""

    @property
    def log_prior(self) -> np.ndarray:
        """(variant,) log chance before any reading, in nat."""

    def sitting_nats(self, said: Sequence[Reading]) -> Judged:
        """Log-likelihood, in every variant, of readings that belong together."""


LawsT = TypeVar("LawsT", bound=AnyLaws)


@dataclass(frozen=True)
class Belief(Generic[LawsT]):
    """How probable every draw is after the readings.

    log_weight (variant,), normalised to one, never NaN; the variants are those of the laws.
    nats (reading-prefix sitting sums) are not kept: they follow from laws and readings.
    rough: the quick answer, before the draws were put where the readings are; evidence: log chance of the readings over
    all draws, in nat.
    """

    laws: LawsT
    readings: tuple[Reading, ...]
    log_weight: np.ndarray
    honest: np.ndarray  # (variant, reading) chance that the reading was taken as said
    rough: bool
    evidence: float

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """The suspects, in the order of every (suspect,) array."""
        return self.laws.model.suspects

    @cached_property
    def suspect_of(self) -> np.ndarray:
        """(variant,) index of the suspect."""
        return self.laws.model.suspect_of[self.laws.cell_of]

    @cached_property
    def weight(self) -> np.ndarray:
        """(variant,) probability of each draw."""
        return np.exp(self.log_weight)

    @cached_property
    def probability(self) -> np.ndarray:
        """(suspect,) probability, summing to one."""
        return np.bincount(self.suspect_of, self.weight, len(self.suspects))

    def fitted(self, parts: Sequence[str]) -> float:
        """Chance that an added board with these parts is there."""
        cells = self.laws.model.cells
        there = np.array([not set(parts) <= set(cell.absent) for cell in cells])  # type: ignore[attr-defined]
        return float(np.sum(self.weight[there[self.laws.cell_of]]))

    @cached_property
    def in_cell(self) -> np.ndarray:
        """(variant,) weight of each draw over that of the heaviest of its cell."""
        cells = self.laws.cell_of
        top = np.full(len(self.laws.model.cells), -np.inf)
        np.maximum.at(top, cells, self.log_weight)
        return np.exp(self.log_weight - np.where(np.isfinite(top), top, 0.0)[cells])

    @cached_property
    def effective_draws(self) -> np.ndarray:
        """(cell,) effective number of draws: (sum w)^2 / sum w^2."""
        cells, count, weight = self.laws.cell_of, len(self.laws.model.cells), self.in_cell
        return np.bincount(cells, weight, count) ** 2 / np.maximum(np.bincount(cells, weight**2, count), 1e-300)

    @cached_property
    def quality(self) -> tuple[float, float]:
        """Effective draws behind the answer, and the share of the weight that was not judged."""
        by_cell = np.bincount(self.laws.cell_of, self.weight, len(self.laws.model.cells))
        solved = np.ones(len(self.log_weight), bool)
        for spell in spells(self.laws, self.readings):
            solved &= self.laws.sitting_nats([self.readings[n] for n in spell]).solved
        return float(np.sum(by_cell * self.effective_draws)), float(np.sum(self.weight[~solved]))

    def extremes(self: Belief[Laws], ask: Question) -> Extremes:
        """The middle and the most that a question would show, over all suspects at once. Circuits only.

        Draws that were not judged are left out: nobody knows what they show.
        """
        outcome = self.laws.outcome(ask)
        use = outcome.judged & (self.weight > 0.0)
        return extremes_of(outcome.value[use], self.weight[use], self.suspect_of[use], float(self.weight.sum()))

    def quantiles(
        self: Belief[Laws], ask: Question, chosen: np.ndarray, shares: Sequence[float], sitting: int | None = None
    ) -> np.ndarray:
        """Values below which these shares of the chosen draws' weight lie; chosen (variant,) bool. Circuits only.

        sitting: as in an earlier one, None for now.
        """
        outcome = self.laws.outcome(ask, sitting)
        use = chosen & outcome.judged & (self.weight > 0.0)
        if not use.any():
            return np.full(len(shares), np.nan)
        return weighted_quantiles(outcome.value[use], self.weight[use], shares)


def extremes_of(value: np.ndarray, weight: np.ndarray, suspect_of: np.ndarray, whole: float) -> Extremes:
    """As `Belief.extremes`, of draws that were judged, each (draw,); whole: the weight of all."""
    total = float(weight.sum())
    if not total > 0.0:
        return Extremes(0.0, 0.0, -1, 0.0)
    likely, most = weighted_quantiles(value, weight, (0.5, 1.0 - LEFT_OUT))
    near = value >= NEARLY * most
    return Extremes(
        float(likely), float(most), int(np.argmax(np.bincount(suspect_of[near], weight[near]))), total / whole
    )


def weighted_quantiles(value: np.ndarray, weight: np.ndarray, shares: Sequence[float]) -> np.ndarray:
    """(share,) values below which these shares of the weight lie; value and weight (draw,), at least one."""
    order = np.argsort(value)
    steps = np.cumsum(weight[order])
    return value[order][np.minimum(np.searchsorted(steps, np.asarray(shares) * steps[-1]), len(value) - 1)]


@singledispatch
def spells(laws: AnyLaws, readings: Sequence[Reading]) -> list[list[int]]:
    """Positions of the readings that are weighed together: those of one sitting, in job order."""
    order = dict.fromkeys(r.sitting for r in readings)
    return [[n for n, r in enumerate(readings) if r.sitting == one] for one in order]


@spells.register
def _(laws: Laws, readings: Sequence[Reading]) -> list[list[int]]:
    """Those of one sitting; the answers to one provocation of one place together, whenever it was done."""
    order = dict.fromkeys(r.sitting for r in readings if not is_provoked(r))
    read = [[n for n, r in enumerate(readings) if r.sitting == one and not is_provoked(r)] for one in order]
    return [*read, *by_provocation(readings).values()]


@spells.register
def _(laws: TableLaws, readings: Sequence[Reading]) -> list[list[int]]:
    """The answers to one test; what is no answer to a test of the table weighs nothing."""
    return laws.by_test(readings)


def total_nats(laws: AnyLaws, readings: Sequence[Reading]) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood of all readings (variant,), and the honest share (variant, reading)."""
    nats, honest = np.zeros(len(laws.cell_of)), np.ones((len(laws.cell_of), len(readings)))
    for spell in spells(laws, readings):
        one = laws.sitting_nats([readings[n] for n in spell])
        gained = one.nats
        if not one.judged.any():  # nobody can say, so it tells nothing
            continue
        if not one.judged.all():
            gained = _filled(laws, [readings[n] for n in spell], one, laws.log_prior + nats)
        nats = nats + gained
        honest[:, spell] = one.honest
    return nats, honest


def _filled(laws: AnyLaws, said: Sequence[Reading], one: Judged, before: np.ndarray) -> np.ndarray:
    """Log-likelihood (variant,) of one sitting where some draws are not judged whole.

    A draw of which some hook-ups say nothing, as the distortion of a tone that is not there, is judged by the others,
    and what says nothing is as probable as the draws that are judged whole give it after those. Where all say nothing
    it is left where it was: as probable an answer as all others together gave. before (variant,): log chance so far.
    """
    whole, gained = one.judged, one.nats.copy()
    total, begin = np.logaddexp.reduce((before + gained)[whole]), np.logaddexp.reduce(before[whole])
    hookups = [[r for r in said if r.hookup == hookup] for hookup in dict.fromkeys(r.hookup for r in said)]
    by = np.array([laws.sitting_nats(some).judged for some in hookups])
    for known in np.unique(by[:, ~whole], axis=1).T:
        mine = ~whole & (by == known[:, None]).all(axis=0)
        rest = [r for some, counts in zip(hookups, known, strict=True) if counts for r in some]
        if rest:
            nats = laws.sitting_nats(rest).nats
            gained[mine] = nats[mine] + total - np.logaddexp.reduce((before + nats)[whole])
        else:
            gained[mine] = total - begin
    return gained


@singledispatch
def awakened(laws: AnyLaws, readings: Sequence[Reading]) -> AnyLaws:
    """The laws with those draws followed in time that may still matter after these readings; a table has none."""
    return laws


@awakened.register
def _(laws: Laws, readings: Sequence[Reading]) -> Laws:
    """Cells that what takes no time leaves alive are followed in a few draws each, those that are alive then in all.

    A dead cell is left where it was, unless some figure is far from all that those alive show: then every cell is
    looked at. What has been drawn afresh or stands for others is followed as it is.
    """
    timed = [laws.takes_time(one.question) for one in readings]
    if not any(timed) or laws.fine or laws.few is not None:
        return laws
    cells = len(laws.model.cells)
    alive = _alive(_mass(laws, [one for one, takes in zip(readings, timed, strict=True) if not takes]))
    begin = first_of(int(np.count_nonzero(alive)))
    first = laws.with_awake(tuple(begin if one else 0 for one in alive))
    if not any(takes and one.question.instrument in METERED for one, takes in zip(readings, timed, strict=True)):
        return first  # words are not sharp enough to be worth more
    mass = _mass(first, readings)
    if not alive.all() and not all(_met(first, one) for one, takes in zip(readings, timed, strict=True) if takes):
        first = laws.with_awake((first_of(cells),) * cells)
        mass = _mass(first, readings)
    count, begun = laws.base.size // len(laws.base.spans), first.base.awake or ()
    living = set(np.argsort(-mass, kind="stable")[:MOST_AWAKE]) & set(np.flatnonzero(_alive(mass)))
    return laws.with_awake(tuple(count if n in living else begun[n] for n in range(cells)))


def _met(laws: Laws, reading: Reading) -> bool:
    """Some draw comes near this figure; words and bounds are met by themselves."""
    if not is_metered(reading):
        return True
    shown, answer = laws.outcome(reading.question, reading.sitting), float(reading.answer)
    value = shown.value[shown.judged]
    if np.isinf(answer):
        return bool(np.isinf(value).any())
    return bool(np.any(np.abs(value - answer) < AWAY * np.hypot(*spread(reading, answer)) + APART * abs(answer)))


def _mass(laws: Laws, readings: Sequence[Reading]) -> np.ndarray:
    """(cell,) probability after these readings, on the draws as they are."""
    nats, _ = total_nats(laws, tuple(readings))
    weight = np.exp(laws.log_prior + nats - np.logaddexp.reduce(laws.log_prior + nats))
    return np.bincount(laws.cell_of, weight, len(laws.model.cells))


def _alive(mass: np.ndarray) -> np.ndarray:
    """(cell,) bool: those that together hold all but DEAD of the probability."""
    order = np.argsort(-mass, kind="stable")
    before = np.cumsum(mass[order]) - mass[order]
    found = np.zeros(len(mass), bool)
    found[order[before < (1.0 - DEAD) * mass.sum()]] = True
    return found


def weigh(laws: LawsT, readings: Sequence[Reading], rough: bool = True, wake: bool = True) -> Belief[LawsT]:
    """Belief after these readings, on the draws as they are: the quick answer.

    wake: draws that take time are followed where they may matter now; else only those that were before.
    """
    laws = awakened(laws, readings) if wake else laws  # type: ignore[assignment]
    nats, honest = total_nats(laws, tuple(readings))
    log_weight = laws.log_prior + nats
    evidence = float(np.logaddexp.reduce(log_weight))
    log_weight = log_weight - evidence
    log_weight.flags.writeable = False
    return Belief(laws, tuple(readings), log_weight, honest, rough, evidence)


def refine(belief: Belief[LawsT]) -> Belief[LawsT]:
    """Belief on draws put where the readings are: the answer that counts."""
    return replace(_sharpen(belief.laws, belief), rough=False)


@singledispatch
def _sharpen(laws: AnyLaws, belief: Belief) -> Belief:
    """Laws without draws are exact as they are."""
    return belief


@_sharpen.register
def _(laws: Laws, belief: Belief[Laws]) -> Belief[Laws]:
    """Only cells that matter and whose draws are worn out are drawn afresh.

    They are found by the widened scout together with what the present draws hold probable, so that
    neither a starved true suspect nor a close contest is missed.
    """
    if laws.model.playing:  # there levels are open by decades, and so is what a contact takes from them
        return weigh(redraw_ratios(laws, belief.readings), belief.readings)
    laws = laws.for_sittings(belief.readings)
    belief = belief if laws is belief.laws else weigh(laws, belief.readings)
    if any(laws.takes_time(one.question) for one in facts_of(laws, belief.readings).readings):
        return _sharpen_in_time(belief)
    apart = stands_apart(laws, belief.readings)
    seen = scout(belief.laws, belief.readings)  # it asks the first draws alone, so it sees the same after a redraw
    first = _worn(belief, seen, apart)
    if not first:
        return belief
    belief = weigh(redraw(belief.laws, belief.readings, first, FRESH), belief.readings)
    thin = [c for c in _worn(belief, seen, apart) if any(c in one.cells for one in belief.laws.fine)]
    belief = _draw_about(belief, thin[:SECOND], FRESH)
    for least, most, draws in DEEP:
        belief = _draw_about(belief, [c for c in _contested(belief, least, most) if not apart[c]], draws)
    return _leaning(belief, apart)


def _sharpen_in_time(belief: Belief[Laws]) -> Belief[Laws]:
    """The same in fewer draws, where figures were read that take a run in time."""
    apart = np.zeros(len(belief.laws.model.cells), bool)
    first = _worn(belief, scout(belief.laws, belief.readings), apart, REACH_IN_TIME)[:REDRAWN_IN_TIME]
    if not first:
        return belief
    belief = weigh(redraw(belief.laws, belief.readings, first, FRESH_IN_TIME), belief.readings)
    for draws in AGAIN_IN_TIME:
        open_ = dict.fromkeys((*_thin(belief), *_contested(belief, *CLOSE_IN_TIME, PLENTY_IN_TIME)))
        belief = _draw_about(belief, list(open_)[:SECOND_IN_TIME], draws)
    return belief


def _thin(belief: Belief[Laws]) -> list[int]:
    """Cells that hold something and rest on next to no draws, the most probable first."""
    mass = np.bincount(belief.laws.cell_of, belief.weight, len(belief.laws.model.cells))
    few = (mass > HELD) & (belief.effective_draws < THIN_IN_TIME)
    return [int(c) for c in np.argsort(-mass, kind="stable") if few[c]]


def _leaning(belief: Belief[Laws], apart: np.ndarray) -> Belief[Laws]:
    """The few draws of cells that stand apart from what was read, put right by "nothing wrong", which has more now.

    They are the same machines as those of "nothing wrong" as far as the readings go; so the chance of the readings in
    them is wrong by the same factor (a ratio estimate: Cochran, Sampling techniques, 1977, chapter 6).
    """
    laws, healthy = belief.laws, belief.laws.model.healthy_cell
    if not apart.any() or not any(healthy in one.cells for one in laws.fine):
        return belief
    here, base = laws.cell_of == healthy, np.arange(len(laws.cell_of)) < laws.base.size
    nats, _ = total_nats(laws, belief.readings)
    before = np.logaddexp.reduce(nats[here & base]) - np.log(np.count_nonzero(here & base))
    now = np.logaddexp.reduce((laws.log_prior + nats)[here & ~base]) - laws.model.log_prior[healthy]
    return weigh(replace(laws, lean=np.where(apart, now - before, 0.0)), belief.readings)


def _contested(belief: Belief[Laws], least: float, most: float, plenty: float = PLENTY) -> list[int]:
    """Cells whose error would show in the answer and that still rest on few draws.

    A cell of probability p adds about p (1 - p) times its own relative error: least and most bound that.
    """
    mass = np.bincount(belief.laws.cell_of, belief.weight, len(belief.laws.model.cells))
    shows = mass * (1.0 - mass)
    few = (shows > least) & (shows <= most) & (belief.effective_draws < plenty)
    return [int(c) for c in np.argsort(-mass, kind="stable") if few[c]][:SECOND]


def _meets_more(tried: Belief[Laws], belief: Belief[Laws], cell: int) -> bool:
    """Other draws of a cell are worth more than those at hand: more of them count, or they find the readings far more
    probable.

    Draws that miss a reading call it a slip and all count alike, so their number alone says nothing. A sample that
    misses where the chance lies makes it too small.
    """
    more = tried.effective_draws[cell] > belief.effective_draws[cell]
    return bool(more) or _held(tried, cell) > _held(belief, cell) + MET


def _held(belief: Belief[Laws], cell: int) -> float:
    """Log chance of a cell together with the readings, in nat."""
    return belief.evidence + float(np.logaddexp.reduce(belief.log_weight[belief.laws.cell_of == cell]))


def _draw_about(belief: Belief[Laws], cells: list[int], draws: int) -> Belief[Laws]:
    """These cells drawn once more about their best draws; the new draws stand where they are worth more."""
    if not cells:
        return belief
    begin = np.stack([_heaviest_draws(belief, cell, POINTS) for cell in cells])
    keen = [_straying(belief, cell) for cell in cells]
    tried = weigh(redraw_about(belief.laws, belief.readings, cells, draws, begin, keen), belief.readings)
    if tried.laws is belief.laws:
        return belief
    better = [c for c in cells if _meets_more(tried, belief, c)]
    return weigh(tried.laws.only_last(better), belief.readings) if len(better) < len(cells) else tried


def _straying(belief: Belief[Laws], cell: int) -> np.ndarray:
    """(latent + 1,) how often each latent strays in the draws of a cell, as the readings weigh them."""
    here = np.flatnonzero((belief.laws.cell_of == cell) & np.isfinite(belief.log_weight))
    weight = np.exp(belief.log_weight[here] - belief.log_weight[here].max())
    often = stray_chance(belief.laws.latents_of(here)) @ (weight / weight.sum())
    return np.where(heavy_of(belief.laws), np.clip(often, *KEEN_RANGE), 0.0)


def _heaviest_draws(belief: Belief[Laws], cell: int, count: int) -> np.ndarray:
    """(count,) the draws of a cell that the readings favour most."""
    mine = np.flatnonzero(belief.laws.cell_of == cell)
    return np.resize(mine[np.argsort(-belief.log_weight[mine], kind="stable")][:count], count)


def _missing(belief: Belief[Laws]) -> np.ndarray:
    """(cell,) bool: its draws take some reading rather for a slip."""
    cells, count = belief.laws.cell_of, len(belief.laws.model.cells)
    whole = np.maximum(np.bincount(cells, belief.in_cell, count), 1e-300)
    found = np.zeros(count, bool)
    for honest in belief.honest.T:
        found |= np.bincount(cells, belief.in_cell * honest, count) < SURPRISE * whole
    return found


def _worn(belief: Belief[Laws], seen: np.ndarray, apart: np.ndarray, reach: float = REACH) -> list[int]:
    """Cells worth drawing afresh, the most probable first; seen (cell,): by the scout; apart (cell,) bool: those that
    need not, but "nothing wrong" then stands for them.

    Also those that the scout holds for probable and whose draws all missed a reading, at first and once they were drawn
    afresh. Draws that miss alike, and call it a slip, count alike: nothing of that shows in their effective number.
    """
    laws = belief.laws
    mass = np.bincount(laws.cell_of, belief.weight, len(laws.model.cells))
    score = np.log(np.maximum(mass, 1e-300))
    score -= score.max()
    score = np.maximum(score, seen - seen.max())
    worn = (belief.effective_draws < ENOUGH) | _missing(belief)
    worn &= (score > -reach) & ~apart
    worn[laws.model.healthy_cell] |= apart.any()
    order = np.argsort(-score, kind="stable")
    return [int(c) for c in order if worn[c]][:REDRAWN]
