"""Draws put where the readings are: a scout over all cells, then importance sampling in some.

Draws from the prior starve after a few precise readings. The scout ranks cells by a local-linear
Gaussian that is widened, so that a true suspect whose draws all missed is found again; the redraw
samples each chosen cell from the linearised posterior and weighs every draw by prior over proposal,
so the answer is exact in the limit whatever the proposal. Neither is a second posterior.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from probewright.prediction.bank import Bank, Ring, Span
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.latents import random_stream
from probewright.prediction.likelihood import (
    BY_RATIO,
    EAR,
    LEAST_TIME,
    SMALLEST,
    broad_nats,
    carries_number,
    normal_nats,
    spread,
)
from probewright.prediction.outcomes import in_play, show_at
from probewright.prediction.straying import heavy_of, keen_shares, scales, variance_of
from probewright.prediction.triangles import backward, forward, lower
from probewright.readings import Question, Reading

WIDEN = 4.0  # chosen: variance of a cell's draws in the scout, times this
UNFELT = 1e-3  # standard deviations of a reading by which a latent must move it to be looked at twice
FELT_IN_TIME = 0.1  # the same for what takes a run in time; chosen: a proposal need not know more
UNMOVED = 0.1  # chosen: standard deviations of a reading; a cell that moves none by more tells nothing of it
STEP = 0.3  # chosen: size of the finite difference, in standard deviations of a latent
SCALES = (1.0, 0.5, 0.2)  # lengths of the Gauss-Newton step that are tried
WIDTHS = (1.15, 2.0)  # chosen: proposal standard deviations over those of the linearised posterior
SHARES = (0.55, 0.25, 0.2)  # narrow, wide, prior: a fifth of the draws is kept from the prior
NOUGHT = 1e-6  # chosen, far below any error: standard deviations of a reading that a latent must move to be bent
IGNORED = 1e-8  # weight of a reading taken to be a slip, in the proposals
DOUBT = 1e-3  # responsibility below which a reading does not bend a cell


@dataclass(frozen=True)
class Facts:
    """Metered readings and shares as numbers that a straight line can be fitted to.

    answers, sd (reading,) in the scale used: SI, or the natural logarithm for shares of healthy.
    """

    readings: tuple[Reading, ...]
    answers: np.ndarray
    sd: np.ndarray
    logs: np.ndarray
    wide: np.ndarray  # log density of "anything" per reading
    timed: np.ndarray  # (reading,) bool: read off a run in time

    def only(self, which: np.ndarray) -> Facts:
        """Those of these readings (reading,) bool."""
        kept = tuple(one for one, here in zip(self.readings, which, strict=True) if here)
        return Facts(kept, *(one[which] for one in (self.answers, self.sd, self.logs, self.wide, self.timed)))

    def predict(self, bank: Bank) -> np.ndarray:
        """(reading, variant) predictions of a bank in the same scale; unjudged ones far away."""
        rows = []
        for reading, log in zip(self.readings, self.logs, strict=True):
            shown = show_at(bank, reading.question, reading.sitting)
            value = np.where(shown.judged & np.isfinite(shown.value), shown.value, 1e9)
            rows.append(np.log(np.maximum(np.abs(value), _least(reading.question.instrument))) if log else value)
        return np.array(rows)

    def judged(self, bank: Bank) -> np.ndarray:
        """(variant,) bool: every prediction of a bank is judged, none unsolved."""
        shown = [show_at(bank, one.question, one.sitting) for one in self.readings]
        return np.asarray(np.all([one.judged & ~np.isnan(one.value) for one in shown], axis=0))


def facts_of(laws: Laws, said: Sequence[Reading]) -> Facts:
    """The readings that carry a number, the first of each hook-up's repeats."""
    kept: dict[tuple[object, str], Reading] = {}
    for reading in said:
        if carries_number(laws.model.machine, reading):
            kept.setdefault((reading.question, reading.hookup), reading)
    # in an order that does not depend on who was entered first, so that neither does the answer
    readings = tuple(sorted(kept.values(), key=lambda r: (repr(r.question), r.answer)))
    logs = np.array([_by_ratio(laws, r.question) for r in readings], bool)
    answers, sd, wide = [], [], []
    for reading, log in zip(readings, logs, strict=True):
        value = float(reading.answer)
        if reading.question.instrument == "works":
            answers.append(np.log(value))
            sd.append(EAR)
            wide.append(-1.0)
        else:
            error = float(np.hypot(*spread(reading, value)))
            least = max(value, _least(reading.question.instrument))
            answers.append(np.log(least) if log else value)
            sd.append(error / least if log else error)
            wide.append(broad_nats(laws.base, reading.question.instrument, value) + (np.log(least) if log else 0.0))
    timed = np.array([laws.takes_time(one.question) for one in readings], bool)
    return Facts(readings, np.array(answers), np.array(sd), logs, np.array(wide), timed)


