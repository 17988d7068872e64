"""How much ground drains to a wall: planes, cones, valleys and hollows, and drops followed one by one."""

from __future__ import annotations

from collections.abc import Callable

import flow_oracle
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from gradework.ground.surface import Surface
from gradework.ground.water.catchment import drained
from gradework.ground.water.flow import LEAVES, Flow
from gradework.ground.water.ground import around, on_surface, slivers
from gradework.ground.water.ways import located

Floats = NDArray[np.float64]
Ground = Callable[..., Surface]
MARKS = np.arange(0.0, 24.1, 2.0)
EXACT = 1e-9
"""[-] Rounding; the grid on which lines are cut moves a wall by 5 nm."""


def yard(ground: Ground, height: Callable[[float, float], float]) -> Surface:
    return ground([(x, y, height(x, y)) for x in MARKS for y in MARKS])


def sides_of(ring: Floats) -> list[Floats]:
    return [np.stack((a, b))[None] for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]


def to_walls(surface: Surface, ring: Floats, *, apart: bool = True) -> Flow:
    """The flow about a building, caught at each of its walls, or at all of them as one line."""
    local = np.asarray(ring, dtype=np.float64) - surface.origin
    made = around(surface, [local], 100.0)
    lines = sides_of(local) if apart else [np.concatenate(sides_of(local))]
    made.catch(lines)
    return Flow(made, len(lines))


def turned_box(turn: float, half: tuple[float, float], middle: tuple[float, float] = (12.0, 12.0)) -> Floats:
    c, s = np.cos(turn), np.sin(turn)
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
    return corners @ np.array([[c, s], [-s, c]]) + middle


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("fall", [0.0, 0.7, 2.5])
def test_on_a_plane_the_strip_above_a_wall_drains_to_it(ground: Ground, turn: float, fall: float) -> None:
    """As wide as the wall across the slope, up to the edge of the survey; the lower walls get nothing."""
    up = np.array([np.cos(fall), np.sin(fall)])
    surface = yard(ground, lambda x, y: 100.0 + 0.05 * float(up @ (x, y)))
    ring = turned_box(turn, (3.0, 2.0))
    areas = drained(to_walls(surface, ring)).areas
    for number, (one, two) in enumerate(zip(ring, np.roll(ring, -1, axis=0), strict=True)):
        way = two - one
        faces_up = float(np.array([way[1], -way[0]]) @ up) > 1e-9
        strip = shapely.Polygon([one, two, two + 60.0 * up, one + 60.0 * up])
        expected = strip.intersection(shapely.box(0, 0, 24, 24)).area if faces_up else 0.0
        assert areas[number] == pytest.approx(expected, rel=EXACT, abs=1e-5)


def test_on_a_cone_a_wall_gets_its_sector(ground: Ground) -> None:
    """A pyramid of 64 sides: on each the water runs square to its foot, so that drops keep apart by it."""
    turns = np.arange(64) * 2.0 * np.pi / 64
    rim = [(20.0 * np.cos(a), 20.0 * np.sin(a), 10.0) for a in turns]
    surface = ground([(0.0, 0.0, 14.0), *rim])
    at = np.array([(10.0, -0.5), (14.0, -0.5), (14.0, 0.5), (10.0, 0.5)])
    flow = to_walls(surface, at)
    areas = drained(flow).areas
    # two faces meet along the x axis; water of each runs at half a face's angle to it, away from it
    half = np.pi / 64.0
    above = 0.0
    for sign in (1.0, -1.0):
        way = np.array([np.cos(half), sign * np.sin(half)])
        face = shapely.Polygon([(0, 0), (20, 0), (20 * np.cos(2 * half), sign * 20 * np.sin(2 * half))])
        wall = np.array([(10.0, 0.0), (10.0, sign * 0.5)])
        above += shapely.Polygon([*wall, *(wall[::-1] - 30.0 * way)]).intersection(face).area
    assert areas[3] == pytest.approx(above, rel=EXACT)
    assert areas[1] == 0.0


def test_a_valley_brings_what_lies_above_it(ground: Ground) -> None:
    """1 down along it for 2 across: worked out on paper."""
    surface = yard(ground, lambda x, y: 100.0 + 0.1 * x + 0.2 * abs(y - 12.0))
    ring = np.array([(4.0, 11.0), (6.0, 11.0), (6.0, 13.0), (4.0, 13.0)])
    area = float(drained(to_walls(surface, ring, apart=False)).areas.sum())
    # water of either bank runs (-1, -+2): what comes to the bottom beyond x = 6 or to a wall. The line of
    # drops through the corner (4, 13) bounds it: x = 4 + (y - 13) / 2 up to y = 24
    half = shapely.Polygon([(4, 13), (9.5, 24), (24, 24), (24, 12), (6, 12), (6, 13)])
    assert area == pytest.approx(2.0 * half.area, rel=EXACT)


