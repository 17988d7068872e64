"""What stands near on a drawing: its line or outline with its name, cut off at the edge of the map."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import Taken, box_around, corners_of, slanted_boxes
from gradework.drawings.lettering import Style, height_mm, name, shortened, width_mm
from gradework.drawings.page import Entry, MapWindow, Page, line_entry, mark_entry, ring_path

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Kind, Nearby, Neighbour

Floats = NDArray[np.float64]

_NAME = Style(points=8, weight="bold", color=pens.SOFT)
_LONGEST_MM = 45.0
_STEP_MM = 4.0
_INSET_MM = 1.2

_PENS: dict[Kind, tuple[str, float, Any]] = {
    "house": (pens.SOFT, pens.PAD, pens.SOLID),
    "garage": (pens.SOFT, pens.PAD, pens.SOLID),
    "fence": (pens.SOFT, pens.RULE, (0, (9, 2, 1.5, 2, 1.5, 2))),
    "lot line": (pens.SOFT, pens.PAD, pens.DAYLIGHT_DASH),
    "tree": (pens.EARTH, pens.RULE, pens.EVEN_DASH),
    "well": (pens.WATER, pens.RULE, pens.SOLID),
    "septic": (pens.EARTH, pens.RULE, pens.DOTTED),
    "pipe": (pens.WARNING, pens.PAD, pens.DOTTED),
}
_WORDS: dict[Kind, str] = {
    "house": "House", "garage": "Garage", "fence": "Fence", "lot line": "Lot line", "tree": "Tree",
    "well": "Well", "septic": "Septic field", "pipe": "Buried pipe or cable",
}  # fmt: skip


def widened(low: Floats, high: Floats, nearby: Nearby, most: float) -> tuple[Floats, Floats]:
    """Let the corners (2,) [m] of what is shown take in the nearest place of all within ``most`` [m]."""
    shown = shapely.box(*low, *high)
    near = [one.shape for one in nearby.neighbours if one.shape.distance(shown) <= most]
    places = [shapely.get_coordinates(shapely.shortest_line(shown, shape))[1:] for shape in near]
    every = np.concatenate([np.array([low, high]), *places])
    return every.min(axis=0), every.max(axis=0)


def draw_nearby(page: Page, window: MapWindow, taken: Taken, nearby: Nearby) -> tuple[list[Entry], list[str]]:
    """Draw what stands near inside the map; labels keep off it from then on.

    Returns an entry for the legend of each kind that is seen, and the names that found no room.
    """
    left, bottom, right, top = window.box
    frame = shapely.box(left + _INSET_MM, bottom + _INSET_MM, right - _INSET_MM, top - _INSET_MM)
    entries: dict[str, Entry] = {}
    seen = []
    for one in nearby.neighbours:
        shape = shapely.transform(one.shape, window.to_page).intersection(frame)
        if shape.is_empty:
            continue
        _draw(page, one, shape, shapely.transform(one.face, window.to_page).intersection(frame), taken)
        color, width, dash = _PENS[one.kind]
        entry = line_entry(_WORDS[one.kind], color=color, width=width, dash=dash)
        if shape.geom_type == "Point":
            entry = mark_entry(_WORDS[one.kind], marker="o", size=7, color=color)
        entries.setdefault(one.kind, entry)
        seen.append((one, shape))
    left_out = [name(one.name) for one, shape in seen if not _named(page, one, shape, taken)]
    return list(entries.values()), left_out


def _draw(page: Page, one: Neighbour, shape: Any, face: Any, taken: Taken) -> None:
    color, width, dash = _PENS[one.kind]
    if one.closed and one.bars:
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon":
                ring = shapely.get_coordinates(part.exterior)[:-1]
                patch = matplotlib.patches.PathPatch(
                    ring_path([ring]), facecolor="none", edgecolor=pens.FAINT, hatch="//", linewidth=0.0,
                    zorder=1.2, gid=f"near {name(one.name)}",
                )  # fmt: skip
                page.axes.add_artist(patch)
    for part in shapely.get_parts(face):
        line = shapely.get_coordinates(part)
        if part.geom_type == "Point":
            page.axes.plot(*line.T, "o", markersize=7, color=color, markerfacecolor="white", zorder=5)
            taken.take(box_around((float(line[0, 0]), float(line[0, 1])), 3.0, 3.0))
        else:
            page.strokes([line], color=color, width=width, dash=dash, zorder=3.5, gid="what stands near")
            _keep_off(line, taken)


def _keep_off(line: Floats, taken: Taken) -> None:
    for start, end in pairwise(line):
        run = end - start
        middle = (start + end) / 2
        degrees = float(np.degrees(np.arctan2(run[1], run[0])))
        for box in slanted_boxes((float(middle[0]), float(middle[1])), float(np.hypot(*run)), 1.0, degrees):
            taken.take(box)


def _named(page: Page, one: Neighbour, shape: Any, taken: Taken) -> bool:
    """Write the name inside or beside it, at the first place that is free; tell whether it stands."""
    text = shortened(name(one.name), _NAME.points, _LONGEST_MM)
    size = width_mm(text, _NAME.points, _NAME.weight) + 1.0, height_mm(_NAME.points) + 1.0
    for place in _places(shape, size):
        box = box_around(place, *size)
        if taken.take_if_free(box):
            page.clear_ground(corners_of(box))
            page.write(text, place, _NAME, across="center", up="center", role="near")
            return True
    return False


def _places(shape: Any, size: Sequence[float]) -> Iterator[tuple[float, float]]:
    """Places for the middle of a name: inside an area, then beside the line, the middle of it first."""
    if shape.area > 0.0:
        inside = shape.representative_point()
        yield inside.x, inside.y
    lines = shape.boundary if shape.area > 0.0 else shape
    length = lines.length
    at = sorted(np.arange(0.0, length + _STEP_MM, _STEP_MM).tolist(), key=lambda s: abs(s - length / 2))
    across, up = size[0] / 2 + 1.6, size[1] / 2 + 1.4
    parts = [part for part in shapely.get_parts(lines) if part.geom_type in ("LineString", "Point")]
    for part in parts:
        for along in at:
            place = part.interpolate(along) if part.geom_type == "LineString" else part
            for dx, dy in ((across, 0.0), (-across, 0.0), (0.0, up), (0.0, -up)):
                yield place.x + dx, place.y + dy
