"""Where water runs on finished ground, apart from the program: a fine raster and a priority flood.

Every cell gets the neighbour that it drains over, hollows filled to where they spill, from the edge of the
survey inward. Water from uphill reaches a pad where its way comes to a cell that touches the pad's outline.
Yards are invented: planes, cones, rolling and rough ground, pads cut in or raised, boxed or with side slopes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.sides import batter_shapes
from gradework.earthwork.grading.whole import whole_ground
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface, build_surface
from gradework.sitework.drainage import check_drainage
from gradework.sitework.heaped import LedPrices
from gradework.sitework.past_walls import wall_measures
from gradework.survey.stations import Stations
from gradework.units.display import METRIC

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

STEP = 0.12
"""[m] A cell; the narrowest swale is 0.46 m wide at the ground."""

TRENCH = 0.3048
"""[m] As wide as the stone of a drain is taken to be; the raster would let water run over it."""

AWAY = 1.0
"""[m] What falls nearer to the pad is its own rain, not water from uphill."""

SIZE = 26.0
SHAPES = {
    "rectangle": [(0, 0), (5, 0), (5, 3.6), (0, 3.6)],
    "long": [(0, 0), (7.5, 0), (7.5, 3), (0, 3)],
    "L": [(0, 0), (7, 0), (7, 3.2), (3.4, 3.2), (3.4, 6.4), (0, 6.4)],
}
MARGIN = 0.3


PRICES = LedPrices(30.0, 15.0, 27.5, 0.042, 4.0, 1.2, 0.9, 3.0)
"""Made up, in the order of the names: dig, haul, earth, stone, pipe, fabric, compaction, soil at hand."""


class Yard(NamedTuple):
    """The surveyed ground, the building, and its pad at a level [m]; ``batter``: run per rise of its side
    slopes, None where boards hold it."""

    surface: Surface
    building: Outline
    level: float
    batter: float | None

    @property
    def pad(self) -> Outline:
        return self.building.grown(MARGIN)


def yard(seed: int) -> Yard:
    """One of many, each from its number alone."""
    rng = np.random.default_rng((20261130, seed))
    xy = np.vstack(
        (rng.random((rng.integers(40, 90), 2)) * SIZE, SIZE * np.array([(0, 0), (1, 0), (1, 1), (0, 1)]))
    )
    way = rng.uniform(0.0, 2.0 * np.pi)
    height = rng.uniform(0.02, 0.15) * (xy @ (np.cos(way), np.sin(way)))
    kind = seed % 5
    if kind == 1:
        height = (
            rng.uniform(0.02, 0.15)
            * np.hypot(*(xy - rng.uniform(-0.5, 1.5, 2) * SIZE).T)
            * rng.choice([-1, 1])
        )
    elif kind == 2:
        height += rng.uniform(0.05, 0.3) * np.sin(xy[:, 0] / 4.0 + rng.uniform(0, 6)) * np.cos(xy[:, 1] / 3.5)
    elif kind == 3:
        height += rng.normal(0.0, 0.04, len(xy))
    shots = np.column_stack((xy, np.round(100.0 + height, 3)))
    names = [f"S{k}" for k in range(1, len(shots) + 1)]
    surface = build_surface(
        Stations(names, shots, np.full(len(shots), np.nan), np.arange(len(shots)) + 2, "yard.csv", "m")
    )
    ring = np.array(list(SHAPES.values())[int(rng.choice(3, p=[0.5, 0.3, 0.2]))])
    turn = rng.uniform(0.0, 360.0)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    ring = (ring - ring.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + SIZE / 2 + rng.uniform(-1.5, 1.5, 2)
    building = Outline.polygon([tuple(p) for p in ring.tolist()])
    edge = building.grown(MARGIN).rings[0]
    ground = surface.elevation(
        np.vstack([np.linspace(a, b, 40) for a, b in zip(edge, np.roll(edge, -1, 0), strict=True)])
    )
    low, high = float(ground.min()), float(ground.max())
    level = low + rng.uniform(0.4, 1.1) * (high - low) + rng.uniform(-0.05, 0.25)
    batter = 2.0 if rng.random() < 0.3 and len(ring) == 4 else None
    return Yard(surface, building, level, batter)


def flat_yard(seed: int) -> Yard:
    """One of many that hardly fall, with a hump or two: no swale comes out there. The pad stands 7 to 13 in
    above the ground at its edge."""
    rng = np.random.default_rng((20261201, seed))
    marks = np.linspace(0.0, SIZE, 12)
    xy = np.array([(x, y) for x in marks for y in marks]) + rng.normal(0.0, 0.05, (144, 2))
    way, height = rng.uniform(0.0, 2.0 * np.pi), 100.0 + rng.normal(0.0, 0.003, 144)
    height += rng.uniform(0.0, 0.015) * (xy @ (np.cos(way), np.sin(way)))
    for _ in range(rng.integers(1, 4)):
        at, wide, high = SIZE * rng.uniform(0.2, 0.8, 2), rng.uniform(1.0, 4.0), rng.normal(0.0, 0.05)
        height += high * np.exp(-((xy - at) ** 2).sum(axis=1) / (2.0 * wide**2))
    shots = np.column_stack((xy, np.round(height, 3)))
    names = [f"S{k}" for k in range(1, len(shots) + 1)]
    surface = build_surface(
        Stations(names, shots, np.full(len(shots), np.nan), np.arange(len(shots)) + 2, "yard.csv", "m")
    )
    turn = rng.uniform(0.0, 360.0)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    ring = (np.array(SHAPES["rectangle"]) - (2.5, 1.8)) @ np.array([[c, s], [-s, c]]) + SIZE / 2
    building = Outline.polygon([tuple(p) for p in ring.tolist()])
    edge = building.grown(MARGIN).rings[0]
    beside = np.vstack([np.linspace(a, b, 40) for a, b in zip(edge, np.roll(edge, -1, 0), strict=True)])
    level = float(surface.elevation(beside).max()) + rng.uniform(0.18, 0.33)
    return Yard(surface, building, level, 2.0 if rng.random() < 0.3 else None)


class Plan(NamedTuple):
    """What the program says of a yard that is led: the finished ground, the kinds of what is dug, and the
    lines (k, 2, 2) [m] at which the stone of drains, as wide as ``TRENCH``, takes water in; ``sides``: the
    numbers of the walls that each is for."""

    ground: Surface
    kinds: tuple[str, ...]
    stone: Floats
    sides: tuple[tuple[int, ...], ...]


def led(yard: Yard) -> Plan | None:
    """Ask the program; None where water comes to no wall, or where not all walls pass once all is dug."""
    surface, building, pad, shaped, batter = yard.surface, yard.building, yard.pad, None, None
    if yard.batter is not None:
        ring = pad.rings[0]
        up, down = batter_shapes(ring - surface.origin, yard.level, yard.batter) or (None, None)
        sloped = finished_ground(surface, ring, yard.level, cut=up, fill=down)
        shaped = sloped.surface
        batter = Batter(yard.batter, sloped.cut, sloped.fill, sloped.cut_area + sloped.fill_area)
    top = PadTop(yard.level, pad, ground=shaped)
    drainage = check_drainage(surface, building, show=METRIC, pad=top)
    if not any(fall.verdict == "toward" for fall in drainage.after):
        return None
    measures = wall_measures(surface, building, top, drainage, margin=MARGIN, batter=batter, prices=PRICES)
    dug = [one.dug for one in measures if one.dug is not None]
    passes = {fall.wall for fall in drainage.after if fall.verdict == "away"}
    passes |= {wall for one in measures if one.dug is not None for wall in one.cured}
    if not dug or len(passes) < len(drainage.after):
        return None
    ground = dug[0].ground if len(dug) == 1 else whole_ground(
        surface, pad, yard.level, batter=yard.batter, beside=dug
    )  # fmt: skip
    stone = [one.dug for one in dug if one.kind == "drain"]
    count, spans = len(pad.rings[0]), [one.run.span for one in measures if one.dug is not None]
    sides = tuple(tuple(k % count for k in range(*span)) for span in spans)
    lines = np.concatenate([np.empty((0, 2, 2)), *stone])
    return Plan(ground.surface, tuple(one.kind for one in dug), lines, sides)


class Flow(NamedTuple):
    """Cells (n, m): the number of the one that each drains over, -1 at the edge; the water's height where it
    stands or runs [m]; which are the pad's, which touch it, and which lie ``AWAY`` from it."""

    onward: Indices
    water: Floats
    pad: NDArray[np.bool_]
    beside: NDArray[np.bool_]
    away: NDArray[np.bool_]


