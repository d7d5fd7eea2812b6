"""Many small symmetric systems at once: Cholesky's triangle, the matrix as the last axis."""

from __future__ import annotations

import numpy as np

ROUNDING = float(np.finfo(float).eps)  # share of a number that a double cannot tell from nought


def lower(matrix: np.ndarray) -> np.ndarray:
    """Lower triangles (row, column, draw) whose products with themselves are these matrices (row, column, draw).

    The matrices are taken to be positive definite; what rounding leaves of a pivot is never less than its share.
    """
    root = np.zeros_like(matrix)
    for row in range(len(matrix)):
        for column in range(row):
            left = matrix[row, column] - np.sum(root[row, :column] * root[column, :column], axis=0)
            root[row, column] = left / root[column, column]
        left = matrix[row, row] - np.sum(root[row, :row] ** 2, axis=0)
        root[row, row] = np.sqrt(np.maximum(left, ROUNDING * matrix[row, row]))
    return root


def forward(root: np.ndarray, right: np.ndarray) -> np.ndarray:
    """What a lower triangle (row, column, draw) takes to `right` (row, draw)."""
    found = np.empty_like(right)
    for row in range(len(root)):
        found[row] = (right[row] - np.sum(root[row, :row] * found[:row], axis=0)) / root[row, row]
    return found


def backward(root: np.ndarray, right: np.ndarray) -> np.ndarray:
    """What the triangle turned over takes to `right` (row, draw)."""
    found = np.empty_like(right)
    for row in reversed(range(len(root))):
        found[row] = (right[row] - np.sum(root[row + 1 :, row] * found[row + 1 :], axis=0)) / root[row, row]
    return found
