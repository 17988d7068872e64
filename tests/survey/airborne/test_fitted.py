"""A taped yard laid on a map: turned and moved, never stretched."""

from __future__ import annotations

import numpy as np
import pytest
from air_files import EAST, NORTH, grid, las_bytes, tif_bytes

from gradework.errors import InputError
from gradework.survey.airborne.fitted import Tied
from gradework.survey.airborne.read import read_airborne

YARD = np.array([(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (3.0, 18.0)])
NAMES = ("A1", "B1", "B2", "A2")
START = np.array([EAST, NORTH])


def on_map(xy: np.ndarray, turn: float, metres: float = 1.0) -> np.ndarray:
    """Places of the yard on a map, north turned by so much, in a unit of so many metres."""
    c, s = np.cos(turn), np.sin(turn)
    return xy @ np.array([[c, s], [-s, c]]) / metres + START


@pytest.mark.parametrize("turn", [0.0, 0.7, 3.0, -2.2])
@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("metres", [1.0, 0.3048])
def test_it_finds_the_turn_and_both_ways_agree(turn: float, count: int, metres: float) -> None:
    frame = Tied(NAMES[:count], on_map(YARD, turn, metres)[:count], YARD[:count]).fitted(metres)
    assert frame.off == pytest.approx(0.0, abs=1e-6)
    assert frame.out_of("", on_map(YARD, turn, metres)) == pytest.approx(YARD, abs=1e-6)
    assert frame.into("", YARD) == pytest.approx(on_map(YARD, turn, metres), abs=1e-6)


def test_a_place_read_off_by_a_foot_is_shared_and_told() -> None:
    """On a line of two stations each lies half of it off."""
    there = on_map(YARD[:2], 0.4)
    there[1] += (there[1] - there[0]) / 100.0  # 0.3 m farther
    assert Tied(NAMES[:2], there, YARD[:2]).fitted(1.0).off == pytest.approx(0.15)


@pytest.mark.parametrize(
    ("there", "yard", "told"),
    [
        (on_map(YARD, 0.4, 0.3048), YARD, "lies"),
        (on_map(YARD, 0.4)[[1, 0, 2, 3]], YARD, "lies"),
        (on_map(YARD, 0.4)[:, ::-1], YARD, "lies"),
        (on_map(YARD[:1], 0.4), YARD[:1], "fewer than two"),
        (on_map(YARD[:2] / 20.0, 0.4), YARD[:2] / 20.0, "all in one place"),
        (np.full((4, 2), np.nan), YARD, "lies"),
    ],
    ids=["in feet", "exchanged", "mirrored", "one", "close", "not numbers"],
)
def test_what_does_not_fit_is_a_fault(there: np.ndarray, yard: np.ndarray, told: str) -> None:
    with pytest.raises(InputError) as caught:
        Tied(NAMES[: len(yard)], there, yard).fitted(1.0)
    (fault,) = caught.value.faults
    assert told in fault.found
    assert fault.about == ("around_at",)


def test_ground_comes_into_a_taped_yard() -> None:
    """The yard's x runs northeast on the map, the ground rises to the north."""
    x, y = grid(-100.0, 100.0, 2.0)
    points = np.column_stack((x.ravel() + EAST, y.ravel() + NORTH, 50.0 + 0.1 * y.ravel()))
    tied = Tied(NAMES, on_map(YARD, np.pi / 4.0), YARD)
    found = read_airborne(las_bytes(points), "air", tied, (YARD, 30.0))
    x, y, z = found.xyz.T
    assert z == pytest.approx(50.0 + 0.1 * (x + y) / np.sqrt(2.0), abs=1e-3)
    assert (x.min(), x.max(), y.min(), y.max()) == pytest.approx((-30.0, 60.0, -30.0, 50.0), abs=1.5)
    assert found.off == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("crs", [None, "EPSG:4326"])
def test_a_file_on_no_plane_is_a_fault(crs: str | None) -> None:
    with pytest.raises(InputError) as caught:
        read_airborne(
            tif_bytes(np.ones((9, 9)), (0.0, 0.0), crs=crs),
            "air",
            Tied(NAMES, on_map(YARD, 0.0), YARD),
            (YARD, 9.0),
        )
    assert "longitude" in caught.value.faults[0].found
