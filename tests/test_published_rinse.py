"""Rinsing by drain and refill against the extraction formula of the IUPAC Gold Book."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.rinse import best_split_residue, exchange_share, residue_after, residue_of

# (1 + r)^-n, Gold Book F02503 with a distribution ratio of 1 (Pure Appl. Chem. 65 (1993) 2373); mapping ours.
DILUTION = [
    (9.0, (0.1, 0.01, 0.001)),
    (4.0, (0.2, 0.04, 0.008)),
    (19.0, (0.05, 0.0025, 1.25e-4)),
]


@pytest.mark.parametrize(("ratio", "residues"), DILUTION)
def test_dilution_vectors(ratio: float, residues: tuple[float, ...]) -> None:
    for exchanges, residue in enumerate(residues, start=1):
        assert residue_after(ratio, exchanges) == pytest.approx(residue, rel=1e-9)
        assert residue_of([1.0 + ratio] * exchanges, 1.0) == pytest.approx(residue, rel=1e-9)


@pytest.mark.parametrize(("exchanges", "residue"), [(1, 4.76e-2), (2, 8.26e-3), (3, 2.22e-3), (4, 7.72e-4)])
def test_split_of_a_fixed_total(exchanges: int, residue: float) -> None:
    """20 times the carry-over, split into 1–4 exchanges (computed from the same formula)."""
    assert best_split_residue(20.0, 1.0, exchanges) == pytest.approx(residue, rel=1e-3)


def test_plating_practice() -> None:
    """1000:1 is where rinsing of plated parts starts (secondary source): three exchanges at r = 9 do it."""
    assert 1.0 / residue_after(9.0, 3) == pytest.approx(1000.0, rel=1e-9)


@given(fills_l=st.lists(st.floats(0.0, 20.0), min_size=1, max_size=6), left_l=st.floats(0.1, 2.0))
def test_no_split_beats_equal_parts(fills_l: list[float], left_l: float) -> None:
    residue = residue_of(np.array(fills_l) + left_l, left_l)
    assert best_split_residue(sum(fills_l), left_l, len(fills_l)) <= residue * (1.0 + 1e-9)


def test_arrays_and_no_exchange() -> None:
    np.testing.assert_allclose(residue_after(np.array([9.0, 4.0]), 2), [0.01, 0.04])
    np.testing.assert_allclose(exchange_share(np.array([10.0, 5.0]), 1.0), [0.1, 0.2])
    assert residue_after(9.0, 0) == 1.0
    assert residue_of([], 1.0) == 1.0
