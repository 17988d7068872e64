"""Outlines: what they are, and the words with which the unusable ones are refused."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.errors import InputError

SQUARE = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)]


def refused(corners: object) -> list[tuple[str, str]]:
    with pytest.raises(InputError) as caught:
        Outline.polygon(corners)  # type: ignore[arg-type]
    return [(fault.code, fault.found) for fault in caught.value.faults]


def test_rectangle_turns_about_its_first_corner() -> None:
    outline = Outline.rectangle((10.0, 20.0), (4.0, 3.0), turn=90.0)
    np.testing.assert_array_equal(outline.rings[0], [(10, 20), (10, 24), (7, 24), (7, 20)])
    assert outline.area == 12.0
    assert outline.perimeter == 14.0
    assert outline.bounds == (7.0, 20.0, 10.0, 24.0)
    assert outline.is_convex
    assert not outline.rings[0].flags.writeable


@pytest.mark.parametrize("turn", [-720.0, -30.0, 15.0, 180.0, 270.0, 359.0])
def test_a_turned_rectangle_keeps_its_area_and_direction(turn: float) -> None:
    outline = Outline.rectangle((1e6, -2e6), (4.0, 3.0), turn=turn)
    assert outline.area == pytest.approx(12.0, rel=1e-8)  # corners at 2e6 m hold 2e-10 m
    assert outline.is_convex


@pytest.mark.parametrize(
    "corners",
    [
        SQUARE,
        SQUARE[::-1],
        [*SQUARE, SQUARE[0]],
        [SQUARE[0], SQUARE[0], *SQUARE[1:]],
        np.array(SQUARE),
        [SQUARE],
    ],
)
def test_closed_or_open_either_way_round_is_the_same_ground(corners: object) -> None:
    outline = Outline.polygon(corners)  # type: ignore[arg-type]
    assert outline.area == 16.0
    assert len(outline.rings[0]) == 4
    assert outline.is_convex


def test_names_stay_with_their_corners_when_the_ring_is_turned_round() -> None:
    outline = Outline.polygon([(0, 0), (0, 4), (4, 4), (4, 0)])  # clockwise
    places = dict(zip(outline.names, map(tuple, outline.corners.tolist()), strict=True))
    assert places == {"corner 1": (0, 0), "corner 2": (0, 4), "corner 3": (4, 4), "corner 4": (4, 0)}


def test_holes_are_taken_off_and_named() -> None:
    outline = Outline.polygon([SQUARE, [(1, 1), (2, 1), (2, 3), (1, 3)]])
    assert outline.area == 14.0
    assert not outline.is_convex
    assert outline.names[-1].endswith("of hole 1")
    assert outline.contains([(0.5, 0.5), (1.5, 2.0), (9.0, 0.0)]).tolist() == [True, False, False]


def test_crossing_sides_are_named_with_the_place() -> None:
    [(code, found)] = refused([(0, 0), (4, 4), (4, 0), (0, 4)])
    assert code == "outline-crosses-itself"
    assert "from corner 1 to corner 2" in found
    assert "from corner 3 to corner 4" in found
    assert "x 2.00 m, y 2.00 m" in found


@pytest.mark.parametrize(
    ("corners", "code"),
    [
        ([(0, 0), (1, 1)], "outline-too-few-corners"),
        ([(0, 0), (1, 1), (0, 0)], "outline-too-few-corners"),
        ([], "outline-too-few-corners"),
        ([(0, 0), (1, 1), (2, 2)], "outline-no-area"),
        ([(0, 0), (1e-12, 0), (0, 1e3)], "outline-too-few-corners"),
        ([(0, 0), (1e-4, 0), (0, 1e3)], "outline-no-area"),
        ([(0, 0), (4, 0), (4, 4), (4, 6), (4, 4), (0, 4)], "outline-spike"),
        ([(0, 0), (4, 0), (9, 0), (4, 0), (4, 4), (0, 4)], "outline-spike"),
        (
            [(0, 0), (4, 0), (2, 2), (4, 4), (0, 4), (2, 2)],
            "outline-crosses-itself",
        ),  # touches itself at a corner
        ([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)], "outline-crosses-itself"),  # a corner on a side
        ([(0, 0), (float("nan"), 0), (1, 1)], "outline-corner-unusable"),
        ([(0, 0), (float("inf"), 0), (1, 1)], "outline-corner-unusable"),
        ([SQUARE, [(9, 9), (10, 9), (10, 10)]], "outline-hole-outside"),
        ([SQUARE, [(1, 1), (3, 1), (3, 3), (1, 3)], [(1.5, 1.5), (2, 1.5), (2, 2)]], "outline-hole-outside"),
        ([SQUARE, [(1, 1), (5, 1), (1, 3)]], "outline-crosses-itself"),
        ([(x, (x * 7919) % 13) for x in range(6000)], "outline-too-many-corners"),
        ([(0, 0), (1e200, 0), (1, 1e200)], "outline-corner-unusable"),
        ([(0, 0), (4e-160, 0), (0, 3e-160)], "outline-too-few-corners"),
        ([(0, 0), (9e-4, 0), (0, 3e-4)], "outline-no-area"),
        ([(0, 0), (4, 0), (4, 0.0009)], "outline-no-area"),
        ([(0, 0), (4, 0), (4, 4), (3.9998, 4), (3.9998, 0.0002), (0, 0.0002)], "outline-no-area"),
        ([(0, 0), (4, 0), (4, 4), (4 - 1e-7, 0.5), (0, 4)], "outline-spike"),
        ([SQUARE, [(1e-6, 1), (3, 1), (3, 3)]], "outline-too-close"),
        ([SQUARE, [(1, 1), (2, 1), (1, 2)], [(2.0005, 1), (3, 1), (3, 3)]], "outline-too-close"),
    ],
)
def test_unusable_outlines_are_refused(corners: object, code: str) -> None:
    assert code in {found for found, _ in refused(corners)}


def test_a_hole_by_the_edge_is_told_with_corner_side_and_place() -> None:
    [(code, words)] = refused([SQUARE, [(2, 1), (3, 3), (1e-6, 2)]])
    assert code == "outline-too-close"
    assert "corner 3 of hole 1 is 0.001 mm from the side from corner 4 to corner 1" in words
    assert words.endswith("at x 0.00 m, y 2.00 m")


def test_a_hole_a_millimetre_and_more_from_the_edge_is_fine() -> None:
    assert Outline.polygon([SQUARE, [(0.0011, 1), (3, 1), (3, 3)]]).area == pytest.approx(16 - 2.9989)


def test_all_faults_come_at_once() -> None:
    codes = [code for code, _ in refused([[(0, 0), (float("nan"), 1), (2, float("inf"))], [(0, 0), (1, 1)]])]
    assert codes == ["outline-corner-unusable", "outline-corner-unusable", "outline-too-few-corners"]


def test_rectangle_refuses_sizes_and_places_that_are_none() -> None:
    with pytest.raises(InputError) as caught:
        Outline.rectangle((float("nan"), 0.0), (0.0, -3.0))
    for corner, size in (((1e300, 0.0), (4.0, 3.0)), ((0.0, 0.0), (1e300, 3.0)), ((0.0, 0.0), (4.0, 1e-200))):
        with pytest.raises(InputError):
            Outline.rectangle(corner, size)
    assert [fault.code for fault in caught.value.faults] == [
        "outline-corner-unusable",
        "outline-size",
        "outline-size",
    ]


def test_growing_a_rectangle_mitres_its_corners() -> None:
    grown = Outline.rectangle((1.0, 1.0), (4.0, 3.0), turn=30.0).grown(0.5)
    assert grown.area == pytest.approx(20.0, rel=1e-14)
    assert grown.names == ("corner 1", "corner 2", "corner 3", "corner 4")


def test_growing_an_ell_and_a_ring() -> None:
    ell = Outline.polygon([(0, 0), (4, 0), (4, 2), (2, 2), (2, 4), (0, 4)])
    assert ell.grown(1.0).area == pytest.approx(32.0, rel=1e-14)  # 6 x 6 less 2 x 2
    ring = Outline.polygon([SQUARE, [(1, 1), (3, 1), (3, 3), (1, 3)]])
    assert ring.grown(0.5).area == pytest.approx(25.0 - 1.0, rel=1e-14)
    assert ring.grown(1.0).area == pytest.approx(36.0, rel=1e-14)  # the hole is closed
    assert ring.grown(0.0) is ring


@pytest.mark.parametrize("margin", [-0.1, float("nan"), float("inf")])
def test_growing_refuses_what_is_no_margin(margin: float) -> None:
    with pytest.raises(InputError, match="outline-margin"):
        Outline.rectangle((0, 0), (1, 1)).grown(margin)


def test_growing_refuses_to_close_a_notch() -> None:
    notched = Outline.polygon([(0, 0), (4, 0), (4, 4), (2.2, 4), (2.2, 1), (1.8, 1), (1.8, 4), (0, 4)])
    with pytest.raises(InputError, match="swallows the side"):
        notched.grown(0.5)


def test_a_polygon_of_many_corners_is_checked_in_good_time() -> None:
    angle = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    outline = Outline.polygon(np.column_stack((np.cos(angle), np.sin(angle))))
    assert outline.area == pytest.approx(np.pi, rel=1e-5)
    assert outline.is_convex


def test_a_margin_that_closes_the_neck_of_a_bay_is_refused() -> None:
    """A bay of 4 x 4 m whose neck is 0.4 m wide: every side keeps its way, but the sides of the neck pass."""
    bay = [
        (0, 0),
        (8, 0),
        (8, 3.8),
        (6, 3.8),
        (6, 2),
        (2, 2),
        (2, 6),
        (6, 6),
        (6, 4.2),
        (8, 4.2),
        (8, 8),
        (0, 8),
    ]
    outline = Outline.polygon(bay)
    grown = outline.grown(0.1)
    # 0.1 m for each metre of side, and 0.1 x 0.1 m more at each corner: eight turn out, four in
    length = float(np.hypot(*(np.roll(outline.rings[0], -1, axis=0) - outline.rings[0]).T).sum())
    assert grown.area - outline.area == pytest.approx(0.1 * length + 4 * 0.01)
    with pytest.raises(InputError):
        outline.grown(0.3)
