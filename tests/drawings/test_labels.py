"""Labels: nothing overlaps, nothing leaves the window, letters never stand on their heads."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.drawings.labels import Taken, box_around, label_places, overlap, slanted_boxes, upright

WINDOW = (0.0, 0.0, 100.0, 80.0)
coordinate = st.floats(-10, 110)
size = st.floats(0.5, 30)


@given(st.lists(st.tuples(coordinate, coordinate, size, size), max_size=40))
@settings(deadline=None, max_examples=60)
def test_boxes_that_stand_are_apart_and_inside(asked: list[tuple[float, float, float, float]]) -> None:
    taken = Taken(WINDOW)
    standing = []
    for x, y, width, height in asked:
        box = box_around((x, y), width, height)
        naive = (
            box[0] >= 0
            and box[1] >= 0
            and box[2] <= 100
            and box[3] <= 80
            and not any(overlap(box, other) for other in standing)
        )
        assert taken.take_if_free(box) is naive
        if naive:
            standing.append(box)
    assert taken.boxes == standing


def test_taking_several_boxes_is_all_or_nothing() -> None:
    taken = Taken(WINDOW)
    taken.take((10, 10, 20, 20))
    assert not taken.take_if_free((30, 30, 40, 40), (15, 15, 25, 25))
    assert taken.is_free((30, 30, 40, 40))


def test_boxes_that_share_an_edge_do_not_overlap() -> None:
    assert not overlap((0, 0, 1, 1), (1, 0, 2, 1))
    assert overlap((0, 0, 1, 1), (0.9, 0.9, 2, 2))


@given(st.floats(-720, 720))
@settings(deadline=None, max_examples=60)
def test_letters_keep_their_line_and_their_feet_down(degrees: float) -> None:
    turned = upright(degrees)
    assert -90.0 < turned <= 90.0
    assert math.sin(math.radians(2 * (turned - degrees))) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(3, 30), st.floats(1, 4), st.floats(-90, 90))
@settings(deadline=None, max_examples=60)
def test_a_turned_label_is_covered_along_its_whole_line(width: float, height: float, degrees: float) -> None:
    boxes = slanted_boxes((0.0, 0.0), width, height, degrees)
    turn = np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])
    for s in np.linspace(-width / 2, width / 2, 31):
        x, y = s * turn
        assert any(b[0] - 1e-9 <= x <= b[2] + 1e-9 and b[1] - 1e-9 <= y <= b[3] + 1e-9 for b in boxes)


def test_the_straight_stretch_of_a_bent_line_comes_first() -> None:
    corner = np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 5.0], [5.0, 60.0]])
    place = label_places(corner, 10.0)[0]
    assert place.x == pytest.approx(5.0)
    assert place.y > 5.0
    assert place.degrees == pytest.approx(90.0)


def test_a_line_walked_backwards_is_labelled_the_same_way_up() -> None:
    line = np.array([[0.0, 0.0], [30.0, 10.0]])
    one, other = label_places(line, 8.0)[0], label_places(line[::-1], 8.0)[0]
    assert (one.x, one.y) == pytest.approx((15.0, 5.0))
    assert (other.x, other.y) == pytest.approx((15.0, 5.0))
    assert one.degrees == pytest.approx(other.degrees) == pytest.approx(math.degrees(math.atan2(1, 3)))


def test_a_short_line_has_no_place() -> None:
    assert label_places(np.array([[0.0, 0.0], [10.0, 0.0]]), 8.0) == []
