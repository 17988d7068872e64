"""The ground on a plan: contours with their labels, spot elevations, the high and the low point."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import ink
from gradework.drawings.board import Board
from gradework.drawings.labels import Box, label_places, slanted_boxes
from gradework.drawings.legend import line_entry, mark_entry, text_entry
from gradework.drawings.lettering import height_mm, name, width_mm, write
from gradework.ground.contours import Contour
from gradework.ground.surface import Surface
from gradework.units.display import fixed

Floats = NDArray[np.float64]

_CONTOUR_POINTS = 8.0
_SPOT_POINTS = 7.0
_NAME_POINTS = 5.5
_FEW_INDEX = 2
_LABEL_EVERY_MM = 110.0
_MOST_TICKED = 60


def index_every(interval: float) -> int:
    """Every how manieth contour is heavier: the first of 5, 4, 6 that gives a round step.

    >>> index_every(0.2), index_every(0.25), index_every(1 / 6)
    (5, 4, 6)
    """
    for count in (5, 4, 6):
        step = interval * count
        mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
        if any(abs(mantissa - good) < 1e-6 for good in (1.0, 2.0, 2.5, 5.0)):
            return count
    return 5


def decimals_for(interval: float) -> int:
    """How many decimals tell contours ``interval`` apart: 0.25 needs two, an inch in feet two.

    >>> decimals_for(0.5), decimals_for(0.25), decimals_for(1.0), decimals_for(1 / 12)
    (1, 2, 0, 2)
    """
    for decimals in range(4):
        if abs(round(interval, decimals) - interval) < 1e-9:
            return decimals
    return 2


@dataclass(frozen=True, slots=True)
class _Line:
    level: float
    page: Floats
    closed: bool
    index: bool


def draw_contours(board: Board, contours: Sequence[Contour], interval: float, surface: Surface) -> None:
    """Draw contours ``interval`` [m] apart, every fifth or so heavier and labelled.

    Labels stand on their contour, upright, off the border and off what stands already; where fewer than
    three heavier contours cross the site, the light ones carry their level too. Closed hollows get ticks
    that point down.
    """
    unit = board.show.metres_per_unit
    every = index_every(interval / unit)
    lines = [
        _Line(c.level, board.window.to_page(c.xy), c.closed, round(c.level / interval) % every == 0)
        for c in contours
    ]
    for index, width, words in ((False, ink.CONTOUR, "Contour"), (True, ink.INDEX, "Index contour")):
        chosen = [line for line in lines if line.index is index]
        if chosen:
            board.lines([line.page for line in chosen], color=ink.EARTH, width=width, zorder=2.0, gid=words)
            board.entries.append(line_entry(words, color=ink.EARTH, width=width))
    _draw_hollows(board, lines, surface)
    few = len({line.level for line in lines if line.index}) <= _FEW_INDEX
    decimals = decimals_for(interval / unit)
    for line in sorted(lines, key=lambda line: (not line.index, -len(line.page))):
        if line.index or few:
            _label_contour(board, line, fixed(line.level / unit, decimals))


def _label_contour(board: Board, line: _Line, text: str) -> None:
    """Put a contour's level on it, once for about every 110 mm of its length."""
    points = _CONTOUR_POINTS if line.index else _CONTOUR_POINTS - 1.5
    weight = "bold" if line.index else "normal"
    width, height = width_mm(text, points, weight) + 1.2, height_mm(points) + 0.8
    length = float(np.hypot(*np.diff(line.page, axis=0).T).sum())
    wanted = max(1, round(length / _LABEL_EVERY_MM))
    stood: list[tuple[float, float]] = []
    for place in label_places(line.page, width):
        middle = (place.x, place.y)
        if any(math.dist(middle, other) < _LABEL_EVERY_MM / 2 for other in stood):
            continue
        if not board.taken.take_if_free(*slanted_boxes(middle, width, height, place.degrees)):
            continue
        style = {
            "rotation": place.degrees,
            "rotation_mode": "anchor",
            "ha": "center",
            "va": "center_baseline",
        }
        ground = {"facecolor": "white", "edgecolor": "none", "boxstyle": "square,pad=0.08"}
        write(
            board.axes, middle, text, points=points, color=ink.EARTH, weight=weight, zorder=3, bbox=ground,
            gid=f"contour {line.level!r}", **style,
        )  # fmt: skip
        stood.append(middle)
        if len(stood) == wanted:
            return


