"""The surface: exact at stations, NaN outside, straight between."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.ground.surface import Surface


def yard(n=60, seed=1, width=20.0, shift=(0.0, 0.0)) -> Surface:
    rng = np.random.default_rng(seed)
    xy = rng.random((n, 2)) * width
    z = 0.1 * xy[:, 0] + np.sin(xy[:, 1] / 3)
    return np.column_stack([xy + shift, z])


@pytest.mark.parametrize("shift", [(0.0, 0.0), (1.9e6, 0.65e6), (-3000.25, 12.5)])
def test_station_gives_its_own_elevation_exactly(ground, shift):
    surface = ground(yard(shift=shift))
    xyz = surface.stations.xyz
    assert np.array_equal(surface.elevation(xyz[:, :2]), xyz[:, 2])


def test_outside_is_not_a_number(ground):
    surface = ground(yard())
    xy = np.array([[-5.0, 3.0], [30.0, 3.0], [np.nan, 1.0], [np.inf, 0.0], [10.0, 10.0]])
    assert np.isnan(surface.elevation(xy)).tolist() == [True, True, True, True, False]
    assert np.isnan(surface.gradient(xy)).any(axis=1).tolist() == [True, True, True, True, False]
    assert (surface.locate(xy) < 0).tolist() == [True, True, True, True, False]


def test_no_points_give_no_answers(ground):
    surface = ground(yard())
    assert surface.elevation(np.zeros((0, 2))).shape == (0,)
    assert surface.gradient(np.zeros((0, 2))).shape == (0, 2)


def test_a_flat_yard_says_so_and_a_sloping_one_does_not(ground):
    flat = ground([[0, 0, 5.0], [9, 0, 5.001], [9, 9, 5.0], [0, 9, 5.002]], "ft")
    assert [finding.code for finding in flat.findings] == ["flat-site"]
    assert ground(yard()).findings == ()


def test_on_the_hull_and_a_millimetre_outside_counts_as_inside(ground):
    surface = ground([[0, 0, 1.0], [4, 0, 2.0], [4, 3, 4.0], [0, 3, 3.0]])
    near = [[2, -0.0009], [2, -0.0011], [4.0009, 1.5], [4.0011, 1.5], [-0.0007, -0.0007]]
    xy = np.array([[2, 0], *near, [2, 3.0]])
    found = surface.elevation(xy)
    assert found[[0, 1, 3, 5, 6]] == pytest.approx([1.5, 1.5, 3.0, 1.0, 3.5])
    assert np.isnan(found[[2, 4]]).all()


def test_gradient_slope_and_direction_of_a_plane(ground):
    surface = ground([[0, 0, 1.0], [4, 0, 1.4], [4, 3, 2.0], [0, 3, 1.6], [1, 1, 1.3]])
    assert surface.gradient(np.array([[0.5, 2.0], [9, 9]]))[0] == pytest.approx([0.1, 0.2])
    assert surface.triangle_slopes == pytest.approx(np.full(len(surface.triangles), np.hypot(0.1, 0.2)))
    downhill = np.degrees(np.arctan2(-0.2, -0.1)) % 360
    assert surface.triangle_downhill == pytest.approx(np.full(len(surface.triangles), downhill))


def test_level_ground_has_no_downhill_direction(ground):
    surface = ground([[0, 0, 1.0], [4, 0, 1.0], [4, 3, 1.0], [0, 3, 1.0]])
    assert np.isnan(surface.triangle_downhill).all()
    assert surface.triangle_slopes.tolist() == [0, 0, 0, 0]


def test_the_record_is_read_only_and_in_the_order_of_the_stations(ground):
    surface = ground(yard())
    n = len(surface.stations)
    assert np.array_equal(surface.vertices[:n, :2] + surface.origin, surface.stations.xyz[:, :2])
    assert np.array_equal(surface.vertices[:n, 2], surface.stations.xyz[:, 2])
    assert np.array_equal(surface.origin, np.floor(surface.stations.xyz[:, :2].min(axis=0)))
    assert surface.hull[0] == surface.hull.min()
    for array in (
        surface.origin, surface.vertices, surface.triangles, surface.neighbours, surface.hull,
        surface.triangle_areas, surface.triangle_gradients, surface.folds.centres, surface.folds.gaps,
    ):  # fmt: skip
        assert not array.flags.writeable


def test_no_heavy_library_is_loaded_for_the_ground():
    code = (
        "import sys, gradework.ground, gradework.survey.stations;"
        "heavy = {'scipy', 'shapely', 'matplotlib', 'pyproj', 'pydantic', 'rich'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert run.stdout.strip() == "[]"


def test_clusters_of_millimetres_on_a_site_of_kilometres(ground):
    """Slivers at the edge are peeled off, but never with the last triangle of a station."""
    refused: list[str] = []
    for seed in range(100):
        random = np.random.default_rng(seed)
        marks = random.uniform(0.0, 1.0, (random.integers(3, 8), 2)) * 10.0 ** random.uniform(2.0, 4.1)
        turned = random.uniform(0.0, 2 * np.pi, (3, len(marks)))
        reach = np.array([[0.001], [0.002], [0.003]])
        near = marks + np.stack((reach * np.cos(turned), reach * np.sin(turned)), axis=2)
        places = np.vstack([marks, near.reshape(-1, 2)])
        xyz = np.column_stack([places, random.normal(size=len(places))])
        try:
            surface = ground(xyz)
        except InputError as error:
            refused += [fault.code for fault in error.faults]
            continue
        assert len(np.unique(surface.triangles)) == len(surface.vertices)
        assert np.array_equal(surface.elevation(xyz[:, :2]), xyz[:, 2])
    assert set(refused) <= {"stations-too-close"}
    assert len(refused) < 10


def test_a_cluster_that_would_turn_over_the_edge_of_a_wide_site_is_refused(ground):
    shots = [
        [250.13456835430082, 8272.268816851358, 995.1],
        [634.1166610058724, 9057.606137808792, 1009.0],
        [3747.7777783744145, 4792.8942907715855, 985.3],
        [3747.778029526235, 4792.894108960629, 998.4],
        [634.1163567532257, 9057.606681553076, 1001.2],
    ]
    with pytest.raises(InputError, match=r"are 0.31 mm apart on a site 4264.71 m wide") as caught:
        ground(shots)
    assert {fault.code for fault in caught.value.faults} == {"stations-too-close"}
    assert len(ground([shot for number, shot in enumerate(shots) if number != 3]).triangles) == 2
