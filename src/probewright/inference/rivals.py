"""What else could it be: strangers for unlisted faults that the readings leave beside the leading suspect.

A rare suspect stays improbable however well it fits, so that a chance of 0.97 for a listed fault may mean
no more than that it is listed. A rival is judged by the readings alone.
"""

from __future__ import annotations

import numpy as np

from probewright.inference.belief import Belief

# A suspect is outdone when the readings are so many times as probable under the leader: "strong" evidence
# (Kass and Raftery, J. Am. Stat. Assoc. 90, 1995, section 3.2).
OUTDONE = 20.0


def evidence(belief: Belief) -> np.ndarray:
    """(suspect,) log of the chance of all readings under each suspect, in nat, up to one constant for all."""
    before = np.array([suspect.prior for suspect in belief.suspects])
    return np.log(np.maximum(belief.probability, 1e-300)) - np.log(np.maximum(before, 1e-300))


def rivals(belief: Belief, leader: int) -> tuple[int, ...]:
    """Strangers that the readings do not set clearly behind this suspect, the best first."""
    if not any(suspect.stranger for suspect in belief.suspects):
        return ()
    said = evidence(belief)
    close = [n for n, one in enumerate(belief.suspects) if one.stranger and n != leader]
    close = [n for n in close if said[n] > said[leader] - np.log(OUTDONE)]
    return tuple(sorted(close, key=lambda n: -said[n]))
