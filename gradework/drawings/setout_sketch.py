"""The sketch on the sheet for setting out: building, stakes, marks and the baseline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import Taken, box_around, corners_of
from gradework.drawings.lettering import Style, height_mm, name, width_mm
from gradework.drawings.page import MapWindow, Page, choose_scale, ring_path

if TYPE_CHECKING:  # the type only
    from gradework.project.stakes import SettingOut

_LABEL = Style(points=8)
_MARK = Style(points=9, weight="bold")
_SMALL = Style(points=8, color=ink.SOFT)
_ROOM_MM = 15.0
_LEAST_MM = 35.0


def draw_stake_sketch(page: Page, box: tuple[float, float, float, float], made: SettingOut) -> None:
    """Draw the sketch into ``box`` (left, bottom, right, top) [mm]; nothing where there is no room for it."""
    left, bottom, right, top = box
    if top - bottom < _LEAST_MM or not made.sheet.points:
        return
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
    taken = Taken((left, bottom, right, top))
    if len(marks) >= 2:
        line = window.to_page(marks[:2])
        page.strokes([line], color=ink.SOFT, width=ink.FINE, dash=ink.DAYLIGHT_DASH, gid="baseline")
    places = window.to_page(marks)
    page.axes.plot(*places.T, "^", markersize=8, color=ink.BLACK, markerfacecolor="white")
    _label(page, taken, places, [m.name for m in made.marks], _MARK)
    at = window.to_page(stakes)
    page.axes.plot(*at.T, "s", markersize=3.5, color=ink.BLACK, markerfacecolor=ink.BLACK)
    _label(page, taken, at, [p.stake.name.removeprefix("pier ") for p in made.sheet.points], _LABEL)
    words = f"Sketch, {scale.words}: triangles are marks, squares stakes, the dashed line is the baseline."
    page.write(words, (left, bottom), _SMALL, role="sketch")


def _label(
    page: Page,
    taken: Taken,
    places: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    texts: list[str],
    style: Style,
) -> None:
    """Write the names beside their places where there is room: above, below, right or left."""
    for x, y in places.tolist():
        taken.take(box_around((x, y), 1.8, 1.8))
    for (x, y), text in zip(places.tolist(), map(name, texts), strict=True):
        wide, high = width_mm(text, style.points, style.weight) + 0.8, height_mm(style.points) + 0.8
        aside = 0.5 * wide + 1.4
        for dx, dy in ((0, high), (0, -high), (aside, 0), (-aside, 0), (aside, high), (-aside, -high)):
            place = (x + dx, y + dy)
            if taken.take_if_free(box_around(place, wide, high)):
                page.clear_ground(corners_of(box_around(place, wide, high)))
                page.write(text, place, style, across="center", up="center", role="stake name")
                break
