"""Draws where the readings are, for machines whose levels are known as ratios only.

There a first figure tells next to nothing of where the fault is and everything of what plays: nearly
every suspect lives on, and the draws of all of them have to move. They move together. The cells
are fitted with those latents only that some reading feels, and share their random numbers, so that two
suspects that read alike are found equally likely. And as a gain or a level only multiplies, each
draw is put right: whatever its other figures are, its gains are sampled as the readings want them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from probewright.prediction.bank import Bank
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.latents import random_stream
from probewright.prediction.redraw import DOUBT, IGNORED, Facts, bank_at, facts_of, fit, responsible, scout  # fmt: skip
from probewright.prediction.straying import heavy_of, keen_shares, scales, variance_of
from probewright.readings import Reading

REACH = 9.0  # chosen, nat: a cell this far below the best of the scout cannot matter
DRAWS = 64  # chosen: in each cell; putting right keeps most of them
FELT = 0.3  # chosen: standard deviations of a reading by which a latent must move it to be looked at
WIDTH = 1.15  # chosen: proposal standard deviations over those of the readings
SLIPS = 0.05  # chosen: a reading that a cell gives with less than the rest of this chance may be a slip
FITTED = 0.75  # chosen: share of the draws made about the line; the rest come from the prior


@dataclass(frozen=True)
class Cells:
    """Cells made straight: slopes (cell, reading, latent) of the felt latents, off (cell, reading) as
    seen from nought; sd and doubted (cell, reading): every reading that may be honest at its own
    error, and the same with those left out that may as well be slips."""

    numbers: tuple[int, ...]
    felt: np.ndarray
    slopes: np.ndarray
    off: np.ndarray
    sd: np.ndarray
    doubted: np.ndarray


def redraw_ratios(laws: Laws, said: Sequence[Reading]) -> Laws:
    """The laws with every cell that may still matter drawn afresh about what was said."""
    facts = facts_of(laws, said)
    if not facts.readings:
        return laws
    seen = scout(laws, said)
    cells = [int(cell) for cell in np.flatnonzero(seen > seen.max() - REACH)]
    z, nats, before = _drawn(laws, facts, _straight(laws, facts, cells))
    start = nats + laws.model.log_prior[cells][:, None] - np.log(DRAWS)
    bank = Bank(laws.model, before.spans, z.reshape(z.shape[0], -1), middle=laws.base.middle, near=before)
    return laws.with_fine(bank, start.reshape(-1))


def _straight(laws: Laws, facts: Facts, cells: list[int]) -> Cells:
    """Each cell made straight near its most probable latents, about one healthy machine."""
    healthy, count = [laws.model.healthy_cell], len(laws.model.latents.keys) + 1
    middle, _, slopes = fit(laws, facts, healthy, np.zeros((1, count)))
    felt = np.max(np.abs(slopes[0]) / facts.sd[:, None], axis=0) > FELT
    felt[[laws.model.second, -1]] = True  # the severities
    begin = np.repeat(middle, len(cells), axis=0)
    begin[:, -1] = 0.0
    centre, here, slopes = fit(laws, facts, cells, begin, felt)
    off = facts.answers - here + np.einsum("ckl,cl->ck", slopes, centre)
    deviation = np.sqrt(variance_of(laws))
    weight = np.stack([responsible(facts, off[n], slopes[n] * deviation) for n in range(len(cells))])
    sd, doubted = (WIDTH * facts.sd / np.sqrt(np.where(weight > least, 1.0, IGNORED)) for least in (DOUBT, 1.0 - SLIPS))
    return Cells(tuple(cells), np.flatnonzero(felt), slopes[:, :, felt], off, sd, doubted)


def multiplying(laws: Laws) -> np.ndarray:
    """(latent + 1,) bool: latents that only multiply what comes behind them: gains and levels."""
    found = np.zeros(len(laws.model.latents.keys) + 1, bool)
    for one in laws.model.latents.free:
        part = laws.model.machine.parts[one.part]
        gain = part.kind == "block" and one.name == "gain" and one.figure.law != "range"
        if gain or one.name == "playing":
            found[[latent for latent, _ in one.terms]] = True
    return found


def _drawn(laws: Laws, facts: Facts, cells: Cells) -> tuple[np.ndarray, np.ndarray, Bank]:
    """Latents (latent + 1, cell, draw), log of prior over proposal (cell, draw), and the bank not yet put right."""
    stream = random_stream(laws.model.job, ("ratios", str(len(facts.readings))))
    heavy = heavy_of(laws)
    leaned = np.zeros((len(facts.readings), len(heavy)))
    leaned[:, cells.felt] = np.max(np.abs(cells.slopes), axis=0) / facts.sd[:, None]
    scale, scale_nats = scales(stream, heavy, keen_shares(heavy, leaned), DRAWS)
    number = stream.standard_normal((len(heavy), DRAWS))
    gains = multiplying(laws)[cells.felt]
    tall = cells.slopes[..., None] * scale[cells.felt]  # (cell, reading, latent, draw) per standard normal number
    drawn = np.repeat(number[:, None, :], len(cells.numbers), axis=1)
    mine = drawn[cells.felt].transpose(1, 0, 2)
    fitted = np.arange(DRAWS) % round(1.0 / (1.0 - FITTED)) != 0
    mine = np.where(fitted, _towards(tall, mine, cells.off[:, :, None], cells.sd, stream), mine)
    rest_nats = _tilt(cells, tall, mine, gains)
    drawn[cells.felt] = mine.transpose(1, 0, 2)
    drawn *= scale[:, None, :]
    before = bank_at(laws, facts, cells.numbers, drawn)
    shown = facts.predict(before).reshape(len(facts.readings), len(cells.numbers), -1)
    # as it would read with every gain in the middle, whatever the other figures of this draw are
    level = tall[:, :, gains]
    off = facts.answers[None, :, None] - shown.transpose(1, 0, 2) + np.einsum("ckgd,cgd->ckd", level, mine[:, gains])
    fresh = np.repeat(stream.standard_normal((1, int(gains.sum()), DRAWS)), len(cells.numbers), axis=0)
    even = np.arange(DRAWS) % 2 == 0
    right = np.where(
        even, _towards(level, fresh, off, cells.sd, stream), _towards(level, fresh, off, cells.doubted, stream)
    )
    miss = off - np.einsum("ckgd,cgd->ckd", level, right)
    sides = [_apart(miss, sd) - _normal(off, _common(level, sd)) for sd in (cells.sd, cells.doubted)]
    nats = scale_nats - rest_nats - np.logaddexp(*sides) + np.log(2.0)
    mine[:, gains] = right
    drawn[cells.felt] = mine.transpose(1, 0, 2) * scale[cells.felt][:, None, :]
    return drawn, nats, before


def _common(tall: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Covariance (cell, draw, reading, reading) of the answers, given slopes (cell, reading, latent, draw)."""
    return np.einsum("ckld,cmld->cdkm", tall, tall) + (sd**2)[:, None, :, None] * np.eye(sd.shape[1])


