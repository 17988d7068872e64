"""What is said of the ground under an outline, on ground whose answers are known."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import HULL_STRIP, _sticks_out, describe_footprint, sides
from gradework.earthwork.outline import Outline
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]


def plane_shots(east: float, north: float, level: float = 30.0) -> list[tuple[float, float, float]]:
    return [(x, y, level + east * x + north * y) for x in range(0, 25, 4) for y in range(0, 25, 4)]


@pytest.mark.parametrize(
    ("east", "north", "downhill"),
    [(0.08, 0.0, 180.0), (-0.08, 0.0, 0.0), (0.0, 0.05, 270.0), (0.0, -0.05, 90.0), (-0.03, -0.03, 45.0)],
)
def test_a_plane_is_found_exactly(ground: Ground, east: float, north: float, downhill: float) -> None:
    found = describe_footprint(ground(plane_shots(east, north)), Outline.rectangle((5, 6), (7, 4), turn=20))
    for plane in (found.fitted, found.mean):
        assert (plane.east, plane.north) == pytest.approx((east, north), abs=1e-12)
    assert found.slope == pytest.approx(math.hypot(east, north), abs=1e-12)
    assert found.mean_steepness == pytest.approx(found.slope)
    assert found.downhill_degrees == pytest.approx(downhill, abs=1e-6)
    assert 0.0 <= found.downhill_degrees < 360.0
    assert found.area == pytest.approx(28.0)


def test_level_ground_has_no_direction(ground: Ground) -> None:
    found = describe_footprint(ground(plane_shots(0.0, 0.0)), Outline.rectangle((5, 6), (7, 4)))
    assert found.slope < 1e-15
    assert math.isnan(found.downhill_degrees)
    assert found.fall == 0.0


def test_falls_along_sides_and_diagonals(ground: Ground) -> None:
    found = describe_footprint(ground(plane_shots(-0.1, 0.02)), Outline.rectangle((4, 4), (10, 5)))
    assert [round(side.fall, 12) for side in found.sides] == [1.0, -0.1, -1.0, 0.1]
    assert [(line.start, line.end, round(line.fall, 12)) for line in found.diagonals] == [
        ("corner 1", "corner 3", 0.9),
        ("corner 2", "corner 4", -1.1),
    ]
    assert found.diagonals[0].length == pytest.approx(math.hypot(10, 5))
    assert (found.high_at.x, found.high_at.y) == (4.0, 9.0)
    assert (found.low_at.x, found.low_at.y) == (14.0, 4.0)
    assert found.fall == pytest.approx(1.1)


def test_a_summit_inside_is_the_highest(ground: Ground) -> None:
    shots = [(x, y, 5.0 if (x, y) == (8, 8) else 1.0) for x in range(0, 17, 4) for y in range(0, 17, 4)]
    found = describe_footprint(ground(shots), Outline.rectangle((5, 5), (5, 6)))
    assert (found.high, found.high_at.x, found.high_at.y) == (5.0, 8.0, 8.0)


def test_a_bump_inside_leaves_the_mean_gradient(ground: Ground) -> None:
    shots = plane_shots(0.05, -0.02)
    bumpy = [(x, y, z + (0.8 if (x, y) == (12, 8) else 0.0)) for x, y, z in shots]
    found = describe_footprint(ground(bumpy), Outline.rectangle((0, 0), (24, 24)))
    assert (found.mean.east, found.mean.north) == pytest.approx((0.05, -0.02), abs=1e-12)
    assert found.fitted.north != pytest.approx(-0.02, abs=1e-3)
    assert found.mean_steepness > found.mean.slope


def test_fitted_plane_is_that_of_a_dense_sample(ground: Ground) -> None:
    rng = np.random.default_rng(4)
    shots = np.column_stack((rng.random((40, 2)) * 20, rng.random(40)))
    surface, outline = ground(shots), Outline.rectangle((6, 6), (7, 6))
    x, y = (
        a.ravel()
        for a in np.meshgrid(6 + (np.arange(400) + 0.5) * 7 / 400, 6 + (np.arange(400) + 0.5) * 6 / 400)
    )
    z = surface.elevation(np.column_stack((x, y)))
    (east, north, _), *_ = np.linalg.lstsq(np.column_stack((x, y, np.ones_like(x))), z, rcond=None)
    found = describe_footprint(surface, outline)
    assert (found.fitted.east, found.fitted.north) == pytest.approx((east, north), abs=1e-5)


def test_the_ground_along_a_side_is_straight_between_triangle_edges(ground: Ground) -> None:
    rng = np.random.default_rng(6)
    shots = np.column_stack((rng.random((60, 2)) * 20, rng.random(60)))
    surface = ground(shots)
    outline = Outline.polygon([(5, 5), (14, 6), (13, 14), (9, 9), (5, 13)])
    for side in sides(outline, clip(surface, outline)):
        assert side.along[0] == 0.0
        assert (np.diff(side.along) > 0).all()
        assert side.length == pytest.approx(float(np.hypot(*(side.xy[1] - side.xy[0]))))
        part = np.linspace(0, 1, 57)
        xy = side.xy[0] + part[:, None] * (side.xy[1] - side.xy[0])
        np.testing.assert_allclose(
            np.interp(part * side.length, side.along, side.ground), surface.elevation(xy), atol=1e-9
        )


def test_sides_along_the_hull_and_a_hair_outside(ground: Ground) -> None:
    surface = ground(plane_shots(0.1, 0.0))
    outline = Outline.rectangle((-0.0008, 4), (8.0, 20.0009))
    found = sides(outline, clip(surface, outline))
    assert [round(side.fall, 3) for side in found] == [-0.8, 0.0, 0.8, 0.0]


@pytest.mark.parametrize("turn", [0.0, 0.1, 1.4, 2.95, 4.6, 6.1])
def test_corners_on_a_straight_side(ground: Ground, turn: float) -> None:
    # two sides on one line make no corner of their own in the pieces
    cosine, sine = math.cos(turn), math.sin(turn)
    corners = np.array([(-5.0, -4.0), (-1.3, -4.0), (3.1, -4.0), (3.1, 1.7), (3.1, 4.0), (-5.0, 4.0)])
    outline = Outline.polygon(corners @ np.array([[cosine, sine], [-sine, cosine]]) + 12.0)
    found = sides(outline, clip(ground(plane_shots(0.1, -0.05)), outline))
    assert len(found) == 6
    for side in found:
        for end, height in zip(side.xy, (side.ground[0], side.ground[-1]), strict=True):
            assert height == pytest.approx(30.0 + 0.1 * end[0] - 0.05 * end[1], abs=1e-9)


def test_a_corner_that_sticks_out_by_a_hair_has_the_ground_beside_it(ground: Ground) -> None:
    # a corner 0.01 mm outside a straight edge of the survey: it lacks 1e-10 m² of ground only
    outline = Outline.polygon([(10.0, -1e-5), (14.0, 4.0), (10.0, 8.0), (6.0, 4.0)])
    found = describe_footprint(ground(plane_shots(0.08, 0.0)), outline)
    assert found.sides[0].fall == pytest.approx(-0.32, abs=1e-4)


def test_a_sharp_outline_over_a_sharp_survey(ground: Ground) -> None:
    # half a millimetre aside of a wedge of 1 in 50, the tip lies 25 mm from the ground that both share
    shots = [(0.0, 0.0, 1.0), (10.0, 0.0, 2.0), (10.0, 0.2, 2.0)]
    outline = Outline.polygon([(0.0, -0.0005), (10.0, -0.0005), (10.0, 0.1995)])
    found = describe_footprint(ground(shots), outline)
    assert found.sides[0].fall == pytest.approx(-1.0, abs=0.01)


def test_corners_a_micrometre_apart_are_one(ground: Ground) -> None:
    outline = Outline.polygon([(5, 5), (9, 5), (9, 5 + 5e-7), (9, 8), (5, 8), (5, 5 + 1e-9)])
    assert outline.names == ("corner 1", "corner 2", "corner 4", "corner 5")
    assert len(describe_footprint(ground(plane_shots(0.08, 0.0)), outline).sides) == 4


@pytest.mark.parametrize("angle", [40.0, 90.0, 135.0])
def test_how_far_a_corner_sticks_out_is_more_for_a_sharp_one(angle: float) -> None:
    """Sides that lie d out meet d / sin(half the angle) off; what is allowed is d + 2 d / tan(half)."""
    turn = np.radians(angle)
    corner = np.array([7.0, -3.0])
    before, after = corner + np.array([2.0, 0.0]), corner + 5.0 * np.array([np.cos(turn), np.sin(turn)])
    far = _sticks_out(before, corner, after)
    assert far == pytest.approx(HULL_STRIP * (1.0 + 2.0 / np.tan(turn / 2)))
    assert far >= HULL_STRIP / np.sin(turn / 2)