def _least(instrument: str) -> float:
    """The smallest figure whose logarithm is told from none at all: a share, ohm, F, or a level in V."""
    if instrument in BY_RATIO:
        return LEAST_TIME
    return SMALLEST.get(instrument, 0.01 if instrument == "works" else 1e-3)


def _by_ratio(laws: Laws, ask: Question) -> bool:
    """A figure best compared by its logarithm: a share, ohms, or a signal of which only ratios are known."""
    if ask.instrument in ("pp", "rms"):
        stimulus = laws.model.machine.stimuli.get(in_play(laws.model.machine, ask.setup).stimulus)
        return stimulus is not None and stimulus.playing
    return ask.instrument in ("works", "ohms", "esr", "farads", *BY_RATIO)


def scout(laws: Laws, said: Sequence[Reading]) -> np.ndarray:
    """(cell,) log evidence, widened and rough: which cells might still explain what was said.

    Each cell's base draws give a mean and a covariance of the predictions, those left out that are not judged where
    some are; the readings are taken one after the other, each honest or anything at all, and bend what is expected of
    the rest.
    """
    facts = facts_of(laws, said)
    spans = laws.base.spans
    if not facts.readings:
        return laws.model.log_prior.copy()
    predicted = facts.predict(laws.base).reshape(len(facts.readings), len(spans), -1)
    counts = facts.judged(laws.base).reshape(len(spans), -1)
    counts |= ~counts.any(axis=1, keepdims=True)
    middle = np.nanmedian(np.where(counts, predicted, np.nan), axis=2)
    away = np.where(counts, np.clip(predicted - middle[:, :, None], -1e3, 1e3), 0.0)
    cov = np.einsum("kcd,lcd->ckl", away, away) / counts.sum(axis=1)[:, None, None] * WIDEN
    if facts.timed.any():
        cov = loosened(cov, _followed(laws), facts.timed)
    mean, evidence = middle.T.copy(), laws.model.log_prior.copy()
    for k in range(len(facts.readings)):
        variance = cov[:, k, k] + facts.sd[k] ** 2
        off = facts.answers[k] - mean[:, k]
        honest = normal_nats(off, np.sqrt(variance)) + np.log(0.97)
        both = np.logaddexp(honest, facts.wide[k] + np.log(0.03))
        evidence += both
        gain = cov[:, :, k] / variance[:, None] * np.exp(honest - both)[:, None]
        mean += gain * off[:, None]
        cov -= gain[:, :, None] * cov[:, None, k, :]
    # words have no number: their own likelihood, the best draw of the cell
    words = [r for r in said if not carries_number(laws.model.machine, r)]
    if words:
        nats = laws.sitting_nats(words).nats[: laws.base.size].reshape(len(spans), -1)
        evidence += nats.max(axis=1)
    return evidence


