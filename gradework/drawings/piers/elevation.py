"""One elevation for each row of piers, to scale: the ground, the holes, the stacks, the common top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.lettering import Style, name, shortened, width_mm
from gradework.drawings.page import (
    HEIGHT_MM,
    WIDTH_MM,
    Entry,
    Page,
    Scale,
    area_entry,
    choose_scale,
    draw_legend,
    line_entry,
    ring_path,
)
from gradework.foundations.piers.layout import Frame, building_frame, spans
from gradework.foundations.piers.neighbours import SAME_ROW
from gradework.foundations.piers.stacks import pieces_in_course

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.foundations.piers.units import BlockUnit
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


# One pier seen from the side: hole, bed, courses and the ground around it, to scale on the page.

Floats = NDArray[np.float64]

SOLID_TINT = "#D6D6D6"
EARTH_TINT = "#F3EEE6"
_EARTH_HATCH, _BED_HATCH = "\\\\\\", "ooo"
_CELL = (0.18, 0.45, 0.55, 0.82)  # where the hidden sides of open cells stand in the width of a block
_SAMPLES = 201


@dataclass(frozen=True)
class PierSheet:
    """What the pier drawings show: the piers as planned, on which ground, under which building.

    ``stamp`` stands in the title of each page: that they cannot be built as drawn, and why.
    """

    title: str
    source: str
    show: Display
    surface: Surface
    building: Outline
    piers: Piers
    stamp: str = ""

    @property
    def frame(self) -> Frame:
        """The building's own directions; the drawings look across, with ``along`` to the right."""
        return building_frame(self.building, self.piers.spec.layout.along)

    def local(self, pier: Pier) -> tuple[float, float]:
        """Give the middle of a pier along and across [m]."""
        along, across = self.frame.to_local(np.array([[pier.x, pier.y]]))[0].tolist()
        return along, across

    def profile(self, low: float, high: float, across: float) -> Floats:
        """Give the ground (k, 2) [m: along, elevation] between two places along; only where it is known."""
        along = np.linspace(low, high, _SAMPLES)
        site = self.frame.to_site(np.column_stack([along, np.full(_SAMPLES, across)]))
        ground = self.surface.elevation(site)
        known = np.isfinite(ground)
        found: Floats = np.column_stack([along[known], ground[known]])
        return found


@dataclass(frozen=True, slots=True)
class SideView:
    """Where a side view stands: ``place`` [mm] is where ``along`` and ``level`` [m] come to lie."""

    place: tuple[float, float]
    along: float
    level: float
    scale: Scale

    def to_page(self, points: Floats) -> Floats:
        """Turn points (k, 2) [m: along, elevation] into places (k, 2) [mm]."""
        away = np.asarray(points, dtype=float) - [self.along, self.level]
        page: Floats = np.asarray(self.place) + away * self.scale.mm_per_m
        return page

    def x(self, along: float) -> float:
        """Turn a distance along [m] into a place from the left of the page [mm]."""
        return self.place[0] + (along - self.along) * self.scale.mm_per_m

    def y(self, level: float) -> float:
        """Turn an elevation [m] into a height on the page [mm]."""
        return self.place[1] + (level - self.level) * self.scale.mm_per_m


def course_width(unit: BlockUnit, pier: Pier) -> tuple[int, float]:
    """Give how many of a unit lie side by side in a course, and the width of each along the row [m]."""
    return pieces_in_course(unit, pier.across), unit.least_side


def draw_ground(page: Page, view: SideView, profile: Floats, *, depth: float) -> None:
    """Draw the ground below ``profile`` (k, 2) [m: along, elevation] down to the level ``depth`` [m]."""
    if len(profile) < 2:
        return
    low = np.array([[profile[-1, 0], depth], [profile[0, 0], depth]])
    earth = view.to_page(np.vstack([profile, low]))
    page.axes.add_artist(_area(earth, EARTH_TINT, _EARTH_HATCH, pens.FAINT, zorder=1.0))
    line = view.to_page(profile)
    page.strokes([line], color=pens.EARTH, width=pens.INDEX, zorder=4.0, gid="ground")


def draw_hole(page: Page, view: SideView, pier: Pier, half: float, along: float, profile: Floats) -> None:
    """Cut the hole out of the ground and lay the bed; ``half`` [m] is half its length along the row."""
    left, right = along - half, along + half
    inside = profile[(profile[:, 0] > left) & (profile[:, 0] < right)]
    ends = np.interp([left, right], *profile.T) if len(profile) else [pier.ground_high] * 2
    rim = np.vstack([[left, ends[0]], inside, [right, ends[1]]])
    hole = view.to_page(np.vstack([rim, [right, pier.bottom], [left, pier.bottom]]))
    page.axes.add_artist(_area(hole, "white", "", "white", zorder=1.5))
    walls = view.to_page(
        np.array([[left, ends[0]], [left, pier.bottom], [right, pier.bottom], [right, ends[1]]])
    )
    page.strokes([walls], color=pens.EARTH, width=pens.RULE, zorder=3.0, gid=f"hole {pier.name}")
    before = view.to_page(rim)
    page.strokes([before], color="white", width=pens.INDEX * 1.6, zorder=4.1)
    page.strokes([before], color=pens.EARTH, width=pens.FINE, dash=pens.EVEN_DASH, zorder=4.2)
    bed = _rectangle(left, pier.bottom, 2.0 * half, pier.bed)
    page.axes.add_artist(_area(view.to_page(bed), "white", _BED_HATCH, pens.SOFT, zorder=4.5, line=pens.FINE))


