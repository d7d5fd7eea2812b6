"""Traces as an oscilloscope wrote them to a file: the frozen value that everything else here takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Capture:
    """Traces of one sweep.

    seconds (time,), rising; volts (channel, time), NaN where the file has no figure; both are own copies, read-only.
    names (channel,): as the file has them, else "channel 1"; beyond (channel,): how many points the file says lie
    below and above what the screen shows, where volts then has the outermost figure that was shown; remarks: what was
    taken for granted, in words.
    """

    seconds: np.ndarray
    volts: np.ndarray
    names: tuple[str, ...]
    beyond: tuple[tuple[int, int], ...]
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("seconds", "volts"):
            own = np.array(getattr(self, name), float)
            own.flags.writeable = False
            object.__setattr__(self, name, own)

    def trace(self, channel: int) -> tuple[np.ndarray, np.ndarray]:
        """Seconds (time,) and volts (time,) of one channel, counted from 0, where it has figures."""
        there = np.isfinite(self.volts[channel])
        return self.seconds[there], self.volts[channel, there]
