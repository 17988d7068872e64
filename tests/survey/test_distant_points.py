"""One place very far from all others is named; yards of odd shape are let be."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.fieldnotes.spots import read_spots
from gradework.survey.duplicates import distant_points
from gradework.survey.from_spots import stations_from_spots
from gradework.units.display import Display

SHOW = Display("m")
GRID = [(2.0 * c, 2.0 * r) for r in range(6) for c in range(6)]


def called(xy):
    return distant_points([f"S{i}" for i in range(len(xy))], xy, list(range(2, 2 + len(xy))), SHOW)


@pytest.mark.parametrize("wrong", [0, 17, 35])
def test_a_wrong_digit_is_named_with_its_line(wrong):
    xy = [(x + 1000.0, y) if i == wrong else (x, y) for i, (x, y) in enumerate(GRID)]
    (found,) = called(xy)
    assert found.code == "place-far-off"
    assert found.where == f"S{wrong}, line {wrong + 2}"
    assert found.value == pytest.approx(np.hypot(xy[wrong][0] - 5, xy[wrong][1] - 5), abs=2.0)
    assert found.limit is not None
    assert found.limit < found.value


@pytest.mark.parametrize(
    "xy",
    [
        GRID,
        [*GRID, (60.0, 5.0)],  # a mark down the street
        [(0.5 * i, 0.0) for i in range(200)],  # a long line
        [*GRID, *((x + 400, y) for x, y in GRID[:3])],  # three shots of a road far away: no single slip
        [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (900.0, 0.0)],  # too few to tell
        [(0.0, 0.0)] * 5,
    ],
)
def test_sound_yards_are_let_be(xy):
    assert called(xy) == []


def test_random_yards_raise_no_alarm():
    rng = np.random.default_rng(5)
    for _ in range(200):
        count = int(rng.integers(5, 60))
        assert called(rng.uniform(0, 20, (count, 2))) == []
        assert called(rng.normal(0, 8, (count, 2))) == []


def test_spots_and_the_file_of_the_places():
    rows = "\n".join(f"S{i},{x + (500 if i == 3 else 0)},{y},30" for i, (x, y) in enumerate(GRID))
    stations = stations_from_spots(read_spots(f"station,x,y,elevation\n{rows}\n".encode(), "y.csv", unit="m"))
    assert [f.where for f in stations.findings if f.code == "place-far-off"] == ["S3, line 5"]
    (found,) = distant_points(
        ["a"] * 7,
        [(0, 0), (1, 0), (0, 1), (1, 1), (2, 1), (1, 2), (99, 0)],
        [0] * 6 + [9],
        SHOW,
        file="t.csv",
    )
    assert found.where == "a, line 9 of t.csv"
