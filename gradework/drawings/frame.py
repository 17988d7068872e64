"""The furniture of a page: title, border, scale bar, check bars, axis arrows, caution, blank lines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from gradework import __version__
from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.page import (
    HEADING,
    LEGEND_WORDS,
    LINE_MM,
    MM_PER_INCH,
    ROW_MM,
    MapWindow,
    Page,
    Scale,
)
from gradework.survey.stations import survey_mark
from gradework.units.display import Display
from gradework.units.numbers import round_steps

Floats = NDArray[np.float64]

SIDE_MM = 1.5
"""Nothing is drawn nearer than this to the page's left and right edge [mm]."""

TITLE_MM = 14.5
"""The title takes so much at the top of the page [mm]."""

CAUTION = (
    "A plan for a small, light, detached building, drawn from the builder's own shots. Have buried services "
    "located before digging. Local code, permit, setback and frost rules and a licensed engineer or surveyor "
    "decide."
)

_NUMBER_MM = 24.0  # of the number of a page, at the right beside a stamp
_BLANK_MM = 7.0  # from one line to write on to the next
_TITLE = Style(points=15, weight="bold")
_SUBTITLE = Style(points=9)
_STAMP = Style(points=9, weight="bold")
_SCALE = Style(points=11, weight="bold")
_SMALL = Style(points=7, color=pens.SOFT)
_NUMBERS = Style(points=7.5)
_VALUE = Style(points=8)
_STRONG = Style(points=8, weight="bold")


def draw_title(page: Page, *, title: str, subtitle: str, right: Sequence[str], stamp: str = "") -> None:
    """Draw the title block across the top of the page; the lines of ``right`` stand at the right.

    A ``stamp`` stands in bold under the subtitle, which makes room for it.
    """
    top, edge = page.height - 0.8, page.width - SIDE_MM
    side = max(width_mm(right[0], 11, "bold"), *(width_mm(line, 8) for line in right[1:]))
    title = shortened(title, 15, edge - SIDE_MM - side - 5, "bold")
    page.write(title, (SIDE_MM, top), _TITLE, up="top", role="title")
    if stamp:
        whole = shortened(stamp, _STAMP.points, edge - SIDE_MM - _NUMBER_MM, "bold")
        page.write(whole, (SIDE_MM, top - 12.4), _STAMP, role="stamp")
    page.write(subtitle, (SIDE_MM, top - (8.4 if stamp else 10.6)), _SUBTITLE, role="subtitle")
    page.write(right[0], (edge, top - 0.5), _SCALE, across="right", up="top", role="scale")
    for number, line in enumerate(right[1:]):
        page.write(line, (edge, top - 7.4 - 3.4 * number), Style(points=8, color=pens.SOFT), across="right")


def draw_border(page: Page, window: MapWindow, show: Display) -> None:
    """Draw the map's border with round coordinates along its left and lower side."""
    unit = show.metres_per_unit
    (x0, y0), (x1, y1) = window.to_site(np.array([window.box[:2], window.box[2:]]))
    step = round_steps((x1 - x0) / unit, 6)
    xs, ys = (_ticks(a, b, unit=unit, step=step) for a, b in ((x0, x1), (y0, y1)))
    across = window.to_page(np.array([(x * unit, window.middle[1]) for x in xs]).reshape(-1, 2))[:, 0]
    up = window.to_page(np.array([(window.middle[0], y * unit) for y in ys]).reshape(-1, 2))[:, 1]
    strokes = [((x, y), (x, y + d)) for x in across for y, d in ((window.bottom, 1.5), (window.top, -1.5))]
    strokes += [((x, y), (x + d, y)) for y in up for x, d in ((window.left, 1.5), (window.right, -1.5))]
    page.strokes(strokes, color=pens.BLACK, width=pens.FINE, zorder=9)
    left, bottom, right, top = window.box
    page.box(
        left, bottom, right - left, top - bottom, fill=False, linewidth=pens.RULE, zorder=9, gid="border"
    )
    for x, value in zip(across, xs, strict=True):
        half = width_mm(plain(value), 7) / 2
        middle = min(max(x, left + half), right - half)
        page.write(plain(value), (middle, bottom - 1.2), _SMALL, across="center", up="top", role="coordinate")
    for y, value in zip(up, ys, strict=True):
        half = width_mm(plain(value), 7) / 2
        middle = min(max(y, bottom + half), top - half)
        page.write(plain(value), (left - 1.2, middle), _SMALL, across="center", degrees=90, role="coordinate")


def _ticks(low: float, high: float, *, unit: float, step: float) -> list[float]:
    """Round coordinates in the user's unit between two places [m]."""
    first = math.ceil(low / unit / step - 1e-9)
    return [k * step for k in range(first, math.floor(high / unit / step + 1e-9) + 1)]