def loosened(cov: np.ndarray, draws: np.ndarray, timed: np.ndarray) -> np.ndarray:
    """Covariances (cell, reading, reading) taken for no better than the few draws (cell,) that they rest on.

    timed (reading,) bool: what takes time; what does not rests on all draws and is left as it is.

    n draws span n - 1 directions, and readings in any other would seem impossible: each is believed to move by itself
    by the share readings / (readings + n - 1). And two draws may lie close by chance: a variance is at least what it
    is with the middle one of all cells as one draw more. (Both are shrinkage, of covariances to the diagonal and of
    variances to their median: Schaefer and Strimmer, Stat. Appl. Genet. Mol. Biol. 4, 2005; Opgen-Rhein and Strimmer,
    the same, 6, 2007. The shares are chosen; theirs take more draws than these.)
    """
    count, more = np.count_nonzero(timed), np.maximum(draws - 1.0, 0.0)[:, None]
    own, on_it = np.diagonal(cov, axis1=1, axis2=2), range(cov.shape[1])
    usual = np.median(own[draws > 1], axis=0) if np.any(draws > 1) else np.zeros(cov.shape[1])
    found = np.where(timed[:, None] | timed, cov * (more / (count + more))[:, :, None], cov)
    found[:, on_it, on_it] = np.where(timed, np.maximum(own, (more * own + usual) / (more + 1.0)), own)
    return np.asarray(found)


def _followed(laws: Laws) -> np.ndarray:
    """(cell,) different draws of each cell that are followed in what takes time."""
    stands_for = laws.base.stands_for.reshape(len(laws.base.spans), -1)
    return np.array([len(np.unique(row[row >= 0])) for row in stands_for])


@dataclass(frozen=True)
class Line:
    """A cell made straight about one point: answers - predictions = off - slopes @ z.

    slopes (reading, latent + 1) in the facts' scale; off (reading,) at z = 0.
    """

    slopes: np.ndarray
    off: np.ndarray


def redraw(laws: Laws, said: Sequence[Reading], cells: Sequence[int], draws: int) -> Laws:
    """The laws with these cells drawn afresh about what was said; `draws` per cell.

    Random numbers depend on the job, the cell and the number of readings only.
    """
    facts = facts_of(laws, said)
    if not facts.readings or not len(cells):
        return laws
    best = _best_base_draws(laws, facts, cells)
    centre, here, slopes = fit(laws, facts, list(cells), _half_way(laws, best, cells), led=_led(laws, best))
    lines = [[line_of(facts, centre[row], here[row], slopes[row])] for row in range(len(cells))]
    return drawn(laws, facts, cells, lines, draws, "first")


def redraw_about(
    laws: Laws, said: Sequence[Reading], cells: Sequence[int], draws: int, begin: np.ndarray, keen: Sequence[np.ndarray]
) -> Laws:
    """The laws with these cells drawn afresh about several points each, begin (cell, point) variants of the laws.

    For cells that one straight line does not describe: the points are draws that the readings
    favoured, and the cell is made straight about each. keen: for each cell, how often each latent
    (latent + 1,) strays in half of the draws, learnt from the draws before.
    """
    facts = facts_of(laws, said)
    if not facts.readings:
        return laws
    points = begin.shape[1]
    repeated = [cell for cell in cells for _ in range(points)]
    centre, ring = laws.latents_of(begin.ravel()).T, laws.ring_of(begin.ravel())
    led = None if ring is None else ring.led
    here, slopes = slopes_of(laws, facts, repeated, centre, np.ones(centre.shape[1], bool), led)
    lines = [
        [line_of(facts, centre[n], here[n], slopes[n]) for n in range(row * points, (row + 1) * points)]
        for row in range(len(cells))
    ]
    return drawn(laws, facts, cells, lines, draws, f"again {draws}", keen)


def line_of(facts: Facts, centre: np.ndarray, here: np.ndarray, slopes: np.ndarray) -> Line:
    """The line through predictions here (reading,) at centre (latent + 1,) with these slopes."""
    return Line(slopes, facts.answers - here + slopes @ centre)


def drawn(
    laws: Laws,
    facts: Facts,
    cells: Sequence[int],
    lines: list[list[Line]],
    draws: int,
    turn: str,
    keen: Sequence[np.ndarray] | None = None,
) -> Laws:
    """The laws with a bank of draws about these lines."""
    z, start = [], []
    for row, (cell, mine) in enumerate(zip(cells, lines, strict=True)):
        suspect, bin_ = laws.model.suspects[laws.model.cells[cell].suspect].id, laws.model.cells[cell].bin
        stream = random_stream(laws.model.job, ("redraw", turn, suspect, str(bin_), str(len(facts.readings))))
        often = None if keen is None else _own_keen(laws, facts, cell, keen[row])
        drawn, nats = _sample(laws, facts, mine, draws, stream, often)
        z.append(drawn)
        start.append(nats + laws.model.log_prior[cell] - np.log(draws))
    led = np.tile(np.arange(draws), (len(cells), 1))
    return laws.with_fine(bank_at(laws, facts, cells, np.stack(z, axis=1), led), np.concatenate(start))


