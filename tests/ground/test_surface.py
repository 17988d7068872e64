"""The surface: exact at stations, NaN outside, straight between."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground import Surface, build_surface
from gradework.survey import Stations


def stations_at(xyz, unit="m") -> Stations:
    xyz = np.array(xyz, dtype=float)
    n = len(xyz)
    return Stations(
        [f"S{i + 1}" for i in range(n)], xyz, np.full(n, np.nan), np.arange(n) + 2, "yard.csv", unit
    )


def yard(n=60, seed=1, width=20.0, shift=(0.0, 0.0)) -> Surface:
    rng = np.random.default_rng(seed)
    xy = rng.random((n, 2)) * width
    z = 0.1 * xy[:, 0] + np.sin(xy[:, 1] / 3)
    return build_surface(stations_at(np.column_stack([xy + shift, z])))


@pytest.mark.parametrize("shift", [(0.0, 0.0), (1.9e6, 0.65e6), (-3000.25, 12.5)])
def test_station_gives_its_own_elevation_exactly(shift):
    surface = yard(shift=shift)
    xyz = surface.stations.xyz
    assert np.array_equal(surface.elevation(xyz[:, :2]), xyz[:, 2])


def test_outside_is_not_a_number():
    surface = yard()
    xy = np.array([[-5.0, 3.0], [30.0, 3.0], [np.nan, 1.0], [np.inf, 0.0], [10.0, 10.0]])
    assert np.isnan(surface.elevation(xy)).tolist() == [True, True, True, True, False]
    assert np.isnan(surface.gradient(xy)).any(axis=1).tolist() == [True, True, True, True, False]
    assert (surface.locate(xy) < 0).tolist() == [True, True, True, True, False]


def test_no_points_give_no_answers():
    surface = yard()
    assert surface.elevation(np.zeros((0, 2))).shape == (0,)
    assert surface.gradient(np.zeros((0, 2))).shape == (0, 2)
