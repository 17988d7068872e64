"""Rows of piers: counts, spacing, names, areas carried, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.outline import Outline
from gradework.errors import InputError
from gradework.foundations.piers.layout import (
    RowLayout,
    areas_carried,
    building_frame,
    hole_outline,
    lay_out_given,
    lay_out_rows,
)

HUT = Outline.rectangle((10.0, 5.0), (6.0, 4.0))


def test_two_rows_of_four() -> None:
    places = lay_out_rows(HUT, RowLayout(rows=2, spacing=2.0, end_inset=0.3, side_inset=0.5))
    assert [p.name for p in places] == ["1-1", "1-2", "1-3", "1-4", "2-1", "2-2", "2-3", "2-4"]
    assert [p.x for p in places[:4]] == pytest.approx([10.3, 12.1, 13.9, 15.7])
    assert {round(p.y, 9) for p in places} == {5.5, 8.5}


def test_area_carried_is_half_of_each_gap() -> None:
    places = lay_out_rows(HUT, RowLayout(rows=2, spacing=2.0, end_inset=0.3, side_inset=0.5))
    # 6 x 4 m: 2 m of width each; along: 0.3 + 0.9 at the ends, 1.8 between.
    assert [p.tributary for p in places] == pytest.approx([2.4, 3.6, 3.6, 2.4] * 2)


def test_rows_run_along_the_longer_side() -> None:
    tall = Outline.rectangle((0.0, 0.0), (4.0, 6.0))
    places = lay_out_rows(tall, RowLayout(rows=2, spacing=10.0, end_inset=0.0, side_inset=0.5))
    assert [(round(p.x, 9), round(p.y, 9)) for p in places] == [
        (3.5, 0.0),
        (3.5, 6.0),
        (0.5, 0.0),
        (0.5, 6.0),
    ]
    first = lay_out_rows(tall, RowLayout(rows=1, spacing=10.0, end_inset=0.5, along="first side"))
    assert [(round(p.x, 9), round(p.y, 9)) for p in first] == [(0.5, 3.0), (3.5, 3.0)]


@settings(max_examples=40, deadline=None)
@given(
    st.floats(2.0, 20.0),
    st.floats(2.0, 20.0),
    st.floats(-180.0, 180.0),
    st.floats(1.0, 4.0),
    st.floats(1.0, 4.0),
)
def test_spacing_is_kept_and_areas_fill_the_building(
    long: float, wide: float, turn: float, spacing: float, row_spacing: float
) -> None:
    outline = Outline.rectangle((3.0, -7.0), (long, wide), turn)
    layout = RowLayout(row_spacing=row_spacing, spacing=spacing)
    places = lay_out_rows(outline, layout)
    frame = building_frame(outline, layout.along)
    local = frame.to_local(np.array([(p.x, p.y) for p in places]))
    along, across = (np.unique(np.round(local[:, k], 6)) for k in (0, 1))
    assert np.diff(along).max() <= spacing + 1e-6
    assert np.diff(across).max() <= row_spacing + 1e-6
    assert sum(p.tributary for p in places) == pytest.approx(long * wide, rel=1e-9)


def test_an_l_shaped_building_leaves_out_what_is_not_there() -> None:
    corner = Outline.polygon([(0, 0), (6, 0), (6, 3), (3, 3), (3, 6), (0, 6)])
    places = lay_out_rows(
        corner, RowLayout(rows=3, spacing=2.5, end_inset=0.5, side_inset=0.5, along="first side")
    )
    # Beams at y = 0.5, 3 and 5.5; the last is 3 m long, so its piers stand at x = 0.5 and 2.5.
    assert [p.name for p in places] == ["1-1", "1-2", "1-3", "2-1", "2-2", "2-3", "3-1", "3-2"]
    assert [p.x for p in places] == pytest.approx([0.5, 3.0, 5.5, 0.5, 3.0, 5.5, 0.5, 2.5])
    assert sum(p.tributary for p in places) == pytest.approx(27.0)


def test_each_piece_of_a_beam_keeps_its_insets() -> None:
    """A U: the far beam lies under both legs only, the wider and one too narrow for two piers."""
    legs = Outline.polygon([(0, 0), (8, 0), (8, 6), (7.2, 6), (7.2, 2), (3, 2), (3, 6), (0, 6)])
    layout = RowLayout(rows=2, spacing=2.5, end_inset=0.3, side_inset=0.5, along="first side")
    places = lay_out_rows(legs, layout)
    far = [(p.name, round(p.x, 9)) for p in places if p.row == 2]
    assert far == [("2-1", 0.3), ("2-2", 2.7), ("2-3", 7.6)]
    turned = lay_out_rows(Outline.polygon([(y, -x) for x, y in legs.rings[0]]), layout)
    assert [(p.name, round(-p.y, 9)) for p in turned if p.row == 2] == far


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 5.5), st.floats(0.5, 5.5), st.floats(0.0, 0.2), st.floats(0.8, 3.0))
def test_no_end_pier_of_an_l_is_farther_in_than_the_inset(
    x: float, y: float, inset: float, spacing: float
) -> None:
    corner = Outline.polygon([(0, 0), (6, 0), (6, y), (x, y), (x, 6), (0, 6)])
    layout = RowLayout(
        row_spacing=2.4, spacing=spacing, end_inset=inset, side_inset=inset, along="first side"
    )
    rows: dict[int, list[float]] = {}
    for place in lay_out_rows(corner, layout):
        rows.setdefault(place.row, []).append(place.x)
        ends = 6.0 if place.y <= y + 1e-6 else x
    for row, places in rows.items():
        v = next(p.y for p in lay_out_rows(corner, layout) if p.row == row)
        ends = 6.0 if v <= y + 1e-6 else x
        if len(places) > 1:
            assert (places[0], places[-1]) == pytest.approx((inset, ends - inset), abs=1e-5)
            assert np.diff(places).max() <= spacing + 1e-6
        else:
            assert places == pytest.approx([0.5 * ends], abs=1e-5)
            assert ends - 2 * inset < 0.61


def test_areas_leave_a_hole_of_the_building_out() -> None:
    ring = Outline.polygon([[(0, 0), (4, 0), (4, 4), (0, 4)], [(1, 1), (3, 1), (3, 3), (1, 3)]])
    areas = areas_carried(ring, np.array([(0.5, 0.5), (3.5, 0.5), (0.5, 3.5), (3.5, 3.5)]))
    assert areas == pytest.approx([3.0] * 4)


def test_holes_turn_with_the_building() -> None:
    outline = Outline.rectangle((0.0, 0.0), (6.0, 4.0), 30.0)
    (place, *_) = lay_out_rows(outline, RowLayout(row_spacing=2.4, spacing=1.8))
    hole = hole_outline(place, building_frame(outline), (0.4, 0.8))
    assert hole.area == pytest.approx(0.32)
    side = hole.rings[0][1] - hole.rings[0][0]
    assert np.degrees(np.arctan2(side[1], side[0])) == pytest.approx(30.0)


def test_given_places_that_line_up_have_rows_in_whatever_order() -> None:
    given = [("NW", 10.5, 8.5), ("NE", 15.5, 8.52), ("SE", 15.5, 5.5), ("SW", 10.5, 5.5)]
    places = lay_out_given(HUT, given)
    assert [(p.name, p.row, p.number) for p in places] == [
        ("NW", 2, 1), ("NE", 2, 2), ("SE", 1, 2), ("SW", 1, 1)
    ]  # fmt: skip
    across = lay_out_given(HUT, given, along="second side")
    assert [(p.name, p.row) for p in across] == [("NW", 2), ("NE", 1), ("SE", 1), ("SW", 2)]


def test_given_places_and_what_is_refused() -> None:
    places = lay_out_given(HUT, [("north", 11.0, 6.0), ("south", 15.0, 8.0)])
    assert [(p.name, p.row, p.number) for p in places] == [("north", 0, 1), ("south", 0, 2)]
    with pytest.raises(InputError) as refused:
        lay_out_given(HUT, [("a", 0.0, 0.0), ("a", 11.0, 6.0), ("b", 11.0, 6.0)])
    codes = [fault.code for fault in refused.value.faults]
    assert codes == ["pier-outside-building", "pier-name-twice", "piers-overlap"]


@pytest.mark.parametrize(
    "layout",
    [
        RowLayout(rows=0),
        RowLayout(spacing=0.0),
        RowLayout(row_spacing=float("nan")),
        RowLayout(end_inset=3.0),
        RowLayout(side_inset=-0.1),
        RowLayout(rows=2, spacing=0.001),
    ],
)
def test_impossible_rows_are_refused(layout: RowLayout) -> None:
    with pytest.raises(InputError, match="pier-rows-impossible"):
        lay_out_rows(HUT, layout)


def test_no_places_are_refused() -> None:
    with pytest.raises(InputError):
        lay_out_given(HUT, [])


@pytest.mark.parametrize("longer", [1e-9, -1e-9, 0.0])
def test_rows_of_a_square_run_along_its_first_side_whatever_is_rounded(longer: float) -> None:
    """A square that is turned comes out longer one way by what its corners are rounded."""
    side = 4.8768
    square = Outline.polygon(
        [(5.0, 5.0), (5.0 + side, 5.0), (5.0 + side, 5.0 + side + longer), (5.0, 5.0 + side + longer)]
    )
    assert building_frame(square).along.tolist() == [1.0, 0.0]
