"""What the ground under an outline is like: its highest and lowest place, its fall and its slope."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import Pieces, clip
from gradework.errors import CheckError
from gradework.ground.locate import weights

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface


# The ground along the sides of an outline: straight between the points where a side crosses a triangle
# edge.
#
# Taken from the pieces of the clipped ground, so it is the same ground the volumes are made of.

Floats = NDArray[np.float64]

ON_SIDE = 1e-9
"""Part of the outline's size within which a corner of a piece lies on a side: rounding, nothing more."""

HULL_STRIP = 0.0015
"""[m] The same where the outline runs along the hull and up to 1 mm outside it (and its mitre)."""


@dataclass(frozen=True, eq=False)
class Side:
    """The ground along one side, from corner to corner in the direction of the ring.

    start, end : corner names.  along : (k,) distance from the first corner [m], rising, from 0 to the length.
    ground : (k,) elevation there [m]; straight between.  xy : (2, 2) the two corners, site frame [m].
    """

    start: str
    end: str
    xy: Floats
    along: Floats
    ground: Floats

    @property
    def length(self) -> float:
        """Length of the side [m]."""
        return float(self.along[-1])

    @property
    def fall(self) -> float:
        """Ground at the first corner less ground at the last [m]: positive where it falls."""
        return float(self.ground[0] - self.ground[-1])

    def point(self, along: float) -> tuple[float, float]:
        """The place on the side at a distance from its first corner, site frame [m]."""
        x, y = self.xy[0] + (self.xy[1] - self.xy[0]) * (along / self.length)
        return float(x), float(y)


def sides(outline: Outline, pieces: Pieces) -> tuple[Side, ...]:
    """The ground along every side of the outline, ring after ring.

    Raises CheckError where the pieces leave a corner of the outline without ground.
    """
    whole = abs(pieces.area - outline.area) <= ON_SIDE * outline.area
    points = np.unique(pieces.corners.reshape(-1, 3), axis=0)
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    near = ON_SIDE * float(np.hypot(*(high - low))) if whole else HULL_STRIP
    for ring in outline.rings:
        points = _with_corners(points, pieces, ring - pieces.origin, near)
    found, at = [], 0
    for ring in outline.rings:
        local = ring - pieces.origin
        names = outline.names[at : at + len(ring)]
        at += len(ring)
        for number in range(len(ring)):
            after = (number + 1) % len(ring)
            along, ground = _profile(points, local[number], local[after], near)
            found.append(Side(names[number], names[after], ring[[number, after]], along, ground))
    return tuple(found)


def _with_corners(points: Floats, pieces: Pieces, ring: Floats, near: float) -> Floats:
    """The points (n, 3) with those corners of a ring (k, 2) that none stands at, on the nearest ground.

    Two sides on one line make no corner in the pieces, and a corner may stick out of the survey by a
    millimetre. Raises CheckError where the nearest ground is farther than that.
    """
    bare = [i for i in range(len(ring)) if ((points[:, :2] - ring[i]) ** 2).sum(axis=1).min() > near**2]
    if not bare:
        return points
    vertices = pieces.corners.reshape(-1, 3)
    triangles = np.arange(len(vertices), dtype=np.int32).reshape(-1, 3)
    added = []
    for number in bare:
        corner = ring[number]
        shares, _ = weights(vertices, triangles, np.repeat(corner[None], len(triangles), axis=0))
        places = (shares[:, :, None] * pieces.corners).sum(axis=1)
        away = np.hypot(*(places[:, :2] - corner).T)
        if away.min() > _sticks_out(ring[number - 1], corner, ring[(number + 1) % len(ring)]):
            raise CheckError("a side of the outline has no ground at one of its corners")
        added.append([*corner, places[int(away.argmin()), 2]])
    return np.concatenate((points, added))


def _sticks_out(before: Floats, corner: Floats, after: Floats) -> float:
    """How far [m] a corner may stand off where its sides leave the ground by 1 mm: more if sharp."""
    u, v = before - corner, after - corner
    half = 0.5 * np.arctan2(abs(u[0] * v[1] - u[1] * v[0]), u @ v)
    return HULL_STRIP * float(1.0 + 2.0 / np.tan(half))


def _profile(points: Floats, start: Floats, end: Floats, near: float) -> tuple[Floats, Floats]:
    """Distances along one side and the ground there, from the corners of the pieces that lie on it."""
    step = end - start
    length = float(np.hypot(*step))
    direction = step / length
    local = points[:, :2] - start
    along = local @ direction
    off = local[:, 0] * direction[1] - local[:, 1] * direction[0]
    on = np.flatnonzero((np.abs(off) <= near) & (along >= -near) & (along <= length + near))
    on = on[np.argsort(along[on], kind="stable")]
    if len(on) < 2 or along[on[0]] > 2 * near or along[on[-1]] < length - 2 * near:
        raise CheckError("a side of the outline has no ground at one of its corners")
    where, ground = along[on], points[on, 2]
    apart = np.concatenate((np.diff(where) > near, [True]))  # one point of each cluster, the last
    where, ground = where[apart].copy(), ground[apart]
    where[0], where[-1] = 0.0, length
    where.setflags(write=False)
    ground.setflags(write=False)
    return where, ground


