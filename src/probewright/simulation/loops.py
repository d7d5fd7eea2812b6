"""Loops that are the same for every circuit, for numba; imported by `compiled` alone, where numba is installed."""

from __future__ import annotations

from numba import njit

WIDE = 64  # variants that go through the elimination side by side: their rows stay in the nearest cache


@njit(cache=True, error_model="numpy")
def gather(base, pushed, active, matrix, right, held):
    """The straight parts of the variants that are still active; the rows of ground, last, are left as they fall."""
    for c in range(len(active)):
        held[c] = False
    for row in range(base.shape[0]):
        for c in range(len(active)):
            matrix[row, c] = base[row, active[c]]
    for row in range(pushed.shape[0]):
        for c in range(len(active)):
            right[row, c] = pushed[row, active[c]]


@njit(cache=True, error_model="numpy")
def solve(steps, below, entries, across, matrix, right, width, sign):
    """`pattern.eliminate` and `pattern.back_substitute`, a few variants at a time; sign as there."""
    for begin in range(0, width, WIDE):
        end = min(begin + WIDE, width)
        for j in range(begin, end):
            sign[j] = 1.0
        for s in range(len(steps)):
            node, pivot = steps[s, 0], steps[s, 1]
            for j in range(begin, end):
                if matrix[pivot, j] < 0.0:
                    sign[j] = -sign[j]
                matrix[pivot, j] = 1.0 / matrix[pivot, j]
            for b in range(steps[s, 2], steps[s, 3]):
                row, slot = below[b, 0], below[b, 1]
                for j in range(begin, end):
                    matrix[slot, j] *= matrix[pivot, j]
                for e in range(below[b, 2], below[b, 3]):
                    target, origin = entries[e, 0], entries[e, 1]
                    for j in range(begin, end):
                        matrix[target, j] -= matrix[slot, j] * matrix[origin, j]
                for j in range(begin, end):
                    right[row, j] -= matrix[slot, j] * right[node, j]
        for s in range(len(steps) - 1, -1, -1):
            node, pivot = steps[s, 0], steps[s, 1]
            for a in range(steps[s, 4], steps[s, 5]):
                column, slot = across[a, 0], across[a, 1]
                for j in range(begin, end):
                    right[node, j] -= matrix[slot, j] * right[column, j]
            for j in range(begin, end):
                right[node, j] *= matrix[pivot, j]


@njit(cache=True, error_model="numpy")
def move(right, volts, active, held, closed, close, share):
    """The next volts of the active variants; those that stand still are closed, the others are moved to the front of
    `active`: how many. A figure that is no number never stands still."""
    nodes, left = volts.shape[0] - 1, 0
    for c in range(len(active)):
        j, moved, size, sound = active[c], 0.0, 0.0, True
        for n in range(nodes):
            value = right[n, c]
            moved = max(moved, abs(value - volts[n, j]))
            size = max(size, abs(value))
            sound = sound and value == value
            volts[n, j] = value
        if sound and not held[c] and moved <= close + share * size:
            closed[j] = True
        else:
            active[left] = j
            left += 1
    return left
