"""The sheet of four drops: where each pier stands, what it is made of, what to buy, on one page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import pens
from gradework.drawings.field_sheet.sheet import pdf_of
from gradework.drawings.frame import CAUTION, SIDE_MM, TITLE_MM, draw_title
from gradework.drawings.lettering import Style, width_mm, wrapped
from gradework.drawings.page import Page

if TYPE_CHECKING:
    from gradework.drawings.engine import matplotlib
    from gradework.foundations.piers.plan import Pier


_HEADING = Style(points=10, weight="bold")
_CELL = Style(points=9)
_NAME = Style(points=9, weight="bold")
_SMALL = Style(points=8, color=pens.SOFT)
_ROW_MM = 5.4
_LINE_MM = 4.0
_GAP_MM = 4.0
_SKETCH_MM = 62.0
MOST_ROWS = 24
"""So many piers have a row on the page; the stacks of all stand in the record."""

Rows = Sequence[Sequence[str]]


def corners_figure(
    title: str,
    said: str,
    size: tuple[float, float],
    corners: Sequence[str],
    piers: Sequence[Pier],
    rows: Rows,
    order: Rows,
    remarks: Sequence[str],
) -> matplotlib.figure.Figure:
    """Draw the page: ``corners`` holds the drop at each corner, ``rows`` a line for each pier with a header,
    ``order`` one for each thing to buy, ``remarks`` what is assumed and not known."""
    page = Page()
    draw_title(page, title=title, subtitle=said, right=["Not to scale", "Print at 100 %"])
    y = page.height - TITLE_MM - 2.0
    y = _draw_sketch(page, y, size, corners, piers)
    y = _draw_table(page, y, "Piers, heights from the level line", rows[: MOST_ROWS + 1])
    y = _draw_table(page, y, "To buy", [["quantity", "item"], *order])
    for text in (*remarks, CAUTION):
        for line in wrapped(text, _SMALL.points, page.width - 2 * SIDE_MM):
            page.write(line, (SIDE_MM, y), _SMALL, up="top", role="remark")
            y -= 4.0
        y -= 1.0
    return page.finish()


def corners_pdf(figure: matplotlib.figure.Figure) -> bytes:
    """The page as a document to print."""
    return pdf_of([figure])


def _draw_sketch(
    page: Page, top: float, size: tuple[float, float], corners: Sequence[str], piers: Sequence[Pier]
) -> float:
    """Draw the building from above with its corners, drops and piers; give where the next thing begins."""
    room = np.array([page.width - 2 * SIDE_MM - 60.0, _SKETCH_MM - 16.0])
    scale = float((room / np.array(size)).min())
    wide, high = (scale * side for side in size)
    left, bottom = (page.width - wide) / 2.0, top - 8.0 - high
    page.box(left, bottom, wide, high, fill=False, linewidth=pens.RULE, zorder=4)
    at = [(left, bottom), (left + wide, bottom), (left + wide, bottom + high), (left, bottom + high)]
    for number, (place, drop) in enumerate(zip(at, corners, strict=True), start=1):
        right, upper = number in (2, 3), number in (3, 4)
        spot = (place[0] + (2.0 if right else -2.0), place[1] + (1.0 if upper else -1.0))
        across = "left" if right else "right"
        page.write(
            f"corner {number}: {drop}",
            spot,
            _NAME,
            across=across,
            up="baseline" if upper else "top",
            role="corner",
        )
    for pier in piers:
        x, y = left + scale * pier.x, bottom + scale * pier.y
        half = 1.6
        page.box(x - half, y - half, 2 * half, 2 * half, fill=False, linewidth=pens.RULE, zorder=5)
        inward = y + half + 0.8 if y < bottom + 0.5 * high else y - half - 3.4  # the sides stay free
        free = 0.5 * width_mm(pier.name, _SMALL.points) + 0.8
        page.write(
            pier.name,
            (min(max(x, left + free), left + wide - free), inward),
            _SMALL,
            across="center",
            role="pier",
        )
    return bottom - 12.0


def _draw_table(page: Page, top: float, title: str, rows: Rows) -> float:
    """Write rows under a heading, each column as wide as its widest cell; give where it ends.

    The last column goes on on further lines: a block that is not named would not be laid.
    """
    page.write(title, (SIDE_MM, top), _HEADING, up="top", role="heading")
    widths = [
        max(width_mm(cell, _NAME.points, "bold") for cell in column) for column in zip(*rows, strict=True)
    ]
    y = top - 6.5
    for number, row in enumerate(rows):
        x, lines = SIDE_MM, [""]
        for place, (cell, width) in enumerate(zip(row, widths, strict=True)):
            style = _SMALL if number == 0 else _NAME if place == 0 else _CELL
            lines = wrapped(cell, style.points, page.width - SIDE_MM - x)
            for below, text in enumerate(lines if place == len(row) - 1 else [cell]):
                page.write(text, (x, y - below * _LINE_MM), style, up="top", role="cell")
            x += width + _GAP_MM
        y -= _ROW_MM + (len(lines) - 1) * _LINE_MM
        page.strokes(
            [((SIDE_MM, y + 1.4), (page.width - SIDE_MM, y + 1.4))],
            color=pens.SOFT,
            width=pens.GRID,
            zorder=3,
        )
    return y - 4.0
