"""The closed form against fractions: every case of the level, equal and nearly equal heights."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from gradework.earthwork import volumes
from gradework.earthwork.volumes import prism_sums, split_depths

LAST_DIGITS = 1e-14
"""Relative; some 50 roundings of 1.1e-16."""


def exact_fill(a: float, b: float, c: float, level: float) -> Fraction:
    """The textbook form, in fractions: mean of max(0, level - ground) over heights a <= b <= c."""
    low, middle, high, at = map(Fraction, (a, b, c, level))
    if at <= low:
        return Fraction(0)
    mean = (low + middle + high) / 3
    if at >= high:
        return at - mean
    if at <= middle:
        return (at - low) ** 3 / (3 * (middle - low) * (high - low))
    return at - mean + (high - at) ** 3 / (3 * (high - low) * (high - middle))


def exact_share(a: float, b: float, c: float, level: float) -> Fraction:
    """The part of the triangle's area below the level, in fractions."""
    low, middle, high, at = map(Fraction, (a, b, c, level))
    if at <= low:
        return Fraction(0)
    if at >= high:
        return Fraction(1)
    if at <= middle:
        return (at - low) ** 2 / ((middle - low) * (high - low))
    return 1 - (high - at) ** 2 / ((high - low) * (high - middle))


def off(value: float, exact: Fraction) -> float:
    return abs(float((Fraction(value) - exact) / exact)) if exact else abs(value)


@pytest.mark.parametrize("base", [0.0, 1.0, 300.0, -2000.0])
@pytest.mark.parametrize(
    ("lower", "upper"), [(1e-12, 1.0), (1.0, 1e-12), (1e-9, 1e-9), (0.3, 0.5), (0.0, 1.0), (1.0, 0.0)]
)
@pytest.mark.parametrize("part", [1e-9, 1e-3, 0.3, 0.5, 0.999999, 1.0])
def test_split_depths_hold_all_digits(base: float, lower: float, upper: float, part: float) -> None:
    a, b, c = base, base + lower, base + lower + upper
    for level in (a + part * (b - a), b + part * (c - b)):
        if not a < level < c:
            continue
        cut, fill, in_cut, in_fill = (
            float(v[0]) for v in split_depths(*(np.array([value]) for value in (a, b, c, level)))
        )
        assert off(fill, exact_fill(a, b, c, level)) < LAST_DIGITS
        assert off(cut, exact_fill(-c, -b, -a, -level)) < LAST_DIGITS
        assert off(in_fill, exact_share(a, b, c, level)) < LAST_DIGITS
        assert off(in_cut, exact_share(-c, -b, -a, -level)) < LAST_DIGITS


def test_sums_against_fractions_at_many_levels() -> None:
    rng = np.random.default_rng(8)
    heights = np.sort(rng.random((40, 1)) + 10.0 ** rng.uniform(-10, 0, (40, 3)), axis=1)
    areas = rng.random(40)
    levels = np.concatenate((rng.uniform(-0.2, 2.2, 20), heights[:5].ravel()))
    got = prism_sums(heights, areas, levels)
    weights = [Fraction(area) for area in areas.tolist()]
    for number, level in enumerate(levels.tolist()):
        fill = sum(w * exact_fill(*row, level) for w, row in zip(weights, heights.tolist(), strict=True))
        cut = sum(
            w * exact_fill(*(-h for h in row[::-1]), -level)
            for w, row in zip(weights, heights.tolist(), strict=True)
        )
        share = sum(w * exact_share(*row, level) for w, row in zip(weights, heights.tolist(), strict=True))
        assert got.fill[number] == pytest.approx(float(fill), rel=1e-12, abs=1e-14)
        assert got.cut[number] == pytest.approx(float(cut), rel=1e-12, abs=1e-14)
        assert got.fill_area[number] == pytest.approx(float(share), rel=1e-12, abs=1e-14)
        assert got.cut_area[number] + got.fill_area[number] == pytest.approx(areas.sum(), rel=1e-13)


def test_blocks_do_not_change_the_sum(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(9)
    heights, areas = np.sort(rng.random((500, 3)), axis=1), rng.random(500)
    levels = np.linspace(0, 1, 7)
    whole = prism_sums(heights, areas, levels)
    monkeypatch.setattr(volumes, "BLOCK", 64)
    parts = prism_sums(heights, areas, levels)
    np.testing.assert_allclose(parts.fill, whole.fill, rtol=1e-13)
    np.testing.assert_allclose(parts.cut_area, whole.cut_area, rtol=1e-13)


def test_level_ground_is_all_fill_with_no_volume() -> None:
    got = prism_sums(np.full((2, 3), 5.0), np.array([1.0, 2.0]), np.array([5.0, 4.5]))
    assert got.fill.tolist() == [0.0, 0.0]
    assert got.cut.tolist() == [0.0, 1.5]
    assert got.fill_area.tolist() == [3.0, 0.0]