def flow_on(
    ground: Surface, pad: Outline, level: float, step: float = STEP, stone: Floats | None = None
) -> Flow:
    """Sample the ground at the middles of cells, level in the pad, and flood it from the edge inward; what
    comes to ``stone`` (k, 2, 2) sinks in."""
    low, high = ground.hull_xy.min(axis=0), ground.hull_xy.max(axis=0)
    axes = [np.arange(a + 0.5 * step, b, step) for a, b in zip(low, high, strict=True)]
    xy = np.stack(np.meshgrid(*axes), axis=-1)
    height = ground.elevation(xy.reshape(-1, 2)).reshape(xy.shape[:2])
    shape: Any = shapely.Polygon(pad.rings[0])
    shapely.prepare(shape)
    points = shapely.points(xy.reshape(-1, 2))
    inside = shapely.covers(shape, points).reshape(height.shape)
    off = shapely.distance(points, shape).reshape(height.shape)
    height[inside] = level
    if stone is not None and len(stone):
        trench: Any = shapely.MultiLineString(list(stone)).buffer(0.5 * TRENCH, cap_style="flat")
        height[shapely.contains_xy(trench, *points_of(xy)) & ~inside] = np.nan
    onward, water = flooded(height)
    return Flow(onward, water, inside, ~inside & (off <= step), off > AWAY)


