"""Breaklines: folded squares, crossings from both lines, what must not change."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.ground.breaklines import SHOT_SD
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Breakline, Stations

SQUARE = [[0, 0, 1.0], [4, 0, 2.0], [4, 4, 1.0], [0, 4, 2.0]]
MIDDLE = np.array([[2.0, 2.0]])
Made = Callable[..., Stations]
Lines = Sequence[Sequence[int]]


def broken(stations: Stations, lines: Lines, sd: Sequence[float] | None = None) -> Surface:
    """The surface with lines through stations by their numbers from 0."""
    told = tuple(
        Breakline(f"line {k}", tuple(stations.names[i] for i in line)) for k, line in enumerate(lines)
    )
    known = stations.sd if sd is None else np.array(sd)
    return build_surface(replace(stations, breaklines=told, sd=known))


def grid(turn: float = 0.0) -> np.ndarray:
    """Forty-eight shots 1 m apart on uneven ground, turned and rounded to 0.1 mm."""
    x, y = (a.ravel() for a in np.meshgrid(np.arange(8.0), np.arange(6.0)))
    z = 0.1 * x + 0.03 * ((7 * x + 3 * y) % 5)
    c, s = np.cos(turn), np.sin(turn)
    return np.column_stack([np.round(c * x - s * y, 4), np.round(s * x + c * y, 4), z])


def inside(turn: float) -> np.ndarray:
    xy = np.random.default_rng(0).uniform(0.01, 0.99, (500, 2)) * [7, 5]
    c, s = np.cos(turn), np.sin(turn)
    return xy @ np.array([[c, s], [-s, c]])


@pytest.mark.parametrize(("line", "middle"), [((0, 2), 1.0), ((1, 3), 2.0)])
def test_a_line_along_a_diagonal_folds_the_square_and_its_middle_point_goes(
    stations_at: Made, line: tuple[int, int], middle: float
) -> None:
    assert len(build_surface(stations_at(SQUARE)).folds) == 1
    surface = broken(stations_at(SQUARE), [line])
    assert len(surface.folds) == 0
    assert len(surface.vertices) == 4
    assert surface.elevation(MIDDLE)[0] == pytest.approx(middle, abs=1e-12)


@pytest.mark.parametrize("turn", [0.0, 0.3])
def test_along_edges_that_are_there_nothing_changes(stations_at: Made, turn: float) -> None:
    stations = stations_at(grid(turn))
    plain, told = build_surface(stations), broken(stations, [(8, 15), (3, 43)])
    # told by its ends only, a line passes the stations between them, rounded as they are
    assert told.breaklines[0].vertices.tolist() == list(range(8, 16))
    assert len(told.folds) == len(plain.folds) == 35
    assert np.array_equal(told.elevation(inside(turn)), plain.elevation(inside(turn)))


def test_only_the_squares_along_a_diagonal_lose_their_middle_points(stations_at: Made) -> None:
    told = broken(stations_at(grid()), [(0, 9, 18)])
    assert len(told.folds) == 35 - 2
    xyz = told.stations.xyz
    half = (xyz[0] + xyz[9]) / 2
    assert told.elevation(half[None, :2])[0] == pytest.approx(half[2], abs=1e-12)


def test_lines_that_cross_within_three_standard_errors_meet_at_the_weighted_mean(stations_at: Made) -> None:
    near = np.array(SQUARE) * [1, 1, 0.004]  # the lines are 4 mm apart
    surface = broken(stations_at(near), [(0, 2), (1, 3)], sd=[0.001, 0.002, 0.001, 0.002])
    assert len(surface.vertices) == 5
    # half way along each: variances of 0.5 and 2 mm²
    weight = np.array([1 / 0.5, 1 / 2.0])
    assert surface.elevation(MIDDLE)[0] == pytest.approx(weight @ [0.004, 0.008] / weight.sum(), abs=1e-9)
    assert [line.vertices.tolist() for line in surface.breaklines] == [[0, 4, 2], [1, 4, 3]]


@pytest.mark.parametrize(("apart", "refused"), [(2.9, False), (3.1, True)])
def test_lines_farther_apart_are_refused_by_their_four_stations(
    stations_at: Made, apart: float, *, refused: bool
) -> None:
    # half way, each line has half the variance of a shot, and the difference of two that of one
    shots = np.array(SQUARE) - [0, 0, 1.0]
    shots[:, 2] *= apart * SHOT_SD
    if not refused:
        broken(stations_at(shots), [(0, 2), (1, 3)])
        return
    with pytest.raises(InputError) as caught:
        broken(stations_at(shots), [(0, 2), (1, 3)])
    (told,) = caught.value.faults
    assert told.code == "breaklines-disagree"
    for name in ("S1 to S3", "S2 to S4", "x 2.00 m, y 2.00 m"):
        assert name in told.found


def test_three_lines_through_one_place_share_one_vertex(stations_at: Made) -> None:
    angle = np.arange(6) * np.pi / 3 + 0.1
    ring = np.column_stack([np.cos(angle), np.sin(angle), np.zeros(6)]) * [3, 3, 1]
    surface = broken(stations_at(ring), [(0, 3), (1, 4), (2, 5)])
    assert len(surface.vertices) == 7
    assert len(surface.triangles) == 6


def test_random_lines_keep_a_plane_and_hang_on_no_order(stations_at: Made) -> None:
    """Sixty sets of lines that cross, overlap and pass stations: on a plane nothing moves, in any order."""
    rng = np.random.default_rng(3)
    places = np.array([(i, j) for i in range(8) for j in range(8)], dtype=float)
    for trial in range(60):
        n = int(rng.integers(8, 40))
        xy = rng.uniform(0, 10, (n, 2)) if trial % 2 else rng.permutation(places)[:n]
        stations = stations_at(np.column_stack([xy, 0.3 * xy[:, 0] - 0.1 * xy[:, 1]]))
        lines = [rng.integers(0, n, rng.integers(2, 8)).tolist() for _ in range(rng.integers(1, 6))]
        surface = broken(stations, lines)
        assert surface.area == pytest.approx(build_surface(stations).area, rel=1e-9)
        asked = rng.uniform(0, 8, (40, 2))
        found = surface.elevation(asked)
        known = np.isfinite(found)
        # a line may be bent to a shot up to 3 mm off it, and a crossing rounded to a tenth of that
        assert found[known] == pytest.approx((asked @ [0.3, -0.1])[known], abs=1e-3)
        order = rng.permutation(n)
        number = np.argsort(order)
        again = broken(
            stations_at(stations.xyz[order]), [number[line].tolist() for line in reversed(lines)]
        ).elevation(asked)
        assert np.allclose(found, again, rtol=0, atol=1e-9, equal_nan=True)


def test_a_tilt_keeps_the_lines_and_a_doubled_station_its_place_on_one(stations_at: Made) -> None:
    stations = stations_at([*SQUARE, [4, 4, 1.0]])
    surface = broken(stations, [(0, 4)])  # through the second shot of that corner, which is left out
    assert surface.breaklines[0].vertices.tolist() == [0, 2]
    assert surface.refolded(0.5).breaklines == surface.breaklines


def test_a_station_that_is_not_there_is_named(stations_at: Made) -> None:
    stations = replace(stations_at(SQUARE), breaklines=(Breakline("ridge", ("S1", "S9")),))
    with pytest.raises(InputError, match="the breakline ridge passes S9"):
        build_surface(stations)


@pytest.mark.parametrize(("count", "apart"), [(6, 0.001), (6, 0.0025), (5, 0.001)])
def test_lines_that_cross_within_millimetres_are_laid_or_refused_at_once(
    stations_at: Made, count: int, apart: float
) -> None:
    """Through one place that nobody shot, so near to it: more and more crossings were found there."""
    codes, places = [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        turns = np.sort(rng.uniform(0.0, np.pi, count))
        ends = 10.0 * np.column_stack((np.cos(turns), np.sin(turns)))
        middle = np.array([340.0, 870.0])
        around = middle + np.vstack((ends, -ends)) + rng.normal(0.0, apart, (2 * count, 2))
        xyz = np.column_stack(
            (
                np.vstack((around, middle + np.array([(-12, -12), (12, -12), (12, 12), (-12, 12)]))),
                np.ones(2 * count + 4),
            )
        )
        try:
            broken(stations_at(xyz), [(k, count + k) for k in range(count)])
        except InputError as refusal:
            codes += [one.code for one in refusal.faults]
            places += [re.findall(r"x ([\d.]+) m, y ([\d.]+) m", str(one)) for one in refusal.faults]
    assert set(codes) == {"breaklines-tangled"}
    # the place that is told is where they cross, on the axes of the notes, not of the grid
    assert np.array(places, dtype=float).reshape(-1, 2) == pytest.approx(
        np.tile(middle, (len(places), 1)), abs=0.1
    )


def test_capitals_part_stations_where_the_notes_have_both(stations_at: Made) -> None:
    stations = replace(stations_at(SQUARE), names=("A1", "a1", "B1", "B2"))
    surface = build_surface(replace(stations, breaklines=(Breakline("top", ("a1", "B2")),)))
    (line,) = surface.breaklines
    assert line.vertices.tolist() == [1, 3]
