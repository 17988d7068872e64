"""Shapes of planes: which face counts where, where they bend, and where the ground passes through them."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.earthwork.grading.planes import (
    Highest,
    Lowest,
    Plane,
    bends,
    crossings_with,
    height_at,
    planes_of,
)

BOX = (0.0, 0.0, 10.0, 6.0)

ROOF = Lowest((Plane(0.5, 0.0, 0.0), Plane(-0.5, 0.0, 5.0)))
"""A ridge along x = 5, 2.5 high."""


def lengths(lines: np.ndarray) -> float:
    return float(np.hypot(*(lines[:, 1] - lines[:, 0]).T).sum())


def test_a_ridge_is_one_line_across_the_box() -> None:
    lines = bends(ROOF, BOX)
    assert lines[:, :, 0] == pytest.approx(5.0)
    assert lengths(lines) == pytest.approx(6.0)


def test_a_hipped_roof_bends_along_its_ridge_and_its_hips() -> None:
    """Sides 1 in 2 on four sides of 10 by 6: the ridge is 4 long, each hip 3 times the root of 2."""
    hips = (Plane(0.0, 0.5, 0.0), Plane(0.0, -0.5, 3.0))
    lines = bends(Lowest((*ROOF.parts, *hips)), BOX)
    assert lengths(lines) == pytest.approx(4.0 + 4.0 * 3.0 * np.sqrt(2.0))


def test_planes_that_never_count_bend_nothing() -> None:
    high = Plane(0.1, 0.1, 100.0)
    assert lengths(bends(Lowest((*ROOF.parts, high)), BOX)) == pytest.approx(6.0)
    assert len(bends(Plane(1.0, 0.0, 0.0), BOX)) == 0
    assert len(bends(Highest((Plane(0.1, 0.0, 1.0), Plane(0.1, 0.0, 2.0))), BOX)) == 0  # side by side


def test_each_plane_is_named_once() -> None:
    assert planes_of(Highest((ROOF, ROOF.parts[0]))) == ROOF.parts


def test_ground_passes_through_a_roof_in_a_line_on_each_side() -> None:
    """Level ground at 1.0 meets a roof of 1 in 2 at x = 2 and x = 8."""
    level = np.array([[(0.0, 0.0, 1.0), (10.0, 0.0, 1.0), (10.0, 6.0, 1.0)],
                      [(0.0, 0.0, 1.0), (10.0, 6.0, 1.0), (0.0, 6.0, 1.0)]])  # fmt: skip
    lines = crossings_with(ROOF, level)
    assert sorted(set(np.round(lines[:, :, 0].ravel(), 9))) == [2.0, 8.0]
    assert lengths(lines) == pytest.approx(12.0)


def test_ground_that_only_touches_is_not_cut() -> None:
    touching = np.array([[(0.0, 0.0, 0.0), (4.0, 0.0, 2.0), (4.0, 3.0, 3.0)]])  # on the plane along one side
    assert len(crossings_with(ROOF, touching)) == 0


def test_a_shape_is_as_high_as_its_faces() -> None:
    places = np.random.default_rng(3).random((50, 2)) * 10.0
    both = Highest((ROOF, Plane(0.0, 0.1, 0.4)))
    expected = np.maximum(np.minimum(0.5 * places[:, 0], 5.0 - 0.5 * places[:, 0]), 0.4 + 0.1 * places[:, 1])
    assert height_at(both, places) == pytest.approx(expected, abs=1e-12)
