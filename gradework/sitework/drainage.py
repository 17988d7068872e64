"""Does water run away from the building, and off the yard: rules with clause and edition, findings, marks.

It judges slopes of the surveyed ground and of the finished pad; it does not follow the water.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.conditions import STATUS_MEANS, Status
from gradework.errors import Finding, Severity
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
    def least_fall(self) -> float:
        """The fall over the whole reach [m]."""
        return self.fall * self.reach

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

IBC_2012 = DrainageRule("IBC 1804.4 (2012 to 2021)", "memory", 3.048, 0.05)
"""One vertical in twenty horizontal for at least 10 ft."""

NCC_2019 = DrainageRule("NCC 2019 Volume Two 3.1.3.3", "seen", 1.0, 0.05)
"""Australia, soil or gravel beside the building: 50 mm over the first metre."""

RULES: Mapping[str, DrainageRule] = {"irc 2015": IRC_2015, "ibc": IBC_2012, "ncc 2019": NCC_2019}


@dataclass(frozen=True, slots=True)
class SlopeLimits:
    """Slopes [-] below which turf holds water, and above which it is steep, or too steep to stand.

    Flat and 3:1 are those of GSA P100 (2003) 2.5; 2:1 those of IBC Appendix J J106.1 and J107.6.
    """

    flat: float = 0.01
    steep: float = 1.0 / 3.0
    very_steep: float = 0.5


FLAT_SOURCE = "GSA P100 (2003) 2.5 Grading, turf at least 1 %; read in the document"
STEEP_SOURCE = "GSA P100 (2003) 2.5 Grading, turf no steeper than 3:1; read in the document"
VERY_STEEP_SOURCE = (
    "IBC Appendix J, J106.1 (cuts) and J107.6 (fills); quoted by others, in force only where adopted"
)


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


# The drainage findings in the builder's words: one for each wall and rule, one for each kind of slope.

MOST_WALLS_NAMED = 8
"""When more walls break the same rule, one finding speaks for all and names the worst place."""


WALL_CODES = ("drainage-toward-building", "drainage-falls-too-little")
"""The findings about the falls from the walls, which what is built may fix or cause."""


def ray_findings(
    rays: Sequence[Ray], rule: DrainageRule, show: Display, *, pad: PadTop | None, severity: Severity
) -> tuple[Finding, ...]:
    """Give the findings of the walls: falls toward it, falls too little, survey stops short."""
    state = f"with the {pad.name} at {show.elevation(pad.level)}" if pad else "as surveyed"
    found: list[Finding] = []
    toward = _worst_per_wall((r for r in rays if r.verdict == "toward"), lambda r: -r.rise)
    found += [
        _toward(ray, where, rule, show, state, severity, pad.name if pad else "") for ray, where in toward
    ]
    little = _worst_per_wall((r for r in rays if r.verdict == "too little"), lambda r: r.fall - r.needed)
    found += [_too_little(ray, where, rule, show, state, severity) for ray, where in little]
    if pad is None:  # the survey is the same with the pad: said once
        short = _worst_per_wall((r for r in rays if r.known < r.length - 1e-3), lambda r: r.known)
        found += [_too_short(ray, where, rule, show) for ray, where in short]
    return tuple(found)


def _worst_per_wall(rays: Iterable[Ray], badness: Callable[[Ray], float]) -> list[tuple[Ray, str]]:
    """Give the worst ray of each wall with the wall's name; of too many walls only the worst of all."""
    worst: dict[str, Ray] = {}
    for ray in rays:
        if ray.wall not in worst or badness(ray) < badness(worst[ray.wall]):
            worst[ray.wall] = ray
    if len(worst) > MOST_WALLS_NAMED:
        ray = min(worst.values(), key=badness)
        return [(ray, f"{len(worst)} walls, worst at the {ray.wall}")]
    return [(ray, wall) for wall, ray in worst.items()]


def _needs(ray: Ray, rule: DrainageRule, show: Display) -> str:
    return (
        f"It should fall at least {show.depth(ray.needed)} over {show.distance(ray.length)} "
        f"away from the wall ({rule.source}; the local code decides)."
    )


