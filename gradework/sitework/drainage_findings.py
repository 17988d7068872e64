"""The drainage findings in the builder's words: one for each wall and rule, one for each kind of slope."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from gradework.errors import Finding, Severity
from gradework.sitework.drainage_rules import (
    FLAT_SOURCE,
    STEEP_SOURCE,
    VERY_STEEP_SOURCE,
    DrainageRule,
    SlopeLimits,
)
from gradework.sitework.fall_rays import PadTop, Ray
from gradework.sitework.slope_zones import SlopeZone
from gradework.units import Display

MOST_WALLS_NAMED = 8
"""When more walls break the same rule, one finding speaks for all and names the worst place."""


WALL_CODES = ("drainage-toward-building", "drainage-falls-too-little")
"""The findings about the falls from the walls, which what is built may mend or cause."""


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


_MEND = (
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
    advice = f"{seen} {_needs(ray, rule, show)} {_MEND}"
    return Finding("drainage-toward-building", severity, f"{where}, {state}", value, ray.needed, advice)


def _too_little(
    ray: Ray, where: str, rule: DrainageRule, show: Display, state: str, severity: Severity
) -> Finding:
    seen = (
        f"The ground {state} falls only {show.depth(ray.fall)} over {show.distance(ray.length)} from the "
        f"{ray.wall}, at {show.place(*ray.start)}."
    )
    advice = f"{seen} {_needs(ray, rule, show)} {_MEND}"
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
