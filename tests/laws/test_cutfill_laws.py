"""Laws of cut and fill on random yards: what must hold whatever the ground, the outline and the level."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import CutFill, cut_and_fill
from gradework.errors import InputError
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
Yard = tuple[np.ndarray, tuple[float, float, float, float, float], float]

SAME = 1e-9
"""Relative to cut plus fill: the agreement every run asserts of itself."""

LAWS = settings(deadline=None, max_examples=40)


@st.composite
def yards(draw: Any) -> Yard:
    """Shots to a tenth of a millimetre, a rectangle (x, y, along, across, turn) well inside, and a level."""
    seed = draw(st.integers(0, 2**32 - 1))
    count = draw(st.integers(5, 60))
    rng = np.random.default_rng(seed)
    plan = np.concatenate((rng.random((count, 2)) * 30, [(0, 0), (30, 0), (30, 30), (0, 30)]))
    relief = 10.0 ** draw(st.integers(-3, 1))
    shots = np.round(np.column_stack((plan, 50 + relief * rng.random(len(plan)))), 4)
    rectangle = (
        draw(st.floats(9, 14)),
        draw(st.floats(9, 14)),
        draw(st.floats(0.5, 6.0)),
        draw(st.floats(0.5, 6.0)),
        draw(st.floats(0, 360)),
    )
    return shots, rectangle, 50 + relief * draw(st.floats(-0.2, 1.2))


def outline_of(rectangle: tuple[float, float, float, float, float]) -> Outline:
    x, y, along, across, turn = rectangle
    return Outline.rectangle((x, y), (along, across), turn=turn)


def one(ground: Ground, shots: np.ndarray, outline: Outline, level: float) -> CutFill:
    [result] = cut_and_fill(clip(ground(shots), outline), level)
    return result


def agree(a: CutFill, b: CutFill, factor: float = 1.0) -> None:
    near = SAME * (a.cut + a.fill) * factor + 1e-10 * a.area * factor
    assert b.cut == pytest.approx(a.cut * factor, abs=near)
    assert b.fill == pytest.approx(a.fill * factor, abs=near)


@LAWS
@given(yard=yards(), part=st.floats(0.1, 0.9))
def test_an_outline_split_in_two_adds_up(ground: Ground, yard: Yard, part: float) -> None:
    shots, (x, y, along, across, turn), level = yard
    surface = ground(shots)
    whole = outline_of((x, y, along, across, turn))
    step = (whole.rings[0][1] - whole.rings[0][0]) * part
    first = Outline.rectangle((x, y), (along * part, across), turn=turn)
    second = Outline.rectangle((x + step[0], y + step[1]), (along * (1 - part), across), turn=turn)
    [total], [a], [b] = (cut_and_fill(clip(surface, outline), level) for outline in (whole, first, second))
    assert a.cut + b.cut == pytest.approx(total.cut, abs=SAME * (total.cut + total.fill) + 1e-11)
    assert a.fill + b.fill == pytest.approx(total.fill, abs=SAME * (total.cut + total.fill) + 1e-11)
    assert a.cut_area + b.cut_area == pytest.approx(total.cut_area, abs=1e-9 * total.area)
    assert a.doubt + b.doubt == pytest.approx(total.doubt, abs=1e-12)


@LAWS
@given(yard=yards(), rise=st.floats(-1, 1))
def test_net_falls_by_the_area_per_metre_of_level(ground: Ground, yard: Yard, rise: float) -> None:
    shots, rectangle, level = yard
    low, high = cut_and_fill(clip(ground(shots), outline_of(rectangle)), [level, level + rise])
    assert high.net - low.net == pytest.approx(-rise * low.area, abs=1e-9)


@LAWS
@given(yard=yards())
def test_cut_never_grows_and_fill_never_shrinks_with_the_level(ground: Ground, yard: Yard) -> None:
    shots, rectangle, level = yard
    results = cut_and_fill(clip(ground(shots), outline_of(rectangle)), np.linspace(level - 1, level + 1, 41))
    slack = 1e-12 * results[0].area
    assert (np.diff([result.cut for result in results]) <= slack).all()
    assert (np.diff([result.fill for result in results]) >= -slack).all()
    # both are convex in the level
    assert (np.diff([result.cut for result in results], 2) >= -10 * slack).all()
    assert (np.diff([result.fill for result in results], 2) >= -10 * slack).all()


@LAWS
@given(yard=yards(), seed=st.integers(0, 1000))
def test_the_order_of_the_rows_changes_nothing(ground: Ground, yard: Yard, seed: int) -> None:
    shots, rectangle, level = yard
    shuffled = np.random.default_rng(seed).permutation(shots)
    agree(
        one(ground, shots, outline_of(rectangle), level), one(ground, shuffled, outline_of(rectangle), level)
    )


@LAWS
@given(
    yard=yards(),
    by=st.tuples(st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6), st.integers(-500, 500)),
)
def test_shifting_everything_changes_nothing(ground: Ground, yard: Yard, by: tuple[int, int, int]) -> None:
    shots, (x, y, along, across, turn), level = yard
    before = one(ground, shots, outline_of((x, y, along, across, turn)), level)
    moved = outline_of((x + by[0], y + by[1], along, across, turn))
    after = one(ground, shots + np.array(by), moved, level + by[2])
    near = 1e-7 * before.area  # coordinates at a million metres hold 1e-10 m
    assert after.cut == pytest.approx(before.cut, abs=near)
    assert after.fill == pytest.approx(before.fill, abs=near)


@LAWS
@given(yard=yards(), quarters=st.integers(1, 3))
def test_a_quarter_turn_changes_nothing(ground: Ground, yard: Yard, quarters: int) -> None:
    shots, rectangle, level = yard
    outline = outline_of(rectangle)
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarters).T
    turned = np.column_stack((shots[:, :2] @ turn, shots[:, 2]))
    agree(
        one(ground, shots, outline, level),
        one(ground, turned, Outline.polygon(outline.rings[0] @ turn), level),
    )


@LAWS
@given(yard=yards())
def test_the_mirror_image_holds_the_same(ground: Ground, yard: Yard) -> None:
    shots, rectangle, level = yard
    outline = outline_of(rectangle)
    mirror = np.array([-1.0, 1.0])
    image = np.column_stack((shots[:, :2] * mirror, shots[:, 2]))
    agree(
        one(ground, shots, outline, level),
        one(ground, image, Outline.polygon(outline.rings[0] * mirror), level),
    )


@LAWS
@given(yard=yards())
def test_ground_upside_down_exchanges_cut_and_fill(ground: Ground, yard: Yard) -> None:
    shots, rectangle, level = yard
    up = one(ground, shots, outline_of(rectangle), level)
    down = one(ground, shots * np.array([1.0, 1.0, -1.0]), outline_of(rectangle), -level)
    near = SAME * (up.cut + up.fill) + 1e-10 * up.area
    assert (down.cut, down.fill) == pytest.approx((up.fill, up.cut), abs=near)


@LAWS
@given(yard=yards())
def test_twice_the_size_holds_eight_times_as_much(ground: Ground, yard: Yard) -> None:
    shots, rectangle, level = yard
    x, y, along, across, turn = rectangle
    double = outline_of((2 * x, 2 * y, 2 * along, 2 * across, turn))
    agree(one(ground, shots, outline_of(rectangle), level), one(ground, 2 * shots, double, 2 * level), 8.0)


@LAWS
@given(yard=yards())
def test_feet_and_metres_agree(ground: Ground, yard: Yard) -> None:
    shots, rectangle, level = yard
    x, y, along, across, turn = rectangle
    foot = 0.3048
    metres = outline_of((foot * x, foot * y, foot * along, foot * across, turn))
    small = one(ground, shots * foot, metres, level * foot)
    large = one(ground, shots, outline_of(rectangle), level)
    # the whole-number grid of the triangulation is another one, so ties may fall otherwise: allow the doubt
    near = foot**3 * (1e-8 * (large.cut + large.fill) + 1e-9 * large.area + large.doubt) + small.doubt
    assert small.cut == pytest.approx(large.cut * foot**3, abs=near)


@LAWS
@given(yard=yards(), pick=st.integers(0, 10**6), weights=st.tuples(*[st.floats(0.2, 0.6)] * 3))
def test_a_shot_on_a_triangles_plane_changes_nothing(
    ground: Ground, yard: Yard, pick: int, weights: tuple[float, float, float]
) -> None:
    shots, rectangle, level = yard
    surface = ground(shots)
    number = pick % len(surface.triangles)
    a, b, c = surface.triangles[number]
    extra, new = np.array(weights) / sum(weights) @ surface.vertices[[a, b, c]], len(surface.vertices)
    others = np.delete(surface.triangles, number, axis=0)
    assume(number not in surface.folds.triangles)
    # the triangle itself is replaced by three: a new triangulation might join the neighbours otherwise
    split = replace(
        surface,
        vertices=np.vstack((surface.vertices, extra)),
        triangles=np.vstack((others, [(a, b, new), (b, c, new), (c, a, new)])),
        folds=replace(surface.folds, centres=surface.folds.centres[:0]),
    )
    outline = outline_of(rectangle)
    [before], [after] = (cut_and_fill(clip(land, outline), level) for land in (surface, split))
    near = SAME * (before.cut + before.fill) + 1e-11
    assert (after.cut, after.fill) == pytest.approx((before.cut, before.fill), abs=near)


@LAWS
@given(
    slope=st.tuples(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3)),
    level=st.floats(-3, 3),
    turn=st.floats(0, 360),
)
def test_a_plane_gives_the_closed_form(
    ground: Ground, slope: tuple[float, float], level: float, turn: float
) -> None:
    """Over a rectangle the plane's cut is a second difference of cubes of its heights at the corners."""
    marks = np.arange(0.0, 31.0, 6.0).tolist()
    surface = ground([(x, y, slope[0] * (x - 15) + slope[1] * (y - 15)) for x in marks for y in marks])
    outline = Outline.rectangle((15, 15), (5, 4), turn=turn)
    ring = outline.rings[0]
    height = (ring - 15) @ np.array(slope) - level
    along, across = height[1] - height[0], height[3] - height[0]
    assume(min(abs(along), abs(across)) > 1e-2)
    cubes = [max(h, 0.0) ** 3 for h in (height[2], height[1], height[3], height[0])]
    exact = 20.0 * (cubes[0] - cubes[1] - cubes[2] + cubes[3]) / (6 * along * across)
    [result] = cut_and_fill(clip(surface, outline), level)
    assert result.cut == pytest.approx(exact, abs=1e-8)