LEVEL = 1e-12
"""[-] A slope below this has no direction: it is rounding."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the ground, site frame [m]."""

    x: float
    y: float
    elevation: float


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line between two corners: its length and the fall along it [m] (negative: it rises)."""

    start: str
    end: str
    length: float
    fall: float


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane: rise per metre along x and y [-], and its elevation [m] at the outline's centre of area.

    downhill_degrees: direction of steepest descent, anticlockwise from +x, 0 to 360; NaN for a level plane.
    """

    east: float
    north: float
    elevation: float

    @property
    def slope(self) -> float:
        """Rise over run along the steepest line [-], never negative."""
        return math.hypot(self.east, self.north)

    @property
    def downhill_degrees(self) -> float:
        """Direction of steepest descent [degrees]."""
        if self.slope <= LEVEL:
            return math.nan
        return round(math.degrees(math.atan2(-self.north, -self.east)), 9) % 360.0


@dataclass(frozen=True, slots=True)
class Footprint:
    """The ground under one outline.

    high, low [m]: exact, at a corner of a piece of ground; high_at, low_at: where.  fall = high - low [m].
    fitted: the plane of least squared departure over all the ground (every square metre counts, not every
    shot); this is the slope that is shown.  mean: the plane of the mean gradient, each triangle by its area;
    it depends on the ground along the outline only, so a bump in the middle leaves it as it is.
    mean_steepness [-]: the mean of the slopes whatever their direction, so never below ``mean.slope``.
    sides, diagonals: the fall along each side, and between corners that are not neighbours.
    """

    area: float
    high: float
    low: float
    high_at: Place
    low_at: Place
    fitted: Plane
    mean: Plane
    mean_steepness: float
    sides: tuple[Line, ...]
    diagonals: tuple[Line, ...]

    @property
    def fall(self) -> float:
        """Highest less lowest ground [m]."""
        return self.high - self.low

    @property
    def slope(self) -> float:
        """Slope of the fitted plane [-]."""
        return self.fitted.slope

    @property
    def downhill_degrees(self) -> float:
        """Downhill direction of the fitted plane [degrees] anticlockwise from +x; NaN where it is level."""
        return self.fitted.downhill_degrees


def describe_footprint(surface: Surface, outline: Outline, pieces: Pieces | None = None) -> Footprint:
    """Describe the ground under an outline; ``pieces`` saves clipping it again.

    Raises what ``clip`` raises where the outline reaches outside the survey.
    """
    pieces = clip(surface, outline) if pieces is None else pieces
    corners = pieces.corners.reshape(-1, 3)
    highest, lowest = _place(pieces, int(corners[:, 2].argmax())), _place(pieces, int(corners[:, 2].argmin()))
    fitted, mean, steepness = _planes(surface, pieces)
    edges = sides(outline, pieces)
    return Footprint(
        area=pieces.area,
        high=highest.elevation,
        low=lowest.elevation,
        high_at=highest,
        low_at=lowest,
        fitted=fitted,
        mean=mean,
        mean_steepness=steepness,
        sides=tuple(Line(side.start, side.end, side.length, side.fall) for side in edges),
        diagonals=_diagonals(outline, [float(side.ground[0]) for side in edges]),
    )


def _place(pieces: Pieces, number: int) -> Place:
    x, y, elevation = pieces.corners.reshape(-1, 3)[number].tolist()
    return Place(x + float(pieces.origin[0]), y + float(pieces.origin[1]), elevation)


def _diagonals(outline: Outline, ground: list[float]) -> tuple[Line, ...]:
    """Between corners of the outside ring that are not neighbours; above eight corners none, or too many."""
    ring, names = outline.rings[0], outline.names
    count = len(ring)
    if count > 8:
        return ()
    pairs = [(i, j) for i, j in combinations(range(count), 2) if 1 < j - i < count - 1]
    return tuple(
        Line(names[i], names[j], float(np.hypot(*(ring[j] - ring[i]))), ground[i] - ground[j])
        for i, j in pairs
    )


def _planes(surface: Surface, pieces: Pieces) -> tuple[Plane, Plane, float]:
    """The plane of least squares over the area, the plane of the mean gradient, and the mean steepness."""
    weight = pieces.areas / pieces.areas.sum()
    middle = pieces.corners.mean(axis=1)
    centre = weight @ middle
    # a quadratic over a triangle has its exact mean in the mean over the middles of the three sides
    points = 0.5 * (pieces.corners + pieces.corners[:, [1, 2, 0]]) - centre
    third = np.repeat(weight / 3.0, 3)[:, None]
    flat = points.reshape(-1, 3)
    moments = flat.T @ (third * flat)
    east, north = np.linalg.solve(moments[:2, :2], moments[:2, 2])
    real = np.flatnonzero(pieces.areas > 0.0)
    gradient = surface.triangle_gradients[pieces.source[real]]
    known = np.isfinite(gradient).all(axis=1)  # a triangle without area has no gradient, nor any weight
    share = weight[real][known]
    mean = share @ gradient[known]
    steepness = float(share @ np.hypot(*gradient[known].T))
    elevation = float(centre[2])
    fitted = Plane(float(east), float(north), elevation)
    return fitted, Plane(float(mean[0]), float(mean[1]), elevation), steepness
