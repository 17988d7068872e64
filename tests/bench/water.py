"""A million triangles: ponds, where each place drains, and what drains to a wall, against a library's flood.

The library call is the flood of the same places as a least spanning tree (scipy: ``minimum_spanning_tree``
and ``breadth_first_order`` from the rim), which gives the level at each place and nothing else. The ground is
invented: rolling, with the grain of a survey.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from gradework.ground.surface import Surface, build_surface
from gradework.ground.water.catchment import drained
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import WaterGround, on_surface
from gradework.ground.water.ponds import ponds
from gradework.survey.stations import Stations


def _terrain(count: int) -> Surface:
    rng = np.random.default_rng(5)
    size = float(np.sqrt(count))
    xy = np.unique(np.round(rng.random((count, 2)) * size, 3), axis=0)
    x, y = xy.T
    z = 0.04 * x + 3.0 * np.sin(x / 60.0) * np.cos(y / 45.0) + 0.5 * np.sin(x / 9.0 + y / 7.0)
    z = np.round(z + rng.normal(0.0, 0.01, len(xy)), 3)
    names = [f"S{k}" for k in range(len(xy))]
    xyz = np.column_stack((xy, z))
    return build_surface(
        Stations(names, xyz, np.full(len(xy), np.nan), np.arange(len(xy)) + 2, "big.csv", "m")
    )


def _library(made: WaterGround) -> np.ndarray:
    """Levels of a flood: passes as a spanning tree, grown from outside."""
    one, two = made.pairs.T
    leave = np.flatnonzero(np.isfinite(made.lips))
    base, count = float(made.heights.min()) - 1.0, len(made.places)
    high = np.maximum(made.heights[one], made.heights[two]) - base
    weights = np.concatenate((high, made.lips[leave] - base))
    ends = (np.concatenate((one, leave)), np.concatenate((two, np.full(len(leave), count))))
    pairs = tuple(numbers.astype(np.int32) for numbers in ends)
    tree = csgraph.minimum_spanning_tree(sparse.coo_array((weights, pairs), shape=(count + 1,) * 2).tocsr())
    order, before = csgraph.breadth_first_order(tree, count, directed=False)
    level, jump = np.append(made.heights, -np.inf), before.copy()
    jump[count] = count
    for _ in range(int(np.ceil(np.log2(len(order)))) + 1):
        level, jump = np.maximum(level, level[jump]), jump[jump]
    return level[:count]


def lines(count: int = 500_000) -> Iterator[str]:
    """One run of each, in seconds of CPU; the aim is a ratio of at most 3."""
    surface = _terrain(count)
    made = on_surface(surface)
    clock = [time.process_time()]
    library = _library(made)
    clock.append(time.process_time())
    flow = Flow(on_surface(surface))
    found = ponds(flow)
    clock.append(time.process_time())
    fates = flow.fates
    clock.append(time.process_time())
    made.caught[made.neighbours < 0] = 0
    (area,) = drained(Flow(made, 1)).areas
    clock.append(time.process_time())
    bare, pond, way, strip = np.diff(clock)
    used = np.unique(made.triangles)  # slivers at the edge are left away
    off = float(np.abs(flow.flood.level - library)[used].max())
    yield (
        f"{len(surface.triangles)} triangles: {len(found)} ponds {pond:.2f} s, "
        f"ways of {len(fates)} places {way:.2f} s; library flood {bare:.2f} s, "
        f"levels {off:.1e} m off; ratio of ponds {pond / bare:.2f}, with ways {(pond + way) / bare:.2f}"
    )
    off = float(area) / float(on_surface(surface).areas.sum()) - 1.0
    yield f"all ground followed uphill from the rim: {strip:.2f} s, {off:.1e} off the area"
