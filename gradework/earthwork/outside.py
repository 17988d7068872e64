"""An outline at the edge of the surveyed ground: touching it is fine, reaching outside is explained."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.errors import Faults

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground import Surface
    from gradework.units import Display

Floats = NDArray[np.float64]

TOUCH = 0.001
"""[m] An outline that leaves the surveyed ground by no more than this touches it: no tape is read closer."""

SHORT = 0.3048
"""[m] Below a foot a reach is told as a thickness: to a tenth of a foot it would be 0.0."""

_NOTHING = 1e-12
"""Part of the outline's area below which a remainder is rounding."""


def covered_area(surface: Surface, outline: Outline) -> float:
    """Area of the outline over surveyed ground [m²], where it leaves that ground by at most 1 mm.

    Raises InputError (``outline-outside-survey``, ``outline-far-from-survey``) where it leaves it by more.
    """
    hull = shapely.Polygon(surface.vertices[surface.hull, :2])
    local = [ring - surface.origin for ring in outline.rings]
    shape = shapely.Polygon(local[0], local[1:])
    reach = hull.buffer(TOUCH, join_style="mitre")
    if shape.difference(reach).area > _NOTHING * outline.area:
        _refuse(surface, outline, shape, hull)
    return float(shape.intersection(hull).area)


def _refuse(surface: Surface, outline: Outline, shape: Any, hull: Any) -> NoReturn:
    """Raise the error that says where the outline leaves the survey, how far, and what to do."""
    faults = Faults()
    swapped = _fits_swapped(surface, outline, hull)
    ask = "; it would fit with x and y swapped: were they swapped here or in the notes?" if swapped else ""
    if not shape.intersects(hull):
        _far_away(surface, outline, shape, hull, ask, faults)
    _reaching_out(surface, outline, shape, hull, ask, faults)
    faults.raise_if_any()
    raise AssertionError("unreachable")


def _far_away(
    surface: Surface, outline: Outline, shape: Any, hull: Any, ask: str, faults: Faults
) -> NoReturn:
    """The outline has no ground at all: name distance and direction."""
    show = surface.stations.show
    reach = _reach(float(shape.distance(hull)), show)
    step = np.array(shape.centroid.coords[0]) - np.array(hull.centroid.coords[0])
    faults.stop(
        "outline-far-from-survey",
        f"the {outline.title} lies {reach} outside the surveyed ground, toward {_toward(step)}",
        "an outline on the surveyed ground",
        f"measure its corners from the same origin as the shots{ask}",
    )


def _reaching_out(
    surface: Surface, outline: Outline, shape: Any, hull: Any, ask: str, faults: Faults
) -> None:
    """Part of the outline has no ground: name the corners, the farthest first, and the area."""
    show = surface.stations.show
    corners = outline.corners
    away = shapely.distance(shapely.points(corners - surface.origin), hull)
    beyond = shape.difference(hull)
    total = f"{show.area(float(beyond.area))} of {show.area(outline.area)} have no surveyed ground"
    out = [int(i) for i in np.argsort(-away) if away[i] > TOUCH]
    if not out:
        place = np.array(beyond.representative_point().coords[0]) + surface.origin
        faults.add(
            "outline-outside-survey",
            f"the {outline.title} leaves the surveyed ground near {show.place(*place.tolist())}; {total}",
            "an outline inside the surveyed ground",
            f"shoot more there, or move the outline{ask}",
        )
    for number in out:
        head = f"{outline.names[number]} of the {outline.title} ({show.place(*corners[number].tolist())})"
        tail = f"; {total}" if number == out[0] else ""
        faults.add(
            "outline-outside-survey",
            f"{head} reaches {_reach(float(away[number]), show)} outside the surveyed ground{tail}",
            "an outline inside the surveyed ground",
            f"shoot more ground beyond {outline.names[number]}, or move the outline{ask}",
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