def bank_at(laws: Laws, facts: Facts, cells: Sequence[int], z: np.ndarray, led: np.ndarray | None = None) -> Bank:
    """A bank of these cells with latents z (latent + 1 + other, cell, draw).

    led (cell, draw): where areas are solved for themselves, in which sound machine each stands outside its own.
    """
    count = z.shape[2]
    spans = [Span(cell, n * count, (n + 1) * count) for n, cell in enumerate(cells)]
    return _bank(laws, facts, spans, z.reshape(z.shape[0], -1), None if led is None else led.ravel())


def _bank(laws: Laws, facts: Facts, spans: Sequence[Span], z: np.ndarray, led: np.ndarray | None) -> Bank:
    """A bank of these spans; z (latent + 1 + other, variant), which outside a draw's own areas becomes that of a sound
    machine, in place."""
    ring = laws.base.ring
    if ring is not None:
        assert led is not None, "a draw of a large machine stands in a sound one"
        ring = Ring(ring.calm, led % ring.calm.size, areas_read(laws, facts))
        for span in spans:
            here, away = slice(span.start, span.stop), ~own_latents(laws, facts, span.cell)
            z[np.flatnonzero(away), here] = ring.calm.z[np.flatnonzero(away)][:, ring.led[here]]
    return Bank(laws.model, spans, z, middle=laws.base.middle, base=laws.base, others=laws.others, ring=ring)


def areas_read(laws: Laws, facts: Facts) -> frozenset[int]:
    """Areas in which something was read."""
    areas, asked = laws.model.areas, {reading.question for reading in facts.readings}
    works = {one.name: one.measure for one in laws.model.machine.works}
    told = [works[ask.red] for ask in asked if ask.instrument == "works"]
    places = {(one.place, one.other) for one in told}
    places |= {(ask.red, ask.black) for ask in asked if ask.instrument != "works"}
    touched = [sorted(areas.of_place(place)) for pair in places for place in pair]
    return frozenset(some[0] for some in touched if some) - {0}


def stands_apart(laws: Laws, said: Sequence[Reading]) -> np.ndarray:
    """(cell,) bool: nothing read lies in the areas of its fault, and what was read is what the sound machines about it
    read: these readings tell of it no more than of nothing wrong."""
    found, base = np.zeros(len(laws.model.cells), bool), laws.base
    facts = facts_of(laws, said)
    if base.ring is None or not facts.readings:
        return found
    wide = areas_read(laws, facts)
    homes = [laws.model.homes[cell.suspect] for cell in laws.model.cells]
    away = np.array([home is not None and bool(home) and not home & wide for home in homes])
    shown = facts.predict(base).reshape(len(facts.readings), len(base.spans), -1)
    moved = np.abs(shown - shown[:, [laws.model.healthy_cell]]) / facts.sd[:, None, None]
    return np.asarray(away & (moved.max(axis=(0, 2)) < UNMOVED))


def own_latents(laws: Laws, facts: Facts, cell: int) -> np.ndarray:
    """(latent,) bool: what a cell's readings can depend on; all of it where areas are not solved for themselves."""
    areas, home = laws.model.areas, laws.model.homes[laws.model.cells[cell].suspect]
    if laws.base.ring is None or home is None:
        return np.ones(len(laws.model.latents.keys), bool)
    return np.isin(areas.of_latent, [-1, 0, *home, *areas_read(laws, facts)])


def _own_keen(laws: Laws, facts: Facts, cell: int, keen: np.ndarray) -> np.ndarray:
    """How often a cell's latents stray in its keen half: as usual where nothing read depends on them."""
    if laws.base.ring is None:
        return keen
    usual, own = keen_shares(heavy_of(laws), np.zeros((1, len(keen)))), own_latents(laws, facts, cell)
    return np.where(np.append(own, np.ones(len(keen) - len(own), bool)), keen, usual)


