"""Does water run away from the building, and off the yard: rules with clause and edition, findings, marks.

It judges slopes of the surveyed ground and of the finished pad; it does not follow the water.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.conditions import STATUS_MEANS, Status
from gradework.errors import Finding, Severity, finding
from gradework.foundations.checks.check import cited
from gradework.sitework.fall_rays import EdgesNear, PadTop, Ray, wall_rays, walls_of
from gradework.units.display import Display, counted

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface


# The rules for falls and slopes: value, clause, edition, and how well each was checked.


@dataclass(frozen=True, slots=True)
class DrainageRule:
    """Ground must fall at least ``fall`` [-] over the first ``reach`` [m] from each wall.

    Walls are looked at every ``spacing`` [m] or closer.
    """

    clause: str
    status: Status
    reach: float
    fall: float
    spacing: float = 1.2192

    @property
    def source(self) -> str:
        """Clause and edition; where the clause itself was not read, how well it was checked."""
        return self.clause if self.status == "seen" else f"{self.clause}; {STATUS_MEANS[self.status]}"

    def changed(self, *, reach: float | None = None, fall: float | None = None) -> DrainageRule:
        """Give the rule with the user's own reach [m] or least slope [-]; unchanged when both are None."""
        if reach is None and fall is None:
            return self
        return replace(
            self,
            clause=f"own figures in place of {self.clause}",
            status="judgement",
            reach=self.reach if reach is None else reach,
            fall=self.fall if fall is None else fall,
        )


IRC_2015 = DrainageRule("IRC 2015 R401.3", "seen", 3.048, 0.05)
"""6 in within the first 10 ft."""

RULES: Mapping[str, DrainageRule] = {
    "irc 2015": IRC_2015,
    "ibc": DrainageRule("IBC 1804.4 (2012 to 2021)", "memory", 3.048, 0.05),  # 1 in 20 for at least 10 ft
    # Australia, soil or gravel beside the building: 50 mm over the first metre
    "ncc 2019": DrainageRule("NCC 2019 Volume Two 3.1.3.3", "seen", 1.0, 0.05),
}

FLAT, STEEP, VERY_STEEP = 0.01, 1.0 / 3.0, 0.5
"""Slopes [-]: below the first turf holds water, above 3:1 it is steep, above 2:1 too steep to stand."""

FLAT_SOURCE = "GSA P100 (2003) 2.5 Grading, turf at least 1 %; read in the document"
STEEP_SOURCE = "GSA P100 (2003) 2.5 Grading, turf no steeper than 3:1; read in the document"
VERY_STEEP_SOURCE = (
    "IBC Appendix J, J106.1 (cuts) and J107.6 (fills); quoted by others, in force only where adopted"
)


def told_source(source: str, show: Display) -> str:
    """Give a source as findings tell it: in a metric job a code of the US binds nobody, and it says so."""
    return cited(source, us=show.us or not source.startswith(("IRC", "IBC", "GSA")))


# Where the yard is too flat to shed water or too steep to mow or to stand: triangles by their slope.

LEAST_ZONE = 1.0
"""A patch smaller than this tells of the survey's grain, not of the yard [m²]. Judgement."""

EDGE = 1e-9


@dataclass(frozen=True, eq=False)
class SlopeZone:
    """All patches of one kind: ``triangles`` (k,) numbers, their total ``area`` [m²], how many ``patches``.

    ``largest`` is the area of the largest patch [m²] and ``place`` (x, y) its centre of area, site frame [m];
    ``slope`` the area-weighted mean slope [-] of all. Area covered by the pad does not count.
    """

    triangles: NDArray[np.int64]
    area: float
    patches: int
    largest: float
    place: tuple[float, float]
    slope: float


def slope_zone(
    surface: Surface, low: float, high: float, *, covered: NDArray[np.float64] | None = None
) -> SlopeZone | None:
    """Gather the triangles with ``low`` < slope <= ``high`` [-] into patches; None where there is none.

    ``covered`` (t,) is the area of each triangle that is built over [m²]. Patches below ``LEAST_ZONE`` and
    triangles without area are left out. A slope within a billionth above a limit counts as the limit.
    """
    slope = surface.triangle_slopes  # NaN compares false: a triangle without area belongs nowhere
    area = surface.triangle_areas - (0.0 if covered is None else covered)
    member = (slope > low + EDGE) & (slope <= high + EDGE)
    member &= area > 1e-9 * np.abs(surface.triangle_areas)
    numbers = np.flatnonzero(member)
    patch = _number_patches(surface, numbers)
    sizes = np.bincount(patch, weights=area[numbers])
    every = numbers[sizes[patch] >= LEAST_ZONE]
    if not len(every):
        return None
    every.setflags(write=False)
    total = float(area[every].sum())
    largest = numbers[patch == int(np.argmax(sizes))]
    middles = surface.vertices[surface.triangles[largest], :2].mean(axis=1) + surface.origin
    place = (middles * area[largest, None]).sum(axis=0) / sizes.max()
    mean = float((slope[every] * area[every]).sum()) / total
    count = int((sizes >= LEAST_ZONE).sum())
    return SlopeZone(every, total, count, float(sizes.max()), (float(place[0]), float(place[1])), mean)


