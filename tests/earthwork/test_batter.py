"""Side slopes: known bodies, the daylight line, hollows beyond it, the end of the survey, hollow outlines."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.batter import batter_ground
from gradework.earthwork.outline import Outline
from gradework.earthwork.rings import ring_area
from gradework.errors import InputError
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
Height = Callable[[float, float], float]


def yard(height: Height, step: float = 2.0, size: float = 40.0) -> list[tuple[float, float, float]]:
    marks = np.arange(0.0, size + step / 2, step).tolist()
    return [(x, y, height(x, y)) for x in marks for y in marks]


def beyond(a: float, b: float, m: float, d: float) -> float:
    """Pit a b d + (a + b) m d² + 4/3 m² d³ (closed form) less the part straight under the pad."""
    return (a + b) * m * d**2 + 4.0 / 3.0 * m**2 * d**3


@pytest.mark.parametrize(("m", "rise"), [(2.0, 0.7), (1.5, 2.0), (0.5, 0.1), (3.0, -1.2)])
@pytest.mark.parametrize("turn", [0.0, 25.0])
def test_level_ground_gives_the_frustum_and_the_pit(
    ground: Ground, m: float, rise: float, turn: float
) -> None:
    a, b = 6.0, 4.0
    slopes = batter_ground(
        ground(yard(lambda _x, _y: 10.0)), Outline.rectangle((18, 16), (a, b), turn=turn), m
    ).slopes(10.0 + rise)
    volume, none = (slopes.fill, slopes.cut) if rise > 0 else (slopes.cut, slopes.fill)
    area = slopes.fill_area if rise > 0 else slopes.cut_area
    reach = m * abs(rise)
    assert volume == pytest.approx(beyond(a, b, m, abs(rise)), rel=1e-11)
    assert area == pytest.approx((a + 2 * reach) * (b + 2 * reach) - a * b, rel=1e-11)
    assert none == 0.0
    assert slopes.leaves == ()
    [ring] = slopes.daylight
    assert ring_area(ring) == pytest.approx((a + 2 * reach) * (b + 2 * reach), rel=1e-5)


def test_pit_of_the_handbook_formula(ground: Ground) -> None:
    # V = a b d + (a + b) m d² + 4/3 m² d³ with a 10, b 6, d 2, m 1.5: 240 (closed form); the box alone
    # holds 120
    slopes = batter_ground(
        ground(yard(lambda _x, _y: 0.0)), Outline.rectangle((14, 15), (10, 6)), 1.5
    ).slopes(-2.0)
    assert slopes.cut + 10 * 6 * 2 == pytest.approx(240.0, rel=1e-12)


def test_a_cone_round_a_pad_of_many_sides(ground: Ground) -> None:
    sides, radius, rise, m = 180, 3.0, 1.0, 2.0
    angle = np.arange(sides) * 2 * np.pi / sides
    outline = Outline.polygon(np.column_stack((20 + radius * np.cos(angle), 20 + radius * np.sin(angle))))
    slopes = batter_ground(ground(yard(lambda _x, _y: 0.0, step=10.0)), outline, m).slopes(rise)
    bottom = radius + m * rise
    cone = np.pi / 3 * rise * (radius**2 + radius * bottom + bottom**2) - np.pi * radius**2 * rise
    assert slopes.fill == pytest.approx(cone, rel=1e-3)


def test_sloping_ground_against_a_dense_sample(ground: Ground) -> None:
    surface = ground(yard(lambda x, y: 0.08 * x - 0.05 * y + 0.15 * np.sin(0.5 * x) * np.cos(0.4 * y)))
    outline, m, level = Outline.polygon([(15, 16), (22, 15), (24, 20), (19, 24), (14, 21)]), 2.0, 0.55
    slopes = batter_ground(surface, outline, m).slopes(level)
    step = 0.02
    x, y = (
        v.ravel() for v in np.meshgrid(np.arange(5, 35, step) + step / 2, np.arange(5, 35, step) + step / 2)
    )
    points = np.column_stack((x, y))
    ring = outline.rings[0]
    side = np.roll(ring, -1, axis=0) - ring
    normal = np.column_stack((side[:, 1], -side[:, 0])) / np.hypot(*side.T)[:, None]
    away = (points @ normal.T - (normal * ring).sum(axis=1)).max(axis=1)
    land = surface.elevation(points)
    out = away > 0
    fill = np.where(out, np.maximum(level - away / m - land, 0.0), 0.0)
    cut = np.where(out, np.maximum(land - level - away / m, 0.0), 0.0)
    assert slopes.fill == pytest.approx(fill.sum() * step**2, rel=2e-3)
    assert slopes.cut == pytest.approx(cut.sum() * step**2, rel=2e-3)
    assert slopes.fill_area == pytest.approx((fill > 0).sum() * step**2, rel=2e-3)
    assert slopes.cut_area == pytest.approx((cut > 0).sum() * step**2, rel=2e-3)
    [works] = slopes.daylight
    assert ring_area(works) == pytest.approx(outline.area + slopes.fill_area + slopes.cut_area, rel=1e-6)


def test_a_hollow_beyond_the_daylight_line_is_not_filled(ground: Ground) -> None:
    def land(x: float, _y: float) -> float:
        return -1.0 if 30 <= x <= 34 else 0.0

    flat = batter_ground(ground(yard(lambda _x, _y: 0.0)), Outline.rectangle((16, 16), (6, 5)), 2.0)
    dipped = batter_ground(ground(yard(land)), Outline.rectangle((16, 16), (6, 5)), 2.0)
    # at 0.4 m the slope meets the ground 0.8 m out; in the hollow 6 m farther it would be in the air again
    assert dipped.slopes(0.4).fill == pytest.approx(flat.slopes(0.4).fill, rel=1e-12)
    assert len(dipped.slopes(0.4).daylight) == 1
    # from 3.0 m on it comes over the brim (2 m · 3 = 6 m out) and the hollow is filled with it
    assert dipped.slopes(4.5).fill > flat.slopes(4.5).fill + 5.0


def test_a_slope_that_leaves_the_survey_says_where_and_how_high(ground: Ground) -> None:
    surface = ground(yard(lambda x, _y: -0.1 * x, size=20.0))
    ground_level = batter_ground(surface, Outline.rectangle((13, 8), (4, 4)), 3.0)
    assert ground_level.slopes(-1.65).leaves == ()
    slopes = ground_level.slopes(-0.9)  # at x = 20, 3 m out, the slope stands at -1.9, the ground at -2.0
    worst = slopes.leaves[0]
    assert worst.way == "fill"
    assert worst.x == pytest.approx(20.0)
    assert worst.height == pytest.approx(0.1)
    cut = batter_ground(surface, Outline.rectangle((1, 8), (4, 4)), 3.0).slopes(-0.9).leaves[0]
    assert (cut.way, round(cut.x, 9)) == ("cut", 0.0)
    assert cut.height == pytest.approx(0.9 - 1.0 / 3.0)


def test_a_pad_on_the_edge_of_the_survey_has_no_room_for_slopes(ground: Ground) -> None:
    slopes = batter_ground(
        ground(yard(lambda _x, _y: 0.0, size=20.0)), Outline.rectangle((16, 8), (4, 4)), 2.0
    ).slopes(0.5)
    assert slopes.leaves[0].x == pytest.approx(20.0)
    assert slopes.leaves[0].height == pytest.approx(0.5)


def test_level_at_the_ground_needs_no_slopes(ground: Ground) -> None:
    slopes = batter_ground(ground(yard(lambda _x, _y: 1.25)), Outline.rectangle((16, 8), (4, 4)), 2.0).slopes(
        1.25
    )
    assert (slopes.cut, slopes.fill, slopes.cut_area, slopes.fill_area) == (0.0, 0.0, 0.0, 0.0)
    assert slopes.leaves == ()


def test_straight_corners_make_no_facets_of_their_own(ground: Ground) -> None:
    surface = ground(yard(lambda x, _y: 0.03 * x))
    plain = batter_ground(surface, Outline.rectangle((16, 16), (6, 4)), 2.0).slopes(1.0)
    split = batter_ground(
        surface, Outline.polygon([(16, 16), (19, 16), (22, 16), (22, 20), (16, 20)]), 2.0
    ).slopes(1.0)
    assert split.fill == pytest.approx(plain.fill, rel=1e-12)


EL = [(0.0, 0.0), (8.0, 0.0), (8.0, 4.0), (4.0, 4.0), (4.0, 8.0), (0.0, 8.0)]
TEE = [(0.0, 3.0), (3.0, 3.0), (3.0, 0.0), (6.0, 0.0), (6.0, 3.0), (9.0, 3.0), (9.0, 6.0), (0.0, 6.0)]


@pytest.mark.parametrize("shape", [EL, TEE])
@pytest.mark.parametrize(("m", "rise"), [(2.0, 0.6), (1.0, -0.9)])
def test_inward_corners_on_level_ground(
    ground: Ground, shape: list[tuple[float, float]], m: float, rise: float
) -> None:
    """A square corner takes r² of the ground r out, an inward one gives it back: A + P r + 4 r² in all."""
    turn = np.radians(25.0)
    about = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    outline = Outline.polygon((np.array(shape) - 4.0) @ about + 20.0)
    slopes = batter_ground(ground(yard(lambda _x, _y: 10.0)), outline, m).slopes(10.0 + rise)
    r, high = m * abs(rise), abs(rise)
    volume, area = (slopes.fill, slopes.fill_area) if rise > 0 else (slopes.cut, slopes.cut_area)
    assert area == pytest.approx(outline.perimeter * r + 4.0 * r**2, rel=1e-9)
    assert volume == pytest.approx(outline.perimeter * m * high**2 / 2 + 4.0 / 3.0 * m**2 * high**3, rel=1e-9)
    [ring] = slopes.daylight
    assert ring_area(ring) == pytest.approx(outline.area + area, rel=1e-7)
    assert len(ring) == len(shape)


def test_a_notch_that_the_slopes_fill(ground: Ground) -> None:
    """Slopes 3 m out close a notch 2 m wide: in it they meet in the middle, as deep as the notch is."""
    ring = [(0.0, 0.0), (8.0, 0.0), (8.0, 5.0), (5.0, 5.0), (5.0, 1.0), (3.0, 1.0), (3.0, 5.0), (0.0, 5.0)]
    outline = Outline.polygon(np.array(ring) + 15.0)
    slopes = batter_ground(ground(yard(lambda _x, _y: 0.0)), outline, 3.0).slopes(1.0)
    [outside] = slopes.daylight
    # a strip 3 m wide round 8 x 5; over the mouth, along edges of triangles, nothing stays bare
    assert ring_area(outside) == pytest.approx((8 + 6) * (5 + 6), rel=1e-9)
    assert slopes.fill_area == pytest.approx((8 + 6) * (5 + 6) - outline.area, rel=1e-9)


def test_a_yard_mirrored_or_raised_gets_the_same_slopes(ground: Ground) -> None:
    def land(x: float, y: float) -> float:
        return 0.06 * x - 0.04 * y + 0.2 * np.sin(0.7 * x) * np.cos(0.5 * y)

    places = np.array(EL) + 15.0
    plain = batter_ground(ground(yard(land)), Outline.polygon(places), 2.0).slopes(0.7)
    other = batter_ground(
        ground(yard(lambda x, y: land(40.0 - x, y))), Outline.polygon(places * [-1, 1] + [40, 0]), 2.0
    ).slopes(0.7)
    higher = batter_ground(
        ground(yard(lambda x, y: land(x, y) + 300.0)), Outline.polygon(places), 2.0
    ).slopes(300.7)
    assert min(plain.cut, plain.fill) > 0.005
    for one in (other, higher):
        for name in ("cut", "fill", "cut_area", "fill_area"):
            assert getattr(one, name) == pytest.approx(getattr(plain, name), rel=1e-9), name


HOLE = [(2.0, 2.0), (2.0, 4.0), (4.0, 4.0), (4.0, 2.0)]
POINTED = [(0, 0), (9, 0), (9, 6), (7, 6), (7, 1), (2, 1), (2, 2), (5, 3), (2, 4), (2, 6), (0, 6)]
"""The corner at (5, 3) points at the wall opposite."""


@pytest.mark.parametrize("rings", [[[(0, 0), (8, 0), (8, 8), (0, 8)], HOLE], [POINTED]])
def test_slopes_in_a_hole_or_of_a_corner_that_points_at_the_pad_are_refused(
    ground: Ground, rings: list[list[tuple[float, float]]]
) -> None:
    outline = Outline.polygon([np.array(ring, dtype=float) + 12.0 for ring in rings])
    with pytest.raises(InputError, match="side slopes"):
        batter_ground(ground(yard(lambda _x, _y: 0.0)), outline, 2.0)


@pytest.mark.parametrize("batter", [0.0, -1.0, float("nan"), float("inf")])
def test_a_batter_is_above_zero(ground: Ground, batter: float) -> None:
    with pytest.raises(ValueError, match="batter"):
        batter_ground(ground(yard(lambda _x, _y: 0.0)), Outline.rectangle((10, 10), (4, 4)), batter)