def plain(value: float) -> str:
    """Write a round number in full: no exponent, no needless zero.

    >>> plain(6300000.0), plain(0.5), plain(-0.0)
    ('6300000', '0.5', '0')
    """
    return f"{value + 0.0:.10g}"


def draw_scale_bar(
    page: Page, place: tuple[float, float], scale: Scale, show: Display, *, longest: float
) -> None:
    """Draw a bar of at most four round parts, at most ``longest`` mm, its left end at ``place`` [mm]."""
    mm_per_unit = show.metres_per_unit * scale.mm_per_m
    step = round_steps(longest / mm_per_unit, 5)
    parts = max(1, min(4, math.floor(longest / mm_per_unit / step + 1e-9)))
    left, bottom = place
    ends = [left + part * step * mm_per_unit for part in range(parts + 1)]
    for number, (start, end) in enumerate(pairwise(ends)):
        face = "white" if number % 2 else pens.BLACK
        page.box(
            start,
            bottom,
            end - start,
            1.8,
            facecolor=face,
            edgecolor=pens.BLACK,
            linewidth=pens.FINE,
            gid="scale bar",
        )
    for number, x in enumerate(ends):
        text = plain(number * step)
        half = width_mm(text, _NUMBERS.points) / 2
        unit = f" {show.unit_name}" if number == parts else ""
        page.write(text + unit, (max(x - half, left), bottom + 2.7), _NUMBERS, role="scale bar")


def draw_check_bars(page: Page, place: tuple[float, float]) -> None:
    """Draw bars of exactly 50 mm and 2 in, so that a ruler tells whether the page was printed at 100 %."""
    left, bottom = place
    for y, length, words in ((bottom + 5.4, 50.0, "50 mm"), (bottom, 2 * MM_PER_INCH, "2 in")):
        bar = [((left, y), (left + length, y))]
        bar += [((x, y - 1), (x, y + 1)) for x in (left, left + length)]
        page.strokes(bar, color=pens.BLACK, width=pens.FINE, gid=f"check bar {words}")
        page.write(
            f"measures {words} when printed at 100 %", (left + 0.8, y + 0.8), Style(6.5, color=pens.SOFT)
        )


def draw_reading_aids(
    page: Page, bottom: float, scale: Scale, show: Display, notes: Iterable[str], *, north: float | None
) -> float:
    """Draw bars, arrows and notes below a map that ends at ``bottom`` [mm]; return where they end."""
    top = bottom - 5.5
    draw_scale_bar(page, (SIDE_MM, top - 8.0), scale, show, longest=48)
    draw_check_bars(page, (60.0, top - 12.5))
    said = (*notes, draw_axis_arrows(page, (118.5, top - 14.0), north=north))
    texts = [note[0].upper() + note[1:] + "." for note in said]
    left = 136.0
    end = draw_paragraph(page, (left, top - 1.0), texts, width=page.width - SIDE_MM - left)
    return min(top - 15.5, end) - 3.0


def draw_axis_arrows(page: Page, place: tuple[float, float], *, north: float | None) -> str:
    """Draw arrows from ``place`` [mm] and return the words that say which way is north.

    ``north`` is in degrees anticlockwise from +x; None draws the plan's own x and y axes, no compass.
    """
    left, bottom = place
    if north is None:
        _arrow(page, (left, bottom), (left + 10.0, bottom), "x")
        _arrow(page, (left, bottom), (left, bottom + 10.0), "y")
        return "x and y as in the notes; north not given"
    turn = np.array([math.cos(math.radians(north)), math.sin(math.radians(north))])
    middle = np.array([left + 4.0, bottom + 6.0])
    _arrow(page, tuple(middle - 6.0 * turn), tuple(middle + 6.0 * turn), "N")
    return f"north is {plain(north)}° anticlockwise from x"


def _arrow(page: Page, start: tuple[float, ...], end: tuple[float, ...], label: str) -> None:
    from_, to = np.asarray(start), np.asarray(end)
    along = (to - from_) / np.hypot(*(to - from_))
    page.strokes([(from_, to - along)], color=pens.BLACK, width=pens.RULE)
    head = arrow_heads(to[None], along[None], length=3.0)
    page.axes.add_collection(
        matplotlib.collections.PolyCollection(head, facecolors=pens.BLACK), autolim=False
    )
    x, y = to + along * 2.4
    page.write(label, (float(x), float(y)), Style(10, "bold"), across="center", up="center", role="arrow")


