"""The sheet of four drops: where each pier stands, what it is made of, what to buy, on pages to print."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import pens
from gradework.drawings.frame import CAUTION, SIDE_MM, TITLE_MM, draw_title
from gradework.drawings.labels import box_around, overlap
from gradework.drawings.lettering import Style, width_mm, wrapped
from gradework.drawings.page import Page

if TYPE_CHECKING:
    from gradework.drawings.engine import matplotlib
    from gradework.foundations.piers.plan import Pier


_HEADING = Style(points=10, weight="bold")
_CELL = Style(points=9)
_NAME = Style(points=9, weight="bold")
_SMALL = Style(points=8, color=pens.SOFT)
_ROW_MM = 5.0
_LINE_MM = 3.8
_GAP_MM = 4.0
_SKETCH_MM = 46.0
_PIER_MM = 3.2
_HEADS_MM = 12.0  # a heading, and the header of its columns
_FOOT_MM = 2.0

Rows = Sequence[Sequence[str]]


def corners_pages(
    titles: tuple[str, str, str],
    size: tuple[float, float],
    corners: Sequence[str],
    piers: Sequence[Pier],
    rows: Rows,
    order: Rows,
    remarks: Sequence[str],
) -> list[matplotlib.figure.Figure]:
    """Draw the pages: ``titles`` are title, subtitle and stamp, ``corners`` holds the drop at each corner,
    ``rows`` a line for each pier with a header,
    ``order`` one for each thing to buy, ``remarks`` what is assumed and not known."""
    flow = _Flow()
    flow.y = _draw_sketch(flow.page, flow.y, size, corners, piers)
    _draw_table(flow, "Piers, heights from the level line", rows)
    _draw_table(flow, "To buy", [["quantity", "item"], *order])
    for text in (*remarks, CAUTION):
        lines = wrapped(text, _SMALL.points, flow.page.width - 2 * SIDE_MM)
        flow.make_room(_LINE_MM * len(lines))
        for line in lines:
            flow.page.write(line, (SIDE_MM, flow.y), _SMALL, up="top", role="remark")
            flow.y -= _LINE_MM
        flow.y -= 1.0
    for number, page in enumerate(flow.pages, start=1):
        right = ["Not to scale", f"Page {number} of {len(flow.pages)}"]
        draw_title(page, title=titles[0], subtitle=titles[1], right=right, stamp=titles[2])
    return [page.finish() for page in flow.pages]


class _Flow:
    """Pages that are filled from the top: ``y`` [mm] is where the next thing begins on the last of them."""

    def __init__(self) -> None:
        self.pages: list[Page] = []
        self.y = 0.0
        self.make_room(1.0)

    @property
    def page(self) -> Page:
        return self.pages[-1]

    def make_room(self, high: float) -> bool:
        """Begin a page unless ``high`` mm are left on this one; tell whether one was begun."""
        if self.y - high >= _FOOT_MM:
            return False
        self.pages.append(Page())
        self.y = self.page.height - TITLE_MM - 2.0
        return True


def _draw_sketch(
    page: Page, top: float, size: tuple[float, float], corners: Sequence[str], piers: Sequence[Pier]
) -> float:
    """Draw the building from above with its corners, drops and piers; give where the next thing begins."""
    told = [f"corner {number}: {drop}" for number, drop in enumerate(corners, start=1)]
    beside = max(width_mm(text, _NAME.points, _NAME.weight) for text in told) + 2.0 + SIDE_MM
    scale = float((np.array([page.width - 2.0 * beside, _SKETCH_MM]) / np.array(size)).min())
    wide, high = (scale * side for side in size)
    left, bottom = (page.width - wide) / 2.0, top - 8.0 - high
    page.box(left, bottom, wide, high, fill=False, linewidth=pens.RULE, zorder=4)
    at = [(left, bottom), (left + wide, bottom), (left + wide, bottom + high), (left, bottom + high)]
    for number, (place, text) in enumerate(zip(at, told, strict=True), start=1):
        right, upper = number in (2, 3), number in (3, 4)
        spot = (place[0] + (2.0 if right else -2.0), place[1] + (1.0 if upper else -1.0))
        across, up = "left" if right else "right", "baseline" if upper else "top"
        page.write(text, spot, _NAME, across=across, up=up, role="corner")
    places = [(left + scale * pier.x, bottom + scale * pier.y) for pier in piers]
    for x, y in places:
        half = 0.5 * _PIER_MM
        page.box(x - half, y - half, 2 * half, 2 * half, fill=False, linewidth=pens.RULE, zorder=5)
    _name_piers(page, (left, bottom, left + wide, bottom + high), places, [pier.name for pier in piers])
    return bottom - 12.0


def _name_piers(
    page: Page,
    building: tuple[float, float, float, float],
    places: Sequence[tuple[float, float]],
    names: Sequence[str],
) -> None:
    """Name the piers that have room for it beside the others; where each stands is in the table.

    The last of a row goes before those within it.
    """
    left, bottom, right, top = building
    taken = [box_around(place, _PIER_MM, _PIER_MM) for place in places]
    ends = {y: max(x for x, other in places if other == y) for _, y in places}
    for at in sorted(range(len(names)), key=lambda at: places[at][0] != ends[places[at][1]]):
        (x, y), wide = places[at], width_mm(names[at], _SMALL.points)
        middle = min(max(x, left + 0.5 * wide + 0.8), right - 0.5 * wide - 0.8)
        away = 0.5 * _PIER_MM + 2.0
        # toward the middle of the building where that is free, for the sides bear the corners' names
        for level in (y + away, y - away) if y < 0.5 * (bottom + top) else (y - away, y + away):
            box = box_around((middle, level), wide, 2.4, gap=0.2)
            if bottom < box[1] and box[3] < top and not any(overlap(box, other) for other in taken):
                taken.append(box)
                page.write(names[at], (middle, level), _SMALL, across="center", up="center", role="pier")
                break


def _draw_table(flow: _Flow, title: str, rows: Rows) -> None:
    """Write rows under a heading, each column as wide as its widest cell; both stand again on the next page.

    The last column goes on on further lines: a block that is not named would not be laid.
    """
    header, *others = rows
    widths = [
        max(width_mm(cell, _NAME.points, _NAME.weight) for cell in column)
        for column in zip(*rows, strict=True)
    ]
    starts = [SIDE_MM + sum(widths[:at]) + at * _GAP_MM for at in range(len(widths))]
    room = flow.page.width - SIDE_MM - starts[-1]
    flow.make_room(_HEADS_MM + _ROW_MM)
    _draw_heads(flow, title, header, starts)
    for name, *row in others:
        lines = wrapped(row[-1], _CELL.points, room)
        high = _ROW_MM + (len(lines) - 1) * _LINE_MM
        if flow.make_room(high):
            _draw_heads(flow, f"{title}, continued", header, starts)
        for cell, x in zip([name, *row[:-1]], starts, strict=False):
            style = _NAME if x == SIDE_MM else _CELL
            flow.page.write(cell, (x, flow.y), style, up="top", role="cell")
        for below, text in enumerate(lines):
            flow.page.write(text, (starts[-1], flow.y - below * _LINE_MM), _CELL, up="top", role="cell")
        _rule_off(flow, high)
    flow.y -= 4.0


def _draw_heads(flow: _Flow, title: str, header: Sequence[str], starts: Sequence[float]) -> None:
    flow.page.write(title, (SIDE_MM, flow.y), _HEADING, up="top", role="heading")
    flow.y -= _HEADS_MM - _ROW_MM
    for cell, x in zip(header, starts, strict=True):
        flow.page.write(cell, (x, flow.y), _SMALL, up="top", role="head")
    _rule_off(flow, _ROW_MM)


def _rule_off(flow: _Flow, high: float) -> None:
    """End a row that is ``high`` mm high."""
    flow.y -= high
    line = ((SIDE_MM, flow.y + 1.4), (flow.page.width - SIDE_MM, flow.y + 1.4))
    flow.page.strokes([line], color=pens.SOFT, width=pens.GRID, zorder=3)
