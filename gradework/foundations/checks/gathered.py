"""Water that comes gathered to an open floor: from a downspout, a ditch, a spring, or much ground above it.

Sheet flow runs on between the piers and does no harm; a stream washes the stone out from under them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from gradework.earthwork.nearby import Water, polygon_of
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.wall_strips import walls_of
from gradework.ground.water.catchment import drained
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import around
from gradework.ground.water.ways import ways
from gradework.units.amounts import M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface
    from gradework.ground.water.ground import Farther

MOST_DRAINED = 1000.0 * M_PER_FT**2
"""[m²] More ground than this that drains to one wall counts as a stream: 1,000 sq ft (common practice, no
source)."""

KEEP_OFF = 2.0 * M_PER_FT
"""[m] So far off the walls a stream may pass (judgement)."""


REACH = 100.0 * M_PER_FT
"""[m] Ground is counted that lies no farther off: what comes from beyond has gathered by then."""


def gathered_checks(
    surface: Surface, building: Outline, waters: Sequence[Water], *, led: bool
) -> Iterator[Check]:
    """Check that what comes gathered runs past the building, and that no wall is drained to by so much ground
    that it would; ``led``: the builder leads that past. No check where a thing is led or too little comes.

    Whether the water of much ground gathers is seen in the rain only: an "if".
    """
    free = [water for water in waters if not water.led]
    if free:
        flow = flow_to_walls(surface, building, np.inf)
        for water in free:
            off = _passes(flow, surface, building, water)
            yield Check("gathered flow", off, KEEP_OFF, "m", COMMON, "least", water.name)
    if led or surface.area - building.area <= MOST_DRAINED:
        return
    areas = drained(flow_to_walls(surface, building)).areas
    most = int(areas.argmax())
    if areas[most] > MOST_DRAINED:
        name = walls_of(building)[most].name
        yield Check("drained to a wall", float(areas[most]), None, "m2", COMMON, where=name)


def flow_to_walls(
    surface: Surface, building: Outline, reach: float = REACH, beyond: Farther | None = None
) -> Flow:
    """The flow on the ground about a building, out to ``reach`` [m] and over what is known ``beyond`` the
    survey, caught at each of its walls, by their order."""
    ground = around(surface, [building.rings[0] - surface.origin], reach, beyond)
    ends = [np.array([wall.start, wall.point(wall.length, 0.0)]) for wall in walls_of(building)]
    ground.catch([(line - surface.origin)[None] for line in ends])
    return Flow(ground, len(ends))


def _passes(flow: Flow, surface: Surface, building: Outline, water: Water) -> float | None:
    """How far off the walls water passes that comes out at a place [m]; None beyond the survey."""
    start, house = np.array([water.place]), polygon_of(building)
    if surface.locate(start)[0] < 0:
        return None
    (way,) = ways(flow, start - surface.origin)
    here = float(shapely.Point(water.place).distance(house))
    if not way.legs and here > 0.0:
        return None  # where it runs is not known: nothing is said to pass
    legs = [shapely.LineString(leg[:, :2] + surface.origin) for leg in way.legs if len(leg) > 1]
    return min([here, *(float(house.distance(leg)) for leg in legs)])
