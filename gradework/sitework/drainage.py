"""Does water run away from the building, and off the yard: rules with clause and edition, findings, marks.

It judges slopes of the surveyed ground and of the finished pad; it does not follow the water.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding
from gradework.sitework.drainage_findings import ray_findings, zone_findings
from gradework.sitework.drainage_rules import IRC_2015, DrainageRule, SlopeLimits
from gradework.sitework.fall_rays import EdgesNear, PadTop, Ray, wall_rays, walls_of
from gradework.sitework.slope_zones import SlopeZone, slope_zone
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

EDGE_BELOW = 2e-9
"""Ground of exactly the least slope is not flat; a zone takes in a billionth above its upper limit."""

MOST_WALLS = 200
"""An outline of more walls is a curve: walls are passed over evenly until so many are left."""


@dataclass(frozen=True, eq=False)
class DrainageMarks:
    """What a drawing shows: rays on the ground as surveyed and with the pad in place; slope zones."""

    before: tuple[Ray, ...]
    after: tuple[Ray, ...]
    flat: SlopeZone | None
    steep: SlopeZone | None
    very_steep: SlopeZone | None


@dataclass(frozen=True, eq=False)
class Drainage:
    """The answer: the rule in force, findings in the order of the walls, and the marks."""

    rule: DrainageRule
    findings: tuple[Finding, ...]
    marks: DrainageMarks


def check_drainage(
    surface: Surface,
    building: Outline,
    *,
    show: Display,
    rule: DrainageRule = IRC_2015,
    limits: SlopeLimits | None = None,
    pad: PadTop | None = None,
) -> Drainage:
    """Look at the ground around each wall and at every slope of the survey.

    With a ``pad``, what is wrong with the ground as surveyed is a note and what stays wrong with the pad in
    place a warning; without one, the ground as surveyed gets the warnings. Ground under the pad (or the
    building) does not count as flat or steep. Beyond the edge of the pad the ground is taken as it is
    surveyed: side slopes and later grading are not counted.
    """
    limits = limits or SlopeLimits()
    edges = EdgesNear.of(surface, building, rule.reach)
    walls = walls_of(building)
    walls = walls[:: math.ceil(len(walls) / MOST_WALLS)]

    def look(top: PadTop | None) -> tuple[Ray, ...]:
        rays = (
            wall_rays(edges, wall, building, reach=rule.reach, fall=rule.fall, spacing=rule.spacing, pad=top)
            for wall in walls
        )
        return tuple(ray for wall in rays for ray in wall)

    before, after = look(None), look(pad) if pad else ()
    covered = _covered(surface, pad.outline if pad else building)
    flat = slope_zone(surface, -1.0, limits.flat - EDGE_BELOW, covered=covered)
    steep = slope_zone(surface, limits.steep, limits.very_steep, covered=covered)
    very_steep = slope_zone(surface, limits.very_steep, math.inf, covered=covered)
    findings = (
        *ray_findings(before, rule, show, pad=None, severity="note" if pad else "warning"),
        *(ray_findings(after, rule, show, pad=pad, severity="warning") if pad else ()),
        *zone_findings(flat, steep, very_steep, limits, show),
    )
    return Drainage(rule, findings, DrainageMarks(before, after, flat, steep, very_steep))


def _covered(surface: Surface, outline: Outline) -> NDArray[np.float64]:
    """Area of each triangle (t,) that lies under an outline [m²]."""
    from gradework.earthwork.clip import (
        clip,
    )  # here: the outline may be any polygon, its parts need pythoncdt

    pieces = clip(surface, outline)
    covered = np.bincount(pieces.source, weights=pieces.areas, minlength=len(surface.triangles))
    return covered.astype(np.float64)