@LAWS
@given(yard=yards(), away=st.floats(40, 1e5))
def test_no_ground_no_volume_but_an_error(ground: Ground, yard: Yard, away: float) -> None:
    shots, (x, y, along, across, turn), _ = yard
    with pytest.raises(InputError, match="outline-far-from-survey"):
        clip(ground(shots), outline_of((x + away, y, along, across, turn)))


@LAWS
@given(yard=yards(), cells=st.integers(60, 120))
def test_a_dense_sample_lies_within_its_own_bound(ground: Ground, yard: Yard, cells: int) -> None:
    """Middles of n x n cells: in a cell no depth is off by more than the slope times half its diagonal."""
    shots, rectangle, level = yard
    outline, surface = outline_of(rectangle), ground(shots)
    pieces = clip(surface, outline)
    [exact] = cut_and_fill(pieces, level)
    ring = outline.rings[0]
    u, v = (a.ravel() for a in np.meshgrid(*[(np.arange(cells) + 0.5) / cells] * 2))
    points = ring[0] + u[:, None] * (ring[1] - ring[0]) + v[:, None] * (ring[3] - ring[0])
    depth = surface.elevation(points) - level
    steepest = float(np.nanmax(surface.triangle_slopes[pieces.source]))
    bound = steepest * 0.5 * float(np.hypot(*rectangle[2:4])) / cells * exact.area * (1 + 1e-9) + 1e-9
    assert abs(np.maximum(depth, 0).mean() * exact.area - exact.cut) <= bound
    assert abs(np.maximum(-depth, 0).mean() * exact.area - exact.fill) <= bound


