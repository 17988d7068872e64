"""Error propagation: published answers (from memory) and a Monte Carlo second way."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.survey.propagation import area_error, product_error


def test_err_1_error_of_a_product():
    # Ghilani & Wolf, memory: (252.46 ± 0.053) × (605.08 ± 0.072) ft has ±36.9 ft²; recomputed 36.8625.
    area = 252.46 * 605.08
    assert area == pytest.approx(152_758.5, abs=0.05)
    assert product_error([252.46, 605.08], [0.053, 0.072]) == pytest.approx(36.9, abs=0.05)
    assert product_error([252.46, 605.08], [0.053, 0.072]) == pytest.approx(36.8625, abs=5e-5)


def test_err_2_volume_of_a_tank():
    # Ghilani, Adjustment Computations, memory: 12,000 ± 28 ft³; recomputed 28.3725.
    found = product_error([40.00, 20.00, 15.00], [0.05, 0.03, 0.02])
    assert found == pytest.approx(28, abs=0.5)
    assert found == pytest.approx(28.3725, abs=5e-5)


def test_err_3_area_of_an_outline():
    # Square of side a: a·√2·sd (derived); and a random outline by Monte Carlo.
    assert area_error([[0, 0], [10, 0], [10, 10], [0, 10]], 0.02) == pytest.approx(10 * np.sqrt(2) * 0.02)
    rng = np.random.default_rng(12)
    corners = np.array([[0, 0], [8, 1], [9, 6], [4, 9], [-1, 5]], dtype=float)
    drawn = corners + rng.normal(0, 0.02, (20_000, 5, 2))
    x, y = drawn[..., 0], drawn[..., 1]
    areas = 0.5 * (x * np.roll(y, -1, 1) - np.roll(x, -1, 1) * y).sum(axis=1)
    assert areas.std() == pytest.approx(area_error(corners, 0.02), rel=4 / np.sqrt(2 * 20_000))
