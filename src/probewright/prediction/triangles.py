"""Many small symmetric systems at once: Cholesky's triangle, the matrix as the last axis."""

from __future__ import annotations

import numpy as np

ROUNDING = float(np.finfo(float).eps)  # share of a number that a double cannot tell from nought


def lower(matrix: np.ndarray) -> np.ndarray:
    """Lower triangles (row, column, draw) whose products with themselves are these matrices (row, column, draw).

    The matrices are taken to be positive definite; what rounding leaves of a pivot is never less than its share.
    """
    root = np.zeros_like(matrix)
    for column in range(len(matrix)):
        left = matrix[column:, column] - _products(root[column:, :column], root[column, :column])
        root[column, column] = np.sqrt(np.maximum(left[0], ROUNDING * matrix[column, column]))
        root[column + 1 :, column] = left[1:] / root[column, column]
    return root


def _products(rows: np.ndarray, row: np.ndarray) -> np.ndarray:
    """Products of rows (row, column, draw) with one row (column, draw): (row, draw). A column at a time is half the
    work of an entry at a time: fewer, longer sums."""
    return np.einsum("rcd,cd->rd", rows, row)


def forward(root: np.ndarray, right: np.ndarray) -> np.ndarray:
    """What a lower triangle (row, column, draw) takes to `right` (row, draw)."""
    found = np.empty_like(right)
    for row in range(len(root)):
        found[row] = (right[row] - np.einsum("cd,cd->d", root[row, :row], found[:row])) / root[row, row]
    return found


def backward(root: np.ndarray, right: np.ndarray) -> np.ndarray:
    """What the triangle turned over takes to `right` (row, draw)."""
    found = np.empty_like(right)
    for row in reversed(range(len(root))):
        found[row] = (right[row] - np.einsum("cd,cd->d", root[row + 1 :, row], found[row + 1 :])) / root[row, row]
    return found
