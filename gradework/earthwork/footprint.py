"""What the ground under an outline is like: its highest and lowest place, its fall and its slope."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.perimeter import sides

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground import Surface

Floats = NDArray[np.float64]

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