SIDES = st.floats(0.5, 40)


@LAWS
@given(width=SIDES, depth=SIDES, height=st.floats(0.01, 10), part=st.floats(0.0, 1.0))
def test_a_pyramid_gives_the_closed_form(
    ground: Ground, width: float, depth: float, height: float, part: float
) -> None:
    shots = [(0, 0, 7), (width, 0, 7), (width, depth, 7), (0, depth, 7), (width / 2, depth / 2, 7 + height)]
    result = one(ground, np.array(shots), Outline.rectangle((0, 0), (width, depth)), 7 + part * height)
    whole = width * depth * height / 3
    near = 1e-9 * whole + 1e-12 * width * depth
    assert result.cut == pytest.approx(whole * (1 - part) ** 3, abs=near)
    assert result.fill == pytest.approx(
        whole * (1 - part) ** 3 - whole + part * height * width * depth, abs=near
    )


@LAWS
@given(width=SIDES, depth=SIDES, height=st.floats(0.01, 10), level=st.floats(-0.5, 1.5))
def test_a_prism_gives_the_closed_form(
    ground: Ground, width: float, depth: float, height: float, level: float
) -> None:
    """A roof: two planes that meet in a ridge along the middle; its cross-section is a triangle."""
    middle = width / 2
    shots = [(x, y, 7 + z) for x, z in ((0, 0), (middle, height), (width, 0)) for y in (0, depth)]
    result = one(ground, np.array(shots), Outline.rectangle((0, 0), (width, depth)), 7 + level * height)
    above = min(max(1 - level, 0.0), 1.0)
    section = width * height * (above**2 / 2 if level > 0 else 0.5 - level)
    assert result.cut == pytest.approx(section * depth, abs=1e-9 * width * height * depth)