def _draw_hollows(board: Board, lines: Sequence[_Line], surface: Surface) -> None:
    """Set ticks on the inner side of closed contours that go down inside."""
    closed = [line for line in lines if line.closed][:_MOST_TICKED]
    ticks: list[Floats] = []
    for line in closed:
        ring = line.page
        x, y = ring[:-1].T
        nx, ny = ring[1:].T
        area = float((x * ny - nx * y).sum()) / 2
        along = np.concatenate([[0.0], np.cumsum(np.hypot(nx - x, ny - y))])
        if along[-1] < 6.0:
            continue
        s = np.arange(2.0, along[-1], 6.0)
        at = np.column_stack([np.interp(s, along, ring[:, 0]), np.interp(s, along, ring[:, 1])])
        ahead = np.column_stack(
            [np.interp(s + 0.1, along, ring[:, 0]), np.interp(s + 0.1, along, ring[:, 1])]
        )
        direction = ahead - at
        inward = np.column_stack([-direction[:, 1], direction[:, 0]]) * math.copysign(1.0, area)
        inward /= np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
        inside = surface.elevation(board.window.to_site(at + 0.05 * inward))
        if np.nanmean(inside) < line.level:
            ticks += [np.array([a, a + 1.3 * n]) for a, n in zip(at, inward, strict=True)]
    if ticks:
        board.lines(ticks, color=ink.EARTH, width=ink.CONTOUR, zorder=2.0)
        board.entries.append(text_entry("Ticks on a contour point into a hollow", "┬┬┬", color=ink.EARTH))


def spot_box(place: tuple[float, float], text: str, points: float) -> tuple[Box, float]:
    """The box of a spot's lettering with its decimal point on ``place``, and its left edge [mm]."""
    whole, point, _ = text.partition(".")
    left = place[0] - width_mm(whole, points) - width_mm(point, points) / 2
    return (left, place[1] - 0.4, left + width_mm(text, points), place[1] + height_mm(points)), left


def draw_spots(board: Board, xyz: Floats, names: Sequence[str]) -> int:
    """Write the elevation of each station with its decimal point on the spot; return how many stand.

    Where labels would overlap, the earlier station keeps its own and the later one is left out (the table
    of stations has them all). Names stand below the elevations where there is room.
    """
    page = board.window.to_page(xyz[:, :2])
    inside = np.flatnonzero(board.window.contains(page, 0.0))
    standing: list[int] = []
    for i in inside:
        place = (float(page[i, 0]), float(page[i, 1]))
        text = board.show.elevation_number(float(xyz[i, 2]))
        box, left = spot_box(place, text, _SPOT_POINTS)
        if board.taken.take_if_free(box):
            write(
                board.axes, (left, place[1]), text, points=_SPOT_POINTS, color=ink.BLACK, zorder=6, gid="spot"
            )
            standing.append(int(i))
    _draw_names(board, page, names, standing)
    if standing:
        board.entries.append(
            text_entry(
                "Spot elevation: the decimal point marks the spot; station below it",
                "102.91",
                points=_SPOT_POINTS,
            )
        )
    return len(standing)


def _draw_names(board: Board, page: Floats, names: Sequence[str], standing: Sequence[int]) -> None:
    for i in standing:
        text = name(names[i])
        width, height = width_mm(text, _NAME_POINTS), height_mm(_NAME_POINTS)
        middle, top = float(page[i, 0]), float(page[i, 1]) - 0.9
        if board.taken.take_if_free((middle - width / 2, top - height - 0.2, middle + width / 2, top)):
            write(
                board.axes, (middle, top - height), text, points=_NAME_POINTS, color=ink.SOFT, ha="center",
                zorder=6, gid="station",
            )  # fmt: skip


def draw_high_and_low(board: Board, high: Floats, low: Floats) -> None:
    """Mark the highest and the lowest station, each ``(3,)`` [m]."""
    for spot, marker, words in ((high, "^", "Highest shot"), (low, "v", "Lowest shot")):
        place = board.window.to_page(np.asarray(spot)[None, :2])
        if not board.window.contains(place)[0]:
            continue
        x, y = (float(c) for c in place[0])
        board.axes.plot([x], [y], marker, markersize=7, color=ink.BLACK, markerfacecolor="white", zorder=5.5)
        board.entries.append(mark_entry(words, marker=marker, size=7))
