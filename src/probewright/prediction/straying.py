"""Latents that stray: the heavy tail of what has a tolerance, and how often a proposal lets it show."""

from __future__ import annotations

import numpy as np

from probewright.prediction.circuit_laws import Laws
from probewright.prediction.latents import STRAY_SHARE, STRAY_TIMES
from probewright.prediction.likelihood import normal_nats

LEANED = 0.03  # share of a reading's slope above which a latent counts as leaned on
KEEN_SHARE = 0.35  # chosen: how often such a latent strays in half of the draws


def keen_shares(heavy: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """(latent + 1,) how often a latent strays in the keen half of the draws, by what the readings
    lean on: a reading that only a stray part explains must be met."""
    influence = np.max(slopes**2 / np.maximum(np.sum(slopes**2, axis=1, keepdims=True), 1e-30), axis=0)
    return np.where(heavy, np.where(influence > LEANED, KEEN_SHARE, STRAY_SHARE), 0.0)


def stray_chance(z: np.ndarray) -> np.ndarray:
    """Chance that a straying latent of this value is one of the wide ones."""
    wide = np.log(STRAY_SHARE) + normal_nats(z, STRAY_TIMES)
    return np.exp(wide - np.logaddexp(wide, np.log1p(-STRAY_SHARE) + normal_nats(z, 1.0)))


def scales(
    stream: np.random.Generator, heavy: np.ndarray, keen: np.ndarray, draws: int
) -> tuple[np.ndarray, np.ndarray]:
    """Scale of every latent (latent + 1, draw), and log prior over proposal (draw,).

    A latent strays as often as it does in half of the draws, as often as keen (latent + 1,) says in
    the other half.
    """
    usual = np.where(heavy, STRAY_SHARE, 0.0)
    share = np.where(np.arange(draws) % 2 == 0, usual[:, None], keen[:, None])
    strays = stream.random((len(heavy), draws)) < share

    def nats(shares: np.ndarray) -> np.ndarray:
        own = shares[heavy, None]
        return np.sum(np.where(strays[heavy], np.log(own), np.log1p(-own)), axis=0)

    tilt = nats(usual) - np.logaddexp(nats(usual), nats(keen)) + np.log(2.0)
    return np.where(strays, STRAY_TIMES, 1.0), tilt


def heavy_of(laws: Laws) -> np.ndarray:
    """(latent + 1 + other,) bool: latents that stray; severities do not."""
    return np.append(laws.model.latents.heavy, np.zeros(1 + len(laws.others), bool))


def variance_of(laws: Laws) -> np.ndarray:
    """(latent + 1 + other,) prior variance of every latent."""
    return np.where(heavy_of(laws), 1.0 - STRAY_SHARE + STRAY_SHARE * STRAY_TIMES**2, 1.0)
