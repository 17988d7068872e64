"""The field sheet: a sketch of the grid and the table for the readings, to print and take outside."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.field_sheet.content import (
    Check,
    Column,
    Entry,
    Table,
    entries,
    job_lines,
    reading_table,
    tie_entries,
    tie_table,
)
from gradework.drawings.field_sheet.sketch import ARROWS_MM, Panel, draw_directions, draw_sketch, panels
from gradework.drawings.frame import SIDE_MM, draw_check_bars, draw_title
from gradework.drawings.lettering import Style, name, shortened, wrapped
from gradework.drawings.page import HEIGHT_MM, WIDTH_MM, Page, draw_blank_line
from gradework.project.field_sheet import FieldSheet
from gradework.sitework.cautions import CAUTIONS
from gradework.survey.levelling.ways import assumed_level

# The reading table on a field sheet: rows to write in, the check at the foot, how they fill pages.

ROW_MM = 7.5
"""A row is so high [mm]: room for a pencil held in a glove."""

HEAD_MM = 9.5
_BLOCK_GAP_MM = 3.0
_CHECK_ROW_MM = 8.0
_STATION = Style(points=12, weight="bold")
_FIGURE = Style(points=10)
_HINT = Style(points=8, color=pens.SOFT)
_HEADING = Style(points=10, weight="bold")
_UNDER = Style(points=7.5, color=pens.SOFT)
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
    page.box(left, bottom, width, top - bottom, fill=False, linewidth=pens.RULE, zorder=4, gid="table")
    for column, (x, right) in zip(columns, pairwise(edges), strict=True):
        middle, room = (x + right) / 2, right - x - 1.5
        heading = shortened(column.heading, 10, room, "bold")
        page.write(heading, (middle, top - 4.4), _HEADING, across="center", role="heading")
        under = shortened(column.under, 7.5, room)
        page.write(under, (middle, top - 8.2), _UNDER, across="center", role="heading")
    rules = [((left, y), (left + width, y)) for y in (top - HEAD_MM - ROW_MM * n for n in range(len(rows)))]
    page.strokes(rules, color=pens.BLACK, width=pens.FINE, zorder=3, gid="rows")
    for number, entry in enumerate(rows):
        base = top - HEAD_MM - ROW_MM * (number + 1)
        if entry.kind == "band":
            parts = (f"{entry.cells[0]}: first end _", "second end _", "span _", "sag in the middle _")
            draw_blank_line(page, (left + 1.5, base + 2.2), parts, width=width - 3.0, style=_BAND)
        else:
            _draw_row(page, base, edges, entry)
    page.strokes(
        list(_uprights(edges, top, rows)), color=pens.BLACK, width=pens.FINE, zorder=3, gid="columns"
    )


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
        page.strokes(shut, color=pens.BLACK, width=pens.GRID, zorder=3, gid="shut cell")


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
        SIDE_MM,
        bottom,
        width,
        height,
        fill=False,
        linewidth=pens.RULE * 1.6,
        zorder=4,
        gid="arithmetic check",
    )
    left, y = SIDE_MM + 2.0, bottom + height - 5.0
    page.write("Check it before you leave", (left, y), _HEADING, role="check")
    for check in table.checks:
        if last or not check.last:
            y -= _CHECK_ROW_MM
            draw_blank_line(page, (left, y), _parts(check, alone=pages == 1), width=width - 4.0)
    goes_on = not last and any(check.last for check in table.checks)
    remark = "The check goes on at the foot of the last page." if goes_on else table.remark
    page.write(remark, (left, bottom + 2.0), Style(points=9), role="check")


def _parts(check: Check, *, alone: bool) -> list[str]:
    """The words of a check; on a table of one page nothing is carried over from pages before it."""
    if not alone or not any("pages before" in part for part in check.parts):
        return list(check.parts)
    return [check.parts[0].replace(": this page", "")]


SAFETY = CAUTIONS[1]
"""Stands on top of every page: buried services."""

FOOT_MM = 31.0
"""Under the sketch: which way x and y run, the check bars, what goes into the job [mm]."""

_SAFETY = Style(points=10, weight="bold")
_SAFETY_TOP_MM = 15.0
_WORDS = Style(points=9)
_SMALL = Style(points=8)
_LINE_MM = 8.0
_SIDE = SIDE_MM
_CHECK_MM = 6.0


def draw_field_sheet(sheet: FieldSheet) -> list[matplotlib.figure.Figure]:
    """Draw all pages of the sheet: first the sketch, then the reading table. 190 by 259 mm each."""
    top = HEIGHT_MM - _head_height()
    box = (_SIDE, FOOT_MM + 1.0, WIDTH_MM - _SIDE, top - 5 * _LINE_MM - 3.0)
    shown = panels(sheet, (box[2] - box[0], box[3] - box[1]))
    tables = [_Filled.laid(reading_table(sheet.method, sheet.show), list(entries(sheet)), top)]
    if sheet.ties:
        tables.append(_Filled.laid(tie_table(sheet.ties, sheet.show), list(tie_entries(sheet)), top))
    count = len(shown) + sum(len(one.parts) for one in tables)
    figures: list[matplotlib.figure.Figure] = []
    for panel in shown:
        page = _start(sheet, len(figures) + 1, count, _scale_words(panel))
        _draw_opening(page, top, sheet)
        draw_sketch(page, box, sheet, panel)
        _draw_foot(page, sheet)
        figures.append(page.finish())
    for filled in tables:
        table = filled.table
        for number, part in enumerate(filled.parts):
            page = _start(sheet, len(figures) + 1, count, table.words)
            _draw_advice(page, top, table, first=number == 0)
            draw_table(page, _table_top(table, top, first=number == 0), table, part)
            draw_check(page, _CHECK_MM, table, number=number + 1, pages=len(filled.parts))
            page.write(f"Type in as CSV: {table.csv}", (_SIDE, 1.6), _SMALL, role="csv")
            figures.append(page.finish())
    return figures


@dataclass(frozen=True)
class _Filled:
    """A table and its rows, shared out over pages."""

    table: Table
    parts: list[Part]

    @classmethod
    def laid(cls, table: Table, rows: list[Entry], top: float) -> _Filled:
        def rows_on(first: bool, last: bool) -> int:
            bottom = _CHECK_MM + check_height(table, last=last) + 2.0
            return rows_between(_table_top(table, top, first=first), bottom)

        return cls(table, share_out(rows, rows_on, table.blocks))


def _table_top(table: Table, top: float, *, first: bool) -> float:
    return top - (4.4 * len(table.advice) + 2.0 if first else 0.0) - _LINE_MM - 2.5


def _head_height() -> float:
    return _SAFETY_TOP_MM + 5.2 * len(_safety_lines()) + 4.5


def _safety_lines() -> list[str]:
    return wrapped(SAFETY, _SAFETY.points, WIDTH_MM - 2 * _SIDE - 4.0, _SAFETY.weight)


def _start(sheet: FieldSheet, number: int, count: int, words: str) -> Page:
    """Begin a page with its title and, under it, the safety line in a frame."""
    page = Page()
    title = f"Field sheet: {name(sheet.title)}" if sheet.title else "Field sheet"
    step = " by ".join(dict.fromkeys(sheet.show.length_label(s) for s in reversed(sheet.grid.spacing)))
    subtitle = f"{sheet.columns} by {sheet.rows} stations, {step} apart; readings in {sheet.show.unit_title}"
    draw_title(page, title=title, subtitle=subtitle, right=[f"page {number} of {count}", words])
    lines = _safety_lines()
    height = 5.2 * len(lines) + 1.8
    bottom = page.height - _SAFETY_TOP_MM - height
    page.box(
        _SIDE, bottom, page.width - 2 * _SIDE, height, fill=False, linewidth=pens.RULE * 2.2, gid="safety"
    )
    for row, text in enumerate(lines):
        at = (page.width / 2, bottom + height - 4.8 - 5.2 * row)
        page.write(text, at, _SAFETY, across="center", role="safety")
    return page


def _scale_words(panel: Panel) -> str:
    return "sketch, not to scale" if panel.scale is None else f"sketch, {panel.scale.words}"


def _draw_opening(page: Page, top: float, sheet: FieldSheet) -> None:
    """Draw the lines to fill in before the first reading."""
    show = sheet.show
    assumed = show.elevation(assumed_level(metric=show.metric))
    lines: Sequence[Sequence[str]] = (
        ("Date _", "Weather _", "Read by _"),
        ("Instrument and its number _", "Rod held by _"),
        ("Benchmark (BM): what it is and where _",),
        (f"Elevation of BM _ ({assumed} if it has none)", "stays until the end of the work: yes / no"),
        ("A1 is where _", "x runs toward _"),
    )
    for number, parts in enumerate(lines):
        at = (_SIDE, top - _LINE_MM * (number + 1) + 2.6)
        draw_blank_line(page, at, parts, width=page.width - 2 * _SIDE)


def _draw_foot(page: Page, sheet: FieldSheet) -> None:
    """Draw what stands under the sketch: directions, job line, check bars."""
    words = draw_directions(page, (_SIDE + 2.5, 4.0), sheet)
    dashed = "Dashed: the building. " if sheet.building else ""
    words.append(f"{dashed}Tick a box when its station is shot; draw in trees, walls, lids.")
    said = [(text, _WORDS) for text in words]
    if sheet.proposed:
        said.append((f"Job file, under [survey]: {job_lines(sheet)}", _SMALL))
    left = _SIDE + ARROWS_MM * (1 if sheet.north is None else 2)
    y = FOOT_MM - 3.5
    for text, style in said:
        for line in wrapped(text, style.points, page.width - 2 * _SIDE - 54.0 - left):
            page.write(line, (left, y), style, role="foot")
            y -= 4.2
    draw_check_bars(page, (page.width - _SIDE - 52.0, 4.0))


def _draw_advice(page: Page, top: float, table: Table, *, first: bool) -> None:
    """Draw what stands over the table; pages after the first carry on without the advice."""
    y = top - 1.5
    for text in table.advice if first else ():
        page.write(text, (_SIDE, y), _WORDS, up="top", role="advice")
        y -= 4.4
    parts = table.opening if first else table.carried
    draw_blank_line(page, (_SIDE, y - _LINE_MM + 1.5), parts, width=page.width - 2 * _SIDE)
