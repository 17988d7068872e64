"""Where the roof of a small building sheds its rain: which walls have eaves, how much of it each one drips.

The roof slopes both ways from its ridge, so walls along the ridge have eaves and those across it are gables,
from which nothing drips.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.nearby import polygon_of
from gradework.earthwork.rings import half_turns
from gradework.foundations.checks.wall_strips import walls_of

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.wall_strips import Wall

Floats = NDArray[np.float64]

ALONG = math.cos(math.pi / 4.0) - 1e-9
"""[-] Walls within 45 degrees of the ridge have eaves."""


@dataclass(frozen=True, eq=False)
class Eave:
    """The eave over a ``wall``: it runs from ``u`` to ``u`` along it and stands ``out`` from it [m]; rain
    from so much ``roof`` drips off it [m² in plan]."""

    wall: Wall
    u: tuple[float, float]
    out: float
    roof: float

    @property
    def length(self) -> float:
        """How long it is [m]."""
        return self.u[1] - self.u[0]

    @property
    def line(self) -> Floats:
        """Below its edge, on the plan (2, 2), site [m]: where the drops fall."""
        return np.array([self.wall.place(u, self.out) for u in self.u])

    def band(self, inner: float, outer: float) -> Any:
        """The ground before the wall from ``inner`` to ``outer`` [m] out, as long as the eave: a polygon."""
        (a, b), place = self.u, self.wall.place
        return shapely.Polygon([place(a, inner), place(b, inner), place(b, outer), place(a, outer)])


def roof_over(building: Outline, overhang: float) -> Any:
    """The roof in plan, as a polygon: it stands out by ``overhang`` [m] all round."""
    walls = polygon_of(building)
    return walls.buffer(overhang, join_style="mitre") if overhang else walls


def eaves_of(building: Outline, ridge: Floats, overhang: float) -> tuple[Eave, ...]:
    """Give the eaves of a roof whose ``ridge`` runs along a unit vector (2,), in the order of the walls.

    The whole roof, eaves and gables standing out by ``overhang`` [m], drips off them, shared by their
    lengths: exact for a rectangle.

    >>> from gradework.earthwork.outline import Outline
    >>> shed = Outline.polygon([[(0, 0), (5, 0), (5, 4), (0, 4)]])
    >>> [(e.wall.name, e.length, e.roof) for e in eaves_of(shed, np.array([1.0, 0.0]), 0.5)]
    [('wall (corners 1-2)', 6.0, 15.0), ('wall (corners 3-4)', 6.0, 15.0)]
    """
    walls, turns = walls_of(building), half_turns(building.rings[0])
    found = []
    for k, wall in enumerate(walls):
        if abs(float(wall.along @ ridge)) >= ALONG:
            # round an outward corner it runs on, into an inward one it stops before the other wall
            start, end = (overhang * float(turns[n % len(walls)]) for n in (k, k + 1))
            found.append((wall, (-start, wall.length + end)))
    whole = math.fsum(b - a for _, (a, b) in found)
    area = float(roof_over(building, overhang).area)
    return tuple(Eave(wall, (a, b), overhang, area * (b - a) / whole) for wall, (a, b) in found)
