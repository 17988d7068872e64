"""What stands near a building: how far off, what lies beyond it, how much room there is before it.

A house, a garage, a fence or a lot line bars the way: what lies *beyond* it, seen straight from the nearest
point of the building, cannot be measured or staked. A tree, a well, a septic field or a pipe bars nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from gradework.earthwork.outline import Outline

Floats = NDArray[np.float64]
Kind = Literal["house", "garage", "fence", "lot line", "tree", "well", "septic", "pipe"]

KINDS: tuple[Kind, ...] = ("house", "garage", "fence", "lot line", "tree", "well", "septic", "pipe")
WALLS: tuple[Kind, ...] = ("house", "garage")
"""What stands on a footing and has to stay dry."""
BARS: tuple[Kind, ...] = (*WALLS, "fence", "lot line")
"""What nothing is staked or shot beyond."""
ROUND: tuple[Kind, ...] = ("fence", "lot line")
"""What may run right round the building: nothing of its own lies inside its outline."""
POINTS: tuple[Kind, ...] = ("tree", "well", "septic")
"""What may stand in one place, without length."""

WaterKind = Literal["downspout", "ditch", "spring"]
WATERS: tuple[WaterKind, ...] = ("downspout", "ditch", "spring")

Clear = Callable[[Any, Floats], bool]
"""Whether ground may be dug, a shape, and water come out at places, on ways (n, 2, 2); site frame."""

TOUCH = 0.002
"""[m] A place this near to a wall is at its foot, not beyond it."""

CLOSE = 0.3048
"""[m] So close before a wall or fence no shot is asked for: a survey that ends there is enough."""

STAND = 0.15
"""[m] A stake is driven at least this far before a wall or fence: room for the hammer (common practice)."""


class Water(NamedTuple):
    """A place (x, y) [m], site, at which water comes out gathered; ``led``: it is led past the building."""

    name: str
    kind: WaterKind
    place: tuple[float, float]
    led: bool = False


@dataclass(frozen=True, eq=False)
class Neighbour:
    """One thing near, site frame.

    ``places`` (k, 2) [m] along its line, or the corners of its outline where it is ``closed``; ``setback``
    [m]: how far to keep off by the local rule, None where it is not known. ``leaned``: the building leans on
    it, so that nobody walks between.
    """

    name: str
    kind: Kind
    places: Floats
    closed: bool
    setback: float | None = None
    leaned: bool = False

    def __repr__(self) -> str:
        return f"<Neighbour {self.name!r}: {self.kind}>"

    @property
    def bars(self) -> bool:
        """Whether nothing is staked or shot beyond it."""
        return self.kind in BARS

    @cached_property
    def shape(self) -> Any:
        """Its place as a shapely point, line or polygon, in metres."""
        if self.closed:
            whole = shapely.remove_repeated_points(shapely.Polygon(self.places))
            return whole.exterior if self.kind in ROUND else whole
        if len(self.places) > 1 and np.ptp(self.places, axis=0).any():
            return shapely.remove_repeated_points(shapely.LineString(self.places))
        return shapely.Point(self.places[0])

    @cached_property
    def face(self) -> Any:
        """Its wall or line, without what is inside: where its sides stand."""
        return self.shape.exterior if self.shape.geom_type == "Polygon" else self.shape


@dataclass(frozen=True, eq=False)
class Nearby:
    """All that stands near a building; with none, nothing is barred."""

    building: Outline
    neighbours: tuple[Neighbour, ...] = ()

    def __len__(self) -> int:
        return len(self.neighbours)

    @cached_property
    def _house(self) -> Any:
        return polygon_of(self.building)

    @cached_property
    def _bars(self) -> Any:
        """Sides of all that bars, as one shape; None where nothing does."""
        faces = [one.face for one in self.neighbours if one.bars]
        return shapely.union_all(faces) if faces else None

    def beyond(self, places: ArrayLike) -> NDArray[np.bool_]:
        """Whether the straight way from the nearest point of the building to each place (m, 2) [m] meets a
        wall, a fence or a lot line before it gets there."""
        return self._beyond(np.asarray(places, dtype=np.float64).reshape(-1, 2), self._bars)

    def beyond_one(self, neighbour: Neighbour, places: ArrayLike) -> NDArray[np.bool_]:
        """The same, of one thing near alone."""
        return self._beyond(np.asarray(places, dtype=np.float64).reshape(-1, 2), neighbour.face)

    def _beyond(self, places: Floats, bars: Any) -> NDArray[np.bool_]:
        if bars is None or not len(places):
            return np.zeros(len(places), dtype=bool)
        ways = shapely.shortest_line(shapely.points(places), self._house)
        ends = shapely.get_coordinates(ways).reshape(-1, 2, 2)
        step = ends[:, 1] - ends[:, 0]
        length = np.hypot(*step.T)
        # a place at the foot of the wall is before it: the way is looked at from a hair nearer
        off = np.minimum(TOUCH, length)[:, None] * step / np.maximum(length, 1e-12)[:, None]
        ways = shapely.linestrings(np.stack([ends[:, 0] + off, ends[:, 1]], axis=1))
        met: NDArray[np.bool_] = shapely.intersects(ways, bars) & (length > TOUCH)
        return met

    def measurable(self, places: ArrayLike) -> NDArray[np.bool_]:
        """Which places (m, 2) [m] one can get to with a rod: not beyond what bars, nor close before it."""
        where = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        if self._bars is None:
            return np.ones(len(where), dtype=bool)
        free: NDArray[np.bool_] = shapely.distance(shapely.points(where), self._bars) >= CLOSE
        return free & ~self.beyond(where)

    @cached_property
    def stops(self) -> Floats:
        """Where a look from the building ends, as stretches (n, 2, 2) [m]: a foot before what bars the way,
        where nobody reads a rod any more, and at the bar itself for a building that stands nearer."""
        if self._bars is None:
            return np.empty((0, 2, 2))
        before = self._bars.buffer(CLOSE, cap_style="flat", join_style="mitre").boundary
        lines = [
            shapely.get_coordinates(one) for part in (self._bars, before) for one in shapely.get_parts(part)
        ]
        return np.concatenate([np.stack((line[:-1], line[1:]), axis=1) for line in lines])

    def hit(self, start: ArrayLike, way: ArrayLike, most: float) -> float:
        """How far one can go from a place along ``way`` (a unit vector) until something bars it [m].

        Infinite where nothing does within ``most`` [m]; 0 where the place itself is barred.
        """
        if self._bars is None:
            return np.inf
        here = np.asarray(start, dtype=np.float64)
        if self.beyond(here)[0]:
            return 0.0
        line = shapely.LineString([here, here + most * np.asarray(way, dtype=np.float64)])
        met = line.intersection(self._bars)
        return np.inf if met.is_empty else float(met.distance(shapely.Point(here)))

    def room(self, start: ArrayLike, way: ArrayLike, wanted: float) -> float:
        """How far off a stake may stand along ``way`` [m]: at most ``wanted``, and before what bars it."""
        return max(0.0, min(wanted, self.hit(start, way, wanted + STAND) - STAND))


def polygon_of(outline: Outline) -> Any:
    """The outline as a shapely polygon, in metres, site frame."""
    return shapely.Polygon(outline.rings[0], outline.rings[1:])
