"""The ground under many places of one rectangle at once: cut, fill and the level of least fill of each.

Closed form, as for one outline, but every step is taken for hundreds of places together; nothing is sampled.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import FEW, cut_each, near, signed_areas
from gradework.earthwork.volumes import AGREEMENT, split_depths
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

AT_ONCE = 128
"""So many places are worked at a time; what is known of them then stays in the processor's cache."""

ON_EDGE = 1e-9
"""[m] A point this near to a side of the rectangle lies on it."""

WHOLE = 1e-9
"""Ground under less than all but this part of the rectangle leaves the survey."""

_NEVER = -np.inf


class LevelRule(NamedTuple):
    """The level of each place is the lowest that keeps all of these [m]; one that is -inf asks nothing.

    So much at least above the ``lowest`` ground of the rectangle, above its ``mean``, above its ``highest``,
    above the highest along its ``edge``; ``given``: an elevation.

    >>> LevelRule(highest=0.2).steady, LevelRule(given=31.0).steady
    (True, False)
    """

    lowest: float = _NEVER
    mean: float = _NEVER
    highest: float = _NEVER
    edge: float = _NEVER
    given: float = _NEVER

    @property
    def steady(self) -> bool:
        """Whether cut and fill stay as they are where all of the ground stands higher or lower."""
        return self.given == _NEVER


