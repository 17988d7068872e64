"""High point, low point, relief."""

from __future__ import annotations

import numpy as np

from gradework.ground.contours import site_shape


def test_high_and_low_point_by_name_and_place(ground):
    xyz = [[0, 0, 10.0], [5, 0, 12.5], [5, 4, 11.0], [0, 4, 9.25], [2, 2, 10.5]]
    shape = site_shape(ground(xyz))
    assert (shape.high.station, shape.high.x, shape.high.y, shape.high.elevation) == ("S2", 5.0, 0.0, 12.5)
    assert (shape.low.station, shape.low.x, shape.low.y, shape.low.elevation) == ("S4", 0.0, 4.0, 9.25)
    assert shape.relief == 3.25


def test_a_tie_is_settled_by_place_not_by_order(ground):
    xyz = np.array([[5, 4, 9.0], [0, 4, 9.0], [5, 0, 9.0], [0, 0, 9.0]])
    shape = site_shape(ground(xyz))
    again = site_shape(ground(xyz[::-1]))
    assert (shape.high.x, shape.high.y) == (again.high.x, again.high.y) == (0.0, 0.0)
    assert shape.relief == 0.0


def test_no_point_of_the_surface_is_higher_or_lower(ground):
    rng = np.random.default_rng(4)
    places = np.unique(rng.integers(0, 10, (60, 2)), axis=0)
    surface = ground(np.column_stack([places, rng.random(len(places))]))
    shape = site_shape(surface)
    found = surface.elevation(rng.random((2000, 2)) * 9)
    assert np.nanmax(found) <= shape.high.elevation
    assert np.nanmin(found) >= shape.low.elevation
    assert surface.vertices[:, 2].max() == shape.high.elevation
    assert surface.vertices[:, 2].min() == shape.low.elevation