def points_of(xy: Floats) -> Floats:
    """Their coordinates first: (2, n, m)."""
    return np.moveaxis(xy, -1, 0)


def followed(ground: Surface, pad: Outline, start: Floats, pace: float = 0.02) -> NDArray[np.bool_]:
    """Which drops from ``start`` (m, 2) [m] come within a cell of the pad: each goes straight down the slope
    where it is, step by step, until it is off the survey or comes to rest. A raster leads water in eight
    directions only; this has all of them."""
    shape: Any = shapely.Polygon(pad.rings[0])
    at, number, hit = start.copy(), np.arange(len(start)), np.zeros(len(start), dtype=bool)
    was = at.copy()
    for count in range(4000):
        slope = ground.gradient(at)
        steep = np.hypot(*slope.T)
        off = shapely.distance(shapely.points(at), shape)
        hit[number[off <= STEP]] = True
        going = np.isfinite(steep) & (steep > 0.0) & (off > STEP)
        if count % 100 == 99:  # to and fro in a hollow is no way
            going &= np.hypot(*(at - was).T) > pace
            was = at.copy()
        if not going.any():
            break
        at, number, was = at[going] - pace * slope[going] / steep[going, None], number[going], was[going]
    return hit


def flooded(height: Floats) -> tuple[Indices, Floats]:
    """For each cell (n, m) the number of that over which it drains, and the height of water there.

    A priority flood takes the lowest pass next, which is the least spanning tree of all passes between
    neighbours, grown from where water leaves: the rim, and cells beside ground that is not known (NaN). From
    there each cell is reached over the lowest ways. Where a neighbour lies lower, the steepest is taken.
    """
    rows, columns = height.shape
    known = np.isfinite(height)
    cell = np.arange(height.size).reshape(height.shape)
    rim = ~ndimage.binary_erosion(known, np.ones((3, 3))) & known
    one, other = (np.concatenate(ends) for ends in zip(*_neighbours(cell), strict=True))
    both = known.reshape(-1)[one] & known.reshape(-1)[other]
    one, other = one[both], other[both]
    flat = np.where(known, height, np.inf).reshape(-1)
    base = float(flat.min()) - 1.0  # no pass may weigh nothing
    leave = cell[rim]
    passes = np.concatenate((np.maximum(flat[one], flat[other]) - base, flat[leave] - base))
    pairs = (np.concatenate((one, leave)), np.concatenate((other, np.full(len(leave), height.size))))
    ends = tuple(numbers.astype(np.int32) for numbers in pairs)  # older trees take no wider numbers
    size = height.size + 1
    tree = csgraph.minimum_spanning_tree(sparse.coo_array((passes, ends), shape=(size, size)).tocsr())
    _, before = csgraph.breadth_first_order(tree, height.size, directed=False)
    onward = before[: height.size].astype(np.int64)
    onward[(onward == height.size) | (onward < 0)] = -1
    water, jump = flat.copy(), np.where(onward < 0, np.arange(height.size), onward)
    for _ in range(int(np.ceil(np.log2(height.size)))):
        water, jump = np.maximum(water, water[jump]), jump[jump]
    water = np.where(known.reshape(-1), water, np.nan).reshape(height.shape)
    return steepest(water, onward.reshape(rows, columns)), water


