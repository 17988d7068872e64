"""The map of a search for the best place: how each place of the yard does, and the outlines of the best."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.lettering import Style, name
from gradework.drawings.nearby import draw_nearby
from gradework.drawings.page import (
    HEIGHT_MM,
    WIDTH_MM,
    MapWindow,
    Page,
    area_entry,
    choose_scale,
    draw_legend,
    line_entry,
    ring_path,
)
from gradework.drawings.plan.ground import PlanCanvas, draw_contours
from gradework.earthwork.nearby import Nearby
from gradework.earthwork.siting.allowed import rings
from gradework.ground.contours import trace
from gradework.ground.levels import choose_interval, contour_levels
from gradework.project.nearby import nearby_of
from gradework.project.placed import placed_building
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.project.place import Placing, Spot

Floats = NDArray[np.float64]

_MAP_LEFT_MM, _BAND_MM, _ROOM_MM = 6.5, 88.0, 6.0
_COLUMN_MM = 62.0
_TABLE_LEFT_MM = frame.SIDE_MM + _COLUMN_MM + 6.0

TINTS = ("#8FB3D9", "#AFC8E3", "#CCDBEC", "#E4EBF4", "#F6F8FB")
"""From the best to the worst: one hue, darker where it is better, also in grey; light under black letters."""

_WORST = 90.0
"""[%] Of the cells: what is worse than so many has the lightest tint, too."""

_NUMBER = Style(points=13, weight="bold")
_SAID = {
    "gravel": "Gravel", "digging": "Digging", "cost": "Cost by the ground", "fall": "Fall",
    "highest": "Ground below the highest",
}  # fmt: skip


def draw_places(placing: Placing) -> matplotlib.figure.Figure:
    """Draw the yard with what was searched for as a tint, the building as it stands now, and the best places,
    on a page of 190 by 259 mm."""
    with steady():
        page, show = Page(), placing.job.show
        top, right = HEIGHT_MM - frame.TITLE_MM, WIDTH_MM - frame.SIDE_MM
        hull = placing.surface.hull_xy
        low, high = hull.min(axis=0), hull.max(axis=0)
        room = (right - _MAP_LEFT_MM - 2 * _ROOM_MM, top - _BAND_MM - 2 * _ROOM_MM)
        scale = choose_scale((float(high[0] - low[0]), float(high[1] - low[1])), room, show)
        height = min(float(high[1] - low[1]) * scale.mm_per_m + 2 * _ROOM_MM, top - _BAND_MM)
        x, y = (0.5 * (low + high)).tolist()
        window = MapWindow(_MAP_LEFT_MM, top - height, right, top, (x, y), scale)
        canvas = PlanCanvas.start(page, window, show, placing.stations.ground)
        frame.draw_border(page, window, show)
        _draw_field(canvas, placing)
        _draw_outlines(canvas, placing)
        canvas.entries += draw_nearby(page, window, canvas.taken, _nearby(placing))[0]
        _draw_ground(canvas, placing)
        _draw_around(canvas, placing)
        return page.finish()


def _nearby(placing: Placing) -> Nearby:
    return nearby_of(placing.job, placed_building(placing.job)[0])


def _draw_field(canvas: PlanCanvas, placing: Placing) -> None:
    """Tint each cell by the best that the building comes to with its middle there, over all turns."""
    field = placing.search.field()
    known = field.values[np.isfinite(field.values)]
    if not len(known):
        return
    edges = np.linspace(known.min(), max(np.percentile(known, _WORST), known.min() + 1e-9), len(TINTS) + 1)
    group = np.clip(np.searchsorted(edges, field.values, side="right") - 1, 0, len(TINTS) - 1)
    for number, tint in enumerate(TINTS):
        rows, columns = ((group == number) & np.isfinite(field.values)).nonzero()
        x, y = np.column_stack((field.x[:-1], field.x[1:])), np.column_stack((field.y[:-1], field.y[1:]))
        corners = np.stack([x[columns][:, [0, 1, 1, 0]], y[rows][:, [0, 0, 1, 1]]], axis=2)
        if len(rows):
            path = ring_path(list(canvas.window.to_page(corners.reshape(-1, 2)).reshape(-1, 4, 2)))
            style = {"facecolor": tint, "edgecolor": tint, "linewidth": 0.3, "zorder": 1.0}
            patch = matplotlib.patches.PathPatch(path, **style)
            canvas.page.axes.add_artist(canvas.clip(patch))
            last = number == len(TINTS) - 1
            ends = [_amount(placing, value) for value in edges[number : number + 2]]
            words = f"from {ends[0]}" if last else f"{ends[0]} to {ends[1]}"
            said = _SAID[placing.least] if placing.kind == "pad" else _said_of(placing)
            canvas.entries.append(area_entry(f"{said} {words}", face=tint, hatch="", edge=pens.FAINT))


def _said_of(placing: Placing) -> str:
    """What was searched for where the foundation is no pad."""
    return _SAID[placing.least] if placing.least in ("fall", "highest") else "To fill"


def _amount(placing: Placing, value: float) -> str:
    show = placing.job.show
    if placing.least == "highest":  # minus the mean of the ground
        return show.depth(value + float(placing.surface.vertices[:, 2].max()))
    if placing.least == "fall":
        return show.depth(value)
    return fixed(value, 0) if placing.kind == "pad" and placing.least == "cost" else show.volume(value)


def _draw_outlines(canvas: PlanCanvas, placing: Placing) -> None:
    """The building now, dashed; each of the best places with its number, thin where it cannot be built."""
    assert placing.job.building.size is not None
    size = np.array(placing.job.building.size)
    drawn: list[tuple[str, Spot, Any, float, str]] = [
        ("now", placing.here, pens.EVEN_DASH, pens.RULE, "Where it stands now")
    ]
    for number, spot in enumerate(placing.spots, start=1):
        able = spot.buildable
        words = "Place that can be built" if able else "Place that cannot be built"
        dash, width = (pens.SOLID, pens.FOOTPRINT) if able else (pens.DOTTED, pens.PAD)
        drawn.append((str(number), spot, dash, width, words))
    told = set()
    for said, spot, dash, width, words in drawn:
        [ring] = rings(spot.place[None], size)
        page = canvas.window.to_page(ring)
        pen = {"edgecolor": pens.BLACK, "linewidth": width, "linestyle": dash, "zorder": 5}
        canvas.region([page], fill=False, gid=f"place {said}", **pen)
        x, y = canvas.window.to_page(spot.place[None, :2])[0].tolist()
        for off in (0.0, 5.0, -5.0, 10.0, -10.0):
            if canvas.label(said, (x, y + off), _NUMBER, role="place", force=off == -10.0):
                break
        if words not in told:
            canvas.entries.append(line_entry(words, color=pens.BLACK, width=width, dash=dash))
        told.add(words)


def _draw_ground(canvas: PlanCanvas, placing: Placing) -> None:
    surface, show = placing.surface, placing.job.show
    low, high = float(surface.vertices[:, 2].min()), float(surface.vertices[:, 2].max())
    interval = choose_interval(low, high, show)
    if interval > 0:
        draw_contours(canvas, trace(surface, contour_levels(low, high, show)), interval, np.empty((0, 3)))


def _draw_around(canvas: PlanCanvas, placing: Placing) -> None:
    """Title, scales, legend, the table of places."""
    page, window, show = canvas.page, canvas.window, placing.job.show
    words = {"pad": "a gravel pad", "piers": "piers", "slab": "a slab"}[placing.kind]
    right = [f"Scale {window.scale.words}", "Print at 100 % (actual size)"]
    subtitle = f"The best places for the building, on {words}"
    frame.draw_title(page, title=name(placing.job.name), subtitle=subtitle, right=right)
    foot = frame.draw_caution(page, frame.source_words(placing.stations.file, placing.stations.xyz))
    notes = (
        "The tint is the best that the building comes to with its middle there, over all turns allowed; "
        "white: not allowed",
        f"Corners and elevations in {show.unit_title}",
    )
    north = placing.job.site.north
    top = frame.draw_reading_aids(page, window.bottom, window.scale, show, notes, north=north)
    ends = draw_legend(page, (frame.SIDE_MM, top), canvas.entries, width=_COLUMN_MM)
    rows = [("Place: first corner, turn", "gravel, fall")]
    for said, spot in (("now", placing.here), *((str(n), s) for n, s in enumerate(placing.spots, 1))):
        rows.append((f"{said}: {_corner(spot, placing)}", _figures(spot, placing)))
    width = WIDTH_MM - frame.SIDE_MM - _TABLE_LEFT_MM
    end = frame.draw_rows(page, (_TABLE_LEFT_MM, top), "The places", rows, width=width)
    frame.draw_blank_lines(page, top=min(end, ends), bottom=foot, rows=(("Notes:",),))


def _corner(spot: Spot, placing: Placing) -> str:
    show, (x, y, turn) = placing.job.show, spot.corner.tolist()
    return f"{show.short_number(x)}, {show.short_number(y)}, {turn:g}°"


def _figures(spot: Spot, placing: Placing) -> str:
    show = placing.job.show
    gravel = "-" if spot.gravel is None else show.volume(spot.gravel)
    fall = "-" if spot.fall is None else show.depth(spot.fall)
    return f"{gravel}, {fall}{'' if spot.buildable else '; not buildable'}"
