"""One elevation for each row of piers, to scale: the ground, the holes, the stacks, the common top."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import frame, ink
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.legend import draw_legend
from gradework.drawings.lettering import Style, name, shortened, width_mm
from gradework.drawings.page import HEIGHT_MM, WIDTH_MM, Page, Scale, choose_scale
from gradework.drawings.pier_elevation import (
    Floats,
    PierSheet,
    SideView,
    draw_ground,
    draw_hole,
    draw_stack,
    entries,
)
from gradework.foundations.pier_places import SAME_ROW
from gradework.foundations.pier_spans import spans

if TYPE_CHECKING:  # the type only
    from gradework.foundations.piers import Pier

BEYOND = 0.25
"""The ground is shown so far beyond the building [m]."""

_SIDE = frame.SIDE_MM
_LEFT_MM, _RIGHT_GAP_MM = 19.0, 3.0
_HEAD_MM, _LINE_MM, _GAP_MM = 6.0, 3.7, 3.0
_LABELS_MM = 7.0  # the floor's label stands at least so far above that of the top
_LEGEND_MM = 22.5
_BELOW = 0.05
_NAME = Style(points=10, weight="bold")
_HEADING = Style(points=10, weight="bold")
_VALUE = Style(points=8)
_LEVEL = Style(points=8, weight="bold")
_SMALL = Style(points=7.5, color=ink.SOFT)


def rows_of(sheet: PierSheet) -> list[list[Pier]]:
    """Sort the piers into straight rows by their places across, each from left to right."""
    placed = sorted((sheet.local(pier)[::-1], number) for number, pier in enumerate(sheet.piers.piers))
    rows: list[list[tuple[float, float, Pier]]] = []
    for (across, along), number in placed:
        pier = sheet.piers.piers[number]
        if rows and abs(rows[-1][0][1] - across) < SAME_ROW:
            rows[-1].append((along, across, pier))
        else:
            rows.append([(along, across, pier)])
    return [[pier for _, _, pier in sorted(row, key=lambda item: item[0])] for row in rows]


def draw_pier_rows(sheet: PierSheet) -> list[matplotlib.figure.Figure]:
    """Draw the elevations, as many on a page as find room; no piers, no page.

    The page is 190 by 259 mm, or turned where that allows a larger scale.
    """
    rows = rows_of(sheet)
    if not rows:
        return []
    with steady():
        upright = _scale_on(sheet, rows, (WIDTH_MM, HEIGHT_MM))
        turned = _scale_on(sheet, rows, (HEIGHT_MM, WIDTH_MM))
        size = (HEIGHT_MM, WIDTH_MM) if turned.ratio < upright.ratio else (WIDTH_MM, HEIGHT_MM)
        scale = turned if turned.ratio < upright.ratio else upright
        pages: list[Page] = []
        waiting = list(rows)
        while waiting:
            page = Page(*size)
            _fill_page(page, sheet, waiting, scale, len(rows), first=not pages)
            pages.append(page)
        return [page.finish() for page in pages]


def _scale_on(sheet: PierSheet, rows: Sequence[Sequence[Pier]], size: tuple[float, float]) -> Scale:
    """Choose the scale at which the longest and the tallest row fit on a page of ``size`` [mm]."""
    low, high = _ends(sheet)
    tallest = max(_top_of(sheet, row) - _depth(sheet, row) for row in rows)
    room_high = size[1] - frame.TITLE_MM - _LEGEND_MM - 14.0 - _HEAD_MM - _LABELS_MM - _table_mm()
    return choose_scale((high - low, tallest), (size[0] - _LEFT_MM - _RIGHT_GAP_MM, room_high), sheet.show)


def _fill_page(
    page: Page, sheet: PierSheet, waiting: list[list[Pier]], scale: Scale, count: int, *, first: bool
) -> None:
    """Draw what fits of the rows ``waiting`` and take it off the list; one row at least."""
    words = "row" if count == 1 else "rows"
    frame.draw_title(
        page,
        title=name(sheet.title),
        subtitle=f"Block piers: {count} {words} seen from the side" + ("" if first else ", continued"),
        right=[f"Scale {scale.words}", "Print at 100 % (actual size)"],
    )
    foot = frame.draw_caution(page, f"Shots: {name(sheet.source)}. Drawn by gradework.")
    top = page.height - frame.TITLE_MM - 1.0
    floor = foot + _LEGEND_MM
    drawn = 0
    while waiting:
        height = _head_mm(sheet, waiting[0], scale) + _table_mm() + _drawing_mm(sheet, waiting[0], scale)
        if drawn and top - height < floor:
            break
        _draw_row(page, sheet, waiting.pop(0), scale, top)
        top -= height + _GAP_MM
        drawn += 1
    _draw_foot(page, sheet, scale, max(top, floor))


def _draw_foot(page: Page, sheet: PierSheet, scale: Scale, top: float) -> None:
    frame.draw_scale_bar(page, (_SIDE, top - 7.0), scale, sheet.show, longest=48)
    texts = [
        f"Elevations in {sheet.show.unit_title}; heights and lengths at the same scale.",
        "The row runs to the right; you look across it.",
    ]
    frame.draw_paragraph(page, (_SIDE, top - 10.0), texts, width=58.0)
    draw_legend(page, (66.0, top), entries(sheet.piers), width=58.0, columns=2)


def _head_mm(sheet: PierSheet, row: Sequence[Pier], scale: Scale) -> float:
    """What stands above the drawing: the heading, and the floor's label where the floor is close [mm]."""
    above = (_top_of(sheet, row) - row[0].top) * scale.mm_per_m
    return _HEAD_MM + max(0.0, _LABELS_MM + 3.5 - above)