_FIX = (
    "Set the floor higher, grade the ground down away from the wall, or lead the water past "
    "with a swale or a drain."
)


def _toward(
    ray: Ray, where: str, rule: DrainageRule, show: Display, state: str, severity: Severity, name: str
) -> Finding:
    start = show.place(*ray.start)
    seen = (
        f"The ground {state} falls toward the {ray.wall}: {show.distance(ray.rise_at)} straight out from "
        f"{start} it stands {show.depth(ray.rise)} above the "
        f"{name or 'ground at the wall'}, "
        "so water runs to the building."
    )
    value = -ray.rise
    advice = f"{seen} {_needs(ray, rule, show)} {_FIX}"
    return Finding("drainage-toward-building", severity, f"{where}, {state}", value, ray.needed, advice)


def _too_little(
    ray: Ray, where: str, rule: DrainageRule, show: Display, state: str, severity: Severity
) -> Finding:
    seen = (
        f"The ground {state} falls only {show.depth(ray.fall)} over {show.distance(ray.length)} from the "
        f"{ray.wall}, at {show.place(*ray.start)}."
    )
    advice = f"{seen} {_needs(ray, rule, show)} {_FIX}"
    return Finding("drainage-falls-too-little", severity, f"{where}, {state}", ray.fall, ray.needed, advice)


def _too_short(ray: Ray, where: str, rule: DrainageRule, show: Display) -> Finding:
    advice = (
        f"The survey reaches only {show.distance(ray.known)} out from the {ray.wall}, at "
        f"{show.place(*ray.start)}, so the fall over {show.distance(ray.length)} is not known there. "
        f"Shoot the ground at {show.place(*ray.end)} or a little beyond ({rule.clause} looks that far)."
    )
    return Finding("drainage-survey-too-short", "warning", where, ray.known, ray.length, advice)


def zone_findings(
    flat: SlopeZone | None,
    steep: SlopeZone | None,
    very_steep: SlopeZone | None,
    limits: SlopeLimits,
    show: Display,
) -> tuple[Finding, ...]:
    """Give one finding for each kind of slope that the yard has."""
    found = []
    if flat:
        found.append(
            Finding(
                "slope-too-flat",
                "warning",
                show.place(*flat.place),
                flat.area,
                limits.flat,
                f"{_patches(flat, show)} flatter than {show.slope(limits.flat)} and will hold water. Turf "
                f"needs at least that ({FLAT_SOURCE}). Shape a fall, or keep what must stay dry away from "
                "there.",
            )
        )
    if steep:
        found.append(
            Finding(
                "slope-steeper-than-3-to-1",
                "warning",
                show.place(*steep.place),
                steep.area,
                limits.steep,
                f"{_patches(steep, show)} steeper than {show.slope(limits.steep)}: hard to mow, and bare "
                f"soil washes off ({STEEP_SOURCE}). Plant ground cover or hold the soil before it rains.",
            )
        )
    if very_steep:
        found.append(
            Finding(
                "slope-steeper-than-2-to-1",
                "warning",
                show.place(*very_steep.place),
                very_steep.area,
                limits.very_steep,
                f"{_patches(very_steep, show)} steeper than {show.slope(limits.very_steep)}: cut and filled "
                f"banks that steep need a soils report ({VERY_STEEP_SOURCE}). Keep the building and the dig "
                "away from it, or ask an engineer.",
            )
        )
    return tuple(found)


def _patches(zone: SlopeZone, show: Display) -> str:
    if zone.patches == 1:
        return f"{show.area(zone.area)} around {show.place(*zone.place)} is"
    return (
        f"{show.area(zone.area)} in {zone.patches} patches, the largest ({show.area(zone.largest)}) around "
        f"{show.place(*zone.place)}, is"
    )


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

    def __repr__(self) -> str:
        return f"<Drainage by {self.rule.clause}: {counted(len(self.findings), 'findings')}>"


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
        clip,  # here: the outline may be any polygon, its parts need pythoncdt
    )

    pieces = clip(surface, outline)
    covered = np.bincount(pieces.source, weights=pieces.areas, minlength=len(surface.triangles))
    return covered.astype(np.float64)
