"""The sketch on the sheet for setting out: building, stakes, marks and the baseline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import Taken, box_around, corners_of
from gradework.drawings.lettering import Style, name
from gradework.drawings.naming import place_names
from gradework.drawings.page import MapWindow, Page, choose_scale, ring_path

if TYPE_CHECKING:  # the type only
    from gradework.project.stakes import SettingOut

Floats = NDArray[np.float64]

_LABEL = Style(points=8)
_MARK = Style(points=9, weight="bold")
_SMALL = Style(points=8, color=ink.SOFT)
_ROOM_MM = 15.0
_LEAST_MM = 35.0
_MARK_MM = 1.8


def draw_stake_sketch(page: Page, box: tuple[float, float, float, float], made: SettingOut) -> list[str]:
    """Draw the sketch into ``box`` (left, bottom, right, top) [mm]; nothing where there is no room for it.

    Returns the names that found no room in the sketch.
    """
    left, bottom, right, top = box
    if top - bottom < _LEAST_MM or not made.sheet.points:
        return []
    show = made.plan.job.show
    stakes = np.array([(p.stake.x, p.stake.y) for p in made.sheet.points])
    marks = np.array([(m.x, m.y) for m in made.marks]).reshape(-1, 2)
    ring = made.plan.building.rings[0]
    everything = np.vstack([stakes, marks, ring])
    low, high = everything.min(axis=0), everything.max(axis=0)
    wide, tall = (float(v) for v in high - low)
    room = (right - left - 2 * _ROOM_MM, top - bottom - 12.0)
    scale = choose_scale((max(wide, 0.5), max(tall, 0.5)), room, show)
    middle = (low + high) / 2
    window = MapWindow(left, bottom, right, top, (float(middle[0]), float(middle[1])), scale)
    building = window.to_page(ring)
    page.axes.add_artist(
        matplotlib.patches.PathPatch(
            ring_path([building]), fill=False, linewidth=ink.RULE, edgecolor=ink.BLACK
        )
    )
    if len(marks) >= 2:
        line = window.to_page(marks[:2])
        page.strokes([line], color=ink.SOFT, width=ink.FINE, dash=ink.DAYLIGHT_DASH, gid="baseline")
    places, at = window.to_page(marks), window.to_page(stakes)
    page.axes.plot(*places.T, "^", markersize=8, color=ink.BLACK, markerfacecolor="white")
    page.axes.plot(*at.T, "s", markersize=3.5, color=ink.BLACK, markerfacecolor=ink.BLACK)
    taken = Taken((left, bottom + 3.5, right, top))
    for x, y in (*places.tolist(), *at.tolist()):
        taken.take(box_around((x, y), _MARK_MM, _MARK_MM))
    left_out = _label(page, taken, places, [m.name for m in made.marks], _MARK)
    names = [p.stake.name.removeprefix("pier ") for p in made.sheet.points]
    left_out += _label(page, taken, at, names, _LABEL)
    words = f"Sketch, {scale.words}: triangles are marks, squares stakes, the dashed line is the baseline."
    if left_out:
        words += f" No room for {len(left_out)} names."
    page.write(words, (left, bottom), _SMALL, role="sketch")
    return left_out


def _label(page: Page, taken: Taken, places: Floats, texts: list[str], style: Style) -> list[str]:
    """Write the names beside their places ``(n, 2)`` [mm] or on leaders; return those without room."""
    boxes = [box_around((x, y), _MARK_MM, _MARK_MM) for x, y in places.tolist()]
    shown = [name(text) for text in texts]
    standing = place_names(boxes, shown, taken, style)
    leaders = [one.leader for one in standing if one.leader is not None]
    page.strokes(leaders, color=ink.SOFT, width=ink.FINE, gid="leaders of names")
    for one in standing:
        page.clear_ground(corners_of(one.box))
        page.write(
            one.text,
            one.place,
            one.style,
            across="center",
            up="center",
            degrees=one.degrees,
            role="stake name",
        )
    stand = {one.number for one in standing}
    return [text for number, text in enumerate(shown) if number not in stand]