def _table_mm() -> float:
    return 5 * _LINE_MM + 3.0


def _drawing_mm(sheet: PierSheet, row: Sequence[Pier], scale: Scale) -> float:
    return (_top_of(sheet, row) - _depth(sheet, row)) * scale.mm_per_m


def _depth(sheet: PierSheet, row: Sequence[Pier]) -> float:
    """The level down to which the ground is drawn: below every hole and every ground [m]."""
    lowest = min(pier.bottom for pier in row)
    return float(_profile(sheet, row)[:, 1].min(initial=lowest)) - _BELOW


def _top_of(sheet: PierSheet, row: Sequence[Pier]) -> float:
    """The highest thing that is drawn: the floor, or the ground where it stands higher [m]."""
    floor = sheet.piers.floor_level or row[0].top
    ground = _profile(sheet, row)
    highest = float(ground[:, 1].max()) if len(ground) else floor
    return max(floor, highest)


def _profile(sheet: PierSheet, row: Sequence[Pier]) -> Floats:
    low, high = _ends(sheet)
    return sheet.profile(low, high, sheet.local(row[0])[1])


def _ends(sheet: PierSheet) -> tuple[float, float]:
    """Where the elevations begin and end along the building [m]."""
    along = sheet.frame.to_local(sheet.building.rings[0])[:, 0]
    return float(along.min()) - BEYOND, float(along.max()) + BEYOND


def _draw_row(page: Page, sheet: PierSheet, row: Sequence[Pier], scale: Scale, top: float) -> None:
    low, high = _ends(sheet)
    middle = 0.5 * (low + high)
    ceiling = _top_of(sheet, row)
    centre = 0.5 * (_LEFT_MM + page.width - _RIGHT_GAP_MM)
    view = SideView((centre, top - _head_mm(sheet, row, scale)), middle, ceiling, scale)
    words = shortened(_heading(sheet, row), 10, 0.5 * page.width, "bold")
    page.write(words, (_SIDE, top), _HEADING, up="top", role="row")
    ends = "; ".join(
        f"{name(pier.name)} stands at {sheet.show.place(pier.x, pier.y)}"
        for pier in dict.fromkeys((row[0], row[-1]))
    )
    after = _SIDE + width_mm(words, 10, "bold") + 3.0
    ends = shortened(ends, _SMALL.points, page.width - after - _SIDE)
    page.write(ends, (after, top - 0.5), _SMALL, up="top", role="ends")
    profile = _profile(sheet, row)
    draw_ground(page, view, profile, depth=_depth(sheet, row))
    for pier in row:
        along = sheet.local(pier)[0]
        draw_hole(page, view, pier, 0.5 * pier.hole_size[0], along, profile)
        draw_stack(page, view, pier, sheet.piers, along)
    _draw_levels(page, view, sheet, row)
    _draw_table(page, view, sheet, row, view.y(_depth(sheet, row)) - 2.0)


