"""The ground on a plan: contours with their labels, spot elevations, the high and the low point."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import ink
from gradework.drawings.board import Board
from gradework.drawings.labels import Box, Taken, box_around, corners_of, label_places
from gradework.drawings.legend import Entry, line_entry, mark_entry, text_entry
from gradework.drawings.lettering import Style, height_mm, name, tight, width_mm
from gradework.drawings.page import Page
from gradework.ground.contours import Contour
from gradework.ground.shape import SiteShape
from gradework.units.display import fixed

Floats = NDArray[np.float64]

_INDEX_LABEL = Style(points=8.5, weight="bold", color=ink.EARTH)
_LABEL = Style(points=7.5, color=ink.EARTH)
_SPOT = Style(points=8)
_NAME = Style(points=6.5, color=ink.SOFT)
_FEW_LEVELS = 2
_LABEL_EVERY_MM = 110.0
_MOST_TICKED = 60
_SPOT_GAP_MM = 0.2
_DOT_MM = 0.8
_DOT_ROOM_MM = 2.2
_MOST_SPOTS_TRIED = 5_000


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
class _Drawn:
    level: float
    page: Floats
    closed: bool
    index: bool


def draw_contours(board: Board, contours: Sequence[Contour], interval: float, xyz: Floats) -> None:
    """Draw contours ``interval`` [m] apart, every fifth or so heavier and labelled.

    Labels stand on their contour, upright, off the border, off what stands already, and beside the lettering
    of the shots ``xyz`` ``(n, 3)`` [m] if they can. Where no more than two heavier levels cross the site, the
    light ones carry their level too. Closed hollows get ticks inside.
    """
    unit = board.show.metres_per_unit
    every = index_every(interval / unit)
    lines = [
        _Drawn(c.level, _page_line(board, c), c.closed, round(c.level / interval) % every == 0)
        for c in contours
    ]
    for index, width, words in (
        (True, ink.INDEX, f"Contour, every {every}th" if every != 1 else "Contour"),
        (False, ink.CONTOUR, "Contour"),
    ):
        chosen = [line.page for line in lines if line.index is index]
        if chosen:
            board.lines(chosen, color=ink.EARTH, width=width, zorder=2.0, gid=words)
            board.entries.append(line_entry(words, color=ink.EARTH, width=width))
    _draw_hollows(board, lines)
    few = len({line.level for line in lines if line.index}) <= _FEW_LEVELS
    decimals = decimals_for(interval / unit)
    spots = Taken(board.taken.window)
    for _, _, box, _ in _spots_shown(board, xyz):
        spots.take(box)
    for line in sorted(lines, key=lambda line: (not line.index, -len(line.page))):
        if line.index or few:
            _label_contour(board, line, fixed(line.level / unit, decimals), spots)


def _page_line(board: Board, contour: Contour) -> Floats:
    """A contour on the page ``(k, 2)`` [mm], a closed one with its first point again at the end."""
    page = board.window.to_page(contour.xy)
    return np.vstack([page, page[:1]]) if contour.closed else page


def _label_contour(board: Board, line: _Drawn, text: str, spots: Taken) -> None:
    """Put a contour's level on it, once for about every 110 mm; beside the spots' lettering if it can."""
    style = _INDEX_LABEL if line.index else _LABEL
    length = float(np.hypot(*np.diff(line.page, axis=0).T).sum())
    wanted = max(1, round(length / _LABEL_EVERY_MM))
    places = label_places(line.page, width_mm(text, style.points, style.weight) + 1.0)
    stood: list[tuple[float, float]] = []
    for avoid in (spots, None):
        for place in places:
            middle = (place.x, place.y)
            if any(math.dist(middle, other) < _LABEL_EVERY_MM / 2 for other in stood):
                continue
            role = f"contour {line.level!r}"
            if board.label(text, middle, style, degrees=place.degrees, avoid=avoid, role=role):
                stood.append(middle)
            if len(stood) == wanted:
                return


def _draw_hollows(board: Board, lines: Sequence[_Drawn]) -> None:
    """Set ticks on the inner side of closed contours that go down inside: those that run clockwise."""
    ticks: list[Floats] = []
    for line in [line for line in lines if line.closed][:_MOST_TICKED]:
        ring = line.page
        x, y = (ring - ring[0]).T
        along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
        if float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()) >= 0.0 or along[-1] < 6.0:
            continue
        start = np.arange(2.0, along[-1] - 1.0, 5.0)
        at, ahead = (
            np.column_stack([np.interp(s, along, ring[:, 0]), np.interp(s, along, ring[:, 1])])
            for s in (start, start + 0.2)
        )
        inward = (ahead - at)[:, ::-1] * [1.0, -1.0]
        inward /= np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
        ticks += [np.array([a, a + 1.3 * n]) for a, n in zip(at, inward, strict=True)]
    if ticks:
        board.lines(ticks, color=ink.EARTH, width=ink.CONTOUR, zorder=2.0, gid="hollow ticks")
        board.entries.append(Entry("Hollow: ticks point down into it", _hollow_sample))


def _hollow_sample(page: Page, x: float, y: float) -> object:
    ticks = [((x + d, y + 0.6), (x + d, y - 0.7)) for d in (2.0, 6.0, 10.0)]
    return page.strokes([((x, y + 0.6), (x + 12, y + 0.6)), *ticks], color=ink.EARTH, width=ink.CONTOUR)


def spot_box(place: tuple[float, float], text: str) -> Box:
    """The box of a spot's lettering whose decimal point is on ``place`` [mm]."""
    whole, point, _ = text.partition(".")
    left = place[0] - width_mm(whole, _SPOT.points) - width_mm(point, _SPOT.points) / 2
    right = left + width_mm(text, _SPOT.points)
    top = place[1] + height_mm(_SPOT.points)
    return (left - _SPOT_GAP_MM, place[1] - 0.4, right + _SPOT_GAP_MM, top + _SPOT_GAP_MM)


