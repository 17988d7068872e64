"""The plan on one page: the yard's contours and shots, the building and its pad, cut and fill, water.

It draws what was computed before; it decides only how large, how much of the yard, and which labels stand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.labels import without_room
from gradework.drawings.lettering import letters_not_drawn, name, shortened
from gradework.drawings.nearby import draw_nearby, widened
from gradework.drawings.page import (
    HEIGHT_MM,
    LEGEND_WORDS,
    ROW_MM,
    WIDTH_MM,
    MapWindow,
    Page,
    choose_scale,
    draw_legend,
)
from gradework.drawings.plan.breaklines import draw_breaklines
from gradework.drawings.plan.cutfill import difference_points, draw_cut_and_fill, draw_differences
from gradework.drawings.plan.door import draw_door
from gradework.drawings.plan.finished import finished_contours, mark_sections
from gradework.drawings.plan.ground import (
    PlanCanvas,
    draw_contours,
    draw_high_and_low,
    draw_spots,
    index_every,
)
from gradework.drawings.plan.outlines import (
    WORDS,
    draw_level,
    draw_outline,
    draw_piers_or_slab,
    draw_sides,
    draw_slope_strokes,
    rows_of_other,
)
from gradework.drawings.plan.roof import draw_roof_water
from gradework.drawings.plan.soil import draw_soil
from gradework.drawings.plan.water import (
    draw_drainage,
    draw_led,
    draw_pipes_out,
    draw_rain,
    draw_slope_arrows,
)
from gradework.drawings.section.cut import cut_lines
from gradework.errors import Finding
from gradework.foundations.pad.quantities import BatteredEdge, BoxedEdge
from gradework.ground.contours import trace
from gradework.ground.levels import FLAT, choose_interval, contour_levels
from gradework.sitework.past_walls import led
from gradework.sitework.setout import FINISHED
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.edge import EdgeBuilt
    from gradework.project.plan import Plan
    from gradework.units.display import Display


Floats = NDArray[np.float64]

_MAP_LEFT_MM = 6.5
_BAND_MM, _BAND_ROWS_MM = 96.0, 11 * ROW_MM
_LEAST_MAP_MM = 95.0
_LABEL_ROOM_MM = (7.0, 6.5)
_LEAST_BUILDING_MM = 22.0
_AROUND = 2.0
NEAR = 5.0
"""What stands within this of the survey [m] is shown."""

MOST_NAMES = 5_000
"""Of so many stations the names are looked at for letters that cannot be drawn."""
_COLUMN_MM, _GAP_MM = 59.0, 4.0
_TABLE_LEFT_MM = frame.SIDE_MM + 2 * (_COLUMN_MM + _GAP_MM)


def draw_plan(plan: Plan) -> matplotlib.figure.Figure:
    """Draw the contour plan: ground, building, what is built, drainage, on a page of 190 by 259 mm.

    Parameters
    ----------
    plan
        What ``gradework.plan`` gave.

    Returns
    -------
    matplotlib.figure.Figure
        To scale; no window keeps it, so ``figure.savefig`` or a notebook shows it. What found no room on it
        is left out; ``plan_and_findings`` tells it.

    Examples
    --------
    >>> import gradework as gw
    >>> figure = gw.draw_plan(gw.plan("data/spring-pump-house/job.toml"))
    >>> [round(25.4 * inches) for inches in figure.get_size_inches()]           # mm
    [190, 259]
    """
    return plan_and_findings(plan)[0]


def plan_and_findings(plan: Plan) -> tuple[matplotlib.figure.Figure, tuple[Finding, ...]]:
    """Draw the plan on a page of 190 by 259 mm, and tell which names found no room.

    ``plan`` is everything that was computed for a job (``project.plan.Plan``). Returns a matplotlib Figure
    for ``save.figure_bytes``. A flat site has no contours and says so; a yard much larger than the building
    is shown around the building only and says so.
    """
    with steady():
        page = Page()
        window, whole = _lay_out(plan)
        canvas = PlanCanvas.start(page, window, plan.job.show, plan.stations.ground)
        frame.draw_border(page, window, plan.job.show)
        _draw_map(canvas, plan)
        _draw_around(canvas, plan, whole=whole)
        return page.finish(), tuple(canvas.findings)


def _lay_out(plan: Plan) -> tuple[MapWindow, bool]:
    """Choose what to show, at which scale, how high; and tell whether it is the whole survey."""
    low, high, whole = _shown(plan)
    top = HEIGHT_MM - frame.TITLE_MM
    right = WIDTH_MM - frame.SIDE_MM
    # a longer table takes its room from the map
    more = frame.rows_mm(_rows(plan)[1], right - _TABLE_LEFT_MM) - _BAND_ROWS_MM
    room_high = top - _BAND_MM - max(0.0, more)
    room = (right - _MAP_LEFT_MM - 2 * _LABEL_ROOM_MM[0], room_high - 2 * _LABEL_ROOM_MM[1])
    wide, tall = (float(side) for side in high - low)
    scale = choose_scale((wide, tall), room, plan.job.show)
    height = min(max(tall * scale.mm_per_m + 2 * _LABEL_ROOM_MM[1], _LEAST_MAP_MM), room_high)
    middle = (low + high) / 2
    window = MapWindow(_MAP_LEFT_MM, top - height, right, top, (float(middle[0]), float(middle[1])), scale)
    return window, whole


def _shown(plan: Plan) -> tuple[Floats, Floats, bool]:
    """The corners ``(2,)`` [m] of what is shown: the survey, or the surroundings of a building lost in it."""
    hull = plan.surface.hull_xy
    low, high = hull.min(axis=0), hull.max(axis=0)
    bounds = np.array(plan.pad.outline.bounds).reshape(2, 2)
    building = float((bounds[1] - bounds[0]).max())
    if float((high - low).max()) * _LEAST_BUILDING_MM <= building * 160.0:
        return *widened(low, high, plan.nearby, NEAR), True
    around = _AROUND * building
    return np.maximum(low, bounds[0] - around), np.minimum(high, bounds[1] + around), False


def _draw_map(canvas: PlanCanvas, plan: Plan) -> None:
    """Draw the layers; what comes first keeps its labels."""
    pad, surface, xyz = plan.pad, plan.surface, plan.stations.xyz
    level, on_pad = pad.chosen.level, plan.foundations.chosen == "pad"
    if on_pad:
        corners = np.array(pad.pieces.corners)
        corners[:, :, :2] += pad.pieces.origin
        draw_cut_and_fill(canvas, corners, level)
    _draw_near(canvas, plan)
    draw_outline(canvas, plan.building.rings, "Building", width=pens.FOOTPRINT, dash=pens.SOLID)
    draw_door(canvas, plan.foundations.access)
    if plan.shape.relief >= FLAT:
        draw_high_and_low(canvas, plan.shape)
    if on_pad:
        draw_outline(canvas, pad.outline.rings, "Edge of the gravel pad", width=pens.PAD, dash=pens.PAD_DASH)
        words, around = FINISHED.capitalize(), pad.outline.rings[0]
        draw_level(canvas, plan.building.rings, around, words, canvas.show.elevation(level))
    else:
        draw_piers_or_slab(canvas, plan)
    low, high = _elevations_shown(canvas.window, plan)
    interval = choose_interval(low, high, canvas.show)
    draw_sides(canvas, plan.building.rings[0])
    draw_breaklines(canvas, surface)
    if on_pad:
        points = difference_points(
            pad.outline, xyz[pad.outline.contains(xyz[:, :2]), :2], canvas.window.scale
        )
        stakes = sum(map(len, pad.outline.rings))
        draw_differences(canvas, points, surface.elevation(points), level, stakes=stakes)
        _draw_batter(canvas, pad)
    bends = [line for one in led(plan.measures) for line in one.bends]
    mark_sections(canvas, cut_lines(plan), pad.outline.rings[0] if on_pad else plan.building.rings[0], bends)
    covered = pad.edge.slopes.daylight if isinstance(pad.edge, BatteredEdge) else pad.outline.rings
    canvas.keep_out([canvas.window.to_page(r) for r in (covered if on_pad else plan.building.rings)])
    if interval > 0:
        levels = contour_levels(low, high, canvas.show)
        made = finished_contours(surface, plan.finished, levels)
        draw_contours(canvas, trace(surface, levels), interval, xyz, made)
    draw_soil(canvas, plan.soil)
    draw_spots(canvas, xyz, plan.stations.names)
    if plan.drainage is not None:
        draw_drainage(canvas, surface, plan.drainage)
    draw_led(canvas, plan.measures, plan.catchments[1])
    if plan.foundations.chosen == "pad" and plan.pad.basin is not None:
        draw_pipes_out(canvas, plan.pad.basin.pipes)
    draw_roof_water(canvas, plan.foundations.roof)
    draw_rain(canvas, plan.rain, plan.catchments)
    draw_slope_arrows(canvas, surface)


def _draw_near(canvas: PlanCanvas, plan: Plan) -> None:
    """Draw what stands near, with its names; one that finds no room is told."""
    entries, left_out = draw_nearby(canvas.page, canvas.window, canvas.taken, plan.nearby)
    canvas.entries += entries
    canvas.findings += without_room("The plan", left_out, len(plan.nearby))


def _draw_batter(canvas: PlanCanvas, pad: Pad) -> None:
    """Draw the daylight line of a battered edge, and strokes down its slopes."""
    if isinstance(pad.edge, BatteredEdge):
        daylight = pad.edge.slopes.daylight
        draw_slope_strokes(canvas, pad.outline.rings[0], daylight)
        words = f"Daylight line, slopes {frame.plain(pad.spec.batter)}:1"
        draw_outline(canvas, daylight, words, width=pens.RULE, dash=pens.DAYLIGHT_DASH)


def _elevations_shown(window: MapWindow, plan: Plan) -> tuple[float, float]:
    """The lowest and the highest shot in the map's window [m]; of all shots where none is in it."""
    xyz = plan.stations.xyz
    shown = xyz[window.contains(window.to_page(xyz[:, :2])), 2]
    heights = shown if len(shown) else xyz[:, 2]
    return float(heights.min()), float(heights.max())