def _heading(sheet: PierSheet, row: Sequence[Pier]) -> str:
    if not sheet.piers.spec.positions:
        return f"Row {row[0].row}"
    first, last = name(row[0].name), name(row[-1].name)
    return f"Pier {first}" if len(row) == 1 else f"Piers {first} to {last}"


def _draw_levels(page: Page, view: SideView, sheet: PierSheet, row: Sequence[Pier]) -> None:
    """Draw the beam on the piers, the common top and the floor, with their elevations at the left.

    Beam and floor are as long as the building is above this row, in pieces where that is in pieces.
    """
    show, build = sheet.show, sheet.piers.spec.floor
    top, floor = view.y(row[0].top), view.y(row[0].top + build.thickness)
    beam = view.y(row[0].top + build.beam)
    rings = [sheet.frame.to_local(ring) for ring in sheet.building.rings]
    for low, high in spans(rings, sheet.local(row[0])[1]):
        left, right = view.x(low), view.x(high)
        page.box(left, top, right - left, floor - top, fill=False, edgecolor=ink.FAINT, linewidth=ink.GRID)
        if build.beam:
            page.box(left, top, right - left, beam - top, facecolor="white", edgecolor=ink.BLACK,
                     linewidth=ink.RULE, zorder=5.0, gid="beam")  # fmt: skip
        page.strokes([((left, floor), (right, floor))], color=ink.BLACK, width=ink.RULE, gid="floor")
    page.strokes(
        [((_LEFT_MM - 1.0, top), (page.width - _RIGHT_GAP_MM, top))],
        color=ink.BLACK,
        width=ink.FINE,
        dash=ink.DAYLIGHT_DASH,
        zorder=6.0,
        gid="common top",
    )
    for y, words, level in (
        (top, "top", row[0].top),
        (max(floor, top + _LABELS_MM), "floor", row[0].top + build.thickness),
    ):
        page.write(words, (_SIDE, y + 0.4), _SMALL, role="level")
        page.write(show.elevation_number(level), (_SIDE, y - 0.4), _LEVEL, up="top", role="level")


def _draw_table(page: Page, view: SideView, sheet: PierSheet, row: Sequence[Pier], top: float) -> None:
    """Write below each pier what it consists of, one line for each figure."""
    show = sheet.show
    lines = [
        ("pier", [shortened(name(pier.name), 10, 30.0, "bold") for pier in row], _NAME),
        ("stack", [show.depth(pier.height) for pier in row], _VALUE),
        ("bed", [show.depth(pier.bed) for pier in row], _VALUE),
        ("top of bed", [show.elevation_number(pier.bottom + pier.bed) for pier in row], _VALUE),
        ("bottom", [show.elevation_number(pier.bottom) for pier in row], _LEVEL),
    ]
    places = [view.x(sheet.local(pier)[0]) for pier in row]
    room = float(np.diff(places).min()) if len(places) > 1 else WIDTH_MM
    for number, (words, values, style) in enumerate(lines):
        y = top - number * _LINE_MM
        page.write(words, (_SIDE, y), _SMALL, up="top", role="table")
        for place, x, text in zip(range(len(places)), places, values, strict=True):
            wide = width_mm(text, style.points, style.weight) + 1.0
            if wide > room and place % max(2, int(np.ceil(wide / room))):
                continue  # where piers stand close together, every second or third has its figures
            page.write(text, (x, y), style, across="center", up="top", role="table")
