"""Where soil is spread: it dams up nothing on any yard, and keeps off what must stay clear."""

from __future__ import annotations

import heapq

import numpy as np
import pytest
import shapely

from gradework.earthwork.grading.spread import held_back, spread_on
from gradework.earthwork.nearby import Nearby, Neighbour, polygon_of
from gradework.earthwork.outline import Outline
from gradework.sitework.spreading import BELOW, OVER_ROOTS, TRUNK, Site, kept_clear, patches_for, roots_of

HUT = Outline.rectangle((10.0, 10.0), (4.0, 3.0))
NOTHING, NOWHERE = shapely.Polygon(), np.empty((0, 2))


def yard(ground, seed: int, *, rough: float = 0.05, slope: float = 0.06):
    rng = np.random.default_rng(seed)
    places = np.array([(x, y) for x in range(0, 25, 2) for y in range(0, 25, 2)], dtype=float)
    way = rng.uniform(0.0, 2.0 * np.pi)
    heights = (
        30.0 + slope * (places @ np.array([np.cos(way), np.sin(way)])) + rng.normal(0.0, rough, len(places))
    )
    return ground(np.column_stack((places, heights)))


def site(surface, *, near: tuple[Neighbour, ...] = (), outlets=NOWHERE, off: float = 1.2) -> Site:
    clear = kept_clear(surface, Nearby(HUT, near), NOTHING, outlets)
    low = float(np.nanmin(surface.elevation(shapely.get_coordinates(polygon_of(HUT).segmentize(0.1)))))
    roots = roots_of(Nearby(HUT, near))
    return Site(surface, HUT, shapely.union(clear, polygon_of(HUT).buffer(off)), low - BELOW, 0.6, roots)


def flooded(surface, step: float = 0.25):
    """Water on a raster of the ground, hollows filled to where they spill: places, ground and water level."""
    at = np.arange(0.0, 24.0 + step / 2, step)
    grid = np.stack(np.meshgrid(at, at, indexing="ij"), axis=-1)
    z = surface.elevation(grid.reshape(-1, 2)).reshape(len(at), len(at))
    level = np.full_like(z, np.inf)
    front = []
    for i, j in np.ndindex(z.shape):
        if i in (0, len(at) - 1) or j in (0, len(at) - 1):
            level[i, j] = z[i, j]
            heapq.heappush(front, (z[i, j], i, j))
    while front:
        here, i, j = heapq.heappop(front)
        for a, b in ((i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)):
            if 0 <= a < len(at) and 0 <= b < len(at) and max(z[a, b], here) < level[a, b]:
                level[a, b] = max(z[a, b], here)
                heapq.heappush(front, (level[a, b], a, b))
    return grid, z, level


@pytest.mark.parametrize("seed", range(8))
def test_no_dam_on_any_yard(ground, seed: int) -> None:
    """On rough ground, however it lies, water stands at the building nowhere higher than without the soil."""
    surface = yard(ground, seed, rough=0.08)
    patches = patches_for(site(surface), 3.0, 0.1)
    if not patches:
        pytest.skip("no ground below this building")
    there = spread_on(surface, patches)
    tops = [there.elevation(one.ring).max() for one in patches]
    low = surface.elevation(shapely.get_coordinates(polygon_of(HUT).segmentize(0.1))).min()
    assert max(tops) <= low - BELOW + 1e-9
    (grid, _, before), (_, _, after) = flooded(surface), flooded(there)
    at_home = shapely.intersects_xy(polygon_of(HUT).buffer(0.3), grid[..., 0], grid[..., 1])
    assert np.abs(after - before)[at_home].max() <= 1e-9


@pytest.mark.parametrize("seed", range(3))
def test_the_water_held_back_is_that_of_a_raster(ground, seed: int) -> None:
    surface = yard(ground, seed, rough=0.06)
    patches = patches_for(site(surface), 2.0, 0.1)
    assert patches
    there = spread_on(surface, patches)
    (_, z, before), (_, there_z, after) = flooded(surface), flooded(there)
    deeper = ((after - there_z) - (before - z)).max()
    # a raster leaks where the way out is narrower than its cells, and reads hollows short of their bottoms
    assert held_back(there, patches) == pytest.approx(deeper, abs=0.02)


def test_more_soil_never_finds_less_room(ground) -> None:
    surface = yard(ground, 1, rough=0.0)
    held = [
        sum(one.volume for one in patches_for(site(surface), soil, 0.076))
        for soil in (0.5, 1.0, 2.0, 4.0, 40.0)
    ]
    assert held == sorted(held)
    assert held[:3] == pytest.approx([0.5, 1.0, 2.0], abs=0.02)
    assert held[-1] < 40.0