@dataclass(frozen=True, eq=False)
class Placements:
    """Arrays (n,), one entry per place.

    covered : area of the rectangle over surveyed ground [m²]; lowest, mean, highest, edge : ground under it,
    and the highest along its sides [m]; level : by the rule [m]; cut, fill : of the ground against it [m³],
    cut_area, fill_area : over how much ground [m²].
    Of a place that leaves the survey all of it is about the part inside; where there is none NaN.
    """

    area: float
    covered: Floats
    lowest: Floats
    mean: Floats
    highest: Floats
    edge: Floats
    level: Floats
    cut: Floats
    fill: Floats
    cut_area: Floats
    fill_area: Floats

    def __len__(self) -> int:
        return len(self.covered)

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Which places lie on surveyed ground altogether."""
        return self.covered >= (1.0 - WHOLE) * self.area

    @property
    def fall(self) -> Floats:
        """Highest less lowest ground [m]."""
        return self.highest - self.lowest


def placements(surface: Surface, size: tuple[float, float], places: Floats, rule: LevelRule) -> Placements:
    """Work out every place of a rectangle of ``size`` (along, across) [m].

    places : (n, 3), x and y of its middle [m], site frame, and its turn [radians] anticlockwise. Raises
    ``CheckError`` where cut less fill is not what the mean of the ground says.
    """
    local = np.asarray(places, dtype=np.float64).reshape(-1, 3) - [*surface.origin, 0.0]
    # of much ground each block looks at what lies near it: so places that are neighbours go together
    many = len(surface.triangles) > FEW
    order = np.lexsort(np.round(local[:, :2].T / max(size))) if many else np.arange(len(local))
    datum = float(surface.vertices[:, 2].mean())
    rows = np.empty((len(local), 10))
    for start in range(0, len(order), AT_ONCE):
        block = order[start : start + AT_ONCE]
        corners = _near(surface, local[block], size) if many else _all(surface)
        rows[block] = _block(corners, datum, size, local[block], rule)
    rows[:, 1:6] += datum
    return Placements(size[0] * size[1], *(np.ascontiguousarray(column) for column in rows.T))


def _all(surface: Surface) -> tuple[Floats, Numbers]:
    return surface.vertices, surface.triangles.astype(np.intp)


def _near(surface: Surface, block: Floats, size: tuple[float, float]) -> tuple[Floats, Numbers]:
    """Vertices and triangles that the rectangles of a block may touch."""
    numbers, _ = near(surface, block[:, :2], 0.5 * float(np.hypot(*size)))
    used, triangles = np.unique(surface.triangles[numbers], return_inverse=True)
    return surface.vertices[used], triangles.reshape(-1, 3)


def _block(
    ground: tuple[Floats, Numbers], datum: float, size: tuple[float, float], places: Floats, rule: LevelRule
) -> Floats:
    """The ten figures of each place (n, 10), elevations above the datum."""
    vertices, triangles = ground
    n, (a, b) = len(places), size
    z = vertices[:, 2] - datum
    cos, sin = np.cos(places[:, 2]), np.sin(places[:, 2])
    # in the frame of the rectangle its corners are (0, 0), (a, 0), (a, b), (0, b)
    u = np.column_stack((cos, sin)) @ vertices[:, :2].T
    u += (0.5 * a - places[:, 0] * cos - places[:, 1] * sin)[:, None]
    v = np.column_stack((-sin, cos)) @ vertices[:, :2].T
    v += (0.5 * b + places[:, 0] * sin - places[:, 1] * cos)[:, None]
    code = (u < 0.0).view(np.uint8) | (u > a).view(np.uint8) << 1
    code |= (v < 0.0).view(np.uint8) << 2 | (v > b).view(np.uint8) << 3
    first, second, third = (code.take(triangles[:, corner], axis=1) for corner in range(3))
    beyond = first | second | third
    whole = beyond == 0
    straddling = (first & second & third) == 0
    straddling &= ~whole
    owner, number = straddling.nonzero()
    polygons, owner = _clipped(u, v, z, triangles, owner, number, beyond[owner, number], size)
    heights = z.take(triangles)
    low, high = heights.min(axis=1), heights.max(axis=1)
    lowest = _least(np.where(whole, low, np.inf).min(axis=1, initial=np.inf), owner, polygons[:, :, 2])
    highest = -_least(np.where(whole, -high, np.inf).min(axis=1, initial=np.inf), owner, -polygons[:, :, 2])
    edge = _edge(polygons, owner, (u, v, z), size)
    fans, areas, fan_owner = _fans(polygons, owner)
    whole_areas = signed_areas(vertices.take(triangles, axis=0))
    moments = np.column_stack((whole_areas, whole_areas * heights.sum(axis=1) / 3.0))
    covered, moment = (whole.astype(np.float64) @ moments).T
    covered = covered + np.bincount(fan_owner, areas, n)
    moment = moment + np.bincount(fan_owner, areas * fans.sum(axis=1) / 3.0, n)
    with np.errstate(divide="ignore", invalid="ignore"):  # where there is no ground there is no level
        mean = moment / covered
        floor = np.maximum(lowest + rule.lowest, mean + rule.mean)
        floor = np.maximum(floor, np.maximum(highest + rule.highest, edge + rule.edge))
    level = np.maximum(floor, rule.given - datum)
    totals = _whole_volumes(whole, np.sort(heights, axis=1), moments, level)
    for number, part in enumerate(_fan_volumes(fans, level.take(fan_owner))):
        totals[:, number] += np.bincount(fan_owner, part * areas, n)
    _check(covered, mean, level, totals, lowest, highest)
    rows = np.column_stack((covered, lowest, mean, highest, edge, level, totals))
    rows[~(covered > 0.0)] = [0.0, *[np.nan] * 9]
    return rows


def _clipped(
    u: Floats, v: Floats, z: Floats, triangles: Numbers, owner: Numbers, number: Numbers,
    beyond: NDArray[np.uint8], size: tuple[float, float],
) -> tuple[Floats, Numbers]:  # fmt: skip
    """What lies inside its own rectangle of each triangle that straddles one: (k, m, 3), and whose (k,)."""
    corners = triangles.take(number, axis=0)
    polygons = np.empty((len(owner), 3, 3))
    at = owner[:, None] * u.shape[1] + corners
    polygons[:, :, 0], polygons[:, :, 1] = u.reshape(-1).take(at), v.reshape(-1).take(at)
    polygons[:, :, 2] = z.take(corners)
    count = np.full(len(owner), 3)
    for side, plane in enumerate(
        ((1.0, 0.0, 0.0), (-1.0, 0.0, -size[0]), (0.0, 1.0, 0.0), (0.0, -1.0, -size[1]))
    ):
        rows = ((beyond & (1 << side) != 0) & (count > 0)).nonzero()[0]
        if len(rows):
            polygons = cut_each(polygons, count, rows, np.array([plane]))
    alive = count.nonzero()[0]
    return polygons.take(alive, axis=0), owner.take(alive)


def _least(start: Floats, owner: Numbers, values: Floats) -> Floats:
    """The least of ``start`` (n,) and of all ``values`` (k, m) of each owner; owners are in order."""
    if len(owner):
        begin = np.flatnonzero(np.diff(owner, prepend=-1))
        at = owner.take(begin)
        start[at] = np.minimum(start[at], np.minimum.reduceat(values.min(axis=1), begin))
    return start


def _edge(
    polygons: Floats, owner: Numbers, points: tuple[Floats, Floats, Floats], size: tuple[float, float]
) -> Floats:
    """The highest ground along the sides of each rectangle: along one it is highest at a crossing, a corner
    of the rectangle, or a shot on the side."""
    u, v, z = points
    off = np.minimum(np.minimum(u, size[0] - u), np.minimum(v, size[1] - v))
    highest = np.where(np.abs(off) <= ON_EDGE, -z, np.inf).min(axis=1)
    x, y = polygons[:, :, 0], polygons[:, :, 1]
    away = np.minimum(np.minimum(x, size[0] - x), np.minimum(y, size[1] - y))
    return -_least(highest, owner, np.where(away <= ON_EDGE, -polygons[:, :, 2], np.inf))


def _fans(polygons: Floats, owner: Numbers) -> tuple[Floats, Floats, Numbers]:
    """Fans of triangles from the first corner of each polygon: heights (j, 3) in order, areas, owners."""
    m = polygons.shape[1]
    x, y, z = (polygons[:, :, axis] for axis in range(3))
    x, y = x - x[:, :1], y - y[:, :1]
    areas = 0.5 * (x[:, 1:-1] * y[:, 2:] - x[:, 2:] * y[:, 1:-1]).reshape(-1)
    kept = areas.nonzero()[0]
    row, turn = np.divmod(kept, max(m - 2, 1))
    flat, first = z.reshape(-1), row * m
    one, two, three = flat.take(first), flat.take(first + turn + 1), flat.take(first + turn + 2)
    lower, upper = np.minimum(one, two), np.maximum(one, two)
    rest = np.minimum(upper, three)
    heights = np.empty((len(kept), 3))
    heights[:, 0], heights[:, 1] = np.minimum(lower, rest), np.maximum(lower, rest)
    heights[:, 2] = np.maximum(upper, three)
    return heights, areas.take(kept), owner.take(row)


def _whole_volumes(whole: NDArray[np.bool_], heights: Floats, moments: Floats, level: Floats) -> Floats:
    """Cut, fill and the area of each (n, 4), of the triangles that lie wholly inside each rectangle;
    ``moments`` (t, 2): their areas, and times their mean heights."""
    below = whole & (heights[:, 2] <= level[:, None])
    above = whole & (heights[:, 0] >= level[:, None])
    above &= ~below
    filled, dug = below.astype(np.float64) @ moments, above.astype(np.float64) @ moments
    totals = np.column_stack(
        (dug[:, 1] - level * dug[:, 0], level * filled[:, 0] - filled[:, 1], dug[:, 0], filled[:, 0])
    )
    row, column = (whole & ~below & ~above).nonzero()
    if len(row):
        own, weight = heights.take(column, axis=0), moments[:, 0].take(column)
        for number, part in enumerate(split_depths(own[:, 0], own[:, 1], own[:, 2], level.take(row))):
            totals[:, number] += np.bincount(row, part * weight, len(level))
    return totals


def _fan_volumes(heights: Floats, level: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Mean cut and fill of triangles (j, 3), each against its own level (j,), and their shares in both."""
    depth = heights.sum(axis=1) / 3.0 - level
    above = heights[:, 0] >= level
    cut, fill = np.where(above, depth, 0.0), np.where(above, 0.0, -depth)
    cut_share, fill_share = above.astype(np.float64), (~above).astype(np.float64)
    split = ((heights[:, 0] < level) & (level < heights[:, 2])).nonzero()[0]
    if len(split):
        own = heights.take(split, axis=0)
        parts = split_depths(own[:, 0], own[:, 1], own[:, 2], level.take(split))
        cut[split], fill[split], cut_share[split], fill_share[split] = parts
    return cut, fill, cut_share, fill_share


def _check(
    covered: Floats, mean: Floats, level: Floats, totals: Floats, lowest: Floats, highest: Floats
) -> None:
    """Cut less fill is the mean of the ground over the level, whatever the level is."""
    some = covered > 0.0
    covered, mean, level, lowest, highest = (one[some] for one in (covered, mean, level, lowest, highest))
    cut, fill = totals[some, 0], totals[some, 1]
    far = np.abs(level) + np.abs(lowest) + np.abs(highest)
    slack = AGREEMENT * (cut + fill) + covered * far * 1e-12 + 1e-15
    if not (np.abs(cut - fill - covered * (mean - level)) <= slack).all():
        raise CheckError("cut less fill is not what the ground under a place says")