def _draw_around(canvas: PlanCanvas, plan: Plan, *, whole: bool) -> None:
    """Draw what stands around the map."""
    page, window = canvas.page, canvas.window
    frame.draw_title(
        page,
        title=name(plan.job.name),
        subtitle=f"Contour plan with the {WORDS[plan.foundations.chosen]}",
        right=[f"Scale {window.scale.words}", "Print at 100 % (actual size)"],
        stamp=plan.stamp(),
    )
    foot = frame.draw_caution(page, frame.source_words(plan.stations.file, plan.stations.xyz))
    top = _draw_scales(canvas, plan, whole=whole)
    ends = draw_legend(page, (frame.SIDE_MM, top), canvas.entries, width=_COLUMN_MM, columns=2)
    width = WIDTH_MM - frame.SIDE_MM - _TABLE_LEFT_MM
    end = frame.draw_rows(page, (_TABLE_LEFT_MM, top), *_rows(plan), width=width)
    rows = ((_benchmark_words(plan),), ("Date surveyed:", "Date printed:"), ("Notes:",))
    frame.draw_blank_lines(page, top=min(ends, end), bottom=foot, rows=rows)


_MARKS_MM = 120.0


def _benchmark_words(plan: Plan) -> str:
    """Name the marks that were given or assumed, with their elevations; where they are is written by hand."""
    marks = [mark for mark in plan.benchmarks if mark.basis != "levelled"]
    if not marks:
        return "Benchmark (where, elevation):"
    told = [f"{name(m.name)} {plan.job.show.elevation(m.elevation)} ({m.basis})" for m in marks]
    start = "Benchmark" if len(marks) == 1 else "Benchmarks"
    return shortened(f"{start}: {', '.join(told)}; where:", LEGEND_WORDS.points, _MARKS_MM)


