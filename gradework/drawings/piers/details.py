"""All pages about the piers of a plan, as the bytes of files."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.page import HEIGHT_MM, WIDTH_MM, Page, Scale, choose_scale, draw_legend
from gradework.drawings.piers.elevation import (
    Floats,
    PierSheet,
    SideView,
    course_width,
    draw_ground,
    draw_hole,
    draw_pier_rows,
    draw_stack,
    entries,
    spread_out,
)
from gradework.foundations.piers.plan import count_of

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Pier
    from gradework.project.plan import Plan
    from gradework.units.display import Display


# The chain of dimensions beside a pier: the bed, then the courses; equal thin courses are taken together.

GAP_MM = 3.2
"""Labels stand so far apart from middle to middle [mm]."""

_LABEL = Style(points=7)
_CHAIN_MM, _LABEL_MM, _DIMENSION_EDGE_MM = (
    1.0,
    1.9,
    1.2,
)  # the line from the left, its labels from the line, their right


class Span(NamedTuple):
    """One link of the chain: what it says, from which level to which [m]."""

    words: str
    low: float
    high: float


def draw_dimensions(
    page: Page,
    view: SideView,
    sheet: PierSheet,
    pier: Pier,
    *,
    left: float,
    right: float,
    reach: Sequence[float],
) -> None:
    """Draw the chain between ``left`` and ``right``, its labels within ``reach`` (lowest, highest) [mm]."""
    chain = _chain(pier, sheet.show, view.scale, reach[1] - reach[0])
    x = left + _CHAIN_MM
    marks = [view.y(span.low) for span in chain] + [view.y(chain[-1].high)]
    page.strokes([((x, marks[0]), (x, marks[-1]))], color=pens.BLACK, width=pens.FINE, zorder=6.0)
    ticks = [((x - 0.8, y - 0.8), (x + 0.8, y + 0.8)) for y in marks]
    page.strokes(ticks, color=pens.BLACK, width=pens.RULE, zorder=6.0, gid="dimension")
    half = 0.5 * max(count * width for count, width in (course_width(u, pier) for u in pier.laid))
    edge = view.x(sheet.local(pier)[0] + half)
    lines = [((edge + 0.6, y), (x - 1.2, y)) for y in marks[1:]]
    page.strokes(lines, color=pens.FAINT, width=pens.GRID, zorder=4.9)
    middles = [0.5 * (view.y(span.low) + view.y(span.high)) for span in chain]
    for span, middle, y in zip(chain, middles, _within(spread_out(middles, GAP_MM), reach), strict=True):
        if abs(middle - y) > 0.3:
            page.strokes([((x, middle), (x + 1.6, y))], color=pens.SOFT, width=pens.GRID, zorder=6.0)
        text = shortened(span.words, _LABEL.points, right - x - _LABEL_MM)
        page.write(text, (x + _LABEL_MM, y), _LABEL, up="center", role="dimension")


def dimensions_width(pier: Pier, show: Display, scale: Scale, reach: float) -> float:
    """What the chain of a pier takes up beside it [mm], the widest of its words whole; ``reach`` [mm] is how
    high its labels may stand."""
    words = max(width_mm(span.words, _LABEL.points) for span in _chain(pier, show, scale, reach))
    return _CHAIN_MM + _LABEL_MM + words + _DIMENSION_EDGE_MM


def _chain(pier: Pier, show: Display, scale: Scale, reach: float) -> list[Span]:
    return chain_of(pier, show, thin=GAP_MM / scale.mm_per_m, most=int(reach / GAP_MM) + 1)


def chain_of(pier: Pier, show: Display, *, thin: float, most: int) -> list[Span]:
    """Give the links from the bottom up.

    Equal courses one on the other, thinner than ``thin`` [m], make one link: "6 x 1 in". Where that still
    leaves more than ``most`` links, the whole stack makes one.
    """
    level = pier.bottom + pier.bed
    chain = [Span(show.depth(pier.bed), pier.bottom, level)]
    for unit, courses in groupby(pier.laid):
        count, each = len(list(courses)), show.fine.depth(unit.thickness)
        parts = [count] if unit.thickness < thin else [1] * count
        for part in parts:
            high = level + part * unit.thickness
            chain.append(Span(each if part == 1 else f"{part} x {each}", level, high))
            level = high
    if len(chain) <= most:
        return chain
    return [chain[0], Span(f"all {show.depth(pier.height)}", chain[0].high, level)]


def _within(places: list[float], reach: Sequence[float]) -> list[float]:
    """Push labels [mm] that reach too low or too high back, each only as far as its neighbours make it."""
    low, high = reach
    moved = []
    for number, place in enumerate(places):
        moved.append(max(place, low + number * GAP_MM))
    last = len(moved) - 1
    return [min(place, high - (last - number) * GAP_MM) for number, place in enumerate(moved)]


# One panel for each pier, to scale: hole, bed, courses, top, the ground on both sides, with dimensions.

BESIDE = 0.065
"""The ground is shown so far beyond the hole on both sides [m]."""

_SIDE = frame.SIDE_MM
_HEAD_MM, _WORDS_MM, _GAP_MM = 8.0, 3.3, 2.0
_LEGEND_MM = 24.5
_WORD_GAP_MM, _LEADER_MM = 3.0, 1.8
_EDGE_MM = 1.2
_MOST_COLUMNS = 4
_BELOW = 0.06
_NAME = Style(points=11, weight="bold")
_SMALL = Style(points=7, color=pens.SOFT)
_LEVEL = Style(points=7)
_STRONG = Style(points=7, weight="bold")
_LABEL_GAP_MM = 3.2


_LIFE_SIZE = Scale(1.0, "1:1")


@dataclass(frozen=True, slots=True)
class _Grid:
    """How the panels lie on a page: columns, rows, size of a panel and of the drawing in it [mm].

    ``levels`` and ``dimensions`` [mm] are what the elevations take up at the left of a panel and the chain of
    dimensions at its right.
    """

    columns: int
    rows: int
    width: float
    height: float
    drawing: float
    lines: int
    levels: float
    dimensions: float = 0.0
    scale: Scale = _LIFE_SIZE

    @property
    def reach(self) -> float:
        """How high the labels of the dimensions of a panel may stand over the lowest of them [mm]."""
        return self.height - self.lines * _WORDS_MM - _HEAD_MM - 1.1

    @property
    def each(self) -> int:
        return self.columns * self.rows


def draw_pier_details(sheet: PierSheet) -> list[matplotlib.figure.Figure]:
    """Draw the panels, several on a page of 190 by 259 mm, all at one scale; no piers, no page."""
    piers = sheet.piers.piers
    if not piers:
        return []
    with steady():
        grid = _lay_out(sheet)
        count = math.ceil(len(piers) / grid.each)
        figures = []
        for number in range(count):
            part = piers[number * grid.each : (number + 1) * grid.each]
            figures.append(_draw_page(sheet, part, grid, number + 1, count).finish())
        return figures


def _lay_out(sheet: PierSheet) -> _Grid:
    """Take as many panels on a page as leave the largest scale that six panels would have."""
    piers = sheet.piers.piers
    wide = max(pier.hole_size[0] for pier in piers) + 2 * BESIDE
    tall = max(_ceiling(sheet, pier) - pier.bottom + _BELOW for pier in piers)
    levels = _levels_width(sheet)
    room_high = HEIGHT_MM - frame.TITLE_MM - 12.0 - _LEGEND_MM
    best: _Grid | None = None
    for columns in range(_MOST_COLUMNS, 0, -1):
        width = (WIDTH_MM - 2 * _SIDE - (columns - 1) * _GAP_MM) / columns
        lines = max(len(_stack_words(sheet, pier, width)) for pier in piers)
        for rows in (3, 2, 1):
            height = (room_high - (rows - 1) * _GAP_MM) / rows
            drawing = height - _HEAD_MM - lines * _WORDS_MM - 2.0
            if drawing < 20.0:
                continue
            bare = _Grid(columns, rows, width, height, drawing, lines, levels)
            grid = _to_scale(sheet, bare, (wide, tall))
            if grid is not None and (best is None or _better(grid, best, len(piers))):
                best = grid
    assert best is not None
    return best


def _to_scale(sheet: PierSheet, grid: _Grid, size: tuple[float, float]) -> _Grid | None:
    """Choose the scale for drawings of ``size`` [m], beside the dimensions it leaves; None without room.

    On a smaller scale more courses are taken together, which takes longer words.
    """
    dimensions = 0.0
    for _ in range(4):
        across = grid.width - grid.levels - dimensions
        if across < 8.0:
            return None
        scale = choose_scale(size, (across, grid.drawing), sheet.show)
        needed = max(dimensions_width(pier, sheet.show, scale, grid.reach) for pier in sheet.piers.piers)
        if needed <= dimensions:
            break
        dimensions = needed
    return replace(grid, dimensions=dimensions, scale=scale)


def _better(one: _Grid, two: _Grid, piers: int) -> bool:
    """Fewer pages count, but not at the price of a stack too small to read: 1:30 is small enough."""

    def rank(grid: _Grid) -> tuple[bool, int, float]:
        return (grid.scale.ratio > 30.0, math.ceil(piers / grid.each), grid.scale.ratio)

    return rank(one) < rank(two)


def _draw_page(sheet: PierSheet, part: Sequence[Pier], grid: _Grid, number: int, count: int) -> Page:
    page = Page()
    of = f", page {number} of {count}" if count > 1 else ""
    frame.draw_title(
        page,
        title=name(sheet.title),
        subtitle=f"Block piers {name(part[0].name)} to {name(part[-1].name)}, each from the side{of}",
        right=[f"Scale {grid.scale.words}", "Print at 100 % (actual size)"],
        stamp=sheet.stamp,
    )
    foot = frame.draw_caution(page, f"Shots: {name(sheet.source)}. Drawn by gradework.")
    top = HEIGHT_MM - frame.TITLE_MM - 1.0
    for place, pier in enumerate(part):
        row, column = divmod(place, grid.columns)
        left = _SIDE + column * (grid.width + _GAP_MM)
        _draw_panel(page, sheet, pier, grid, (left, top - row * (grid.height + _GAP_MM)))
    level = foot + _LEGEND_MM - 2.0
    frame.draw_scale_bar(page, (_SIDE, level - 7.0), grid.scale, sheet.show, longest=45)
    notes = [
        f"Elevations in {sheet.show.unit_title}. The row runs to the right; you look across it.",
        f"Lay by number. {_sizes(sheet)}",
    ]
    frame.draw_paragraph(page, (_SIDE, level - 10.0), notes, width=58.0)
    draw_legend(page, (66.0, level), entries(sheet.piers), width=58.0, columns=2)
    return page


def _sizes(sheet: PierSheet) -> str:
    """Say whether all holes have one size; there is room for one line."""
    sizes = list(dict.fromkeys(pier.hole_size for pier in sheet.piers.piers))
    if len(sizes) > 1:
        return f"Holes have {len(sizes)} sizes."
    return f"All holes {' x '.join(map(sheet.show.depth, sizes[0]))}."


def _ceiling(sheet: PierSheet, pier: Pier) -> float:
    profile = _profile(sheet, pier)
    return max(pier.top, float(profile[:, 1].max(initial=pier.top)))


def _profile(sheet: PierSheet, pier: Pier) -> Floats:
    along, across = sheet.local(pier)
    reach = 0.5 * pier.hole_size[0] + BESIDE
    return sheet.profile(along - reach, along + reach, across)


def _draw_panel(page: Page, sheet: PierSheet, pier: Pier, grid: _Grid, place: tuple[float, float]) -> None:
    left, top = place
    page.box(left, top - grid.height, grid.width, grid.height, fill=False, edgecolor=pens.FAINT,
             linewidth=pens.GRID, gid=f"panel {pier.name}")  # fmt: skip
    right = left + grid.width
    words = shortened(f"Pier {name(pier.name)}", _NAME.points, 0.6 * grid.width, "bold")
    page.write(words, (left + _EDGE_MM, top - 1.5), _NAME, up="top", role="pier")
    room = grid.width - width_mm(words, _NAME.points, "bold") - 2 * _EDGE_MM - 2.0
    where = shortened(sheet.show.place(pier.x, pier.y), _SMALL.points, room)
    page.write(where, (right - _EDGE_MM, top - 2.3), _SMALL, across="right", up="top", role="place")
    along, _ = sheet.local(pier)
    ceiling = top - _HEAD_MM - (grid.drawing - _tall(sheet, pier) * grid.scale.mm_per_m)
    middle = left + grid.levels + 0.5 * (grid.width - grid.levels - grid.dimensions)
    view = SideView((middle, ceiling), along, _ceiling(sheet, pier), grid.scale)
    profile = _profile(sheet, pier)
    draw_ground(page, view, profile, depth=pier.bottom - _BELOW)
    half = 0.5 * pier.hole_size[0]
    draw_hole(page, view, pier, half, along, profile)
    draw_stack(page, view, pier, along)
    y = top - grid.height + grid.lines * _WORDS_MM + 0.6
    edges = (left + _EDGE_MM, left + _EDGE_MM + grid.levels)
    _draw_levels(page, view, sheet, pier, edges, floor=y + 1.5)
    reach = (y + 1.5, top - _HEAD_MM + 1.0)
    draw_dimensions(page, view, sheet, pier, left=right - grid.dimensions, right=right - 0.6, reach=reach)
    for number, words in enumerate(_stack_words(sheet, pier, grid.width)):
        page.write(words, (left + _EDGE_MM, y - number * _WORDS_MM), _LEVEL, up="top", role="stack")


def _tall(sheet: PierSheet, pier: Pier) -> float:
    return _ceiling(sheet, pier) - pier.bottom + _BELOW


def _stack_words(sheet: PierSheet, pier: Pier, width: float) -> list[str]:
    """Say how the ground lies on both sides, the plan of the hole, and what is laid from the bottom up."""
    along, half = sheet.local(pier)[0], 0.5 * pier.hole_size[0]
    lines = []
    profile = _profile(sheet, pier)
    if len(profile):
        left, right = np.interp([along - half, along + half], *profile.T).tolist()
        number = sheet.show.elevation_number
        lines.append(f"Ground {number(left)} left, {number(right)} right")
    wide, deep = (sheet.show.depth(side) for side in pier.hole_size)
    dug = f"{sheet.show.depth(pier.depth)} deep at the low side"
    lines += wrapped(f"Hole {wide} along by {deep} across, {dug}", _LEVEL.points, width - 2 * _EDGE_MM)
    for place, (unit, group) in enumerate(groupby(unit.name for unit in pier.laid)):
        courses = len(list(group))
        words = count_of(courses * _side_by_side(pier, unit), unit)
        lines += wrapped(f"{place + 1}. {words}", _LEVEL.points, width - 2 * _EDGE_MM)
    return lines


def _side_by_side(pier: Pier, name_of_unit: str) -> int:
    unit = next(unit for unit in pier.laid if unit.name == name_of_unit)
    return course_width(unit, pier)[0]


def _levels_width(sheet: PierSheet) -> float:
    """What the elevations at the left of a panel take up [mm]: the longest word, a gap, the widest figure."""
    piers = sheet.piers.piers
    levels = [level for pier in piers for level in (pier.top, pier.bottom, pier.bottom + pier.bed)]
    figures = max(width_mm(sheet.show.elevation_number(v), _STRONG.points, "bold") for v in levels)
    return width_mm("bottom", _SMALL.points) + _WORD_GAP_MM + figures + _LEADER_MM


def _draw_levels(
    page: Page,
    view: SideView,
    sheet: PierSheet,
    pier: Pier,
    edges: tuple[float, float],
    *,
    floor: float,
) -> None:
    """Write the elevations between two ``edges`` [mm], each with a leader to its level.

    None stands below ``floor`` [mm].
    """
    left, end = edges[0], edges[1] - _LEADER_MM
    half = 0.5 * pier.hole_size[0]
    along = sheet.local(pier)[0]
    levels = [
        ("top", pier.top, along - 0.5 * _stack_width(pier), _STRONG),
        ("bed", pier.bottom + pier.bed, along - half, _LEVEL),
        ("bottom", pier.bottom, along - half, _STRONG),
    ]
    places = spread_out([view.y(level) for _, level, _, _ in levels], _LABEL_GAP_MM)
    lift = max(0.0, floor + 0.5 * _LABEL_GAP_MM - min(places))
    for (words, level, edge, style), y in zip(levels, places, strict=True):
        text = sheet.show.elevation_number(level)
        page.write(words, (left, y + lift), _SMALL, up="center", role="level")
        page.write(text, (end, y + lift), style, across="right", up="center", role="level")
        page.strokes(
            [((end + 0.4, y + lift), (end + 1.6, view.y(level)), (view.x(edge), view.y(level)))],
            color=pens.SOFT,
            width=pens.GRID,
            zorder=6.0,
        )


def _stack_width(pier: Pier) -> float:
    return max(count * width for count, width in (course_width(unit, pier) for unit in pier.laid))


def pier_figures(plan: Plan) -> dict[str, matplotlib.figure.Figure]:
    """Draw the pages about the piers, by name, the rows first.

    Pages are numbered where there are several of a kind. Nothing without piers.
    """
    piers = plan.foundations.piers
    if piers is None or not piers.piers:
        return {}
    source, show = plan.stations.file, plan.job.show
    sheet = PierSheet(
        plan.job.name, source, show, plan.surface, plan.building, piers, stamp=plan.stamp("piers")
    )
    pages = {"pier-rows": draw_pier_rows(sheet), "pier-details": draw_pier_details(sheet)}
    found = {}
    for sheet_name, figures in pages.items():
        for number, figure in enumerate(figures, start=1):
            found[f"{sheet_name}-{number}" if len(figures) > 1 else sheet_name] = figure
    return found