def draw_stack(page: Page, view: SideView, pier: Pier, along: float) -> None:
    """Draw every unit of the stack; solid ones tinted, open cells as hidden lines."""
    level = pier.bottom + pier.bed
    hidden = []
    for unit in pier.laid:
        count, width = course_width(unit, pier)
        for number in range(count):
            left = along + (number - count / 2) * width
            ring = view.to_page(_rectangle(left, level, width, unit.thickness))
            face = "white" if unit.hollow else SOLID_TINT
            page.axes.add_artist(_area(ring, face, "", pens.BLACK, zorder=5.0, line=pens.RULE))
            if unit.hollow:
                for part in _CELL:
                    x = left + part * width
                    hidden.append(view.to_page(np.array([[x, level], [x, level + unit.thickness]])))
        level += unit.thickness
    if hidden:
        page.strokes(hidden, color=pens.SOFT, width=pens.FINE, dash=pens.EVEN_DASH, zorder=5.5)


def entries(piers: Piers) -> list[Entry]:
    """Make the lines of the legend for what these piers hold."""
    laid = [unit for pier in piers.piers for unit in pier.laid]
    found = [
        line_entry("Ground as surveyed", color=pens.EARTH, width=pens.INDEX),
        line_entry("Ground dug away", color=pens.EARTH, width=pens.FINE, dash=pens.EVEN_DASH),
        area_entry("Ground left in place", face=EARTH_TINT, hatch=_EARTH_HATCH, edge=pens.FAINT),
        area_entry("Gravel bed, compacted", face="white", hatch=_BED_HATCH),
    ]
    if any(unit.hollow for unit in laid):
        found.append(Entry("Block with open cells", _hollow_sample))
    if any(not unit.hollow for unit in laid):
        found.append(area_entry("Solid block", face=SOLID_TINT, hatch="", edge=pens.BLACK))
    return found


def spread_out(wanted: Sequence[float], gap: float) -> list[float]:
    """Move labels apart so that neighbours stand at least ``gap`` [mm] from each other, as little as needed.

    The order stays; the middle of a crowded group stays where its labels' own middle was.

    >>> spread_out([0.0, 1.0, 10.0], 3.0)
    [-1.0, 2.0, 10.0]
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    groups: list[list[float]] = []  # each: sum of (place - offset), count
    for index in order:
        groups.append([wanted[index], 1])
        while len(groups) > 1 and _end(groups[-2], gap) + gap > _start(groups[-1], gap) + 1e-9:
            total, count = groups.pop()
            groups[-1] = [groups[-1][0] + total, groups[-1][1] + count]
    places = [0.0] * len(wanted)
    at = iter(order)
    for group in groups:
        for number in range(int(group[1])):
            places[next(at)] = _start(group, gap) + number * gap
    return places


def _start(group: list[float], gap: float) -> float:
    return group[0] / group[1] - 0.5 * (group[1] - 1) * gap


def _end(group: list[float], gap: float) -> float:
    return group[0] / group[1] + 0.5 * (group[1] - 1) * gap


def _rectangle(left: float, bottom: float, width: float, height: float) -> Floats:
    return np.array(
        [[left, bottom], [left + width, bottom], [left + width, bottom + height], [left, bottom + height]]
    )


def _area(
    ring: Floats, face: str, hatch: str, edge: str, *, zorder: float, line: float = 0.0
) -> matplotlib.patches.PathPatch:
    return matplotlib.patches.PathPatch(
        ring_path([ring]), facecolor=face, hatch=hatch, edgecolor=edge, linewidth=line, zorder=zorder
    )


def _hollow_sample(page: Page, x: float, y: float) -> object:
    page.box(x, y - 1.7, 12.0, 3.4, facecolor="white", edgecolor=pens.BLACK, linewidth=pens.RULE)
    lines = [((x + 12.0 * part, y - 1.7), (x + 12.0 * part, y + 1.7)) for part in _CELL]
    return page.strokes(lines, color=pens.SOFT, width=pens.FINE, dash=pens.EVEN_DASH)


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
_SMALL = Style(points=7.5, color=pens.SOFT)


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
        stamp=sheet.stamp,
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
        draw_stack(page, view, pier, along)
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
        page.box(left, top, right - left, floor - top, fill=False, edgecolor=pens.FAINT, linewidth=pens.GRID)
        if build.beam:
            page.box(left, top, right - left, beam - top, facecolor="white", edgecolor=pens.BLACK,
                     linewidth=pens.RULE, zorder=5.0, gid="beam")  # fmt: skip
        page.strokes([((left, floor), (right, floor))], color=pens.BLACK, width=pens.RULE, gid="floor")
    page.strokes(
        [((_LEFT_MM - 1.0, top), (page.width - _RIGHT_GAP_MM, top))],
        color=pens.BLACK,
        width=pens.FINE,
        dash=pens.DAYLIGHT_DASH,
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
