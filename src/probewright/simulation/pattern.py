"""The order of elimination, worked out once for a sparsity pattern.

A purely nodal matrix keeps its pattern whatever the values, so the list of scalar operations of
Gauss's elimination can be written down once and run with each scalar a vector over variants.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np


class Step(NamedTuple):
    """One pivot: its node and slot; (column, slot) to its right; (row, slot, targets) below it.

    targets: (slot to change, slot of the pivot's row) for every column to the right.
    """

    node: int
    pivot: int
    right: list[tuple[int, int]]
    below: list[tuple[int, int, list[tuple[int, int]]]]


class Order(NamedTuple):
    """The elimination of a pattern as tables of whole numbers.

    steps: node, pivot's slot, first and last row of `below`, of `across`; below: row, its slot, first and last row of
    `entries`; entries: slot changed, slot of the pivot's row; across: column, slot.
    """

    steps: np.ndarray
    below: np.ndarray
    entries: np.ndarray
    across: np.ndarray


@dataclass(frozen=True)
class Pattern:
    """Slots of a sparse matrix with its fill, and the elimination in minimum-degree order.

    slot: (row, column) -> index along the first axis of a value array (slot, variant);
    order: nodes in the order they are eliminated, all or all but those kept to the end; near: per step,
    the nodes still left that share an entry with it (rows below and columns to the right alike: the
    pattern is symmetric).
    """

    size: int
    slot: dict[tuple[int, int], int]
    order: tuple[int, ...]
    near: tuple[tuple[int, ...], ...]

    @cached_property
    def steps(self) -> list[Step]:
        """The elimination as slots, one step per pivot."""
        steps = []
        for node, near in zip(self.order, self.near, strict=True):
            right = [(column, self.slot[node, column]) for column in near]
            below = [(row, self.slot[row, node], [(self.slot[row, c], s) for c, s in right]) for row in near]
            steps.append(Step(node, self.slot[node, node], right, below))
        return steps

    @cached_property
    def tables(self) -> Order:
        """The same as tables of whole numbers."""
        steps: list[tuple[int, ...]] = []
        below: list[tuple[int, ...]] = []
        entries: list[tuple[int, ...]] = []
        across: list[tuple[int, ...]] = []
        for step in self.steps:
            ends = len(below), len(across)
            for row, slot, targets in step.below:
                below.append((row, slot, len(entries), len(entries) + len(targets)))
                entries += targets
            across += step.right
            steps.append((step.node, step.pivot, ends[0], len(below), ends[1], len(across)))
        wide = ((steps, 6), (below, 4), (entries, 2), (across, 2))
        return Order(*(np.array(one, np.int64).reshape(-1, columns) for one, columns in wide))


def find_pattern(size: int, pairs: Iterable[tuple[int, int]], kept: Collection[int] = ()) -> Pattern:
    """Pattern of a structurally symmetric matrix of this size with entries at these pairs.

    The node with fewest neighbours left goes first (Tinney and Walker, Proc. IEEE 55, 1967). kept: nodes that
    are not eliminated: the Schur complement is left in their entries.
    """
    neighbours: list[set[int]] = [set() for _ in range(size)]
    for a, b in pairs:
        if a != b:
            neighbours[a].add(b)
            neighbours[b].add(a)
    slot: dict[tuple[int, int], int] = {(node, node): node for node in range(size)}

    def enter(row: int, column: int) -> None:
        slot.setdefault((row, column), len(slot))

    for a in range(size):
        for b in sorted(neighbours[a]):
            enter(a, b)
    left = set(range(size)) - set(kept)
    order, nears = [], []
    while left:
        node = min(left, key=lambda n: (len(neighbours[n]), n))
        near = sorted(neighbours[node])
        for a in near:
            for b in near:
                if a != b:
                    neighbours[a].add(b)
                    enter(a, b)
            neighbours[a].discard(node)
        order.append(node)
        nears.append(tuple(near))
        left.discard(node)
    return Pattern(size, slot, tuple(order), tuple(nears))


def eliminate(pattern: Pattern, matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Factor in place and sweep the right-hand side forward; sign of the determinant.

    matrix (slot, variant) real or complex, overwritten by its factors; right (node, variant),
    overwritten by the swept side. Returns (variant,) sign of the product of the pivots, real
    matrices only (ones for complex).
    """
    width = matrix.shape[1]
    factor, product = np.empty(width, matrix.dtype), np.empty(width, matrix.dtype)
    sign = np.ones(width)
    real = not np.iscomplexobj(matrix)
    for node, pivot_slot, _, below in pattern.steps:
        pivot = matrix[pivot_slot]
        if real:
            np.copysign(sign, sign * pivot, out=sign)
        np.divide(1.0, pivot, out=pivot)  # the factor keeps the inverse of the pivot
        for row, row_slot, entries in below:
            np.multiply(matrix[row_slot], pivot, out=factor)
            matrix[row_slot] = factor
            for target, source in entries:
                np.multiply(factor, matrix[source], out=product)
                np.subtract(matrix[target], product, out=matrix[target])
            np.multiply(factor, right[node], out=product)
            np.subtract(right[row], product, out=right[row])
    return sign


def back_substitute(pattern: Pattern, factors: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Solve the upper triangle for a swept side, in place; right (node, variant) becomes the answer."""
    product = np.empty(factors.shape[1], factors.dtype)
    for node, pivot_slot, entries, _ in reversed(pattern.steps):
        for column, source in entries:
            np.multiply(factors[source], right[column], out=product)
            np.subtract(right[node], product, out=right[node])
        np.multiply(right[node], factors[pivot_slot], out=right[node])
    return right


def sweep(pattern: Pattern, factors: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Run a further right-hand side through kept factors: forward, then back; in place."""
    product = np.empty(factors.shape[1], factors.dtype)
    for node, _, _, below in pattern.steps:
        for row, row_slot, _ in below:
            np.multiply(factors[row_slot], right[node], out=product)
            np.subtract(right[row], product, out=right[row])
    return back_substitute(pattern, factors, right)


def selected_inverse(pattern: Pattern, factors: np.ndarray) -> np.ndarray:
    """Entries of the inverse wherever the pattern has a slot, from the kept factors.

    factors (slot, variant) as left by `eliminate`; the answer has the same shape. Takahashi's
    recurrence (Takahashi, Fagan, Chin, PICA 1973) needs only entries inside the pattern, because
    the nodes left beside a pivot all touch one another.
    """
    inverse = np.zeros_like(factors)
    product = np.empty(factors.shape[1], factors.dtype)
    for node, pivot, right, below in reversed(pattern.steps):
        scaled = [(column, factors[slot] * factors[pivot]) for column, slot in right]
        lower = [(row, factors[slot]) for row, slot, _ in below]
        for k, _ in right:
            across, down = inverse[pattern.slot[node, k]], inverse[pattern.slot[k, node]]
            for j, u in scaled:
                np.multiply(u, inverse[pattern.slot[j, k]], out=product)
                np.subtract(across, product, out=across)
            for j, low in lower:
                np.multiply(inverse[pattern.slot[k, j]], low, out=product)
                np.subtract(down, product, out=down)
        here = inverse[pattern.slot[node, node]]
        here[:] = factors[pivot]
        for j, u in scaled:
            np.multiply(u, inverse[pattern.slot[j, node]], out=product)
            np.subtract(here, product, out=here)
    return inverse
