"""Drawings of piers: true to scale, with the figures of the plan, words apart and on the page."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.page import choose_scale
from gradework.drawings.piers.details import draw_pier_details
from gradework.drawings.piers.elevation import PierSheet, SideView, draw_pier_rows, rows_of, spread_out
from gradework.drawings.save import figure_bytes
from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import PierLoads, PierPrices, PierSpec
from gradework.foundations.piers.units import BlockUnit
from gradework.ground.surface import Surface
from gradework.units.display import FEET, METRIC, Display

Ground = Callable[..., Surface]

SHED = Outline.rectangle((3.0, 2.0), (4.8, 3.6), 20.0)
TALL = 0.05  # [mm] what drawing in points may add


def ground_of(rise: float = -0.09) -> np.ndarray:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0.0, 11.0), np.arange(0.0, 10.0)))
    return np.column_stack([x, y, 30.0 + rise * x + 0.02 * y + 0.01 * np.sin(3 * x)])


def sheet(
    ground: Ground, *, show: Display = FEET, rise: float = -0.09, building: Outline = SHED, **spec: Any
) -> PierSheet:
    surface = ground(ground_of(rise))
    plan = design_piers(surface, building, PierSpec(**spec), PierPrices(), show)
    assert plan.top is not None or spec.get("top") is not None
    return PierSheet("Shed", "yard.csv", show, surface, building, plan)


def lines(figure: matplotlib.figure.Figure) -> list[Line]:
    return [
        line
        for artist in figure.axes[0].get_children()
        if isinstance(artist, Letters)
        for line in artist.lines
    ]


def said(figure: matplotlib.figure.Figure, role: str) -> list[str]:
    return [line.text for line in lines(figure) if line.role == role]


def solids(figure: matplotlib.figure.Figure) -> list[Any]:
    """The units drawn, as boxes left, bottom, right, top [mm], from the artists that have their level."""
    patches = [a for a in figure.axes[0].patches if a.get_zorder() == 5.0]
    return [p.get_path().get_extents().extents for p in patches]


CASES = [
    {},
    {"across": 2},
    {"layout": RowLayout(rows=3, spacing=1.2)},
    {
        "positions": (("North-west corner", 3.2, 2.6), ("B", 6.9, 4.0), ("C", 5.0, 4.6)),
        "loads": PierLoads(bearing=200.0),  # three piers for a whole shed
    },
]


@pytest.mark.parametrize("show", [FEET, METRIC], ids=["feet", "metres"])
@pytest.mark.parametrize("spec", CASES, ids=["rows", "double", "three rows", "given"])
def test_words_stand_apart_and_on_the_page(ground: Ground, spec: dict[str, Any], show: Display) -> None:
    drawn = sheet(ground, show=show, **spec)
    for figure in (*draw_pier_rows(drawn), *draw_pier_details(drawn)):
        wide, high = figure.get_size_inches() * 25.4
        boxes = [(line.text, line.box) for line in lines(figure)]
        assert len(boxes) > 20
        for text, box in boxes:
            assert box[0] >= 0.0, text
            assert box[1] >= 0.0, text
            assert box[2] <= wide, text
            assert box[3] <= high + 0.1, text
        for (one, a), (two, b) in combinations(boxes, 2):
            assert not overlap(a, b), (one, two)


@pytest.mark.parametrize("show", [FEET, METRIC], ids=["feet", "metres"])
@pytest.mark.parametrize("datum", [0.0, 1200.0, -30.5])
def test_the_word_of_a_level_stands_clear_of_its_figure(ground: Ground, show: Display, datum: float) -> None:
    surface = ground(ground_of() + np.array([0.0, 0.0, datum]))
    plan = design_piers(surface, SHED, PierSpec(), PierPrices(), show)
    drawn = PierSheet("Shed", "yard.csv", show, surface, SHED, plan)
    for figure in draw_pier_details(drawn):
        levels = [line for line in lines(figure) if line.role == "level"]
        words = [line for line in levels if line.text in ("top", "bed", "bottom")]
        figures = [line for line in levels if line not in words]
        assert len(words) == len(figures) > 0
        for word in words:
            beside = [one.x - word.x for one in figures if abs(one.y - word.y) < 0.5 and one.x > word.x]
            assert min(beside) - word.width >= 2.9, word


@pytest.mark.parametrize("show", [FEET, METRIC], ids=["feet", "metres"])
@pytest.mark.parametrize("thickness", [0.041275, 0.05, 0.0603])  # 1 5/8 in, 50 mm, 2 3/8 in
def test_thin_courses_taken_together_are_told_whole(ground: Ground, show: Display, thickness: float) -> None:
    paver = BlockUnit("paver", thickness, 0.4, 0.2, 9.0, 2.0)
    drawn = sheet(ground, show=show, units=(paver,))
    dimensions = [text for figure in draw_pier_details(drawn) for text in said(figure, "dimension")]
    assert any(text.endswith(f" x {show.depth(thickness)}") for text in dimensions), dimensions
    assert not any("..." in text for text in dimensions), dimensions


def test_units_are_drawn_to_scale_one_on_the_other(ground: Ground) -> None:
    drawn = sheet(ground, loads=PierLoads(bearing=300.0))
    assert {pier.across for pier in drawn.piers.piers} == {1}
    figures = draw_pier_details(drawn)
    assert {said(figure, "scale")[0] for figure in figures} == {"Scale 1 in = 2 ft (1/2 in = 1 ft)"}
    mm = 1000.0 / 24.0
    boxes = iter([box for figure in figures for box in solids(figure)])
    for pier in drawn.piers.piers:
        stack = [next(boxes) for _ in pier.laid]
        heights = [box[3] - box[1] for box in stack]
        assert heights == pytest.approx([unit.thickness * mm for unit in pier.laid], abs=1e-6)
        assert stack[-1][3] - stack[0][1] == pytest.approx(pier.height * mm, abs=1e-6)
        for below, above in pairwise(stack):
            assert above[1] == pytest.approx(below[3], abs=1e-9)


def test_a_double_pier_shows_two_units_side_by_side(ground: Ground) -> None:
    drawn = sheet(ground, across=2)
    boxes = [box for figure in draw_pier_details(drawn) for box in solids(figure)]
    assert len(boxes) == sum(len(pier.laid) for pier in drawn.piers.piers) * 2 == drawn.piers.units_total


def test_every_pier_has_its_panel_with_its_own_figures(ground: Ground) -> None:
    drawn = sheet(ground, layout=RowLayout(rows=3, spacing=1.2))
    figures = draw_pier_details(drawn)
    assert len(figures) > 1
    names = [text for figure in figures for text in said(figure, "pier")]
    assert names == [f"Pier {pier.name}" for pier in drawn.piers.piers]
    levels = [text for figure in figures for text in said(figure, "level")]
    for pier in drawn.piers.piers:
        for value in (pier.bottom, pier.bottom + pier.bed, pier.top):
            assert FEET.elevation_number(value) in levels
    dimensions = [text for figure in figures for text in said(figure, "dimension")]
    assert dimensions.count(FEET.depth(drawn.piers.piers[0].bed)) >= 1
    assert len(dimensions) == sum(1 + len(pier.laid) for pier in drawn.piers.piers)


def test_beams_are_as_long_as_the_building_above_their_row(ground: Ground) -> None:
    """An L of 6 m whose far leg is 3 m long: the far beam is half as long as the near one."""
    corner = Outline.polygon([(2, 1.5), (8, 1.5), (8, 3.5), (5, 3.5), (5, 6), (2, 6)])
    layout = RowLayout(rows=2, spacing=2.0, along="first side")
    drawn = sheet(ground, building=corner, layout=layout)
    beams = [p for figure in draw_pier_rows(drawn) for p in figure.axes[0].patches if p.get_gid() == "beam"]
    long, short = (float(beam.get_width()) for beam in beams)  # type: ignore[attr-defined]
    assert short == pytest.approx(0.5 * long, rel=1e-6)


def test_rows_follow_the_layout_and_their_tops_lie_on_one_line(ground: Ground) -> None:
    drawn = sheet(ground)
    rows = rows_of(drawn)
    assert [[pier.name for pier in row] for row in rows] == [
        [pier.name for pier in drawn.piers.piers if pier.row == number] for number in (1, 2, 3)
    ]
    for figure in draw_pier_rows(drawn):
        table = said(figure, "table")
        boxes = solids(figure)
        assert table
        tops = {round(box[3], 3) for box in boxes}
        assert len(tops) > 1
    headings = [text for figure in draw_pier_rows(drawn) for text in said(figure, "row")]
    assert headings == ["Row 1", "Row 2", "Row 3"]


def test_piers_given_one_by_one_fall_into_rows_by_their_place(ground: Ground) -> None:
    drawn = sheet(
        ground,
        positions=(("a", 4.0, 3.0), ("b", 6.0, 4.0), ("c", 5.0, 3.0 + np.tan(np.radians(20)))),
        loads=PierLoads(bearing=200.0),
    )
    assert [[pier.name for pier in row] for row in rows_of(drawn)] == [["a", "c"], ["b"]]


def test_no_piers_no_page(ground: Ground) -> None:
    drawn = sheet(ground, top=40.0)
    assert drawn.piers.top is None
    assert draw_pier_rows(drawn) == draw_pier_details(drawn) == []


def test_the_same_piers_give_the_same_bytes(ground: Ground) -> None:
    one, two = (draw_pier_rows(sheet(ground))[0] for _ in range(2))
    assert figure_bytes(one, "svg") == figure_bytes(two, "svg")


def test_a_side_view_turns_metres_into_millimetres() -> None:
    scale = choose_scale((4.0, 2.0), (90.0, 90.0), METRIC)
    view = SideView((100.0, 50.0), 2.0, 30.0, scale)
    assert scale.words == "1:50"
    assert view.to_page(np.array([[2.0, 30.0], [3.0, 29.0]])).tolist() == [[100.0, 50.0], [120.0, 30.0]]
    assert (view.x(2.5), view.y(30.5)) == (110.0, 60.0)


@given(st.lists(st.floats(-50, 50), max_size=8), st.floats(0.5, 10))
@settings(deadline=None, max_examples=60)
def test_labels_keep_their_order_and_their_gap(wanted: list[float], gap: float) -> None:
    places = spread_out(wanted, gap)
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    for low, high in pairwise(order):
        assert places[high] - places[low] >= gap - 1e-6
    assert sum(places) == pytest.approx(sum(wanted), abs=1e-6)


def test_labels_with_room_stay_where_they_are() -> None:
    assert spread_out([9.0, 1.0, 5.0], 3.0) == [9.0, 1.0, 5.0]
