"""An outline at the edge of the surveyed ground: touching the edge is fine, reaching outside is explained.

``earthwork.clip`` loads this file, and shapely with it, only where an outline comes near the edge.
"""

from __future__ import annotations

from typing import Any, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.errors import Faults
from gradework.ground.locate import TOUCH
from gradework.ground.surface import Surface
from gradework.units.display import Display

Floats = NDArray[np.float64]

SHORT = 0.3048
"""[m] Below a foot a reach is told as a thickness: to a tenth of a foot it would be 0.0."""

_NOTHING = 1e-12
"""Part of the outline's area below which a remainder is rounding."""

_HARDLY = 1e-6
"""With less than this part of it on surveyed ground an outline lies outside, if only by 1 mm."""


def covered_area(surface: Surface, outline: Outline) -> float:
    """Area of the outline over surveyed ground [m²], where it leaves that ground by at most 1 mm.

    Raises InputError (``outline-outside-survey``, ``outline-far-from-survey``) where it leaves it by more.
    """
    hull = shapely.Polygon(surface.vertices[surface.hull, :2])
    local = [ring - surface.origin for ring in outline.rings]
    shape = shapely.Polygon(local[0], local[1:])
    reach = hull.buffer(TOUCH, join_style="mitre")
    covered = float(shape.intersection(hull).area)
    if shape.difference(reach).area > _NOTHING * outline.area or covered < _HARDLY * outline.area:
        _refuse(surface, outline, shape, hull)
    return covered


def _refuse(surface: Surface, outline: Outline, shape: Any, hull: Any) -> NoReturn:
    """Raise the error that says where the outline leaves the survey, how far, and what to do."""
    faults = Faults()
    swapped = _fits_swapped(surface, outline, hull)
    if not shape.intersects(hull):
        step = np.array(shape.centroid.coords[0]) - np.array(hull.centroid.coords[0])
        faults.halt(
            "outline-far-from-survey",
            variant="swapped" if swapped else "",
            outline=outline.title,
            reach=_reach(float(shape.distance(hull)), surface.stations.show),
            way=_toward(step),
        )
    _reaching_out(surface, outline, shape, hull, swapped, faults)
    faults.raise_if_any()
    raise AssertionError("unreachable")


def _reaching_out(
    surface: Surface, outline: Outline, shape: Any, hull: Any, swapped: bool, faults: Faults
) -> None:
    """Part of the outline has no ground: name the corners, the farthest first, and the area."""
    show = surface.stations.show
    corners = outline.corners
    away = shapely.distance(shapely.points(corners - surface.origin), hull)
    beyond = shape.difference(hull)
    bare, area = show.area(float(beyond.area)), show.area(outline.area)
    out = [int(i) for i in np.argsort(-away) if away[i] > TOUCH]
    if not out:
        middle = np.array(beyond.representative_point().coords[0]) + surface.origin
        place = show.place(*middle.tolist())
        faults.note(
            "outline-outside-survey",
            variant="between",
            outline=outline.title,
            place=place,
            bare=bare,
            area=area,
        )
    for number in out:
        told = ("swapped" if swapped else "worst") if number == out[0] else ""
        faults.note(
            "outline-outside-survey",
            variant=told,
            outline=outline.title,
            corner=outline.names[number],
            place=show.place(*corners[number].tolist()),
            reach=_reach(float(away[number]), show),
            bare=bare,
            area=area,
        )


def _reach(distance: float, show: Display) -> str:
    """How far outside: as a distance, below a foot as a thickness, and never as nothing."""
    if distance >= SHORT:
        return show.distance(distance)
    depth = show.depth(distance)
    return "under 1/8 in" if depth == show.depth(0.0) else depth


def _fits_swapped(surface: Surface, outline: Outline, hull: Any) -> bool:
    """Whether the outline would lie inside with its x and y exchanged."""
    swapped = [ring[:, ::-1] - surface.origin for ring in outline.rings]
    return bool(hull.buffer(TOUCH, join_style="mitre").covers(shapely.Polygon(swapped[0], swapped[1:])))


def _toward(step: Floats) -> str:
    """A direction in the words of the site's own axes."""
    x, y = float(step[0]), float(step[1])
    words = []
    if abs(x) > 0.4 * abs(y):
        words.append("+x" if x > 0 else "-x")
    if abs(y) > 0.4 * abs(x):
        words.append("+y" if y > 0 else "-y")
    return " and ".join(words)