def _number_patches(surface: Surface, numbers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Number the patches of triangles joined over edges: for each of ``numbers`` its patch (k,), from 0."""
    own = np.full(len(surface.triangles), -1, dtype=np.int64)
    own[numbers] = np.arange(len(numbers))
    beside = surface.neighbours[numbers]
    next_to = np.where(beside >= 0, own[beside], -1)
    one, side = np.nonzero(next_to >= 0)
    two = next_to[one, side]
    label = np.arange(len(numbers))
    while len(one):  # the root of each end takes the lower number, then all ask their root: few rounds
        low = np.minimum(label[one], label[two])
        np.minimum.at(label, label[one], low)
        np.minimum.at(label, label[two], low)
        label = _roots(label)
        apart = label[one] != label[two]
        one, two = one[apart], two[apart]
    return np.unique(label, return_inverse=True)[1].astype(np.int64)


def _roots(label: NDArray[np.int64]) -> NDArray[np.int64]:
    """Let each label point at the end of its chain."""
    while True:
        further = label[label]
        if np.array_equal(further, label):
            return label
        label = further


# The findings: one for each wall and rule, one for each kind of slope.

MOST_WALLS_NAMED = 8
"""When more walls than this need something, one finding speaks for all and names the worst place."""

WALL_CODES = ("drainage-toward-building", "drainage-falls-too-little")
"""The findings about the falls from the walls, which what is built may fix or cause."""


def _wall_findings(
    looks: Sequence[tuple[Sequence[Ray], PadTop | None, Severity]], rule: DrainageRule, show: Display
) -> Iterator[Finding]:
    """Tell of each wall once: of the first of the ``looks`` that has something against it, the worst place.

    Water that runs to the wall is worse than too little fall.
    """
    told: set[str] = set()
    for rays, pad, severity in looks:
        bad = [ray for ray in rays if ray.verdict in ("toward", "too little") and ray.wall not in told]
        told |= {ray.wall for ray in bad}
        state = f"with the {pad.name} at {show.elevation(pad.level)}" if pad else "as surveyed"
        for ray, where in worst_per_wall(bad):
            values: dict[str, Any] = {
                "state": state, "wall": ray.wall, "place": show.place(*ray.start),
                "source": told_source(rule.source, show), "needed": show.depth(ray.needed),
                "reach": show.distance(ray.length),
            }  # fmt: skip
            if ray.verdict == "toward":
                yield finding(
                    "drainage-toward-building", severity, f"{where}, {state}", -ray.rise, ray.needed,
                    rise=show.depth(ray.rise), out=show.distance(ray.rise_at),
                    base=f"the {pad.name}" if pad else "at the wall", **values,
                )  # fmt: skip
            else:
                yield finding(
                    "drainage-falls-too-little", severity, f"{where}, {state}", ray.fall, ray.needed,
                    fall=show.depth(ray.fall), **values,
                )  # fmt: skip


def _short_findings(rays: Sequence[Ray], show: Display) -> Iterator[Finding]:
    """Tell where the survey stops short; it is the same with whatever is built."""
    short = (ray for ray in rays if ray.known < ray.length - 1e-3)
    for ray, where in worst_per_wall(short, lambda ray: (0, ray.known)):
        yield finding(
            "drainage-survey-too-short", "warning", where, ray.known, ray.length,
            wall=ray.wall, place=show.place(*ray.start), known=show.distance(ray.known),
            reach=show.distance(ray.length), end=show.place(*ray.end),
        )  # fmt: skip


def _badness(ray: Ray) -> tuple[int, float]:
    """Sorts the worst ray first: water that runs to the wall, too little fall, ground that is not known."""
    if ray.verdict == "toward":
        return 0, -ray.rise
    return (1, ray.fall - ray.needed) if ray.verdict == "too little" else (2, ray.known)


def worst_per_wall(
    rays: Iterable[Ray], badness: Callable[[Ray], tuple[int, float]] = _badness
) -> list[tuple[Ray, str]]:
    """Give the worst ray of each wall with the wall's name; of too many walls only the worst of all."""
    worst: dict[str, Ray] = {}
    for ray in rays:
        if ray.wall not in worst or badness(ray) < badness(worst[ray.wall]):
            worst[ray.wall] = ray
    if len(worst) > MOST_WALLS_NAMED:
        ray = min(worst.values(), key=badness)
        return [(ray, f"{len(worst)} walls, worst at the {ray.wall}")]
    # walls that water runs to first, else in their order
    return [(ray, wall) for wall, ray in sorted(worst.items(), key=lambda item: badness(item[1])[0])]


def _zone_findings(zones: Sequence[SlopeZone | None], show: Display) -> Iterator[Finding]:
    """Tell of each kind of slope that the yard has; ``zones``: flat, steep, very steep."""
    kinds = (
        ("slope-too-flat", FLAT, FLAT_SOURCE),
        ("slope-steeper-than-3-to-1", STEEP, STEEP_SOURCE),
        ("slope-steeper-than-2-to-1", VERY_STEEP, VERY_STEEP_SOURCE),
    )
    for zone, (code, limit, source) in zip(zones, kinds, strict=True):
        if zone is not None:
            place, area = show.place(*zone.place), show.area(zone.area)
            ground = f"{area} of ground around {place}"
            if zone.patches > 1:
                most = f"the largest ({show.area(zone.largest)}) around {place}"
                ground = f"{area} of ground in {zone.patches} patches, {most},"
            slope, cite = show.slope(limit), told_source(source, show)
            yield finding(code, "warning", place, zone.area, limit, ground=ground, slope=slope, source=cite)


EDGE_BELOW = 2e-9
"""Ground of exactly the least slope is not flat; a zone takes in a billionth above its upper limit."""

MOST_WALLS = 200
"""An outline of more walls is a curve: walls are passed over evenly until so many are left."""


@dataclass(frozen=True, eq=False)
class Drainage:
    """The answer: findings in the order of the walls, and what a drawing shows.

    ``before``, ``after``: rays on the ground as surveyed and with the pad in place; then the slope zones.
    """

    rule: DrainageRule
    findings: tuple[Finding, ...]
    before: tuple[Ray, ...]
    after: tuple[Ray, ...]
    flat: SlopeZone | None
    steep: SlopeZone | None
    very_steep: SlopeZone | None

    def __repr__(self) -> str:
        return f"<Drainage by {self.rule.clause}: {counted(len(self.findings), 'findings')}>"


NOT_LOOKED = Drainage(IRC_2015, (), (), (), None, None, None)
"""The answer where the ground around the walls is not known at all."""


def check_drainage(
    surface: Surface,
    building: Outline,
    *,
    show: Display,
    rule: DrainageRule = IRC_2015,
    pad: PadTop | None = None,
) -> Drainage:
    """Look at the ground around each wall and at every slope of the survey.

    Each wall is told once. With a ``pad``, what stays wrong with it in place is a warning, and what it mends
    a note; without one, the ground as surveyed gets the warnings. Ground under the pad (or the building) does
    not count as flat or steep. Beyond the edge of the pad the ground is taken as it is surveyed: side slopes
    and later grading are not counted.
    """
    edges = EdgesNear.of(surface, building, rule.reach)
    walls = walls_of(building)
    walls = walls[:: math.ceil(len(walls) / MOST_WALLS)]

    def look(top: PadTop | None) -> tuple[Ray, ...]:
        rays = (
            wall_rays(edges, wall, building, reach=rule.reach, fall=rule.fall, spacing=rule.spacing, pad=top)
            for wall in walls
        )
        return tuple(ray for wall in rays for ray in wall)

    covered = _covered(surface, pad.outline if pad else building)
    zones = (
        slope_zone(surface, -1.0, FLAT - EDGE_BELOW, covered=covered),
        slope_zone(surface, STEEP, VERY_STEEP, covered=covered),
        slope_zone(surface, VERY_STEEP, math.inf, covered=covered),
    )
    before, after = look(None), look(pad) if pad else ()
    surveyed: tuple[Sequence[Ray], PadTop | None, Severity] = (before, None, "note" if pad else "warning")
    findings = (
        *_wall_findings([(after, pad, "warning"), surveyed] if pad else [surveyed], rule, show),
        *_short_findings(before, show),
        *_zone_findings(zones, show),
    )
    return Drainage(rule, findings, before, after, *zones)


def _covered(surface: Surface, outline: Outline) -> NDArray[np.float64]:
    """Area of each triangle (t,) that lies under an outline [m²]."""
    pieces = clip(surface, outline)
    covered = np.bincount(pieces.source, weights=pieces.areas, minlength=len(surface.triangles))
    return covered.astype(np.float64)
