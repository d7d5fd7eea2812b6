"""Many small systems at once give what each alone gives."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright.prediction.triangles import backward, forward, lower


@given(st.integers(1, 6), st.integers(1, 5), st.integers(0, 1000))
def test_a_triangle_times_itself_is_the_matrix_and_solves_it(rows: int, draws: int, seed: int) -> None:
    dice = np.random.default_rng(seed)
    slopes = dice.standard_normal((rows, rows + 2, draws))
    matrix = np.einsum("kld,mld->kmd", slopes, slopes) + 0.1 * np.eye(rows)[:, :, None]
    right = dice.standard_normal((rows, draws))
    root = lower(matrix)
    assert np.all(root[np.triu_indices(rows, 1)] == 0.0)
    assert np.einsum("kld,mld->kmd", root, root) == approx(matrix, rel=1e-9, abs=1e-9)
    answer = backward(root, forward(root, right))
    for n in range(draws):
        assert answer[:, n] == approx(np.linalg.solve(matrix[:, :, n], right[:, n]), rel=1e-6, abs=1e-6)