def _draw_scales(canvas: PlanCanvas, plan: Plan, *, whole: bool) -> float:
    """Draw scale bar, check bars, axes and notes for reading the map; return their lower edge [mm]."""
    window, show = canvas.window, canvas.show
    tons = "; tons of 2,000 lb" if show.us else ""
    notes = [_interval_words(window, plan), f"elevations, distances: {show.unit_title}{tons}"]
    if not whole:
        notes.append("only the ground near the building")
    if letters_not_drawn(map(name, (plan.job.name, *plan.stations.names[:MOST_NAMES]))):
        notes.append("empty box: a letter not drawn here")
    north = plan.job.site.north
    return frame.draw_reading_aids(canvas.page, window.bottom, window.scale, show, notes, north=north)


def _interval_words(window: MapWindow, plan: Plan) -> str:
    show = plan.job.show
    interval = choose_interval(*_elevations_shown(window, plan), show)
    if interval <= 0:
        return "the ground is flat: no contours"
    step = show.in_units(interval)
    inches = step * 12
    small = not show.metric and step < 1 and abs(inches - round(inches)) < 1e-9
    words = f"{round(inches)} in" if small else f"{frame.plain(round(step, 9))} {show.unit_name}"
    return f"contours every {words}, each {index_every(step)}th heavy"


