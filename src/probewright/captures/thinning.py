"""A long trace made short for a picture: nothing that sticks out is lost."""

from __future__ import annotations

import numpy as np

COLUMNS = 700  # chosen: as many as a picture on a laptop's page is wide, in dots


def thinned(seconds: np.ndarray, volts: np.ndarray, columns: int = COLUMNS) -> tuple[np.ndarray, np.ndarray]:
    """Seconds and volts (point,) of one trace (time,) with at most four points a column: first, lowest, highest, last.

    They stand in the order of time, so that a line through them covers what the whole line covers.
    """
    if len(seconds) <= 4 * columns:
        return seconds, volts
    edges = np.linspace(0, len(seconds), columns + 1).astype(int)
    kept = [
        sorted({begin, begin + int(np.argmin(part)), begin + int(np.argmax(part)), end - 1})
        for begin, end in zip(edges[:-1], edges[1:], strict=True)
        for part in (volts[begin:end],)
    ]
    chosen = np.array([one for column in kept for one in column])
    return seconds[chosen], volts[chosen]
