"""The layers of a plan: labels tell the truth, hatches differ in black and white, arrows run downhill."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.drawings import pens
from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Line, Style, tight, width_mm
from gradework.drawings.page import MapWindow, Page, Scale
from gradework.drawings.plan.cutfill import (
    difference_points,
    draw_cut_and_fill,
    draw_differences,
    part_at_level,
    signed_difference,
)
from gradework.drawings.plan.ground import (
    PlanCanvas,
    decimals_for,
    draw_contours,
    draw_high_and_low,
    draw_spots,
    index_every,
)
from gradework.drawings.plan.outlines import centre_of, draw_level, draw_outline, draw_sides
from gradework.drawings.plan.water import draw_slope_arrows
from gradework.drawings.save import figure_bytes
from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.contours import site_shape, trace
from gradework.ground.levels import choose_interval, contour_levels
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations
from gradework.units.display import FEET, METRIC, Display


def surface_of(xyz: np.ndarray) -> Surface:
    count = len(xyz)
    names = [f"S{i + 1}" for i in range(count)]
    return build_surface(
        Stations(names, xyz, np.full(count, math.nan), np.zeros(count, dtype=np.int64), "yard.csv", "m")
    )


def hilly(side: int = 7, step: float = 2.0) -> np.ndarray:
    """A slope with a hollow and a rise on a grid of ``side`` by ``side`` shots."""
    x, y = (c.ravel() * step for c in np.meshgrid(np.arange(side), np.arange(side)))
    z = (
        50.0
        + 0.06 * x
        - 0.9 * np.exp(-((x - 4) ** 2 + (y - 4) ** 2) / 6)
        + 0.5 * np.exp(-((x - 9) ** 2 + (y - 8) ** 2) / 8)
    )
    return np.column_stack([x, y, z.round(3)])


def board_for(
    show: Display = METRIC, scale: float = 100.0, middle: tuple[float, float] = (6.0, 6.0)
) -> PlanCanvas:
    page = Page()
    return PlanCanvas.start(page, MapWindow(6, 90, 188, 245, middle, Scale(scale, f"1:{scale:.0f}")), show)


def lines_of(canvas: PlanCanvas, role: str = "") -> list[Line]:
    return [line for line in canvas.page.written if line.role.startswith(role)]


def apart(lines: Iterable[Line]) -> bool:
    boxes = [line.box for line in lines]
    return not any(overlap(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :])


def test_contour_labels_say_the_level_of_the_contour_they_stand_on() -> None:
    surface, canvas = surface_of(hilly()), board_for()
    interval = choose_interval(49.0, 51.0, METRIC)
    draw_contours(canvas, trace(surface, contour_levels(49.0, 51.0, METRIC)), interval, surface.stations.xyz)
    labels = lines_of(canvas, "contour ")
    assert len({line.text for line in labels}) >= 3
    for line in labels:
        level = float(line.role.split()[1])
        assert float(line.text) == pytest.approx(level, abs=1e-9)
        c, s = math.cos(math.radians(line.degrees)), math.sin(math.radians(line.degrees))
        middle = np.array([line.x, line.y]) + np.array([[c, -s], [s, c]]) @ [line.width / 2, line.height / 2]
        under = surface.elevation(canvas.window.to_site(middle[None]))[0]
        one_mm_of_slope = 0.5 * interval
        assert under == pytest.approx(level, abs=one_mm_of_slope)
        assert -90 < line.degrees <= 90


def test_every_heavy_contour_level_is_labelled_and_hollows_are_ticked() -> None:
    surface, canvas = surface_of(hilly()), board_for()
    levels = np.arange(49.2, 51.0, 0.1)
    draw_contours(canvas, trace(surface, levels), 0.1, surface.stations.xyz)
    labelled = {round(float(line.role.split()[1]), 6) for line in lines_of(canvas, "contour ")}
    heavy = {
        round(c.level, 6)
        for c in trace(surface, levels)
        if round(c.level / 0.1) % 5 == 0 and np.hypot(*np.diff(c.xy, axis=0).T).sum() > 2.5
    }
    assert heavy
    assert heavy <= labelled
    ticks = [c for c in canvas.page.axes.collections if c.get_gid() == "hollow ticks"]
    assert len(ticks) == 1
    for segment in ticks[0].get_segments():
        outer, inner = surface.elevation(canvas.window.to_site(np.asarray(segment)))
        assert inner < outer


@pytest.mark.parametrize(
    ("interval", "every", "decimals"),
    [
        (1.0, 5, 0),
        (0.5, 5, 1),
        (0.25, 4, 2),
        (0.2, 5, 1),
        (0.1, 5, 1),
        (2.0, 5, 0),
        (1 / 12, 6, 2),
        (1 / 6, 6, 2),
    ],
)
def test_heavy_contours_come_at_round_steps(interval: float, every: int, decimals: int) -> None:
    # every fifth, every fourth at quarter units: general map practice, no source
    assert index_every(interval) == every
    assert decimals_for(interval) == decimals


@pytest.mark.parametrize("show", [METRIC, FEET])
def test_the_decimal_point_marks_the_spot(show: Display) -> None:
    xyz, canvas = hilly(), board_for(show)
    assert draw_spots(canvas, xyz, [f"S{i}" for i in range(len(xyz))]) > 10
    page = canvas.window.to_page(xyz[:, :2])
    spots = lines_of(canvas, "spot")
    for line in spots:
        whole = line.text.partition(".")[0]
        point = line.x + width_mm(whole, 8) + width_mm(".", 8) / 2
        nearest = int(np.argmin(np.hypot(page[:, 0] - point, page[:, 1] - line.y)))
        assert (point, line.y) == pytest.approx(tuple(page[nearest]), abs=1e-6)
        assert line.text == show.elevation_number(xyz[nearest, 2])
    assert apart(spots)


def test_crowded_spots_are_thinned_and_none_overlap() -> None:
    xyz, canvas = hilly(40, 0.3), board_for()
    stood = draw_spots(canvas, xyz, [f"S{i}" for i in range(len(xyz))])
    assert 20 < stood <= len(xyz) / 4
    assert apart([*lines_of(canvas, "spot"), *lines_of(canvas, "station")][:stood])


def test_a_shot_without_room_for_its_elevation_has_a_dot_and_a_word() -> None:
    xyz, canvas = hilly(14, 0.9), board_for(middle=(6.0, 6.0))
    page = canvas.window.to_page(xyz[:, :2])
    canvas.label("A wide label in the middle", tuple(page[100]), Style(points=10))
    stood = draw_spots(canvas, xyz, [f"S{i}" for i in range(len(xyz))])
    assert 0 < stood < len(xyz)
    words = f"Shot whose elevation finds no room here ({len(xyz) - stood} of {len(xyz)}): stations.csv"
    assert canvas.entries[-1].words == words
    (dots,) = (line for line in canvas.page.axes.lines if line.get_gid() == "bare shots")
    at = np.column_stack(dots.get_data())
    assert len(at) > 0
    assert np.hypot(*(at[:, None] - page[None]).transpose(2, 0, 1)).min(axis=1).max() < 1e-9
    # a dot on or close to figures would be read as a decimal point
    boxes = np.array([line.box for line in canvas.page.written])
    near = (at[:, None] > boxes[None, :, :2] - 0.5) & (at[:, None] < boxes[None, :, 2:] + 0.5)
    assert not near.all(axis=2).any()


def test_where_all_spots_have_room_there_is_no_dot() -> None:
    xyz, canvas = hilly(4, 3.0), board_for()
    assert draw_spots(canvas, xyz, [f"S{i}" for i in range(len(xyz))]) == len(xyz)
    assert not any("no room" in entry.words for entry in canvas.entries)


def test_high_and_low_point_the_right_way() -> None:
    surface, canvas = surface_of(hilly()), board_for()
    shape = site_shape(surface)
    draw_high_and_low(canvas, shape)
    marks = {mark.get_gid(): mark.get_marker() for mark in canvas.page.axes.lines}
    assert marks == {"Highest shot": "^", "Lowest shot": "v"}
    assert (
        canvas.entries[0].words
        == f"Highest shot: {shape.high.station}, {tight(METRIC.elevation(shape.high.elevation))}"
    )


@given(st.lists(st.tuples(*[st.floats(-3, 3)] * 9), min_size=1, max_size=8), st.floats(-3, 3))
@settings(deadline=None, max_examples=60)
def test_cut_and_fill_parts_cover_each_triangle_once(rows: list[tuple[float, ...]], level: float) -> None:
    corners = np.array(rows).reshape(-1, 3, 3)

    def area(polygons: np.ndarray) -> float:
        x, y = polygons[..., 0], polygons[..., 1]
        nx, ny = np.roll(x, -1, axis=1), np.roll(y, -1, axis=1)
        return float(np.abs((x * ny - nx * y).sum(axis=1) / 2).sum())

    parts = part_at_level(corners, level)
    total = sum(area(p) for p in (*parts.cut, *parts.fill))
    assert total == pytest.approx(area(corners[:, :, :2]), abs=1e-9)


@pytest.mark.parametrize("level", [49.5, 50.0, 50.2, 52.0, 48.0])
def test_hatched_areas_are_those_of_the_volumes(level: float) -> None:
    surface = surface_of(hilly())
    pieces = clip(surface, Outline.rectangle((2.3, 2.1), (5.2, 4.4), 11))

    def area(polygons: tuple[np.ndarray, ...]) -> float:
        total = 0.0
        for p in polygons:
            x, y = p[..., 0], p[..., 1]
            total += float(
                np.abs((x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y).sum(axis=1) / 2).sum()
            )
        return total

    parts = part_at_level(pieces.corners, level)
    (exact,) = cut_and_fill(pieces, level)
    assert area(parts.cut) == pytest.approx(exact.cut_area, abs=1e-9)
    assert area(parts.fill) == pytest.approx(exact.fill_area, abs=1e-9)


def _one_bit(cut: bool) -> np.ndarray:
    """The pad all in cut, or all in fill, at 300 dpi in black and white; True is ink."""
    from PIL import Image

    canvas = board_for(scale=50.0, middle=(2.0, 2.0))
    flat = np.array([[[0, 0, 1.0], [4, 0, 1], [4, 4, 1]], [[0, 0, 1], [4, 4, 1], [0, 4, 1.0]]])
    draw_cut_and_fill(canvas, flat, 0.0 if cut else 2.0)
    picture = Image.open(io.BytesIO(figure_bytes(canvas.page.finish(), "png", dots_per_inch=300)))
    grey = np.asarray(picture.convert("L"))
    x, y = canvas.window.to_page(np.array([[0.3, 0.3], [3.7, 3.7]])).T
    per_mm, height = 300 / 25.4, grey.shape[0]
    rows = slice(int(height - y[1] * per_mm), int(height - y[0] * per_mm))
    return grey[rows, int(x[0] * per_mm) : int(x[1] * per_mm)] < 128


def test_cut_and_fill_differ_in_one_bit_black_and_white() -> None:
    cut, fill = _one_bit(True), _one_bit(False)
    for ink_on_paper in (cut, fill):
        assert 0.01 < ink_on_paper.mean() < 0.3  # a pattern, neither blank nor black
    # slashes are long: along the diagonal of a stroke the ink runs on, dots end after a few points

    def longest_run(picture: np.ndarray) -> int:
        best = 0
        for offset in range(-200, 200, 3):
            diagonal = np.diagonal(picture[::-1], offset).astype(int)
            changes = np.flatnonzero(np.diff(np.concatenate([[0], diagonal, [0]])))
            if len(changes):
                best = max(best, int((changes[1::2] - changes[::2]).max()))
        return best

    assert longest_run(cut) > 100
    assert longest_run(fill) < 20


def test_the_tints_are_light_enough_for_black_letters_and_told_apart_by_more_than_colour() -> None:
    for tint in (pens.CUT_TINT, pens.FILL_TINT):
        red, green, blue = (int(tint[i : i + 2], 16) for i in (1, 3, 5))
        assert 0.2126 * red + 0.7152 * green + 0.0722 * blue > 220
    assert set(pens.CUT_HATCH).isdisjoint(pens.FILL_HATCH)


def test_signed_numbers_are_the_ground_less_the_level() -> None:
    assert signed_difference(30.861, 30.8, FEET) == "C 0.20"
    assert signed_difference(30.8, 31.0, METRIC) == "F 0.200"
    assert signed_difference(30.8, 30.8, METRIC) == "0.000"
    surface, canvas = surface_of(hilly()), board_for(scale=50.0, middle=(5.0, 5.0))
    pad = Outline.rectangle((3, 3), (5, 4))
    points = difference_points(pad, np.array([[4.0, 4.0], [6.0, 6.0]]), canvas.window.scale)
    assert len(points) > 6
    assert pad.grown(1e-6).contains(points).all()
    level = 50.1
    ground = surface.elevation(points)
    stood = draw_differences(canvas, points, ground, level)
    texts = [line.text for line in lines_of(canvas, "difference")]
    assert len(texts) == stood >= 6
    assert set(texts) <= {signed_difference(z, level, METRIC) for z in ground}
    assert apart(lines_of(canvas, "difference"))


def test_no_cross_of_a_difference_strikes_lettering() -> None:
    canvas = board_for(scale=50.0, middle=(5.0, 5.0))
    at = canvas.window.to_page(np.array([[5.0, 5.0]]))[0]
    canvas.label("6' 0\"", (float(at[0]), float(at[1])), Style(points=8))
    x, y = (c.ravel() for c in np.meshgrid(np.arange(4.6, 5.5, 0.1), np.arange(4.6, 5.5, 0.1)))
    points = np.column_stack([x, y])
    assert draw_differences(canvas, points, np.full(len(points), 50.0), 50.3) > 3
    crosses = np.column_stack(canvas.page.axes.lines[0].get_data())
    for line in canvas.page.written:
        left, bottom, right, top = line.box
        inside = (crosses > [left - 0.4, bottom - 0.4]) & (crosses < [right + 0.4, top + 0.4])
        assert not inside.all(axis=1).any(), line.text


def test_differences_without_ground_are_passed_over() -> None:
    canvas = board_for()
    assert draw_differences(canvas, np.array([[6.0, 6.0]]), np.array([math.nan]), 50.0) == 0
    assert canvas.entries == []


def test_sides_are_written_once_each_length_and_inside() -> None:
    canvas = board_for(FEET, 96.0, (3.0, 2.0))
    studio = Outline.rectangle((0, 0), (16 * 0.3048, 12 * 0.3048), 20)
    draw_outline(canvas, studio.rings, "Building", width=pens.FOOTPRINT, dash=pens.SOLID)
    draw_sides(canvas, studio.rings[0])
    sides = lines_of(canvas, "side")
    assert sorted(line.text for line in sides) == ["12' 0\"", "16' 0\""]
    for line in sides:
        left, bottom, right, top = line.box
        middle = canvas.window.to_site(np.array([[(left + right) / 2, (bottom + top) / 2]]))
        assert studio.contains(middle)[0]


def test_the_level_is_always_written_on_two_lines_where_one_is_too_wide() -> None:
    for size, count in ((8.0, 1), (2.5, 2), (0.2, 2)):
        canvas = board_for(middle=(size / 2, size / 2))
        ring = Outline.rectangle((0, 0), (size, size)).rings[0]
        draw_level(canvas, [ring], ring, "Pad level", "49.099 m")
        assert len(lines_of(canvas, "level")) == count


def _crosses(box: tuple[float, float, float, float], rings: list[np.ndarray]) -> bool:
    """Whether a box and the lines of the rings meet, looked at point by point."""
    left, bottom, right, top = box
    for ring in rings:
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            x, y = (a + np.linspace(0, 1, 400)[:, None] * (b - a)).T
            if ((x > left) & (x < right) & (y > bottom) & (y < top)).any():
                return True
    return False


@pytest.mark.parametrize(
    ("outside", "hole"),
    [
        # a U whose middle lies in its court; one line across both arms would have its corners in them
        ([[0, 0], [9, 0], [9, 6], [6.5, 6], [6.5, 1.3], [2.5, 1.3], [2.5, 6], [0, 6]], None),
        ([[0, 0], [4.5, 0], [4.5, 3], [0, 3]], [[2, 1.3], [2, 1.7], [2.4, 1.7], [2.4, 1.3]]),
    ],
)
def test_the_level_stands_in_the_outline_or_beside_it_never_across(outside: list, hole: list | None) -> None:
    shape = Outline.polygon([outside] if hole is None else [outside, hole])
    middle = tuple((shape.rings[0].min(axis=0) + shape.rings[0].max(axis=0)) / 2)
    canvas = board_for(middle=middle)
    draw_level(canvas, shape.rings, shape.rings[0], "Pad level", "49.099 m")
    page = [canvas.window.to_page(ring) for ring in shape.rings]
    assert not any(_crosses(line.box, page) for line in lines_of(canvas, "level"))


def test_centre_of_an_l_shape_is_its_centre_of_area() -> None:
    far = np.array([1e6, 2e6])
    shape = np.array([[0, 0], [4, 0], [4, 1], [1, 1], [1, 3], [0, 3.0]]) + far
    assert centre_of(shape) - far == pytest.approx([(4 * 2 + 2 * 0.5) / 6, (4 * 0.5 + 2 * 2) / 6], abs=1e-6)


def test_slope_arrows_point_down_the_slope_and_say_how_much() -> None:
    x, y = (c.ravel() for c in np.meshgrid(np.arange(0.0, 15.0, 2.0), np.arange(0.0, 13.0, 2.0)))
    surface = surface_of(np.column_stack([x, y, 50 - 0.08 * x]))
    canvas = board_for()
    assert draw_slope_arrows(canvas, surface) > 5
    assert {line.text for line in lines_of(canvas, "slope")} == {"8 %"}
    shafts = next(c for c in canvas.page.axes.collections if c.get_gid() == "slope arrows")
    boxes = [line.box for line in lines_of(canvas, "slope")]
    for start, end in shafts.get_segments():
        assert end[0] - start[0] > 5.0
        assert end[1] == pytest.approx(start[1])
        middle = np.array([start[0] + 4.0, start[1]])  # half of an arrow of 8 mm
        beside = [(b[0] + b[2]) / 2 - middle[0] for b in boxes if abs((b[1] + b[3]) / 2 - middle[1]) < 3.0]
        assert min(np.abs(beside)) < 1e-6


def test_level_ground_has_no_slope_arrows() -> None:
    x, y = (c.ravel() for c in np.meshgrid(np.arange(0.0, 15.0, 2.0), np.arange(0.0, 13.0, 2.0)))
    canvas = board_for()
    assert draw_slope_arrows(canvas, surface_of(np.column_stack([x, y, np.full(len(x), 50.0)]))) == 0
    assert canvas.entries == []
