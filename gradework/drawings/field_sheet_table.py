"""The reading table on a field sheet: rows to write in, the check at the foot, how they fill pages."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from gradework.drawings import ink
from gradework.drawings.field_sheet_methods import Check, Column, Entry, Table
from gradework.drawings.fill_in import draw_fill_in
from gradework.drawings.frame import SIDE_MM
from gradework.drawings.lettering import Style, shortened
from gradework.drawings.page import Page

ROW_MM = 7.5
"""A row is so high [mm]: room for a pencil held in a glove."""

HEAD_MM = 9.5
_BLOCK_GAP_MM = 3.0
_CHECK_ROW_MM = 8.0
_STATION = Style(points=12, weight="bold")
_FIGURE = Style(points=10)
_HINT = Style(points=8, color=ink.SOFT)
_HEADING = Style(points=10, weight="bold")
_UNDER = Style(points=7.5, color=ink.SOFT)
_BAND = Style(points=9.5, weight="bold")
_SPARE = Entry("spare")

Place = tuple[float, float]


def check_height(table: Table, *, last: bool) -> float:
    """How high the check at the foot of a page stands [mm]; some of its lines come on the last page only."""
    lines = sum(last or not check.last for check in table.checks)
    return 7.0 + _CHECK_ROW_MM * lines + 5.5


@dataclass(frozen=True)
class Part:
    """The rows of one page: ``blocks`` side by side, each as long as the others."""

    blocks: tuple[tuple[Entry, ...], ...]


def share_out(entries: Sequence[Entry], rows_on: Callable[[bool, bool], int], blocks: int) -> list[Part]:
    """Share the rows out over as few pages as hold them; spare rows fill the last page.

    ``rows_on`` tells how many rows a page has in each block: called with whether it is the first and whether
    it is the last. A band never ends a block: the stations under it would stand elsewhere.
    """
    for count in range(1, len(entries) + 1):
        waiting = list(entries)
        parts = [
            Part(tuple(_take(waiting, rows_on(page == 0, page == count - 1)) for _ in range(blocks)))
            for page in range(count)
        ]
        if not waiting:
            return parts
    raise AssertionError("a page holds at least one row")  # pragma: no cover - a page a row always does


def _take(waiting: list[Entry], rows: int) -> tuple[Entry, ...]:
    """Take the next block of ``rows`` rows out of ``waiting``."""
    block = waiting[:rows]
    if len(block) == rows and block[-1].kind == "band":
        block = block[:-1]
    del waiting[: len(block)]
    return (*block, *[_SPARE] * (rows - len(block)))


def rows_between(top: float, bottom: float) -> int:
    """How many rows fit between two heights on the page [mm]."""
    return math.floor((top - bottom - HEAD_MM) / ROW_MM + 1e-9)


def draw_table(page: Page, top: float, table: Table, part: Part) -> None:
    """Draw the rows of a page downwards from ``top`` [mm] over the whole width, in blocks side by side."""
    whole = page.width - 2 * SIDE_MM
    width = (whole - _BLOCK_GAP_MM * (table.blocks - 1)) / table.blocks
    for number, rows in enumerate(part.blocks):
        left = SIDE_MM + number * (width + _BLOCK_GAP_MM)
        _draw_block(page, (left, top), width, table.columns, rows)


def _draw_block(
    page: Page, place: Place, width: float, columns: Sequence[Column], rows: Sequence[Entry]
) -> None:
    left, top = place
    edges = [left, *(left + x for x in _edges(columns, width))]
    bottom = top - HEAD_MM - ROW_MM * len(rows)
    page.box(left, bottom, width, top - bottom, fill=False, linewidth=ink.RULE, zorder=4, gid="table")
    for column, (x, right) in zip(columns, pairwise(edges), strict=True):
        middle, room = (x + right) / 2, right - x - 1.5
        heading = shortened(column.heading, 10, room, "bold")
        page.write(heading, (middle, top - 4.4), _HEADING, across="center", role="heading")
        under = shortened(column.under, 7.5, room)
        page.write(under, (middle, top - 8.2), _UNDER, across="center", role="heading")
    rules = [((left, y), (left + width, y)) for y in (top - HEAD_MM - ROW_MM * n for n in range(len(rows)))]
    page.strokes(rules, color=ink.BLACK, width=ink.FINE, zorder=3, gid="rows")
    for number, entry in enumerate(rows):
        base = top - HEAD_MM - ROW_MM * (number + 1)
        if entry.kind == "band":
            parts = (f"{entry.cells[0]}: first end _", "second end _", "span _", "sag in the middle _")
            draw_fill_in(page, (left + 1.5, base + 2.2), parts, width=width - 3.0, style=_BAND)
        else:
            _draw_row(page, base, edges, entry)
    page.strokes(list(_uprights(edges, top, rows)), color=ink.BLACK, width=ink.FINE, zorder=3, gid="columns")


def _edges(columns: Sequence[Column], width: float) -> Iterator[float]:
    whole = sum(column.share for column in columns)
    done = 0.0
    for column in columns:
        done += column.share
        yield width * done / whole


def _draw_row(page: Page, base: float, edges: Sequence[float], entry: Entry) -> None:
    for number, (text, (x, right)) in enumerate(zip(entry.cells, pairwise(edges), strict=False)):
        style = _STATION if number == 0 else _FIGURE if text[:1] in "-0123456789" else _HINT
        words = shortened(text, style.points, right - x - 1.5, style.weight)
        if style is _FIGURE:
            page.write(words, (right - 1.2, base + 2.3), style, across="right", role="figure")
        else:
            page.write(words, (x + 1.2, base + 2.2), style, role="station" if number == 0 else "hint")
    shut = [((edges[n], base), (edges[n + 1], base + ROW_MM)) for n in entry.shut]
    if shut:
        page.strokes(shut, color=ink.BLACK, width=ink.GRID, zorder=3, gid="shut cell")


def _uprights(edges: Sequence[float], top: float, rows: Sequence[Entry]) -> Iterator[tuple[Place, Place]]:
    """The lines between the columns, broken at bands."""
    start = top
    stretches = []
    for number, entry in enumerate(rows):
        upper = top - HEAD_MM - ROW_MM * number
        if entry.kind == "band":
            if start > upper:
                stretches.append((start, upper))
            start = upper - ROW_MM
    stretches.append((start, top - HEAD_MM - ROW_MM * len(rows)))
    for x in edges[1:-1]:
        for high, low in stretches:
            yield (x, high), (x, low)


def draw_check(page: Page, bottom: float, table: Table, *, number: int, pages: int) -> None:
    """Draw the arithmetic check of page ``number`` of ``pages`` from ``bottom`` [mm] upwards."""
    last = number == pages
    height, width = check_height(table, last=last), page.width - 2 * SIDE_MM
    page.box(
        SIDE_MM, bottom, width, height, fill=False, linewidth=ink.RULE * 1.6, zorder=4, gid="arithmetic check"
    )
    left, y = SIDE_MM + 2.0, bottom + height - 5.0
    page.write("Check it before you leave", (left, y), _HEADING, role="check")
    for check in table.checks:
        if last or not check.last:
            y -= _CHECK_ROW_MM
            draw_fill_in(page, (left, y), _parts(check, alone=pages == 1), width=width - 4.0)
    goes_on = not last and any(check.last for check in table.checks)
    remark = "The check goes on at the foot of the last page." if goes_on else table.remark
    page.write(remark, (left, bottom + 2.0), Style(points=9), role="check")


def _parts(check: Check, *, alone: bool) -> list[str]:
    """The words of a check; on a table of one page nothing is carried over from pages before it."""
    if not alone or not any("pages before" in part for part in check.parts):
        return list(check.parts)
    return [check.parts[0].replace(": this page", "")]
