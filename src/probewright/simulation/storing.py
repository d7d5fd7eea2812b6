"""Branches that keep a charge or a flux: what they conduct at rest, for a signal and within a step in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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
    rows = ohms_within(store, 0.0 if at_rest else rate)
    if count == 1:
        return 1.0 / np.atleast_2d(rows[0][0])[None, None]
    flat = np.broadcast_arrays(*(np.atleast_2d(one) for row in rows for one in row))
    ohms = np.moveaxis(np.array(flat).reshape(count, count, *flat[0].shape), (0, 1), (-2, -1))
    return np.moveaxis(np.linalg.inv(ohms), (-2, -1), (0, 1))


def ohms_within(store: Store, rate: Any) -> list[list[Any]]:
    """R + rate L + S / rate, ohm, a row of columns for each branch; at a rate of nought R alone."""
    at_rest = isinstance(rate, float) and rate == 0.0
    rows: list[list[Any]] = [[0.0] * len(store.ends) for _ in store.ends]
    for n, ohms in enumerate(store.ohms):
        rows[n][n] = ohms
        if store.per_farad and not at_rest:
            rows[n][n] = rows[n][n] + store.per_farad[n] / rate
        if store.henry and not at_rest:
            rows[n] = [one + rate * henry for one, henry in zip(rows[n], store.henry[n], strict=True)]
    return rows


def times(table: Sequence[Sequence[Any]] | np.ndarray, values: Sequence[Any] | np.ndarray) -> list[Any]:
    """Rows of a table times what each branch has; entries and values are (part, variant or 1)."""
    return [sum(entry * one for entry, one in zip(row, values, strict=True)) for row in table]


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
    return Kept(np.stack(times(admittance(store, 0.0), across)), none, none)


def _fields(store: Store, amps: Sequence[Any]) -> Sequence[Any]:
    """L I, V s, of each branch."""
    return times(store.henry, amps)


def _charges(store: Store, amps: Sequence[Any]) -> Sequence[Any]:
    """S I, V/s, of each branch."""
    return [each * one for each, one in zip(store.per_farad, amps, strict=True)]


def history(store: Store, kept: Any, rate: Any, even: Any) -> list[Any]:
    """Volts that what is kept adds across each branch in a step: I = Y (U + history).

    even: 1 where the step is trapezoidal (rate 2 / h), 0 where it is backward Euler (1 / h). kept: as `Kept`, or names
    in its place (`tape`).
    """
    found = [-one for one in kept.charged]
    if store.henry:
        fields = _fields(store, kept.amps)
        found = [one + rate * own + even * push for one, own, push in zip(found, fields, kept.pushed, strict=True)]
    if store.per_farad:
        charges = _charges(store, kept.amps)
        found = [one - even * own / rate for one, own in zip(found, charges, strict=True)]
    return found


def within(store: Store, siemens: Any, kept: Any, rate: Any, even: Any) -> list[Any]:
    """Amps of each branch in a step with no volts across any."""
    return times(siemens, history(store, kept, rate, even))


def after(
    store: Store, siemens: Any, kept: Any, rate: Any, even: Any, across: Sequence[Any] | np.ndarray
) -> tuple[Any, Any, Any]:
    """What is kept when a step ends with these volts across the branches: amps, charged and pushed of each."""
    push = history(store, kept, rate, even)
    amps = times(siemens, [one + more for one, more in zip(across, push, strict=True)])
    charged, pushed = list(kept.charged), list(kept.pushed)
    if store.per_farad:
        both = [one + even * before for one, before in zip(amps, kept.amps, strict=True)]
        charged = [one + own / rate for one, own in zip(charged, _charges(store, both), strict=True)]
    if store.henry:
        fields = _fields(store, [one - before for one, before in zip(amps, kept.amps, strict=True)])
        pushed = [rate * own - even * one for own, one in zip(fields, pushed, strict=True)]
    return amps, charged, pushed