def _best_base_draws(laws: Laws, facts: Facts, cells: Sequence[int]) -> np.ndarray:
    """(cell,) the base draw of each that comes nearest to the readings, counted in its cell."""
    base = laws.base
    per = base.size // len(base.spans)
    predicted = facts.predict(base).reshape(len(facts.readings), len(base.spans), per)[:, cells]
    off = (facts.answers[:, None, None] - predicted) / (facts.sd[:, None, None] * 3.0)
    score = np.sum(-np.log1p(off**2), axis=0)  # a heavy-tailed look: no single reading decides
    return np.argmax(score, axis=1)


def _led(laws: Laws, best: np.ndarray) -> np.ndarray | None:
    """(cell,) the sound machine that these base draws stand in."""
    return None if laws.base.ring is None else best


def _half_way(laws: Laws, best: np.ndarray, cells: Sequence[int]) -> np.ndarray:
    """(cell, latent + 1) a start near these base draws."""
    base = laws.base
    z = base.z.reshape(base.z.shape[0], len(base.spans), -1)[:, cells, :]
    centre = np.take_along_axis(z, best[None, :, None], axis=2)[:, :, 0].T.copy()
    centre[:, : len(laws.model.latents.keys)] *= 0.5  # draws scatter in every latent: start half way to the middle
    return centre


