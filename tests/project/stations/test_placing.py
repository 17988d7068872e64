"""Stations of a lettered grid told from marks whose names look like one."""

from __future__ import annotations

import pytest

from gradework.project.stations.placing import grid_stations

GRID = [f"{letter}{number}" for letter in "ABCDE" for number in (1, 2, 3)]


@pytest.mark.parametrize("mark", ["TP1", "BM2", "M2", "t1", "CP-3"])
def test_a_mark_far_from_the_rows_is_no_station_and_is_told(mark: str) -> None:
    spots, (told,) = grid_stations([mark, *GRID], {mark})
    assert list(spots) == GRID
    assert (told.code, told.severity, told.where, told.value) == ("marks-off-grid", "note", mark, 1.0)


@pytest.mark.parametrize("mark", ["C2", "F1", "G3", "e9"])
def test_a_turning_point_on_the_grid_or_beside_it_stays(mark: str) -> None:
    spots, told = grid_stations([*GRID, mark], {mark})
    assert mark in spots
    assert told == ()


def test_a_station_that_was_no_mark_stays_however_far() -> None:
    assert "Z1" in grid_stations([*GRID, "Z1"], {"BM"})[0]


def test_where_every_reading_is_a_foresight_the_rows_of_most_decide() -> None:
    spots, (told,) = grid_stations(["BM1", *GRID, "TP1", "TP2"], {"BM1", *GRID, "TP1", "TP2"})
    assert list(spots) == GRID
    assert ": BM1, TP1, TP2. " in told.advice


def test_names_of_no_grid_give_nothing() -> None:
    assert grid_stations(["BM", "oak"], {"BM"}) == ({}, ())
