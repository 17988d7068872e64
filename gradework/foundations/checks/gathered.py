"""Water that comes gathered to an open floor: from a downspout, a ditch, a spring, or much ground above it.

Sheet flow runs on between the piers and does no harm; a stream washes the stone out from under them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import shapely

from gradework.earthwork.nearby import polygon_of
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.wall_strips import walls_of
from gradework.ground.runoff import drained_to, ways_down
from gradework.units.amounts import M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

WaterKind = Literal["downspout", "ditch", "spring"]
WATERS: tuple[WaterKind, ...] = ("downspout", "ditch", "spring")

MOST_DRAINED = 1000.0 * M_PER_FT**2
"""[m²] More ground than this that drains to one wall counts as a stream: 1,000 sq ft (common practice, no
source)."""

KEEP_OFF = 2.0 * M_PER_FT
"""[m] So far off the walls a stream may pass (judgement)."""


class Water(NamedTuple):
    """A place (x, y) [m], site, at which water comes out gathered; ``led``: it is led past the building."""

    name: str
    kind: WaterKind
    place: tuple[float, float]
    led: bool = False


def gathered_checks(
    surface: Surface, building: Outline, waters: Sequence[Water], *, led: bool
) -> Iterator[Check]:
    """Check that what comes gathered runs past the building, and that no wall is drained to by so much ground
    that it would; ``led``: the builder leads that past. No check where a thing is led or too little comes.

    Whether the water of much ground gathers is seen in the rain only: an "if".
    """
    house = polygon_of(building)
    for water in waters:
        if water.led:
            continue
        start = np.array([water.place])
        known = bool(surface.locate(start)[0] >= 0)
        way = ways_down(surface, start, house)[:, 0]
        off = float(shapely.distance(shapely.points(way), house).min()) if known else None
        yield Check("gathered flow", off, KEEP_OFF, "m", COMMON, "least", water.name)
    if led or surface.area - building.area <= MOST_DRAINED:
        return
    ends, square = drained_to(surface, house)
    walls = [
        (wall.name, shapely.LineString([wall.start, wall.point(wall.length, 0.0)]))
        for wall in walls_of(building)
    ]
    if not len(ends):
        return
    far = np.stack([shapely.distance(shapely.points(ends), line) for _, line in walls])
    areas = np.bincount(far.argmin(axis=0), minlength=len(walls)) * square
    most = int(areas.argmax())
    if areas[most] > MOST_DRAINED:
        yield Check("drained to a wall", float(areas[most]), None, "m2", COMMON, where=walls[most][0])