def fit(
    laws: Laws,
    facts: Facts,
    cells: list[int],
    centre: np.ndarray,
    looked: np.ndarray | None = None,
    led: np.ndarray | None = None,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Linearise each cell near its most probable latents, looking first at centre (cell, latent + 1).

    looked (latent + 1,) bool: latents that can matter at all; None for every one. led (cell,): as for `bank_at`.

    Returns centre (cell, latent + 1), predictions there (cell, reading), slopes
    (cell, reading, latent + 1) in the facts' scale per unit of a latent.
    """
    variance = variance_of(laws)
    looked = np.ones(centre.shape[1], bool) if looked is None else looked
    here, slopes = slopes_of(laws, facts, cells, centre, looked, led)
    centre = centre + _steps(facts, centre, here, slopes, variance)
    felt = np.max(np.abs(slopes) / facts.sd[None, :, None], axis=(0, 1)) > UNFELT
    here, slopes = slopes_of(laws, facts, cells, centre, felt, led)
    step = _steps(facts, centre, here, slopes, variance)
    tried = np.stack([centre + scale * step for scale in (*SCALES, 0.0)], axis=2).transpose(1, 0, 2)
    in_which = None if led is None else np.repeat(led[:, None], tried.shape[2], axis=1)
    values = facts.predict(bank_at(laws, facts, cells, tried, in_which)).reshape(len(facts.readings), len(cells), -1)
    cost = _cost(facts, values) + 0.5 * np.sum(tried**2 / variance[:, None, None], axis=0)
    chosen = np.argmin(cost, axis=1)
    centre = np.take_along_axis(tried, chosen[None, :, None], axis=2)[:, :, 0].T
    here = np.take_along_axis(values, chosen[None, :, None], axis=2)[:, :, 0].T
    return centre, here, slopes


def _steps(facts: Facts, centre: np.ndarray, here: np.ndarray, slopes: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """(cell, latent + 1) Gauss-Newton step of every cell."""
    return np.stack([_newton_step(facts, centre[n], here[n], slopes[n], variance) for n in range(len(centre))])


def _cost(facts: Facts, values: np.ndarray) -> np.ndarray:
    """(cell, draw) minus log-likelihood of predictions (reading, cell, draw), honest or anything."""
    shape = (len(facts.readings),) + (1,) * (values.ndim - 1)
    honest = normal_nats(facts.answers.reshape(shape) - values, facts.sd.reshape(shape))
    return -np.sum(np.logaddexp(honest, np.log(0.03) + facts.wide.reshape(shape)), axis=0)


def slopes_of(
    laws: Laws, facts: Facts, cells: list[int], centre: np.ndarray, felt: np.ndarray, led: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Predictions (cell, reading) and their slopes (cell, reading, latent + 1), by small steps in
    the latents that are felt (latent + 1,) bool and a cell's own; nought for the others. led (cell,): as for
    `bank_at`.

    What takes a run in time is looked at in those latents alone that a healthy machine feels, and in severities.
    """
    if not facts.timed.any():
        return _slopes_of(laws, facts, cells, centre, felt, led)
    here = np.zeros((len(cells), len(facts.readings)))
    slopes = np.zeros((len(cells), len(facts.readings), centre.shape[1]))
    for which in (~facts.timed, facts.timed):
        some = facts.only(which)
        if some.readings:
            looked = felt & _felt_in_time(laws, some) if some.timed.any() else felt
            here[:, which], slopes[:, which] = _slopes_of(laws, some, cells, centre, looked, led)
    return here, slopes


def _felt_in_time(laws: Laws, facts: Facts) -> np.ndarray:
    """(latent + 1 + other,) bool: latents that the middling healthy machine feels in these readings, and severities."""
    count = laws.base.z.shape[0]
    kept, key = laws.base.felt, (facts.readings, count)  # a severity more where a fault was otherwise bad before
    if key not in kept:
        healthy, every = [laws.model.healthy_cell], np.ones(count, bool)
        _, slopes = _slopes_of(laws, facts, healthy, np.zeros((1, count)), every, None)
        found = np.max(np.abs(slopes[0]) / facts.sd[:, None], axis=0) > FELT_IN_TIME
        found[len(laws.model.latents.keys) :] = True
        if laws.model.second >= 0:
            found[laws.model.second] = True
        kept[key] = found
    return kept[key]


def _slopes_of(
    laws: Laws, facts: Facts, cells: list[int], centre: np.ndarray, felt: np.ndarray, led: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """The same for readings that are all read off runs in time, or none."""
    own = np.ones((len(cells), len(felt)), bool)
    for n, cell in enumerate(cells):
        mine = own_latents(laws, facts, cell)
        own[n, : len(mine)] = mine
    # the points to look at, cell by cell: its centre, then one step in each latent
    which, latent = np.nonzero(np.column_stack([np.ones(len(cells), bool), own & felt]))
    z, latent = centre[which].T.copy(), latent - 1
    moved = np.flatnonzero(latent >= 0)
    step = np.where(z[latent[moved], moved] > 0.0, -STEP, STEP)
    z[latent[moved], moved] += step
    edges = np.searchsorted(which, np.arange(len(cells) + 1))
    spans = [Span(cell, int(edges[n]), int(edges[n + 1])) for n, cell in enumerate(cells)]
    values = facts.predict(_bank(laws, facts, spans, z, None if led is None else led[which]))
    here = values[:, edges[:-1]]
    slopes = np.zeros((len(cells), len(facts.readings), centre.shape[1]))
    slopes[which[moved], :, latent[moved]] = ((values[:, moved] - here[:, which[moved]]) / step).T
    return here.T, np.where(np.abs(slopes) < 1e6, slopes, 0.0)


def responsible(facts: Facts, off: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """(reading,) how far each reading may bend this cell: honest against anything, as wide as the
    prior lets the prediction go."""
    variance = np.sum(slopes**2, axis=1) + facts.sd**2
    honest = normal_nats(off, np.sqrt(variance)) + np.log(0.97)
    return np.exp(honest - np.logaddexp(honest, facts.wide + np.log(0.03)))


def _newton_step(
    facts: Facts, centre: np.ndarray, here: np.ndarray, slopes: np.ndarray, variance: np.ndarray
) -> np.ndarray:
    """Gauss-Newton step (latent + 1,) towards the most probable latents of one cell."""
    off = facts.answers - here + slopes @ centre  # as seen from z = 0
    weight = responsible(facts, off, slopes * np.sqrt(variance))
    scaled = slopes * (np.sqrt(weight) / facts.sd)[:, None]
    spread_ = scaled * variance
    goal = spread_.T @ np.linalg.solve(np.eye(len(off)) + spread_ @ scaled.T, np.sqrt(weight) / facts.sd * off)
    return np.clip(goal - centre, -4.0, 4.0)


def _sides(facts: Facts, weight: np.ndarray) -> list[np.ndarray]:
    """Standard deviations (reading,) that the proposals use: each reading as far as it may bend the
    cell; and, where one may be a slip, with it in full and without it."""
    doubtful = (weight > DOUBT) & (weight < 1.0 - 0.05)
    shares = [weight]
    if doubtful.any():
        shares += [np.where(doubtful, 1.0, weight), np.where(doubtful, 0.0, weight)]
    return [facts.sd / np.sqrt(np.maximum(share, IGNORED)) for share in shares]


def _sample(
    laws: Laws, facts: Facts, lines: Sequence[Line], draws: int, stream: np.random.Generator, keen: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """Latents (latent + 1, draw) of one cell and log prior over proposal (draw,).

    A latent is scale x standard normal number; scales are drawn first, then, given them, a straight
    law and Gaussian errors have a Gaussian posterior, which is sampled by correcting a draw from
    the prior (Matheron's rule). Such a proposal is prior x N(answers; line, sd) / evidence, so
    prior over proposal needs only the readings, however many latents there are.
    """
    heavy = heavy_of(laws)
    if keen is None:
        keen = keen_shares(heavy, np.max([np.abs(line.slopes) for line in lines], axis=0) / facts.sd[:, None])
    scale, scale_nats = scales(stream, heavy, keen, draws)
    number = stream.standard_normal((len(heavy), draws))
    felt = np.flatnonzero(np.max([np.abs(line.slopes) / facts.sd[:, None] for line in lines], axis=(0, 1)) > NOUGHT)
    moved = scale[felt] * number[felt]  # the others stay as they fell: nothing read depends on them
    slopes = [line.slopes[:, felt] for line in lines]
    common = [_common(one, scale[felt] ** 2) for one in slopes]
    parts = []  # (line, sd of the readings, share of the draws, root of their covariance)
    for n, line in enumerate(lines):
        sides = _sides(facts, responsible(facts, line.off, line.slopes * np.sqrt(variance_of(laws))))
        for sd in sides:
            for width, share in zip(WIDTHS, SHARES[:2], strict=True):
                root = lower(common[n] + np.diag((sd * width) ** 2)[:, :, None])
                parts.append((n, sd * width, share / len(sides) / len(lines), root))
    which = np.searchsorted(np.cumsum([share for _, _, share, _ in parts]), (np.arange(draws) + 0.5) / draws)
    for at, (n, sd, _, root) in enumerate(parts):
        mine = np.flatnonzero(which == at)
        noise = sd[:, None] * stream.standard_normal((len(sd), len(mine)))
        miss = lines[n].off[:, None] - slopes[n] @ moved[:, mine] + noise
        here = root[:, :, mine]
        moved[:, mine] += scale[felt][:, mine] ** 2 * (slopes[n].T @ backward(here, forward(here, miss)))
    nats = [np.full(draws, np.log(SHARES[2]))]
    shown = [one @ moved for one in slopes]
    for n, sd, share, root in parts:
        nats.append(np.log(share) + _tilt(lines[n].off, shown[n], root, sd))
    number *= scale
    number[felt] = moved
    return number, scale_nats - np.logaddexp.reduce(nats)


def _common(slopes: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Covariance (reading, reading, draw) of answers with these slopes (reading, latent), variance (latent, draw).

    One product of matrices: it is what all draws of a cell have in common but for their scales.
    """
    count = len(slopes)
    rows, columns = np.tril_indices(count)
    place = np.zeros((count, count), int)
    place[rows, columns] = place[columns, rows] = np.arange(len(rows))
    return np.asarray(((slopes[rows] * slopes[columns]) @ variance)[place])


def _tilt(off: np.ndarray, shown: np.ndarray, root: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Log of proposal over prior (draw,): likelihood of the line's answers over their evidence.

    off, sd (reading,); shown (reading, draw); root (reading, reading, draw): triangle of the covariance.
    """
    likely = np.sum(normal_nats(off[:, None] - shown, sd[:, None]), axis=0)
    white = forward(root, np.repeat(off[:, None], shown.shape[1], axis=1))
    spread_ = np.sum(np.log(np.diagonal(root)), axis=1)
    return np.asarray(likely + 0.5 * np.sum(white**2, axis=0) + spread_ + 0.9189385332046727 * len(off))
