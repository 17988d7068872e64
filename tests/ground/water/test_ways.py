"""The ways of drops: down planes and valleys, through hollows, over level ground, never uphill."""

from __future__ import annotations

from collections.abc import Callable

import flow_oracle
import numpy as np
import pytest
import shapely

from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.rings import contains
from gradework.errors import CheckError
from gradework.ground.surface import Surface
from gradework.ground.triangulation import NEXT
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import WaterGround, around, on_surface, slivers
from gradework.ground.water.ponds import ponds
from gradework.ground.water.ways import ways

Ground = Callable[..., Surface]
MARKS = np.arange(0.0, 24.1, 2.0)


def yard(ground: Ground, height: Callable[[float, float], float]) -> Surface:
    return ground([(x, y, height(x, y)) for x in MARKS for y in MARKS])


def test_straight_down_a_plane(ground: Ground) -> None:
    surface = yard(ground, lambda x, y: 100.0 + 0.06 * x + 0.08 * y)
    (way,) = ways(Flow(on_surface(surface)), np.array([(13.0, 17.0)]) - surface.origin)
    (leg,) = way.legs
    assert way.end == "off the survey"
    across = (leg[:, :2] + surface.origin - (13.0, 17.0)) @ np.array([0.8, -0.6])
    assert np.abs(across).max() < 1e-12
    assert leg[-1, 1] + surface.origin[1] == pytest.approx(0.0, abs=1e-12)


def test_the_ground_round_rings_reaches_as_far_as_asked_from_their_box(ground: Ground) -> None:
    surface = yard(ground, lambda x, y: 100.0 + 0.06 * x + 0.01 * y)
    rings = [np.array(r, dtype=float) for r in ([(8, 9), (11, 9), (11, 12)], [(13, 10), (15, 10), (15, 13)])]
    made = around(surface, [ring - surface.origin for ring in rings], 2.5)
    places = made.places[np.unique(made.triangles)] + surface.origin
    # the box about both is x 8 to 15, y 9 to 13; the survey ends at 0 and 24
    assert places.min(axis=0) == pytest.approx([8 - 2.5, 9 - 2.5])
    assert places.max(axis=0) == pytest.approx([15 + 2.5, 13 + 2.5])
    wide = around(surface, [ring - surface.origin for ring in rings], 10.0)
    places = wide.places[np.unique(wide.triangles)] + surface.origin
    assert [*places.min(axis=0), *places.max(axis=0)] == pytest.approx([0.0, 0.0, 24.0, 23.0])


def test_to_a_wall_and_along_a_valley(ground: Ground) -> None:
    surface = yard(ground, lambda x, y: 100.0 + 0.1 * x + 0.2 * abs(y - 12.0))
    ring = np.array([(4.0, 11.0), (6.0, 11.0), (6.0, 13.0), (4.0, 13.0)]) - surface.origin
    made = around(surface, [ring], 100.0)
    made.catch([np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)])
    starts = np.array([(20.0, 20.0), (20.0, 4.0), (4.0, 20.0), (5.0, 12.0)]) - surface.origin
    right, left, past, inside = ways(Flow(made, 1), starts)
    for way in (right, left):
        assert (way.end, way.line) == ("caught", 0)
        assert (way.legs[-1][-1, :2] + surface.origin).tolist() == pytest.approx([6.0, 12.0])
        assert (16.0, 12.0) in [tuple(p) for p in np.round(way.legs[0][:, :2] + surface.origin, 9).tolist()]
    assert past.end == "off the survey"
    assert (inside.end, inside.legs) == ("off the ground", ())


def test_a_hollow_fills_and_runs_over(ground: Ground) -> None:
    """A dent of 1 m in a slope: down into it, and on from the lowest place of its rim."""
    surface = yard(ground, lambda x, y: 100.0 + 0.1 * x - (2.0 if (x, y) == (12.0, 12.0) else 0.0))
    (way,) = ways(Flow(on_surface(surface)), np.array([(12.5, 12.5)]) - surface.origin)
    into, onward = way.legs
    assert len(way.ponds) == 1
    assert (into[-1, :2] + surface.origin).tolist() == [12.0, 12.0]
    assert onward[0, 2] > into[-1, 2]
    assert onward[0, 0] + surface.origin[0] == 10.0
    assert way.end == "off the survey"


def test_over_level_ground_in_few_steps(ground: Ground) -> None:
    """Level but for one corner: the drop goes there over places of equal height, not round about."""
    surface = yard(ground, lambda x, y: 99.0 if (x, y) == (0.0, 0.0) else 100.0)
    (way,) = ways(Flow(on_surface(surface)), np.array([(11.0, 11.0)]) - surface.origin)
    (leg,) = way.legs
    assert way.end == "off the survey"
    length = float(np.hypot(*np.diff(leg[:, :2], axis=0).T).sum())
    assert length < 25.0


