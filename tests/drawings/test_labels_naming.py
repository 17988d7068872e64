"""Names find a place beside, inside or on a leader; none covers another, a thing, or a leader."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.drawings.labels import (
    LEAST_POINTS,
    Box,
    Standing,
    Taken,
    box_around,
    crosses,
    overlap,
    place_names,
)
from gradework.drawings.lettering import Style

PAGE: Box = (0.0, 0.0, 100.0, 100.0)
STYLE = Style(points=7, weight="bold")


def grid(columns: int, rows: int, step: float, size: tuple[float, float]) -> list[Box]:
    low = 50.0 - 0.5 * step * (columns - 1), 50.0 - 0.5 * step * (rows - 1)
    return [
        box_around((low[0] + i * step, low[1] + j * step), *size) for j in range(rows) for i in range(columns)
    ]


def assert_apart(things: list[Box], found: list[Standing]) -> None:
    assert not any(overlap(a.box, b.box) for a, b in combinations(found, 2))
    for one in found:
        inside = one.place == pytest.approx(middle(things[one.number]))
        others = [box for n, box in enumerate(things) if n != one.number or not inside]
        assert not any(overlap(one.box, box) for box in others)
        assert PAGE[0] <= one.box[0]
        assert one.box[2] <= PAGE[2]
        assert PAGE[1] <= one.box[1]
        assert one.box[3] <= PAGE[3]
        if one.leader is not None:
            foreign = [box for n, box in enumerate(things) if n != one.number]
            foreign += [other.box for other in found if other is not one]
            assert not any(crosses(one.leader, box) for box in foreign)


def middle(box: Box) -> tuple[float, float]:
    return ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)


def test_with_room_each_name_stands_above_its_thing_in_full_size() -> None:
    things = grid(3, 2, 20.0, (4.0, 4.0))
    found = place_names(things, ["1-1", "1-2", "1-3", "2-1", "2-2", "2-3"], Taken(PAGE), STYLE)
    assert [one.number for one in found] == list(range(6))
    assert all(one.style == STYLE and one.leader is None for one in found)
    assert all(one.place[0] == pytest.approx(middle(things[one.number])[0]) for one in found)
    assert_apart(things, found)


def test_in_a_dense_grid_each_name_stands_in_its_hole() -> None:
    things = grid(6, 5, 6.0, (5.2, 5.2))
    found = place_names(things, [f"{j}-{i}" for j in range(5) for i in range(6)], Taken(PAGE), STYLE)
    assert len(found) == 30
    assert all(one.place == pytest.approx(middle(things[one.number])) for one in found)
    assert_apart(things, found)


def test_a_name_too_wide_for_its_hole_stands_upright_in_it() -> None:
    things = grid(6, 5, 5.6, (3.4, 5.2))
    found = place_names(things, [f"{j}-{i}" for j in range(5) for i in range(6)], Taken(PAGE), STYLE)
    assert len(found) == 30
    assert {one.degrees for one in found} == {90.0}
    assert_apart(things, found)


def test_longer_names_stand_upright_between_the_holes() -> None:
    things = grid(12, 5, 7.6, (3.4, 5.2))
    texts = [f"{j + 10}-{i + 10}" for j in range(5) for i in range(12)]
    found = place_names(things, texts, Taken(PAGE), STYLE)
    assert len(found) == 60
    assert_apart(things, found)


def test_a_name_without_room_at_its_thing_goes_out_on_a_leader() -> None:
    things = [box_around((50.0, 50.0), 4.0, 4.0), box_around((60.0, 50.0), 4.0, 4.0)]
    taken = Taken(PAGE)
    taken.take(box_around((50.0, 50.0), 16.0, 12.0))
    first, second = found = place_names(things, ["north west", "east"], taken, STYLE)
    assert first.leader is not None
    assert second.leader is None
    assert not overlap(first.box, box_around((50.0, 50.0), 16.0, 12.0))
    assert_apart(things, found)


def test_names_keep_off_what_is_taken_and_take_their_own() -> None:
    taken = Taken(PAGE)
    things = [box_around((50.0, 50.0), 4.0, 4.0)]
    wall = (48.0, 52.0, 52.0, 60.0)  # right above
    taken.take(wall)
    (one,) = place_names(things, ["1-1"], taken, STYLE)
    assert not overlap(one.box, wall)
    assert not taken.is_free(one.box)
    assert not taken.is_free(things[0])


def test_where_no_size_finds_room_the_rest_is_missing_from_the_answer() -> None:
    small = Taken((0.0, 0.0, 14.0, 6.0))
    things = [box_around((x, 3.0), 3.0, 3.0) for x in (2.0, 6.0, 10.0)]
    found = place_names(things, ["a name of some length", "b", "c"], small, STYLE)
    assert [one.number for one in found] == [1, 2]
    assert all(one.style.points >= LEAST_POINTS for one in found)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 19), st.integers(1, 19)), min_size=1, max_size=14, unique=True),
    st.sampled_from(["1-1", "12-11", "north west"]),
    st.floats(1.0, 4.9),
)
def test_names_never_touch(places: list[tuple[int, int]], text: str, size: float) -> None:
    things = [box_around((5.0 * x, 5.0 * y), size, size) for x, y in places]
    assert_apart(things, place_names(things, [text] * len(things), Taken(PAGE), STYLE))


@pytest.mark.parametrize(
    ("line", "meets"),
    [
        (((0.0, 1.5), (9.0, 1.5)), True),
        (((1.5, 9.0), (1.5, 0.0)), True),
        (((1.2, 1.2), (1.8, 1.4)), True),
        (((0.0, 1.0), (9.0, 1.0)), False),
        (((0.0, 3.0), (3.0, 0.0)), True),
        (((0.0, 4.1), (4.1, 0.0)), False),
        (((0.0, 0.0), (0.9, 0.9)), False),
        (((5.0, 0.0), (5.0, 9.0)), False),
    ],
)
def test_a_line_crosses_a_box_only_through_its_inside(
    line: tuple[tuple[float, float], tuple[float, float]], meets: bool
) -> None:
    assert crosses(line, (1.0, 1.0, 2.0, 2.0)) is meets
    assert crosses((line[1], line[0]), (1.0, 1.0, 2.0, 2.0)) is meets