def arrow_heads(tips: Floats, directions: Floats, *, length: float) -> list[Floats]:
    """Triangles ``(3, 2)`` pointing at ``tips`` ``(n, 2)`` [mm] along unit ``directions`` ``(n, 2)``."""
    side = np.column_stack([-directions[:, 1], directions[:, 0]]) * length * 0.32
    back = tips - directions * length
    return [np.array([tip, b + s, b - s]) for tip, b, s in zip(tips, back, side, strict=True)]


def draw_rows(
    page: Page, place: tuple[float, float], heading: str, rows: Sequence[tuple[str, str]], *, width: float
) -> float:
    """Draw a table of names and values downwards from ``place`` (left, top); the first row is bold.

    Returns where it ends [mm].
    """
    left, top = place
    page.write(heading, (left, top), HEADING, up="top")
    y = top - 7.2
    for number, (row, lines) in enumerate(zip(rows, _wrapped_rows(rows, width), strict=True)):
        style = _VALUE if number else _STRONG
        page.write(row[1], (left + width, y), style, across="right", up="center", role="value")
        for below, text in enumerate(lines):
            page.write(text, (left, y - LINE_MM * below), LEGEND_WORDS if number else _STRONG, up="center")
        y -= ROW_MM + LINE_MM * (len(lines) - 1)
    return y + ROW_MM / 2


def _wrapped_rows(rows: Sequence[tuple[str, str]], width: float) -> list[list[str]]:
    """The words of each row of a table in lines, beside its value."""
    styles = [_VALUE if number else _STRONG for number in range(len(rows))]
    return [
        wrapped(words, style.points, width - width_mm(value, style.points, style.weight) - 2.0, style.weight)
        for (words, value), style in zip(rows, styles, strict=True)
    ]


def rows_mm(rows: Sequence[tuple[str, str]], width: float) -> float:
    """How high the rows of a table stand without their heading [mm]."""
    return sum(ROW_MM + LINE_MM * (len(lines) - 1) for lines in _wrapped_rows(rows, width))


def draw_paragraph(
    page: Page, place: tuple[float, float], texts: Sequence[str], *, width: float, style: Style = _SMALL
) -> float:
    """Write sentences downwards from ``place`` (left, top), each on its own lines; return their end [mm]."""
    left, y = place
    for text in texts:
        for line in wrapped(text, style.points, width):
            page.write(line, (left, y), style, up="top")
            y -= 3.2
        y -= 0.8
    return y


def source_words(file: str, xyz: Floats) -> str:
    """Say what was drawn and by what: the notes, a mark that changes with any shot, the version.

    ``xyz`` ``(n, 3)`` [m] are the shots.
    """
    drawn = f"{len(xyz)} shots, survey mark {survey_mark(xyz)}, datum of the notes. gradework {__version__}"
    return f"{shortened(name(PurePath(file).name), _SMALL.points, 60.0)}: {drawn}"


def draw_caution(page: Page, source: str) -> float:
    """Draw the caution and the drawing's source at the foot of the page; return its upper edge [mm]."""
    width = page.width - 2 * SIDE_MM
    lines = [*wrapped(CAUTION, 7, width), shortened(source, 7, width)]
    for number, line in enumerate(reversed(lines)):
        page.write(line, (SIDE_MM, 1.2 + 3.1 * number), _SMALL, role="caution")
    top = 1.2 + 3.1 * len(lines) + 0.4
    page.strokes([((SIDE_MM, top), (page.width - SIDE_MM, top))], color=pens.BLACK, width=pens.FINE)
    return top


def draw_blank_lines(page: Page, *, top: float, bottom: float, rows: Sequence[Sequence[str]]) -> None:
    """Leave lines to write on, each shared by the words of its row; as many more as there is room for.

    The rows stand in the order of their weight: where one line has room, the words of the first two share it.
    """
    first = top - 6.0
    count = max(0, math.ceil((first - bottom - 0.5) / _BLANK_MM))
    waiting = [tuple(row) for row in rows]
    if count == 1 and len(waiting) > 1:
        waiting = [(*waiting[0], *waiting[1])]
    right = page.width - SIDE_MM
    for number in range(count):
        y, words = first - number * _BLANK_MM, waiting.pop(0) if waiting else ("",)
        widths = [width_mm(label, LEGEND_WORDS.points) + 1.5 if label else 0.0 for label in words]
        blank = (right - SIDE_MM - sum(widths) - 4.0 * (len(words) - 1)) / len(words)
        left = SIDE_MM
        for label, width in zip(words, widths, strict=True):
            page.write(label, (left, y + 0.8), LEGEND_WORDS, role="blank")
            ends = (left + width, left + width + blank)
            page.strokes([((ends[0], y), (ends[1], y))], color=pens.FAINT, width=pens.GRID)
            left = ends[1] + 4.0
