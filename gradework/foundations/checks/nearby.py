"""What a foundation does to what stands near it: distances, and a check for each thing that matters there.

It knows plans of things, not what is built in them: whatever is dug, built or staked comes as ``Works``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.led import NAMES
from gradework.earthwork.nearby import WALLS, Neighbour
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.footing import Dug, below_line, foot_of
from gradework.foundations.checks.near_water import Outlet, Shed, water_checks
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

SQUEEZE = 0.3
"""[m] Nobody gets between two walls that are nearer, to build or to mend: 12 in (judgement)."""

ACROSS = 0.02
"""[m] What is dug or built this near to a pipe lies over it: it is taped no better."""

SETBACK = "the setback given"

SLIVER = 1e-3
"""[m²] A pad that reaches beyond the roof by less sheds nothing of its own."""

NOTHING = 1e-9
"""[m²] Ground over a line by less is rounding."""


@dataclass(frozen=True, eq=False)
class Works:
    """What one foundation does: shapes of shapely, ``boards`` and ``stakes`` (k, 2), site frame [m].

    ``what`` names what is ``built`` ("pad", "slab", "piers"), ``level`` [m] is its top where that covers the
    ground; ``eaves`` is the plan of the roof, ``drips`` the edge of it that no gutter catches, ``unled`` that
    of a gutter whose water nothing leads away. ``digging`` is the ground that is dug for it with its side
    slopes, ``led`` what swales and drains take besides, by kind; ``bottoms`` where all of it is dug down to.
    """

    what: str
    building: Any
    eaves: Any
    drips: Any
    unled: Any
    built: Any
    level: float | None
    digging: Any
    led: tuple[tuple[str, Any], ...]
    boards: Floats
    stakes: Floats
    bottoms: tuple[Dug, ...]
    outlets: tuple[Outlet, ...]

    @property
    def parts(self) -> tuple[tuple[str, Any], ...]:
        """All of it by name; what there is none of is left out."""
        staked = [(word, _places(at)) for word, at in (("boards", self.boards), ("stakes", self.stakes))]
        all_of = [
            ("walls", self.building),
            ("eaves", self.eaves),
            (self.what, self.built),
            ("digging", self.digging),
        ]
        return tuple((word, one) for word, one in (*all_of, *self.led, *staked) if not one.is_empty)

    @property
    def ground(self) -> Any:
        """All ground that is built on, roofed, dug or shaped."""
        return shapely.union_all(
            [self.building, self.eaves, self.built, self.digging, *(one for _, one in self.led)]
        )

    @property
    def shed(self) -> Shed:
        """What sheds rain: the roof, and the top of a pad or slab beyond it."""
        covers = shapely.Polygon() if self.level is None else self.built
        whole = shapely.union_all([self.building, self.eaves, covers])
        bare = covers.difference(self.eaves)
        bare = bare if bare.area > SLIVER else shapely.Polygon()
        return Shed(whole, self.drips, shapely.union_all([bare, self.unled]), self.level)


def _places(at: Floats) -> Any:
    return shapely.MultiPoint(at) if len(at) else shapely.MultiPoint()


@dataclass(frozen=True, slots=True)
class NearLook:
    """One thing near: how far off everything is, by name [m], and the checks that it asks for."""

    neighbour: Neighbour
    distances: tuple[tuple[str, float], ...]
    checks: tuple[Check, ...]


def near_looks(surface: Surface, nearby: Nearby, works: Works, *, us: bool) -> tuple[NearLook, ...]:
    """Look at each thing near, in the order of the job; ``us`` takes the round figures of feet jobs."""
    return tuple(_look(surface, one, works, us=us) for one in nearby.neighbours)


def _look(surface: Surface, one: Neighbour, works: Works, *, us: bool) -> NearLook:
    distances = {word: float(one.shape.distance(part)) for word, part in works.parts}
    checks = [*_setback(one, distances), *_by_kind(one, distances, us=us)]
    if one.bars:
        over = _over(one, works)
        checks.append(Check("own side", over, 0.0, "m", COMMON, where=one.name))
    if one.kind in WALLS:
        below, _ = below_line(foot_of(surface, one.face), works.bottoms)
        value = below if np.isfinite(below) else None
        checks.append(Check("digging below 1:1", value, 0.0, "m", COMMON, where=one.name))
    checks += water_checks(surface, one, works.shed, works.outlets)
    return NearLook(one, tuple(distances.items()), tuple(checks))


def _setback(one: Neighbour, distances: dict[str, float]) -> Iterator[Check]:
    """Walls keep a setback from what bars, all that is built and dug from the rest; the local rule tells how
    far, so without it that of a lot line, tree, well or septic field is not known."""
    if one.setback is None and one.kind not in ("lot line", "tree", "well", "septic"):
        return
    kept = ("walls",) if one.bars else ("walls", "pad", "slab", "piers", "digging", *NAMES)
    value = min(distances[word] for word in kept if word in distances)
    yield Check("setback", value, one.setback, "m", SETBACK, "least", one.name)


def _by_kind(one: Neighbour, distances: dict[str, float], *, us: bool) -> Iterator[Check]:
    if one.bars and not one.leaned:
        value = distances["walls"]
        limit = _unless_between(value, (SQUEEZE, walk(us=us)))
        yield Check("room to walk", value, limit, "m", COMMON, "least", one.name)
    elif one.kind == "pipe":
        dug = [
            distances[word] for word in ("digging", "swale", "drain", "boards", "stakes") if word in distances
        ]
        value = min([*dug, distances["walls"]])
        limit = _unless_between(value, (ACROSS, by_hand(us=us)))
        yield Check("dug or staked near", value, limit, "m", COMMON, "least", one.name)


def walk(*, us: bool) -> float:
    """Room to walk and to work between two walls [m], a round figure (common practice)."""
    return 24.0 * M_PER_IN if us else 0.6


def by_hand(*, us: bool) -> float:
    """Nearer to a pipe [m] one digs by hand, and drives no stake (common practice; local law rules)."""
    return 24.0 * M_PER_IN if us else 0.6


def _unless_between(value: float, bounds: tuple[float, float]) -> float | None:
    """The least that is asked for; None where less will do with care, which only the builder can promise."""
    hard, least = bounds
    return None if hard <= value < least else least


def _over(one: Neighbour, works: Works) -> float:
    """How far what is built, dug or shaped reaches over a wall or line [m]; 0 where it does not."""
    ground = works.ground
    if one.shape.geom_type == "Polygon":
        over = [ground.intersection(one.shape)]
    else:
        home = works.building.representative_point()
        parts = [part for polygon in _polygons(ground) for part in _split(polygon, one.shape)]
        over = [part for part in parts if _sight(home, part).intersects(one.shape)]
    corners = [shapely.get_coordinates(part) for part in over if part.area > NOTHING]
    corners += [np.array(part.representative_point().coords) for part in over if part.area > NOTHING]
    reach = 0.0
    if corners:
        reach = float(shapely.distance(shapely.points(np.concatenate(corners)), one.face).max())
    # a fence that ends inside parts nothing: then it counts how far it comes in
    inside = shapely.get_coordinates(one.face.intersection(ground))
    return max(reach, float(shapely.distance(shapely.points(inside), ground.boundary).max(initial=0.0)))


def _sight(home: Any, part: Any) -> Any:
    return shapely.LineString([home, part.representative_point()])


def _polygons(shape: Any) -> list[Any]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]


def _split(polygon: Any, line: Any) -> list[Any]:
    """A polygon in the parts that a line leaves of it; all of it where the line ends inside."""
    lines = shapely.node(shapely.union_all([polygon.boundary, line]))
    parts = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines).tolist()))
    return [part for part in parts if polygon.contains(part.representative_point())]