def _rows(plan: Plan) -> tuple[str, list[tuple[str, str]]]:
    """The heading and the rows of the table: those of the foundation that is chosen."""
    if plan.foundations.chosen == "pad":
        return "The pad", _pad_rows(plan)
    return rows_of_other(plan)


def _pad_rows(plan: Plan) -> list[tuple[str, str]]:
    """What the builder asks first, in his units; every volume says its state."""
    show, pad, chosen = plan.job.show, plan.pad, plan.pad.chosen
    beside = plan.foundations.options["pad"].beside
    return [
        (FINISHED.capitalize(), show.elevation(chosen.level)),
        ("Rule", chosen.rule),
        ("Building", show.area(plan.building.area)),
        ("Fall under the building", plan.stations.ground.elevation(plan.footprint.fall)),
        ("Pad", show.area(pad.outline.area)),
        (f"Cut above {FINISHED}, in place", show.volume(chosen.cut)),
        (f"Fill up to {FINISHED}", show.volume(chosen.fill)),
        ("All digging, in place", show.volume(chosen.dug + beside)),
        *([("of it beside the pad", show.volume(beside))] if beside else []),
        ("Gravel, compacted", show.volume(chosen.gravel)),
        ("Gravel, dry weight", show.mass(plan.gravel.dry_kg)),
        (f"Highest edge ({pad.spec.edge})", show.depth(max(pad.edge.greatest, 0.0))),
        *(_held_rows(pad.edge.built, show) if isinstance(pad.edge, BoxedEdge) else ()),
    ]


def _held_rows(edge: EdgeBuilt, show: Display) -> list[tuple[str, str]]:
    """What holds the edge: its courses, and what goes into the ground."""
    if edge.kind == "none":
        return []
    rows = [("Edge held by", counted(edge.courses, edge.kind))]
    for row in edge.stakes:
        name = "Stakes, 1 board" if row.boards == 1 else "Stakes, 2 boards"
        rows.append((name, f"every {show.length(row.apart)}, {show.depth(row.depth)} deep"))
    if edge.pins:
        rows.append(("Lowest timber", f"buried, pinned every {show.length(edge.pins_apart)}"))
    return rows
