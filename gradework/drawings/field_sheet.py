"""The field sheet: a sketch of the grid and the table for the readings, to print and take outside."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.field_sheet_methods import Entry, Table, reading_table, tie_table
from gradework.drawings.field_sheet_rows import entries, job_lines, tie_entries
from gradework.drawings.field_sheet_sketch import ARROWS_MM, Panel, draw_directions, draw_sketch, panels
from gradework.drawings.field_sheet_table import (
    Part,
    check_height,
    draw_check,
    draw_table,
    rows_between,
    share_out,
)
from gradework.drawings.fill_in import draw_fill_in
from gradework.drawings.frame import SIDE_MM, draw_check_bars, draw_title
from gradework.drawings.lettering import Style, letters_as_text, name, wrapped
from gradework.drawings.page import HEIGHT_MM, WIDTH_MM, Page
from gradework.project.field_sheet import FieldSheet
from gradework.sitework.cautions import CAUTIONS
from gradework.survey.levels import ASSUMED_FEET, ASSUMED_METRES

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


def pdf_of(pages: Sequence[matplotlib.figure.Figure]) -> bytes:
    """Turn pages into one PDF: the same pages give the same bytes, whatever the day."""
    from matplotlib.backends.backend_pdf import PdfPages  # only this work writes several pages into one file

    sink = io.BytesIO()
    dateless: dict[str, str | None] = {"Creator": "gradework", "Producer": "gradework", "CreationDate": None}
    with steady(), letters_as_text(), PdfPages(sink, metadata=dateless) as book:
        for page in pages:
            book.savefig(page)
    return sink.getvalue()


def is_field_sheet(data: bytes) -> bool:
    """Whether a file is a PDF as ``pdf_of`` left it: what is written into it later adds an end of its own."""
    mine = b"/Creator (gradework)" in data and b"/Producer (gradework)" in data
    return data.startswith(b"%PDF-") and mine and data.count(b"%%EOF") == 1


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
        _SIDE, bottom, page.width - 2 * _SIDE, height, fill=False, linewidth=ink.RULE * 2.2, gid="safety"
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
    assumed = show.elevation(ASSUMED_FEET if show.us else ASSUMED_METRES)
    lines: Sequence[Sequence[str]] = (
        ("Date _", "Weather _", "Read by _"),
        ("Instrument and its number _", "Rod held by _"),
        ("Benchmark (BM): what it is and where _",),
        (f"Elevation of BM _ ({assumed} if it has none)", "stays until the end of the work: yes / no"),
        ("A1 is where _", "x runs toward _"),
    )
    for number, parts in enumerate(lines):
        at = (_SIDE, top - _LINE_MM * (number + 1) + 2.6)
        draw_fill_in(page, at, parts, width=page.width - 2 * _SIDE)


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
    draw_fill_in(page, (_SIDE, y - _LINE_MM + 1.5), parts, width=page.width - 2 * _SIDE)
