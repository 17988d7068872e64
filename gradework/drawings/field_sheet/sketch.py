"""The sketch on a field sheet: the grid with a box to tick at each station, and which way x and y run."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.frame import arrow_heads
from gradework.drawings.labels import Taken, box_around, corners_of, crosses
from gradework.drawings.lettering import Line, Style, set_line
from gradework.drawings.page import MapWindow, Page, Scale, choose_scale
from gradework.project.field_sheet import FieldSheet, to_grid

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]

LEAST_PITCH_MM = 11.0
"""Stations on the sketch stand at least so far apart [mm]: a box to tick, a name, and room between."""

EDGE_MM = 12.0
"""So much is left between the outermost stations and the border of the sketch [mm]."""

ARROWS_MM = 25.0
"""A pair of arrows takes so much room, whichever way it is turned [mm]."""

_ARROW_MM = 15.0
_TICK_MM = 3.4
_NAME = Style(points=10, weight="bold")
_SMALL_NAME = Style(points=8, weight="bold")
_CORNERS = ((1, 1), (1, -1), (-1, 1), (-1, -1))


@dataclass(frozen=True)
class Panel:
    """The part of the grid on one sketch: stations of ``rows`` and ``columns`` (half-open, from 0)."""

    rows: tuple[int, int]
    columns: tuple[int, int]
    scale: Scale | None
    """A standard scale; None for a sketch that is not to scale."""


def panels(sheet: FieldSheet, room_mm: tuple[float, float]) -> list[Panel]:
    """Share the grid out over as few sketches of ``room_mm`` [mm] as leave each station room for its name."""
    inner = (room_mm[0] - 2 * EDGE_MM, room_mm[1] - 2 * EDGE_MM)
    for across in range(1, sheet.columns + 1):
        for up in _parts_up(sheet, across, inner):
            shared = _shared(sheet, across, up, inner)
            if shared:
                return shared
    return _shared(sheet, sheet.columns, sheet.rows, inner)


def _parts_up(sheet: FieldSheet, across: int, inner: tuple[float, float]) -> Iterator[int]:
    """The numbers of parts to try along the letters: as many as it takes at the least pitch, and one more."""
    least = math.ceil(sheet.rows / (math.floor(inner[1] / LEAST_PITCH_MM) + 1))
    if math.ceil(sheet.columns / across) <= math.floor(inner[0] / LEAST_PITCH_MM) + 1:
        yield from range(least, least + 3)


def _shared(sheet: FieldSheet, across: int, up: int, inner: tuple[float, float]) -> list[Panel]:
    """The panels of one way to share the grid out; empty if the stations would stand too close."""
    columns, rows = _cuts(sheet.columns, across), _cuts(sheet.rows, up)
    step_up, step_across = sheet.grid.spacing
    wide = max(b - a for a, b in columns) - 1
    high = max(b - a for a, b in rows) - 1
    scale: Scale | None = choose_scale((wide * step_across, high * step_up), inner, sheet.show)
    assert scale is not None
    pitch = scale.mm_per_m * min(step_up, step_across)
    if pitch < LEAST_PITCH_MM:
        if max(step_up, step_across) < 2.5 * min(step_up, step_across):
            return []
        scale = None  # long thin squares: drawn even, and said so
        if wide * LEAST_PITCH_MM > inner[0] or high * LEAST_PITCH_MM > inner[1]:
            return []
    return [Panel(row, column, scale) for row in reversed(rows) for column in columns]


def _cuts(count: int, parts: int) -> list[tuple[int, int]]:
    """Cut ``count`` into ``parts`` nearly equal stretches."""
    ends = [round(count * part / parts) for part in range(parts + 1)]
    return [(a, b) for a, b in pairwise(ends) if b > a]


def draw_sketch(page: Page, box: Box, sheet: FieldSheet, panel: Panel) -> None:
    """Draw one panel of the grid centred in ``box`` (left, bottom, right, top) [mm]."""
    left, bottom, right, top = box
    page.box(
        left, bottom, right - left, top - bottom, fill=False, linewidth=pens.RULE, zorder=9, gid="border"
    )
    rows, columns = range(*panel.rows), range(*panel.columns)
    places = _to_page(box, sheet, panel)
    nodes = {(r, c): places(np.array([[c, r]], dtype=float))[0] for r in rows for c in columns}
    lines = [np.array([nodes[r, columns[0]], nodes[r, columns[-1]]]) for r in rows]
    lines += [np.array([nodes[rows[0], c], nodes[rows[-1], c]]) for c in columns]
    page.strokes(lines, color=pens.FAINT, width=pens.GRID, zorder=2, gid="taped lines")
    walls = [places(to_grid(sheet.grid, ring) / _step(sheet)) for ring in sheet.building]
    _draw_building(page, box, walls)
    style = _NAME if _pitch(nodes, rows, columns) >= 1.25 * LEAST_PITCH_MM else _SMALL_NAME
    stations = {sheet.names[r][c]: (float(x), float(y)) for (r, c), (x, y) in nodes.items()}
    for place in stations.values():
        _draw_tick(page, place)
    for line in _names_beside(stations, walls, box, style):
        page.write(line.text, (line.x, line.y), style, role="station")
        page.clear_ground(corners_of(line.box))


def _step(sheet: FieldSheet) -> Floats:
    """From one station to the next along the numbers and along the letters [m]."""
    return np.array([sheet.grid.spacing[1], sheet.grid.spacing[0]])


def _to_page(box: Box, sheet: FieldSheet, panel: Panel) -> Callable[[Floats], Floats]:
    """A function from (column, row) numbers ``(n, 2)`` to places on the page ``(n, 2)`` [mm]."""
    left, bottom, right, top = box
    step = _step(sheet)
    first = np.array([panel.columns[0], panel.rows[0]], dtype=float)
    last = np.array([panel.columns[1] - 1, panel.rows[1] - 1], dtype=float)
    middle = (first + last) / 2
    if panel.scale is not None:
        window = MapWindow(left, bottom, right, top, tuple((middle * step).tolist()), panel.scale)
        return lambda numbers: window.to_page(np.asarray(numbers) * step)
    room = np.array([right - left - 2 * EDGE_MM, top - bottom - 2 * EDGE_MM])
    pitch = float(np.min(room / np.maximum(last - first, 1.0)))
    centre = np.array([(left + right) / 2, (bottom + top) / 2])
    return lambda numbers: centre + (np.asarray(numbers) - middle) * pitch


def _pitch(nodes: dict[tuple[int, int], Floats], rows: range, columns: range) -> float:
    """The least distance between neighbouring stations on paper [mm]."""
    found = [np.hypot(*(nodes[rows[0], c + 1] - nodes[rows[0], c])) for c in columns[:1] if len(columns) > 1]
    found += [np.hypot(*(nodes[r + 1, columns[0]] - nodes[r, columns[0]])) for r in rows[:1] if len(rows) > 1]
    return float(min(found, default=99.0))


def _draw_tick(page: Page, place: tuple[float, float]) -> None:
    left, bottom = place[0] - _TICK_MM / 2, place[1] - _TICK_MM / 2
    page.box(
        left,
        bottom,
        _TICK_MM,
        _TICK_MM,
        facecolor="white",
        edgecolor=pens.BLACK,
        linewidth=pens.FINE,
        zorder=5,
        gid="box to tick",
    )


def _names_beside(
    stations: Mapping[str, tuple[float, float]], walls: Sequence[Floats], box: Box, style: Style
) -> list[Line]:
    """Hang each name beside its box to tick, above to the right, or where no wall runs through it."""
    taken = Taken(box)
    for place in stations.values():
        taken.take(box_around(place, _TICK_MM, _TICK_MM))
    found, crossed = [], []
    for name, place in stations.items():
        line = _name_at(name, place, style, _CORNERS[0])
        if _meets(line, walls):
            crossed.append((name, place))
        else:
            taken.take(line.box)
            found.append(line)
    for name, place in crossed:
        lines = [_name_at(name, place, style, corner) for corner in _CORNERS]
        free = [line for line in lines if not _meets(line, walls) and taken.is_free(line.box)]
        best = free[0] if free else lines[0]
        taken.take(best.box)
        found.append(best)
    return found


def _name_at(name: str, place: tuple[float, float], style: Style, corner: tuple[int, int]) -> Line:
    """The name right (+1) or left (-1) of, and above (+1) or below (-1), the box to tick at ``place``."""
    aside, above = corner
    at = (place[0] + aside * 0.9, place[1] + above * (_TICK_MM / 2 + 0.8))
    return set_line(
        name, at, style, across="left" if aside > 0 else "right", up="baseline" if above > 0 else "top"
    )


def _meets(line: Line, walls: Sequence[Floats]) -> bool:
    left, bottom, right, top = line.box
    around = (left - 0.5, bottom - 0.5, right + 0.5, top + 0.5)
    return any(
        crosses(side, around) for wall in walls for side in pairwise([*wall.tolist(), wall[0].tolist()])
    )


def _draw_building(page: Page, box: Box, walls: Sequence[Floats]) -> None:
    left, bottom, right, top = box
    frame = matplotlib.transforms.Bbox.from_extents(left, bottom, right, top)
    for corners in walls:
        drawn = page.strokes(
            [np.vstack([corners, corners[:1]])],
            color=pens.BLACK,
            width=pens.PAD,
            dash=pens.PAD_DASH,
            zorder=4,
            gid="building",
        )
        drawn.set_clip_box(matplotlib.transforms.TransformedBbox(frame, page.axes.transData))


def draw_directions(page: Page, place: tuple[float, float], sheet: FieldSheet) -> list[str]:
    """Draw arrows along x, y and (if known) north, right of and above ``place`` [mm]; return the words."""
    turn = sheet.grid.turn
    _draw_arrows(page, place, {"x": -turn, "y": 90.0 - turn})
    words = ["x runs A1, A2, A3 ...; y runs A1, B1, C1 ..., to the left of x."]
    if turn:
        words = [f"The numbers run {turn:g}° anticlockwise from x; x and y as the arrows show."]
    words.append(f"A1 stands at {sheet.show.place(*sheet.grid.origin)}.")
    if sheet.north is not None:
        _draw_arrows(page, (place[0] + ARROWS_MM, place[1]), {"N": sheet.north - turn})
    return words


def _draw_arrows(page: Page, corner: tuple[float, float], ways: Mapping[str, float]) -> None:
    """Draw arrows [degrees] out of one point; with their letters they stay right of and above ``corner``."""
    directions = {
        k: np.array([math.cos(math.radians(d)), math.sin(math.radians(d))]) for k, d in ways.items()
    }
    ends = np.array([np.zeros(2), *(_ARROW_MM * way for way in directions.values())])
    start = np.asarray(corner) - ends.min(axis=0)
    for name, way in directions.items():
        tip = start + (_ARROW_MM - 4.0) * way
        page.strokes([(start, tip - way)], color=pens.BLACK, width=pens.RULE, gid=f"arrow {name}")
        head = arrow_heads(tip[None], way[None], length=3.2)
        page.axes.add_collection(
            matplotlib.collections.PolyCollection(head, facecolors=pens.BLACK), autolim=False
        )
        at = tip + 2.6 * way
        page.write(name, (float(at[0]), float(at[1])), _NAME, across="center", up="center", role="arrow")