def draw_spots(board: Board, xyz: Floats, names: Sequence[str]) -> int:
    """Write the elevation of each station with its decimal point on the spot; return how many stand.

    Where labels would overlap, the earlier station keeps its own; the later one gets a dot, and the legend
    says how many such there are (the table of stations has them all). Names stand below the elevations where
    there is room.
    """
    standing: list[tuple[int, tuple[float, float]]] = []
    bare: list[tuple[float, float]] = []
    for i, place, box, text in _spots_shown(board, xyz):
        if not board.taken.take_if_free(box):
            bare.append(place)
        else:
            board.lettered.take(box)
            board.page.clear_ground(corners_of(box))
            board.page.write(text, (box[0] + _SPOT_GAP_MM, place[1]), _SPOT, role="spot")
            standing.append((i, place))
    named = [i for i, place in standing if _write_name(board, place, names[i])]
    if standing:
        words = "Shot: its decimal point is the spot" + (", station below" if named else "")
        example = board.show.elevation_number(float(xyz[standing[0][0], 2]))
        board.entries.append(text_entry(words, example, _SPOT))
    if bare:
        _draw_bare(board, bare, len(standing) + len(bare))
    return len(standing)


def _draw_bare(board: Board, places: Sequence[tuple[float, float]], count: int) -> None:
    """Set a dot on shots without room for their elevation, of ``count`` on the map, and say how many.

    A dot within lettering could be read as a decimal point: there is none on shots under a label.
    """
    seen = [
        place for place in places if board.lettered.is_free(box_around(place, _DOT_ROOM_MM, _DOT_ROOM_MM))
    ]
    size = ink.pen(_DOT_MM)
    if seen:
        board.page.axes.plot(
            *np.array(seen).T,
            "o",
            color=ink.BLACK,
            markersize=size,
            markeredgewidth=0,
            zorder=3,
            gid="bare shots",
        )
    words = f"Shot whose elevation finds no room here ({len(places)} of {count}): stations.csv"
    board.entries.append(mark_entry(words, marker="o", size=size, face=ink.BLACK))


def _spots_shown(board: Board, xyz: Floats) -> Iterator[tuple[int, tuple[float, float], Box, str]]:
    """The shots in the window, thinned if very many: number, place [mm], box of the lettering, lettering."""
    page = board.window.to_page(xyz[:, :2])
    inside = np.flatnonzero(board.window.contains(page, 1.0))
    inside = inside[:: max(1, math.ceil(len(inside) / _MOST_SPOTS_TRIED))]
    for i, place in zip(inside.tolist(), map(tuple, page[inside].tolist()), strict=True):
        text = board.show.elevation_number(float(xyz[i, 2]))
        yield i, place, spot_box(place, text), text


def _write_name(board: Board, place: tuple[float, float], station: str) -> bool:
    text = name(station)
    width, height = width_mm(text, _NAME.points), height_mm(_NAME.points)
    middle = (place[0], place[1] - 1.0 - height / 2)
    box = box_around(middle, width + 0.4, height + 0.3)
    if not board.taken.take_if_free(box):
        return False
    board.lettered.take(box)
    board.page.clear_ground(corners_of(box))
    board.page.write(text, middle, _NAME, across="center", up="center", role="station")
    return True


def draw_high_and_low(board: Board, shape: SiteShape) -> None:
    """Mark the highest and the lowest station with a triangle that points up or down."""
    for spot, marker, words in ((shape.high, "^", "Highest shot"), (shape.low, "v", "Lowest shot")):
        place = board.window.to_page(np.array([[spot.x, spot.y]]))
        if not board.window.contains(place)[0]:
            continue
        x, y = (float(c) for c in place[0])
        board.page.axes.plot(
            [x],
            [y - 2.6],
            marker,
            markersize=7,
            color=ink.BLACK,
            markerfacecolor="white",
            zorder=7.5,
            gid=words,
        )
        board.taken.take(box_around((x, y - 2.6), 2.6, 2.8))
        text = f"{words}: {name(spot.station)}, {tight(board.show.elevation(spot.elevation))}"
        board.entries.append(mark_entry(text, marker=marker, size=7))
