"""The pictures of the page: the section through the building, and the yard from above with its water."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from gradework.ground.contours import trace
from gradework.ground.levels import contour_levels
from gradework.report.page.svg import Picture

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.foundations.checks.wall_falls import WallFall
    from gradework.project.plan import Plan
    from gradework.project.section import Section
    from gradework.sitework.roof_water import RoofWater

WALL, ROOF, DOOR = 2.1, 0.7, (0.8, 2.0)
"""[m] How high the walls, the roof over them and the door are drawn: the program does not know them."""

_HATCHES = {
    "gravel": '{}width="14" height="14"><circle cx="4" cy="4" r="2.4"/><circle cx="11" cy="11" r="2.4"/>',
    "filled": '{}width="22" height="22"><circle cx="5" cy="5" r="2"/>',
    "dug": '{}width="16" height="16" patternTransform="rotate(45)"><path d="M0 0V16"/>',
}

_UNDER = 0.35
"""[m] Ground is shown so far below the lowest that is built."""

_MARGIN = 2.0
"""[m] The yard is shown so far beyond what is built and dug, as far as it was surveyed."""


def section_box(section: Section) -> tuple[float, float, float, float]:
    """The window of its picture: room under what is built, and for walls and roof over the floor."""
    left, low, right, high = section.box
    return left, low - _UNDER, right, max(high, section.floor + WALL + ROOF) + 0.15


def section_picture(section: Section) -> str:
    """Draw the section at true scale: ground before dashed, finished solid, what is dug hatched."""
    box = section_box(section)
    low = section.box[1]
    picture = Picture(
        box,
        title="Section through the building",
        told="Ground before (dashed) and after (solid), what is dug, what the building stands on. "
        "The same figures stand in the table below it.",
    )
    picture.patterns({name: made.format("") for name, made in _HATCHES.items()})
    bottom = low - _UNDER
    at = np.union1d(section.ground[:, 0], section.finished[:, 0])
    before, after = (np.interp(at, *one.T) for one in (section.ground, section.finished))
    soil = np.minimum(before, after)
    picture.area([(at[0], bottom), *zip(at, soil, strict=True), (at[-1], bottom)], pen="soil")
    picture.area(
        [*zip(at, np.maximum(before, after), strict=True), *zip(at[::-1], after[::-1], strict=True)],
        pen="dug",
    )
    picture.area([*zip(at, after, strict=True), *zip(at[::-1], soil[::-1], strict=True)], pen="filled")
    gravel = [part.corners for part in section.parts if part.stuff == "gravel"]
    if gravel:
        picture.area(*gravel, pen="gravel")
    picture.line(section.ground, "before")
    picture.line(section.finished, "after")
    for part in section.parts:
        if part.stuff != "gravel":
            picture.area(part.corners, pen=f"{part.stuff} moves" if part.stuff == "wood" else part.stuff)
    for first, last in section.walls:
        _building(picture, first, last, section.floor)
    return str(picture)


def _building(picture: Picture, first: float, last: float, floor: float) -> None:
    top = floor + WALL
    ring = [(first, floor), (first, top), (0.5 * (first + last), top + ROOF), (last, top), (last, floor)]
    picture.line([*ring, ring[0]], "walls moves")
    wide, high = DOOR
    if last - first > 2.0 * wide:
        x = first + 0.5 * (last - first - wide)
        picture.line(
            [(x, floor), (x, floor + high), (x + wide, floor + high), (x + wide, floor)], "walls moves"
        )
    picture.line([(first, floor), (last, floor)], "floor moves")


# The yard from above.


def _dug(plan: Plan) -> list[Led]:
    """What leads water past what is built."""
    return [one.dug for one in plan.measures if one.dug is not None]


def roof_of(plan: Plan) -> RoofWater | None:
    """Where the rain of the roof goes over what is built; None where that was not looked at."""
    around = plan.foundations.around.get(plan.foundations.chosen)
    return None if around is None else around.roof


def yard_box(plan: Plan) -> tuple[float, float, float, float]:
    """The window of the picture of the yard [m], site frame."""
    surface, building = plan.surface, plan.building.rings[0]
    hull = surface.vertices[surface.hull, :2] + surface.origin
    dug = _dug(plan)
    there = [one.corners for one in plan.foundations.elsewhere]
    roof = roof_of(plan)
    there += [] if roof is None else [pipe.rows[:, :2] for pipe in roof.pipes]
    places = np.concatenate(
        [building, *there, *(one.line[:, :2] for one in dug), *(one.outlets[:, :2] for one in dug)]
    )
    low = np.maximum(places.min(axis=0) - _MARGIN, hull.min(axis=0) - 0.3)
    high = np.minimum(places.max(axis=0) + _MARGIN, hull.max(axis=0) + 0.3)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _ground_and_rain(picture: Picture, plan: Plan) -> None:
    """Contours, breaklines, where rain runs and where it stands."""
    heights = contour_levels(plan.shape.low.elevation, plan.shape.high.elevation, plan.job.show)
    for line in trace(plan.finished, heights):
        places = np.vstack((line.xy, line.xy[:1])) if line.closed else line.xy
        picture.line(places, "contour")
    for told in plan.surface.breaklines:
        picture.line(plan.surface.vertices[told.vertices, :2] + plan.surface.origin, "break")
    for runs, pen in zip(plan.rain.runs[-2:], ("rain", "rain then"), strict=False):
        for leg in (leg for one in runs for leg in one.legs if len(leg) > 1):
            picture.line(leg[:, :2], pen)
    for ring in (ring for one in plan.rain.standing for ring in one.rings):
        picture.line(np.vstack((ring, ring[:1])), "pond")


def _draw_roof(picture: Picture, roof: RoofWater | None) -> None:
    """Drip strips, gutters below their eaves, and the pipe from each to where it comes out."""
    for one in () if roof is None else roof.eaves:
        for part in shapely.get_parts(one.strip if one.kind == "drip strip" else []):
            picture.area(shapely.get_coordinates(part.exterior), pen="strip")
        if one.kind == "gutter":
            picture.line(one.eave.line, "gutter")
        for spout in one.led:
            x, y = spout.end.tolist()
            way = 0.6 * spout.outlet.way
            picture.line([tuple(spout.foot.tolist()), (x, y)], "pipe")
            picture.arrow((x, y), (x + float(way[0]), y + float(way[1])), "pipe")


def water_picture(plan: Plan) -> str:
    """Draw the yard: contours, the building, where water comes to a wall or leaves it, what leads it past."""
    building, dug = plan.building.rings[0], _dug(plan)
    picture = Picture(
        yard_box(plan),
        title="The yard from above",
        told="Lines of equal height, the building, arrows where water comes to a wall or runs away from it.",
    )
    _ground_and_rain(picture, plan)
    for one in dug:
        for bends in one.bends:
            picture.line(bends[:, :2], "swale")
        if not one.bends:
            picture.line(one.line[:, :2], "margin")
        for x, y, _ in one.outlets.tolist():
            end = one.line[[0, -1]][int(np.hypot(*(one.line[[0, -1], :2] - (x, y)).T).argmin())]
            inner = one.line[1 if np.allclose(end, one.line[0]) else -2, :2]
            way = np.array([x, y]) - inner
            way = way / max(float(np.hypot(*way)), 1e-9)
            picture.arrow((x, y), (x + 0.6 * way[0], y + 0.6 * way[1]), "swale")
    _draw_roof(picture, roof_of(plan))
    looks = {fall.wall: fall for fall in plan.drainage.after or plan.drainage.before}
    # a wall that is cured, as it is once that is dug
    looks |= {fall.wall: fall for one in plan.measures if one.dug for fall in one.looks}
    for fall in looks.values():
        _fall(picture, fall)
    picture.group("house")
    if plan.foundations.chosen == "pad":
        picture.line(np.vstack((pad := plan.foundations.pad.outline.rings[0], pad[:1])), "margin")
    picture.area(*plan.building.rings, pen="house")
    for place in plan.foundations.elsewhere:  # where it could stand instead
        ring = place.corners
        picture.line(np.vstack((ring, ring[:1])), "margin")
        x, y = ring[0].tolist()
        picture.words((x, y), place.way.capitalize(), "corner", dy=24.0)
    for number, (x, y) in enumerate(building.tolist(), start=1):
        inward = building.mean(axis=0) - (x, y)
        inward = inward / max(float(np.hypot(*inward)), 1e-9)
        picture.words((x + 0.35 * inward[0], y + 0.35 * inward[1]), str(number), "corner", dy=10.0)
    return str(picture)


def _fall(picture: Picture, fall: WallFall) -> None:
    """An arrow before the middle of its look: to the wall where the ground rises from it, else away."""
    start, end = np.array(fall.start), np.array(fall.end)
    way = end - start
    long = float(np.hypot(*way))
    if long < 1e-6 or fall.verdict == "survey too short":
        return
    near, far = start + 0.25 * way / long, start + min(1.3, long) * way / long
    toward = fall.verdict == "toward"
    one, other = (far, near) if toward else (near, far)
    pen = {"toward": "toward", "away": "away"}.get(fall.verdict, "little")
    picture.arrow((float(one[0]), float(one[1])), (float(other[0]), float(other[1])), pen)