def _towards(
    tall: np.ndarray, number: np.ndarray, off: np.ndarray, sd: np.ndarray, stream: np.random.Generator
) -> np.ndarray:
    """Draws (cell, latent, draw) from the prior corrected to draws given the answers (Matheron's rule).

    off (cell, reading, draw): answers as seen from nought; the noise is the same in every cell.
    """
    noise = sd[:, :, None] * stream.standard_normal((1, sd.shape[1], tall.shape[3]))
    miss = off - np.einsum("ckld,cld->ckd", tall, number) + noise
    pull = np.linalg.solve(_common(tall, sd), miss.transpose(0, 2, 1)[..., None])[..., 0]
    return np.asarray(number + np.einsum("ckld,cdk->cld", tall, pull))


def _tilt(cells: Cells, tall: np.ndarray, mine: np.ndarray, gains: np.ndarray) -> np.ndarray:
    """Log of proposal over prior (cell, draw) of all latents but the gains, which are sampled anew."""
    rest = tall[:, :, ~gains]
    off = cells.off[:, :, None] - np.einsum("ckld,cld->ckd", rest, mine[:, ~gains])
    likely = _normal(off, _common(tall[:, :, gains], cells.sd))
    evidence = _normal(np.broadcast_to(cells.off[:, :, None], off.shape), _common(tall, cells.sd))
    return np.asarray(np.logaddexp(np.log(FITTED) + likely - evidence, np.log1p(-FITTED)))


def _normal(off: np.ndarray, common: np.ndarray) -> np.ndarray:
    """Log density (cell, draw) of off (cell, reading, draw) under covariance (cell, draw, reading, reading)."""
    root = np.linalg.cholesky(common)
    white = np.linalg.solve(root, off.transpose(0, 2, 1)[..., None])[..., 0]
    spread = np.sum(np.log(np.diagonal(root, axis1=2, axis2=3)), axis=2)
    return np.asarray(-0.5 * np.sum(white**2, axis=2) - spread - 0.9189385332046727 * off.shape[1])


def _apart(off: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """The same for errors that have nothing in common: sd (cell, reading)."""
    each = -0.5 * (off / sd[:, :, None]) ** 2 - np.log(sd)[:, :, None] - 0.9189385332046727
    return np.asarray(np.sum(each, axis=1))
