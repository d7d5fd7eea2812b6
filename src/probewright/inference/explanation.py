"""Which reading moved which suspect, in numbers that add up exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.inference.belief import Belief, total_nats


@dataclass(frozen=True)
class Weights:
    """prior + sum over readings of nats = posterior log odds, for every suspect.

    prior (suspect,) and posterior (suspect,) log odds; nats (reading, suspect).
    """

    prior: np.ndarray
    nats: np.ndarray
    posterior: np.ndarray


def log_odds(log_weight: np.ndarray, suspect_of: np.ndarray, count: int) -> np.ndarray:
    """(suspect,) log of its weight over the weight of all others."""
    top = np.max(log_weight)
    mine = np.bincount(suspect_of, np.exp(log_weight - top), count)
    others = np.append(0.0, np.cumsum(mine)[:-1]) + np.append(np.cumsum(mine[::-1])[-2::-1], 0.0)
    return np.log(np.maximum(mine, 1e-300)) - np.log(np.maximum(others, 1e-300))


def explain(belief: Belief) -> Weights:
    """Weight of reading k for suspect h: log p(y_k | earlier, h) - log p(y_k | earlier, not h).

    Readings in job order; all on the draws of this belief, so the sums close exactly.
    """
    count = len(belief.suspects)
    steps = [log_odds(belief.laws.log_prior, belief.suspect_of, count)]
    for taken in range(1, len(belief.readings) + 1):
        nats, _ = total_nats(belief.laws, belief.readings[:taken])
        steps.append(log_odds(belief.laws.log_prior + nats, belief.suspect_of, count))
    table = np.array(steps)
    # the sampled prior of a redrawn cell is its prior up to sampling error: say the exact one and
    # let the error stand with the first reading, so that what is shown still adds up
    exact = np.array([s.prior for s in belief.suspects])
    prior = np.log(exact) - np.log1p(-exact)
    nats = np.diff(table, axis=0)
    if len(nats):
        nats[0] += table[0] - prior
    return Weights(prior, nats, table[-1])
