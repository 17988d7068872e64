"""Where a rectangle may stand: on the survey, inside the boundary, clear of what is near.

Asked of many places at once; and whether a place that is moved and turned a little could be allowed at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

ROUNDING = 1e-6
"""[m] A place may lie so much outside, or so much nearer than it has to keep."""

_CORNERS = np.array([(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)])


class KeepOut(NamedTuple):
    """A thing to keep off: its name and shape (of shapely, site frame), how far [m], and whether that counts
    from all that is built (``built``) or from the walls."""

    name: str
    shape: Any
    distance: float
    built: bool


@dataclass(frozen=True, eq=False)
class Allowed:
    """The rules of a yard for a building of ``size`` [m], with ground built on to ``margin`` [m] beyond it.

    ``boundary`` is a polygon of shapely that the walls stay inside, by its setback already smaller; None for
    none. ``keep_outs`` are what to keep off.
    """

    surface: Surface
    size: tuple[float, float]
    margin: float
    boundary: Any = None
    keep_outs: tuple[KeepOut, ...] = ()

    @property
    def built(self) -> tuple[float, float]:
        """Sides of what is built on [m]."""
        return self.size[0] + 2.0 * self.margin, self.size[1] + 2.0 * self.margin

    @cached_property
    def _survey(self) -> Any:
        return _ready(shapely.Polygon(self.surface.hull_xy).buffer(ROUNDING, join_style="mitre"))

    @cached_property
    def _boundary(self) -> Any:
        return None if self.boundary is None else _ready(self.boundary.buffer(ROUNDING, join_style="mitre"))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """The least and greatest x and y [m] between which the middle of an allowed place lies."""
        ground = self._survey if self.boundary is None else self._survey.intersection(self._boundary)
        west, south, east, north = ground.bounds if not ground.is_empty else (0.0, 0.0, 0.0, 0.0)
        return west, south, east, north

    def may(self, places: Floats, reach: Floats | float = 0.0) -> Truths:
        """Say which places (n, 3) are allowed: x and y of the middle [m], turn [radians].

        With ``reach`` [m] which of them could be, if no point of them is moved farther: False means that none
        can. What lies deeper inside the rectangle than that is still covered then, and that part decides.
        """
        shrink = np.broadcast_to(np.asarray(reach, dtype=np.float64), (len(places),))
        walls, built = self._inner(places, self.size, shrink), self._inner(places, self.built, shrink)
        able: Truths = shapely.covers(self._survey, built)
        if self._boundary is not None:
            able &= shapely.covers(self._boundary, walls)
        for one in self.keep_outs:
            rows = able.nonzero()[0]
            shapes = (built if one.built else walls)[rows]
            able[rows] = shapely.distance(shapes, one.shape) >= one.distance - ROUNDING
        # of a place that reaches as far as half its width nothing is sure to stay covered
        return able | (shrink >= 0.5 * min(self.size))

    def barred_by(self, place: Floats) -> str:
        """Name what bars one place (3,), "" for none."""
        one = place.reshape(1, 3)
        walls, built = self._inner(one, self.size, np.zeros(1)), self._inner(one, self.built, np.zeros(1))
        if not shapely.covers(self._survey, built)[0]:
            return "survey"
        if self._boundary is not None and not shapely.covers(self._boundary, walls)[0]:
            return "boundary"
        near = (
            keep.name
            for keep in self.keep_outs
            if shapely.distance((built if keep.built else walls)[0], keep.shape) < keep.distance - ROUNDING
        )
        return next(near, "")

    def ground(self, places: Floats) -> Any:
        """What is built on at places (n, 3), as polygons of shapely."""
        return shapely.polygons(rings(places, np.array(self.built)))

    @staticmethod
    def _inner(places: Floats, size: tuple[float, float], shrink: Floats) -> Any:
        """The rectangles, each smaller by ``shrink`` [m] on all sides, as polygons of shapely."""
        sides = np.maximum(np.array(size) - 2.0 * shrink[:, None], 1e-3)
        return shapely.polygons(rings(places, sides))


def rings(places: Floats, sides: Floats) -> Floats:
    """Corners (n, 4, 2) [m] of rectangles at places (n, 3), with ``sides`` (n, 2) or (2,) [m]."""
    cos, sin = np.cos(places[:, 2]), np.sin(places[:, 2])
    local = _CORNERS * np.broadcast_to(sides, (len(places), 2))[:, None, :]
    x = local[:, :, 0] * cos[:, None] - local[:, :, 1] * sin[:, None]
    y = local[:, :, 0] * sin[:, None] + local[:, :, 1] * cos[:, None]
    return np.stack((x + places[:, :1], y + places[:, 1:2]), axis=2)


def _ready(shape: Any) -> Any:
    shapely.prepare(shape)
    return shape