def _neighbours(cell: Indices) -> Iterator[tuple[Indices, Indices]]:
    """Numbers of cells next to each other, over sides and corners, each pair once."""
    for one, other in (
        (cell[:, :-1], cell[:, 1:]), (cell[:-1], cell[1:]),
        (cell[:-1, :-1], cell[1:, 1:]), (cell[:-1, 1:], cell[1:, :-1]),
    ):  # fmt: skip
        yield one.reshape(-1), other.reshape(-1)


def steepest(water: Floats, onward: Indices) -> Indices:
    """The steepest neighbour below each cell; where none is lower (standing water) the way of the flood."""
    rows, columns = water.shape
    best = np.full(water.shape, 1e-12)
    number = np.arange(water.size).reshape(water.shape)
    chosen = onward.copy()
    filled = np.where(np.isfinite(water), water, np.inf)
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            if dy or dx:
                y, x = slice(max(-dy, 0), rows - max(dy, 0)), slice(max(-dx, 0), columns - max(dx, 0))
                y2, x2 = slice(max(dy, 0), rows + min(dy, 0)), slice(max(dx, 0), columns + min(dx, 0))
                with np.errstate(invalid="ignore"):
                    fall = (filled[y, x] - filled[y2, x2]) / np.hypot(dy, dx)
                better = (fall > best[y, x]) & (onward[y, x] >= 0)
                best[y, x] = np.where(better, fall, best[y, x])
                chosen[y, x] = np.where(better, number[y2, x2], chosen[y, x])
    return chosen


def reaching(flow: Flow, goal: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which cells drain over one of ``goal`` (n, m): each way is doubled until it ends."""
    onward = flow.onward.reshape(-1)
    hit = goal.reshape(-1).copy()
    nowhere = onward < 0
    jump = np.where(nowhere, np.arange(len(onward)), onward)
    for _ in range(int(np.ceil(np.log2(len(onward)))) + 1):
        hit |= hit[jump]
        jump = jump[jump]
    return hit.reshape(flow.onward.shape)


def area_reaching(flow: Flow, goal: NDArray[np.bool_], step: float = STEP) -> float:
    """How much ground away from the pad drains over ``goal`` [m²]."""
    return float((reaching(flow, goal) & flow.away).sum()) * step**2


def area_followed(flow: Flow, ground: Surface, pad: Outline, step: float = STEP) -> float:
    """How much of the ground that drains to its foot by the raster sends its drops there, too [m²]."""
    row, column = np.nonzero(reaching(flow, flow.beside) & flow.away)
    start = ground.hull_xy.min(axis=0) + step * (0.5 + np.column_stack((column, row)))
    return float(followed(ground, pad, start).sum()) * step**2


def before_sides(flow: Flow, ground: Surface, pad: Outline, sides: tuple[int, ...]) -> NDArray[np.bool_]:
    """Those cells that touch the foot of a pad before some of its sides (n, m), a foot clear of corners."""
    low, high = ground.hull_xy.min(axis=0), ground.hull_xy.max(axis=0)
    axes = [np.arange(a + 0.5 * STEP, b, STEP) for a, b in zip(low, high, strict=True)]
    xy = np.stack(np.meshgrid(*axes), axis=-1)
    found = np.zeros(flow.beside.shape, dtype=bool)
    for k in sides:
        start, end = pad.rings[0][k], pad.rings[0][(k + 1) % len(pad.rings[0])]
        length = float(np.hypot(*(end - start)))
        u, t = (xy - start) @ (end - start) / length, (xy - start) @ (_out(end - start) / length)
        found |= (u > 0.3) & (u < length - 0.3) & (t > 0.0)
    return found & flow.beside


def _out(way: Floats) -> Floats:
    return np.array([way[1], -way[0]])


def below(flow: Flow, level: float) -> float:
    """How far below the top of the pad water from uphill stays that touches its foot [m], at the least."""
    source = np.zeros(flow.onward.size, dtype=bool)
    source[reached_from(flow, flow.away)] = True
    touched = source.reshape(flow.beside.shape) & flow.beside
    return float((level - flow.water[touched]).min(initial=np.inf))


def reached_from(flow: Flow, start: NDArray[np.bool_]) -> Indices:
    """The numbers of all cells that water from ``start`` (n, m) runs over."""
    onward, seen = flow.onward.reshape(-1), start.reshape(-1).copy()
    front = np.unique(onward[seen])
    while len(front):
        front = front[front >= 0]
        front = front[~seen[front]]
        seen[front] = True
        front = np.unique(onward[front])
    return np.flatnonzero(seen)