def test_a_full_hollow_hands_on_what_it_gets(ground: Ground) -> None:
    """A trough across a slope, with sides that fall inward: all that comes to it spills at its low rim."""

    def height(x: float, y: float) -> float:
        return 100.0 + 0.1 * x + 0.05 * abs(y - 12.0) - (1.0 if x == 14.0 and abs(y - 12.0) < 3.0 else 0.0)

    surface = yard(ground, height)
    ring = np.array([(4.0, 11.0), (6.0, 11.0), (6.0, 13.0), (4.0, 13.0)])
    flow = to_walls(surface, ring, apart=False)
    (area,) = drained(flow).areas
    dry = to_walls(yard(ground, lambda x, y: 100.0 + 0.1 * x + 0.05 * abs(y - 12.0)), ring, apart=False)
    assert flow.flood.full.max() > 100.0
    assert area == pytest.approx(float(drained(dry).areas[0]), rel=0.1)


def test_level_ground_drains_to_where_it_falls_again(ground: Ground) -> None:
    """A terrace between two slopes and two banks hands on all that comes to it; a wide level yard drains to
    nothing but what lies between two walls at a corner of the grid."""
    terrace = yard(
        ground, lambda x, y: 100.0 + 0.1 * min(x, 10.0) + 0.1 * max(x - 16.0, 0.0) + (abs(y - 12.0) > 11.0)
    )
    wall = np.array([(4.0, -1.0), (6.0, -1.0), (6.0, 25.0), (4.0, 25.0)])
    (area,) = drained(to_walls(terrace, wall, apart=False)).areas
    assert area == pytest.approx(18.0 * 24.0, rel=1e-8)
    level = yard(ground, lambda *_: 100.0)
    assert drained(to_walls(level, turned_box(0.0, (2.0, 2.0)))).areas.sum() < 10.0


@pytest.mark.parametrize("seed", range(1, 6, 2))
def test_drops_followed_one_by_one_agree(seed: int) -> None:
    """Drops on a fine raster, each followed downhill, against the strips followed uphill."""
    one = flow_oracle.yard(seed)
    flow = to_walls(one.surface, one.building.rings[0], apart=False)
    step = 0.25
    low, high = flow.ground.places.min(axis=0), flow.ground.places.max(axis=0)
    axes = [np.arange(a + 0.5 * step, b, step) for a, b in zip(low, high, strict=True)]
    drops = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    triangle = located(flow, drops)
    drops, triangle = drops[triangle >= 0], triangle[triangle >= 0]
    end = flow.follow(triangle, drops, one.surface.elevation(drops + one.surface.origin))
    caught = (end == flow.count + 1) | (flow.fates[np.minimum(end, flow.count - 1)] == 0) & (end < flow.count)
    (area,) = drained(flow).areas
    assert area == pytest.approx(caught.sum() * step**2, abs=2.0)


@pytest.mark.parametrize("seed", range(40, 60))
def test_all_ground_drains_somewhere(seed: int) -> None:
    """Caught at the edge of the survey: the areas are all of it but for slivers at the edge; nothing is lost
    and nothing twice."""
    surface = flow_oracle.yard(seed).surface
    made, thin = on_surface(surface), float(surface.triangle_areas[slivers(surface)].sum())
    assert thin < 0.02 * surface.area
    row, side = np.nonzero(made.neighbours < 0)
    made.caught[row, side] = 0
    (area,) = drained(Flow(made, 1)).areas
    assert area + thin == pytest.approx(surface.area, rel=1e-9)


def test_more_may_come_in_over_the_edge_above(ground: Ground) -> None:
    """On a plane over the upper edge, as wide as the wall; over no other."""
    surface = yard(ground, lambda x, _: 100.0 + 0.05 * x)
    found = drained(to_walls(surface, turned_box(0.0, (2.0, 3.0))))
    assert found.inflow(1) == pytest.approx(6.0, rel=EXACT)
    assert [found.inflow(k) for k in (0, 2, 3)] == [0.0, 0.0, 0.0]
    assert np.unique(found.rim[..., 0] + surface.origin[0]).tolist() == [24.0]


def test_what_leaves_is_told_apart(ground: Ground) -> None:
    surface = yard(ground, lambda x, _: 100.0 + 0.05 * x)
    flow = to_walls(surface, turned_box(0.0, (2.0, 3.0)))
    fates = flow.fates
    places = flow.ground.places + surface.origin
    above = (places[:, 0] > 14.0) & (abs(places[:, 1] - 12.0) < 2.9)
    assert set(fates[above].tolist()) == {1}
    assert set(fates[places[:, 0] < 9.9].tolist()) == {LEAVES}
