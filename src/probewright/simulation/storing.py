"""Branches that keep a charge or a flux: what they conduct at rest, for a signal and within a step in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from probewright.machine.kinds import Store


def admittance(store: Store, rate: Any) -> np.ndarray:
    """Y = 1 / (R + rate L + S / rate), (branch, branch, part, variant or 1), S.

    rate: j w for a signal; 2 / h or 1 / h in a step of h seconds, by the trapezoidal rule or backward Euler, a number
    or (variant,); nought at rest, where a branch with a charge conducts nothing.
    """
    count = len(store.ends)
    at_rest = np.ndim(rate) == 0 and rate == 0.0
    if at_rest and store.per_farad:
        return np.zeros((count, count, 1, 1))
    rows: list[list[Any]] = [[0.0] * count for _ in range(count)]
    for n, ohms in enumerate(store.ohms):
        rows[n][n] = ohms
        if store.per_farad:
            rows[n][n] = rows[n][n] + store.per_farad[n] / rate
        if store.henry and not at_rest:
            rows[n] = [one + rate * henry for one, henry in zip(rows[n], store.henry[n], strict=True)]
    if count == 1:
        return 1.0 / np.atleast_2d(rows[0][0])[None, None]
    flat = np.broadcast_arrays(*(np.atleast_2d(one) for row in rows for one in row))
    ohms = np.moveaxis(np.array(flat).reshape(count, count, *flat[0].shape), (0, 1), (-2, -1))
    return np.moveaxis(np.linalg.inv(ohms), (-2, -1), (0, 1))


def times(table: Sequence[Sequence[Any]] | np.ndarray, values: np.ndarray) -> np.ndarray:
    """Rows of a table times (branch, part, variant); the table's entries are (part, variant or 1)."""
    found = [sum(entry * values[column] for column, entry in enumerate(row)) for row in table]
    return np.stack(np.broadcast_arrays(*found))


@dataclass(frozen=True)
class Kept:
    """What the branches of a group keep, each (branch, part, variant).

    amps: I; charged: W in V; pushed: L dI/dt in V.
    """

    amps: np.ndarray
    charged: np.ndarray
    pushed: np.ndarray

    def take(self, chosen: np.ndarray) -> Kept:
        """What is kept in these variants."""
        return Kept(self.amps[..., chosen], self.charged[..., chosen], self.pushed[..., chosen])

    def put(self, chosen: np.ndarray, other: Kept) -> Kept:
        """The same with these variants replaced."""
        found = Kept(self.amps.copy(), self.charged.copy(), self.pushed.copy())
        for mine, theirs in ((found.amps, other.amps), (found.charged, other.charged), (found.pushed, other.pushed)):
            mine[..., chosen] = theirs
        return found


def at_rest(store: Store, across: np.ndarray) -> Kept:
    """What is kept where the circuit rests with these volts across the branches, (branch, part, variant)."""
    none = np.zeros_like(across)
    if store.per_farad:
        return Kept(none, across.copy(), none)
    return Kept(times(admittance(store, 0.0), across), none, none)


def _fields(store: Store, amps: np.ndarray) -> np.ndarray:
    """L I, V s."""
    return times(store.henry, amps) if store.henry else np.zeros_like(amps)


def _charges(store: Store, amps: np.ndarray) -> np.ndarray:
    """S I, V/s."""
    if not store.per_farad:
        return np.zeros_like(amps)
    return np.stack([one * amps[n] for n, one in enumerate(store.per_farad)])


def history(store: Store, kept: Kept, rate: Any, even: Any) -> np.ndarray:
    """Volts that what is kept adds across each branch in a step: I = Y (U + history).

    even: 1 where the step is trapezoidal (rate 2 / h), 0 where it is backward Euler (1 / h).
    """
    found = rate * _fields(store, kept.amps) - kept.charged
    return found + even * (kept.pushed - _charges(store, kept.amps) / rate)


def after(store: Store, kept: Kept, rate: Any, even: Any, amps: np.ndarray) -> Kept:
    """What is kept when a step ends with these amps, (branch, part, variant)."""
    return replace(
        kept,
        amps=amps,
        charged=kept.charged + _charges(store, amps + even * kept.amps) / rate,
        pushed=rate * _fields(store, amps - kept.amps) - even * kept.pushed,
    )