def test_what_a_rectangle_holds_is_known_before_it_is_made(ground) -> None:
    here = site(yard(ground, 4))
    for low, size, thick in (((0, 0), (4, 9), 0.1), ((12, 3), (7, 2), 0.05), ((5, 20), (9, 6), 0.076)):
        assert here.holds(low, size, thick) == pytest.approx(here.patch(low, size, thick).volume, rel=1e-9)


def test_it_keeps_off_what_must_stay_clear(ground) -> None:
    surface = yard(ground, 1, rough=0.0)
    free = patches_for(site(surface), 2.0, 0.076)
    middle = free[0].ring.mean(axis=0)
    for kind, closed, off in (("tree", False, 3.0), ("well", False, 3.0), ("lot line", False, 0.6)):
        places = middle[None] if kind != "lot line" else middle + np.array([(-30.0, -30.0), (30.0, 30.0)])
        one = Neighbour("it", kind, places, closed)  # type: ignore[arg-type]
        for patch in patches_for(site(surface, near=(one,)), 2.0, 0.076):
            if patch.thick > OVER_ROOTS or kind != "tree":
                assert shapely.Polygon(patch.ring).distance(one.shape) >= off - 1e-9
            if kind == "lot line":  # all of it on one's own side
                way = shapely.LineString([patch.ring.mean(axis=0), HUT.rings[0].mean(axis=0)])
                assert not way.intersects(one.shape)


@pytest.mark.parametrize("closed", [True, False])
def test_over_roots_lies_an_inch_at_the_most_and_only_what_finds_no_room(ground, closed: bool) -> None:
    """A yard full of trees: soil goes between their roots where there is room, then thin over them."""
    surface = yard(ground, 1, rough=0.0)
    rooted = np.array([(0.0, 0.0), (24.0, 0.0), (24.0, 24.0), (0.0, 24.0)])
    trees = (
        [Neighbour("orchard", "tree", rooted, True)]
        if closed
        else [
            Neighbour(f"tree {x} {y}", "tree", np.array([(x, y)]), False)
            for x in range(1, 25, 5)
            for y in range(1, 25, 5)
        ]
    )
    here = site(surface, near=tuple(trees))
    patches = patches_for(here, 6.0, 0.076)
    assert patches
    for patch in patches:
        shape = shapely.Polygon(patch.ring)
        assert patch.thick <= OVER_ROOTS or not shape.buffer(-1e-6).intersects(here.roots)
        for tree in trees:
            assert closed or shape.distance(tree.shape) >= TRUNK - 1e-9
    assert any(shapely.Polygon(one.ring).intersects(here.roots) for one in patches)
    bare = patches_for(site(surface), 6.0, 0.076)
    assert sum(one.volume for one in bare) >= sum(one.volume for one in patches)
    assert all(one.thick > OVER_ROOTS for one in bare)


def test_nothing_lies_where_water_comes_out(ground) -> None:
    surface = yard(ground, 1, rough=0.0)
    middle = patches_for(site(surface), 2.0, 0.076)[0].ring.mean(axis=0)
    for patch in patches_for(site(surface, outlets=middle[None]), 2.0, 0.076):
        assert shapely.Polygon(patch.ring).distance(shapely.Point(middle)) >= 1.5


def test_nothing_is_spread_where_all_ground_is_higher(ground) -> None:
    places = np.array([(x, y) for x in range(0, 25, 2) for y in range(0, 25, 2)], dtype=float)
    bowl = ground(np.column_stack((places, 30.0 + 0.02 * np.hypot(*(places - 12.0).T))))
    assert patches_for(site(bowl), 2.0, 0.076) == ()


def test_the_setback_of_a_tree_is_kept_whether_its_outline_or_its_place_is_told(ground) -> None:
    surface = yard(ground, 3)
    ring = np.array([(18.0, 17.0), (19.0, 18.0), (18.0, 19.0), (17.0, 18.0)])
    place = np.array([(18.0, 18.0)])
    for lines, closed in ((ring, True), (place, False)):
        kept = kept_clear(
            surface, Nearby(HUT, (Neighbour("oak", "tree", lines, closed, 4.0),)), NOTHING, NOWHERE
        )
        assert shapely.covers(kept, shapely.Point(18.0, 14.5))
    bare = kept_clear(surface, Nearby(HUT, (Neighbour("oak", "tree", ring, True, None),)), NOTHING, NOWHERE)
    assert not shapely.covers(bare, shapely.Point(18.0, 14.5))
