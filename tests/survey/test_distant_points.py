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


def test_the_limit_is_twenty_times_how_far_half_the_places_lie_from_the_middle():
    for far, told in ((19.9, False), (20.1, True)):
        # eight places 3 m from the middle, which stays there, and one as many times farther
        around = [(3.0, 0.0), (-3.0, 0.0), (0.0, 3.0), (0.0, -3.0)] * 2
        found = called([*around, (3.0 * far, 0.0), (0.0, 0.0)])
        assert [one.code for one in found] == ["place-far-off"] * told
        for one in found:
            assert one.limit == pytest.approx(20.0 * 3.0)
            assert one.value == pytest.approx(3.0 * far)


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
        assert [f for f in called(rng.normal(0, 8, (count, 2))) if f.code == "place-far-off"] == []


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


def small_yard(rng, kind):
    """Places of a yard of 6 to 60 m each way: scattered from the origin, or a grid, taped or paced."""
    width, height = rng.uniform(6, 60, 2)
    if kind == "scattered":
        return rng.uniform(0, 1, (int(rng.integers(6, 60)), 2)) * [width, height]
    across, along = (int(n) for n in rng.integers(4, 9, 2))
    xy = np.array(
        [(width * i / (across - 1), height * j / (along - 1)) for j in range(along) for i in range(across)]
    )
    return xy + rng.normal(0, 0.1 * width / across, xy.shape) if kind == "paced" else xy


KINDS = ["scattered", "grid", "paced"]


@pytest.mark.parametrize("kind", KINDS)
def test_two_hundred_sound_small_yards_raise_no_alarm(kind):
    rng = np.random.default_rng(11)
    for _ in range(200):
        assert called(small_yard(rng, kind)) == []


@pytest.mark.parametrize("away", [0, 30])
def test_yards_with_the_origin_among_the_shots_hardly_ever_raise_one(away):
    """Of scattered yards whose shots lie round the origin, or reach over it, at most 1 in 50 is called."""
    rng = np.random.default_rng(12)
    alarms = 0
    for _ in range(500):
        count = int(rng.integers(6, 60))
        origin = rng.uniform(0, 1, 2) if away else 0.5
        alarms += bool(called((rng.uniform(0, 1, (count, 2)) - origin) * [40, 30]))
    assert alarms <= 10


@pytest.mark.parametrize("kind", KINDS)
def test_a_flipped_sign_beyond_the_yard_is_found(kind):
    """Beyond the others by more than half of what they span it is found; a nearer one may be a shot."""
    rng = np.random.default_rng(13)
    tried = found = 0
    while tried < 200:
        xy = small_yard(rng, kind)
        wrong, axis = int(rng.integers(len(xy))), int(rng.integers(2))
        xy[wrong, axis] *= -1
        others = np.delete(xy[:, axis], wrong)
        if others.min() - xy[wrong, axis] < 0.5 * np.ptp(others):
            continue
        tried += 1
        told = called(xy)
        found += [(f.code, f.where) for f in told] == [("place-sign", f"S{wrong}, line {wrong + 2}")]
    assert found >= 190
    assert kind != "grid" or found == 200


def test_the_words_of_a_wrong_sign():
    xy = [(x * 6.0, y * 6.0) for x, y in GRID]
    xy[16] = (-48.0, xy[16][1])
    (found,) = called(xy)
    assert (found.code, found.severity, found.where) == ("place-sign", "warning", "S16, line 18")
    assert found.value == pytest.approx(48.0)
    assert "S16 has x -48.00 m; all others have 0.00 m to 60.00 m. With x 48.00 m" in found.advice
    mirrored = called([(-x, y) for x, y in xy])
    assert "S16 has x 48.00 m; all others have -60.00 m to 0.00 m" in mirrored[0].advice


def test_a_wrong_sign_in_the_notes_is_told_with_its_line():
    rows = "\n".join(f"S{i},{-x if i == 16 else x},{y},30" for i, (x, y) in enumerate(GRID))
    stations = stations_from_spots(read_spots(f"station,x,y,elevation\n{rows}\n".encode(), "y.csv", unit="m"))
    assert [f.where for f in stations.findings if f.code == "place-sign"] == ["S16, line 18"]