@pytest.mark.parametrize("seed", range(0, 50, 7))
def test_never_uphill_and_always_on_the_ground(seed: int) -> None:
    surface = flow_oracle.yard(seed).surface
    starts = np.random.default_rng(seed).random((12, 2)) * flow_oracle.SIZE - surface.origin
    for way in ways(Flow(on_surface(surface)), starts):
        for leg in way.legs:
            assert (np.diff(leg[:, 2]) <= 1e-9).all()
            middle = 0.5 * (leg[1:] + leg[:-1])
            ground = surface.elevation(middle[:, :2] + surface.origin)
            assert np.abs(ground - middle[:, 2]).max(initial=0.0) < 1e-7


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 133.0])
def test_water_runs_along_the_foot_of_a_pad_and_never_onto_it(ground: Ground, turn: float) -> None:
    """A boxed pad 0.7 m above a plane that falls 1 in 10 toward it: drops that meet its sides run round it,
    or stand at its foot, at the height of the ground there."""
    surface = yard(ground, lambda x, y: 100.0 + 0.1 * x + 0.03 * y)
    square = np.array([(-1.5, -1.5), (1.5, -1.5), (1.5, 1.5), (-1.5, 1.5)])
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    pad = square @ np.array([[c, s], [-s, c]]) + (6.0, 6.0)
    made = finished_ground(surface, pad, 101.5).surface
    starts = np.stack(np.meshgrid(np.linspace(7.0, 11.0, 12), np.linspace(3.1, 8.9, 25)), axis=-1)
    starts = starts.reshape(-1, 2)
    starts = starts[~contains(pad, starts)] - made.origin
    edge, met = shapely.LinearRing(pad - made.origin), 0
    for way in ways(Flow(on_surface(made)), starts):
        for leg in way.legs:
            assert (np.diff(leg[:, 2]) <= 1e-9).all()
            assert leg[:, 2].max() < 101.4
        met += bool(shapely.distance(edge, shapely.points(way.legs[-1][:, :2])).min() < 1e-6)
    assert met > 5


def test_a_sliver_at_the_edge_is_no_dam(ground: Ground) -> None:
    """Shots of the lower edge lie 4 cm inside the line between its ends, which are humped up: water runs
    out between them, and no pond stands behind a dam that nobody shot."""
    low = {(x, 0.0): 0.04 for x in (6.0, 12.0, 18.0)}
    shots = [
        (x, y + low.get((x, y), 0.0), 100.0 + 0.02 * y + (0.3 if y == 0.0 and x in (0.0, 24.0) else 0.0))
        for x in MARKS
        for y in MARKS
        if y > 0.0 or x in (0.0, 6.0, 12.0, 18.0, 24.0)
    ]
    surface = ground(shots)
    assert 2 <= int(slivers(surface).sum()) <= 3
    flow = Flow(on_surface(surface))
    (way,) = ways(flow, np.array([(11.0, 9.0)]) - surface.origin)
    assert way.end == "off the survey"
    assert way.legs[-1][-1, 1] + surface.origin[1] == pytest.approx(0.04)
    assert not ponds(flow)
    assert sum(pond.volume for pond in ponds(Flow(on_surface(surface, whole=True)))) > 0.5


def test_refuses_water_that_would_run_uphill(ground: Ground) -> None:
    """Slopes that do not belong to the heights: the check at run time."""
    good = on_surface(yard(ground, lambda x, _: 100.0 + 0.05 * x))
    level = good.down[0][None] * -1.0  # points uphill
    bad = WaterGround(
        good.places, good.heights, good.triangles, good.neighbours, -np.tile(level, (len(good.triangles), 1))
    )
    with pytest.raises(CheckError, match="uphill"):
        ways(Flow(bad), np.array([(11.3, 11.1)]))


@pytest.mark.parametrize("seed", [42, 43, 48])
def test_from_a_shot_and_from_a_side_a_drop_goes_where_the_water_there_goes(seed: int) -> None:
    """A spring may be told exactly at a shot, or between two: the same as of the place, or of one bank."""
    one = flow_oracle.yard(seed)
    ring = one.building.rings[0] - one.surface.origin
    made = around(one.surface, [ring], 100.0)
    made.catch([np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)])
    flow = Flow(made, 1)
    used, (row, side) = np.unique(made.triangles), np.nonzero(made.neighbours < 0)
    rim = made.places[np.stack((made.triangles[row, side], made.triangles[row, NEXT[side]]), axis=1)]
    for place, way in zip(used.tolist(), ways(flow, made.places[used]), strict=True):
        assert way.line == flow.fates[place]
        assert way.legs[0][0].tolist() == pytest.approx([*made.places[place], made.heights[place]])
        # all of it is told, to where it leaves the ground or comes to the wall
        hole = shapely.Polygon(ring).exterior
        edge = hole if way.end == "caught" else shapely.multilinestrings(rim)
        assert edge.distance(shapely.Point(way.legs[-1][-1, :2])) < 1e-6
    a, b = made.places[made.pairs[:, 0]], made.places[made.pairs[:, 1]]
    across = np.stack((b[:, 1] - a[:, 1], a[:, 0] - b[:, 0]), axis=1)
    across *= 1e-5 / np.hypot(*across.T)[:, None]
    middle = 0.5 * (a + b)
    on, left, right = (ways(flow, middle + off) for off in (0.0 * across, -across, across))
    for k, way in enumerate(on):
        assert way.legs
        assert way.line in {one.line for one in (left[k], right[k]) if one.legs}
