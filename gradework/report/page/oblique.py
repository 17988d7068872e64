"""The yard at a slant, as one sees it from the downhill side: the finished ground, what stands on it.

Everything is at true scale, seen from so high that plan and heights are both read; what lies nearer is drawn
over what lies farther.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip_triangles
from gradework.report.page.pictures import ROOF, WALL, yard_box
from gradework.report.page.svg import Picture

if TYPE_CHECKING:
    from gradework.project.plan import Plan

Floats = NDArray[np.float64]

_UP = math.radians(30.0)
"""How steeply one looks down."""

_ASIDE = math.radians(35.0)
"""How far to the side of straight uphill one looks, so that two walls are seen."""

_LIGHT = np.array([-0.5, 0.6, 1.2]) / math.sqrt(0.25 + 0.36 + 1.44)
_SHADES = 6
_SHARPER = 3.0
"""Slopes are lit as if so many times as steep: yards are flat, and their shape is what is looked for."""

_SOIL = 0.4
"""[m] The block of ground is cut off so far below its lowest place."""

_ROUNDING = 1e-9
_DECIMALS = 5  # of a metre: what two pieces say of one corner


class View(NamedTuple):
    """How places (n, 3), local [m], are seen: axes ``right`` and ``away`` in plan, unit vectors."""

    right: Floats
    away: Floats

    def flat(self, places: Floats) -> Floats:
        """Give places in the picture (n, 2) [m]."""
        up = places[:, 2] * math.cos(_UP) + (places[:, :2] @ self.away) * math.sin(_UP)
        return np.column_stack((places[:, :2] @ self.right, up))

    def depth(self, places: Floats) -> float:
        """Give how far away a shape is: its middle [m]."""
        return float((places[:, :2] @ self.away).mean())


class Face(NamedTuple):
    """A face to draw: corners (k, 3) local [m], and its pen."""

    corners: Floats
    pen: str


def view_of(plan: Plan) -> View:
    """Look uphill, a little from the side; along y where the ground is level."""
    fall = np.array([plan.footprint.mean.east, plan.footprint.mean.north])
    steep = float(np.hypot(*fall))
    uphill = fall / steep if steep > _ROUNDING else np.array([0.0, 1.0])
    c, s = math.cos(_ASIDE), math.sin(_ASIDE)
    away = np.array([uphill[0] * c - uphill[1] * s, uphill[0] * s + uphill[1] * c])
    return View(np.array([away[1], -away[0]]), away)


def oblique_picture(plan: Plan, floor: float | None) -> str:
    """Draw it; ``floor`` [m] is where the building stands, without one the ground alone is drawn."""
    view, ground = view_of(plan), list(_ground(plan))
    if not ground:
        return ""
    ground.sort(key=lambda face: -view.depth(face.corners))
    faces = [*ground, *_cut(ground, view)]
    if floor is not None:
        faces += [*_below(plan, view, floor), *_house(plan, view, floor)]
    flat = [view.flat(face.corners) for face in faces]
    every = np.vstack(flat)
    (left, low), (right, high) = every.min(axis=0), every.max(axis=0)
    picture = Picture(
        (float(left) - 0.1, float(low) - 0.1, float(right) + 0.1, float(high) + 0.1),
        title="The yard at a slant",
        told="The finished ground seen from its low side, with what the building stands on. Heights of the "
        "corners stand in the table below it.",
    )
    for face, ring in zip(faces, flat, strict=True):
        picture.area(ring, pen=face.pen)
    return str(picture)


def _window(plan: Plan) -> tuple[float, float, float, float]:
    """Left, low, right, high [m], local."""
    left, low, right, high = yard_box(plan)
    east, north = plan.surface.origin.tolist()
    return left - east, low - north, right - east, high - north


def _ground(plan: Plan) -> Iterator[Face]:
    """The finished ground in the window, each piece shaded by how it lies to the light."""
    left, low, right, high = _window(plan)
    surface = plan.finished
    shift = surface.origin - plan.surface.origin
    corners = surface.vertices[surface.triangles] + np.append(shift, 0.0)
    planes = np.array([[1.0, 0.0, left], [-1.0, 0.0, -right], [0.0, 1.0, low], [0.0, -1.0, -high]])
    whole, cut, source = clip_triangles(corners, planes)
    pieces = [*((corners[k], corners[k]) for k in whole), *zip(cut, corners[source], strict=True)]
    laid = _laid(plan)
    for ring, triangle in pieces:
        level = laid is not None and float(np.abs(triangle[:, 2] - laid).max()) < _ROUNDING
        yield Face(ring, "laid" if level else f"lit-{_shade(triangle)}")


def _laid(plan: Plan) -> float | None:
    """The level of the pad or slab [m]; None of piers."""
    found = plan.foundations
    if found.chosen == "slab" and found.slab is not None:
        return found.slab.level
    return found.pad.chosen.level if found.chosen == "pad" else None


def _shade(triangle: Floats) -> int:
    """How light a triangle is, from 0 to the most."""
    normal = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
    normal[:2] *= _SHARPER
    size = float(np.linalg.norm(normal))
    lit = float(normal @ _LIGHT) / size if size > 0.0 else 1.0
    return min(_SHADES - 1, max(0, round(lit * (_SHADES - 1))))


def _cut(ground: Sequence[Face], view: View) -> Iterator[Face]:
    """The near sides of the block of ground, from its rim down: edges that only one piece has."""
    bottom = min(float(face.corners[:, 2].min()) for face in ground) - _SOIL
    rim: dict[frozenset[tuple[float, ...]], Floats] = {}
    for face in ground:
        for edge in zip(face.corners, np.roll(face.corners, -1, axis=0), strict=True):
            ends = frozenset(tuple(np.round(end[:2], _DECIMALS).tolist()) for end in edge)
            if len(ends) == 2 and rim.pop(ends, None) is None:
                rim[ends] = np.array(edge)
    sides = []
    for one, other in rim.values():
        if np.array([other[1] - one[1], one[0] - other[0]]) @ view.away < 0.0:  # they run anticlockwise
            under = np.array([other, one])
            under[:, 2] = bottom
            sides.append(Face(np.vstack((one, other, under)), "cut"))
    yield from sorted(sides, key=lambda face: -view.depth(face.corners))


def _below(plan: Plan, view: View, floor: float) -> Iterator[Face]:
    """What carries the building: the piers, from the ground up to their top, far ones first."""
    found = plan.foundations
    if found.chosen != "piers" or found.piers is None:
        return
    boxes = []
    for pier in found.piers.piers:
        middle = np.array([pier.x, pier.y]) - plan.surface.origin
        half, low = 0.5 * min(pier.hole_size), pier.ground_low
        half = min(half, 0.2)
        boxes.append((middle, half, low, pier.top))
    boxes.sort(key=lambda box: -float(box[0] @ view.away))
    for middle, half, low, high in boxes:
        ring = middle + half * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
        yield from _walls(ring, low, high, view, "pillar")
    ring = plan.building.rings[0] - plan.surface.origin
    yield from _walls(ring, found.piers.top or floor, floor, view, "frame")


def _walls(ring: Floats, low: float, high: float, view: View, pen: str) -> Iterator[Face]:
    """The walls of an outline that are seen, those farther away first."""
    faces = []
    for one, other in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        out = np.array([other[1] - one[1], one[0] - other[0]])  # the ring runs anticlockwise
        if out @ view.away < 0.0:
            corners = [(*one, low), (*other, low), (*other, high), (*one, high)]
            faces.append(Face(np.array(corners), pen))
    yield from sorted(faces, key=lambda face: -view.depth(face.corners))


def _house(plan: Plan, view: View, floor: float) -> Iterator[Face]:
    """The walls, and a roof over those of a rectangle: only for size, the program does not know them."""
    ring = plan.building.rings[0] - plan.surface.origin
    top = floor + WALL
    yield from _walls(ring, floor, top, view, "seen")
    if len(ring) != 4:
        yield Face(np.column_stack((ring, np.full(len(ring), top))), "roof")
        return
    a, b, c, d = (np.append(corner, top) for corner in ring)
    if np.hypot(*(b - a)[:2]) < np.hypot(*(c - b)[:2]):
        a, b, c, d = b, c, d, a  # the ridge runs along the longer side
    lift = np.array([0.0, 0.0, ROOF])
    near, far = 0.5 * (d + a) + lift, 0.5 * (b + c) + lift
    gables = [np.array([d, a, near]), np.array([b, c, far])]
    slopes = [np.array([a, b, far, near]), np.array([c, d, near, far])]
    faces = [Face(one, "seen") for one in gables if _toward(one, view)]
    faces += [Face(one, "roof") for one in slopes if _toward(one, view)]
    yield from sorted(faces, key=lambda face: -view.depth(face.corners))


def _toward(corners: Floats, view: View) -> bool:
    """True for a face that is seen: its outside looks to the eye."""
    normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    eye = np.append(-view.away * math.cos(_UP), math.sin(_UP))
    return float(normal @ eye) > 0.0
