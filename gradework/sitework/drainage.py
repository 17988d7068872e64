"""Does water run away from the building, and off the yard: findings about walls and slopes, and their marks.

The falls are judged in ``foundations/checks``; here they get their words. It does not follow the water.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.errors import Finding, Severity, finding
from gradework.foundations.checks.check import cited
from gradework.foundations.checks.drainage_rules import IRC_2015, DrainageRule
from gradework.foundations.checks.more_shots import more_shots
from gradework.foundations.checks.wall_falls import WallFall, wall_falls
from gradework.foundations.checks.wall_strips import MOST_WALLS_NAMED, PadTop, walls_named, walls_of
from gradework.units.display import Display, counted

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface


# Slopes of the yard: limits, and how well each was checked.

FLAT, STEEP, VERY_STEEP = 0.01, 1.0 / 3.0, 0.5
"""Slopes [-]: below the first turf holds water, above 3:1 it is steep, above 2:1 too steep to stand."""

FLAT_SOURCE = "GSA P100 (2003) 2.5 Grading, turf at least 1 %; read in the document"
STEEP_SOURCE = "GSA P100 (2003) 2.5 Grading, turf no steeper than 3:1; read in the document"
VERY_STEEP_SOURCE = (
    "IBC Appendix J, J106.1 (cuts) and J107.6 (fills); quoted by others, in force only where adopted"
)


def told_source(source: str, *, us: bool) -> str:
    """Give a source as findings tell it: outside the US a code of the US binds nobody, and it says so."""
    return cited(source, us=us or not source.startswith(("IRC", "IBC", "GSA", "24 CFR")))


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

WALL_CODES = ("drainage-toward-building", "drainage-falls-too-little")
"""The findings about the falls from the walls, which what is built may fix or cause."""


def _wall_findings(
    looks: Sequence[tuple[Sequence[WallFall], PadTop | None, Severity]],
    rule: DrainageRule,
    cures: Mapping[str, str],
    show: Display,
    *,
    under: bool,
) -> Iterator[Finding]:
    """Tell of each wall once: of the first of the ``looks`` that has something against it.

    Water that runs to the wall is worse than too little fall. ``cures``: what is designed for a wall;
    ``under``: rain runs on under an open floor.
    """
    told: set[str] = set()
    for falls, pad, severity in looks:
        bad = [fall for fall in falls if fall.verdict in BAD and fall.wall not in told]
        told |= {fall.wall for fall in bad}
        state = f"with the {pad.name} at {show.elevation(pad.level)}" if pad else "as surveyed"
        for fall, where in worst_first(bad):
            cure = cures.get(fall.wall, "") if pad else ""
            values: dict[str, Any] = {
                "state": state, "wall": fall.wall, "place": show.place(*fall.start),
                "source": told_source(rule.source_at(fall.ends_at), us=rule.us),
                "needed": show.depth(fall.needed),
                "reach": show.distance(fall.length), "cure": cure,
                "variant": "open" if under else "cured" if cure else "",
                "base": f"at the edge of the {pad.name}" if pad else "at the wall",
            }  # fmt: skip
            if fall.verdict == "toward":
                yield finding(
                    "drainage-toward-building", severity, f"{where}, {state}", -fall.rise, fall.needed,
                    rise=show.depth(fall.rise), out=show.distance(fall.rise_at), **values,
                )  # fmt: skip
            else:
                yield finding(
                    "drainage-falls-too-little", severity, f"{where}, {state}", fall.fall, fall.needed,
                    fall=show.depth(fall.fall), **values,
                )  # fmt: skip


BAD = ("toward", "too little")
"""The verdicts that are held against a wall, the worse first."""


def worst_first(bad: Sequence[WallFall]) -> list[tuple[WallFall, str]]:
    """Walls that water runs to first, else in their order, each with its name; of too many only the worst."""
    if len(bad) > MOST_WALLS_NAMED:
        worst = min(bad, key=lambda fall: (BAD.index(fall.verdict), fall.fall - fall.needed, -fall.rise))
        return [(worst, f"{len(bad)} walls, worst at the {worst.wall}")]
    return [(fall, fall.wall) for fall in sorted(bad, key=lambda fall: BAD.index(fall.verdict))]


def _short_findings(
    falls: Sequence[WallFall], shots: Sequence[tuple[float, float]], show: Display
) -> Iterator[Finding]:
    """Tell once where the survey ends short of the strips before the walls, and where to shoot."""
    short = [fall for fall in falls if fall.missing]
    if not short or not shots:
        return
    least = min(short, key=lambda fall: fall.known)
    places = [show.place(*place) for place in shots]
    yield finding(
        "drainage-survey-too-short", "warning", walls_named([fall.wall for fall in short]), least.known,
        least.length, walls=walls_named([fall.wall for fall in short]), wall=least.wall,
        known=show.distance(least.known), reach=show.distance(least.length), places="; ".join(places),
    )  # fmt: skip


def _zone_findings(zones: Sequence[SlopeZone | None], show: Display, *, us: bool) -> Iterator[Finding]:
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
            slope, cite = show.slope(limit), told_source(source, us=us)
            yield finding(code, "warning", place, zone.area, limit, ground=ground, slope=slope, source=cite)


EDGE_BELOW = 2e-9
"""Ground of exactly the least slope is not flat; a zone takes in a billionth above its upper limit."""


@dataclass(frozen=True, eq=False)
class Drainage:
    """The answer: findings in the order of the walls, and what a drawing shows.

    ``before``, ``after``: the falls from the walls on the ground as surveyed and with the pad in place; then
    the slope zones. ``shots``: where to shoot for what the strips lack, site frame [m]. ``under``: rain runs
    on under an open floor, so no wall asks for a fall.
    """

    rule: DrainageRule
    findings: tuple[Finding, ...]
    before: tuple[WallFall, ...]
    after: tuple[WallFall, ...]
    flat: SlopeZone | None
    steep: SlopeZone | None
    very_steep: SlopeZone | None
    shots: tuple[tuple[float, float], ...] = ()
    under: bool = False

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
    nearby: Nearby | None = None,
    under: bool = False,
) -> Drainage:
    """Look at the ground around each wall and at every slope of the survey.

    Each wall is told once. With a ``pad``, what stays wrong with it in place is a warning, and what it mends
    a note; without one, the ground as surveyed gets the warnings, or notes where rain runs on ``under`` an
    open floor. Ground under the pad (or the building) does not count as flat or steep. Later grading is not
    counted. A look ends a foot before a wall, a fence or a lot line ``nearby``, and no shot is asked for
    beyond it.
    """
    covered = _covered(surface, pad.outline if pad else building)
    zones = (
        slope_zone(surface, -1.0, FLAT - EDGE_BELOW, covered=covered),
        slope_zone(surface, STEEP, VERY_STEEP, covered=covered),
        slope_zone(surface, VERY_STEEP, math.inf, covered=covered),
    )
    stops = None if nearby is None else nearby.stops
    before = wall_falls(surface, building, rule, barriers=stops)
    after = wall_falls(pad.ground or surface, building, rule, pad=pad, barriers=stops) if pad else ()
    wanted = more_shots(surface, walls_of(building), after or before)
    if nearby is not None:
        wanted = wanted[~nearby.beyond(wanted)]
    shots = tuple((x, y) for x, y in wanted.tolist())
    seen = Drainage(rule, (), before, after, *zones, shots, under)
    return with_cures(seen, {}, pad, show)


def with_cures(seen: Drainage, cures: Mapping[str, str], pad: PadTop | None, show: Display) -> Drainage:
    """The same with its findings told anew; ``cures``: by the name of a wall what is designed for it, with
    which it passes: "swale past the wall (corners 3-4)"."""
    looks: list[tuple[Sequence[WallFall], PadTop | None, Severity]] = [
        (seen.before, None, "note" if seen.under else "warning")
    ]
    if pad is not None:
        looks = [(seen.after, pad, "warning"), (seen.before, None, "note")]
    findings = (
        *_wall_findings(looks, seen.rule, cures, show, under=seen.under),
        *_short_findings(() if seen.under else seen.after or seen.before, seen.shots, show),
        *_zone_findings((seen.flat, seen.steep, seen.very_steep), show, us=seen.rule.us),
    )
    return replace(seen, findings=findings)


def _covered(surface: Surface, outline: Outline) -> NDArray[np.float64]:
    """Area of each triangle (t,) that lies under an outline [m²]."""
    pieces = clip(surface, outline)
    covered = np.bincount(pieces.source, weights=pieces.areas, minlength=len(surface.triangles))
    return covered.astype(np.float64)
