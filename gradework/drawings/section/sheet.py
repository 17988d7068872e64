"""Sections through the building on one page: along and across, with what is dug and what is laid."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.labels import Taken, corners_of
from gradework.drawings.lettering import Style, name, width_mm
from gradework.drawings.page import (
    WIDTH_MM,
    Entry,
    Page,
    area_entry,
    draw_legend,
    line_entry,
    ring_path,
)
from gradework.drawings.section.cut import Section, cut_lines, section_at
from gradework.drawings.section.view import Calls, View, draw_axes, fitting, taller_words
from gradework.earthwork.grading.finished import DAYLIGHT
from gradework.earthwork.grading.led import NAMES
from gradework.sitework.setout import FINISHED

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.units.display import Display

Floats = NDArray[np.float64]

_LEFT_MM, _RIGHT_MM = 17.0, 3.0
_HIGH_MM = 62.0
"""A view is no higher than this, without the walls above it."""

_WALLS_MM, _BELOW_MM, _AXES_MM, _HEAD_MM = 15.0, 7.0, 9.5, 6.5
_LEGEND_MM, _COLUMN_MM = 29.0, 80.0
_HEADING = Style(points=10, weight="bold")
_FLOOR = Style(points=9, weight="bold")
_SMALL_FLOOR = Style(points=8, weight="bold")
_WALL_WORDS = Style(points=8, color=pens.SOFT)
_GRAVEL, _STONE = "ooo", "OO"
_CONCRETE = "#C9C9C9"
_WORDS = {"pad": "gravel pad", "slab": "slab"}
_UP = (90.0, 60.0, 120.0, 35.0, 145.0, 15.0, 165.0)
_DOWN = (270.0, 300.0, 240.0, 325.0, 215.0)

_AREAS = (
    ("dug", "Dug away", pens.CUT_TINT, pens.CUT_HATCH, pens.EARTH),
    ("filled", "Filled up", pens.FILL_TINT, pens.FILL_HATCH, pens.SOFT),
    ("gravel", "Gravel, compacted", "white", _GRAVEL, pens.SOFT),
    ("concrete", "Concrete", _CONCRETE, "", pens.BLACK),
    ("stone", "Clean stone round the pipe", "white", _STONE, pens.SOFT),
)


def draw_section(plan: Plan) -> matplotlib.figure.Figure | None:
    """Draw the sections through the pad or slab of a plan, along and across; None where piers are built.

    As high as it must be. Heights may be drawn larger than lengths, which the page says.
    """
    lines = cut_lines(plan)
    if not lines:
        return None
    sections = [section_at(plan, line) for line in lines]
    with steady():
        show, built = plan.job.show, _WORDS[plan.foundations.chosen]
        long = max(one.ends[1] - one.ends[0] for one in sections)
        high = max(one.heights[1] - one.heights[0] for one in sections)
        scale, taller = fitting(long, high, (WIDTH_MM - _LEFT_MM - _RIGHT_MM, _HIGH_MM), show)
        each = [(one.heights[1] - one.heights[0]) * scale.mm_per_m * taller for one in sections]
        around = _WALLS_MM + _BELOW_MM + _AXES_MM + _HEAD_MM
        page = Page(height_mm=frame.TITLE_MM + sum(each) + around * len(each) + _LEGEND_MM + 14.0)
        frame.draw_title(
            page,
            title=name(plan.job.name),
            subtitle=f"Sections through the building and the {built}; {taller_words(taller)}",
            right=[f"Scale {scale.words}", "Print at 100 % (actual size)"],
            stamp=plan.stamp(),
        )
        top = page.height - frame.TITLE_MM
        for one, tall in zip(sections, each, strict=True):
            bottom = top - around - tall + _AXES_MM
            low = one.heights[0] - _BELOW_MM / scale.mm_per_m / taller
            view = View((_LEFT_MM, bottom), one.ends[0], low, scale, taller)
            page.write(_title(one), (_LEFT_MM, top - 1.0), _HEADING, up="top", role="section")
            _draw_view(page, view, one, show, (tall + _BELOW_MM + _WALLS_MM) / scale.mm_per_m / taller)
            top = bottom - _AXES_MM
        draw_legend(page, (frame.SIDE_MM, top - 2.0), _entries(sections), width=_COLUMN_MM, columns=2)
        frame.draw_caution(page, frame.source_words(plan.stations.file, plan.stations.xyz))
        return page.finish()


def _title(one: Section) -> str:
    """Name a section as the marks on the plan do."""
    letter = one.line.letter
    return f"Section {letter}-{letter}', {'along' if letter == 'A' else 'across'} the building"


def _draw_view(page: Page, view: View, one: Section, show: Display, high: float) -> None:
    """Draw one section with its axes; ``high`` [m] is how much of elevation it shows."""
    size = (one.ends[1] - one.ends[0], high)
    zero = one.walls[0][0] if one.walls else one.spans[0][0]
    draw_axes(
        page, view, size, show, zero=zero, name=f"{show.unit_title.capitalize()} from the wall at the left"
    )
    for kind, words, tint, hatch, color in _AREAS:
        areas = [view.to_page(area) for area in getattr(one, kind)]
        if areas:
            patch = matplotlib.patches.PathPatch(
                ring_path(areas),
                facecolor=tint,
                edgecolor=color,
                linewidth=0.0,
                hatch=hatch,
                zorder=1.5,
                gid=words,
            )
            page.axes.add_artist(patch)
            outline = [np.vstack([area, area[:1]]) for area in areas]
            page.strokes(outline, color=color, width=pens.GRID, zorder=1.6)
    before, after = ([view.to_page(line) for line in lines] for lines in (one.ground, one.finished))
    page.strokes(before, color=pens.EARTH, width=pens.RULE, dash=pens.EVEN_DASH, zorder=4.2, gid="existing")
    page.strokes(after, color=pens.BLACK, width=pens.INDEX, zorder=4.0, gid="finished")
    right, top = view.place(view.u + size[0], view.level + size[1])
    calls = Calls(page, Taken((view.corner[0] + 0.5, view.corner[1] + 0.5, right - 0.5, top - 0.5)))
    for line in (*before, *after, *(view.to_page(area) for area in one.dug)):
        calls.keep_off(line)
    _draw_walls(page, view, one, show, calls)
    _call(view, one, show, calls)


def _draw_walls(page: Page, view: View, one: Section, show: Display, calls: Calls) -> None:
    """Draw the walls as an outline cut off above, and write the level of the floor between them."""
    top = view.place(0.0, one.floor)[1] + _WALLS_MM - 3.0
    for first, last in one.walls:
        (left, floor), (right, _) = view.place(first, one.floor), view.place(last, one.floor)
        sides = [((x, floor), (x, top)) for x in (left, right)]
        page.strokes(sides, color=pens.BLACK, width=pens.INDEX, zorder=4.5, gid="wall")
        page.strokes(
            [((left, floor), (right, floor))], color=pens.BLACK, width=pens.FOOTPRINT, zorder=4.6, gid="floor"
        )
        page.strokes(
            [((left, top), (right, top))],
            color=pens.SOFT,
            width=pens.FINE,
            dash=pens.DAYLIGHT_DASH,
            zorder=4.4,
        )
        for side in sides:
            calls.keep_off(np.array(side))
        calls.taken.take((left, floor, right, top))
        for height, line, style in _said_inside(show.elevation(one.floor), right - left):
            place = ((left + right) / 2, floor + height)
            box = page.write(line, place, style, across="center", role="floor").box
            page.clear_ground(corners_of((box[0] - 0.5, box[1] - 0.7, box[2] + 0.5, box[3] + 0.6)))


def _said_inside(level: str, room: float) -> list[tuple[float, str, Style]]:
    """What is written between two walls ``room`` [mm] apart: how high above the floor [mm], the words."""
    words = FINISHED.capitalize()
    choices = (
        [(2.4, f"{words} {level}", _FLOOR), (7.4, "building", _WALL_WORDS)],
        [(6.6, words, _SMALL_FLOOR), (2.4, level, _SMALL_FLOOR)],
        [(2.4, level, _SMALL_FLOOR)],
    )
    for lines in choices:
        if max(width_mm(line, style.points, style.weight) for _, line, style in lines) + 2.0 <= room:
            return lines
    return []


def _call(view: View, one: Section, show: Display, calls: Calls) -> None:
    """Say how high edges stand, how deep the dig goes, and how low a swale or drain lies."""
    for bottom in one.bottoms:
        words = f"{NAMES[bottom.kind]} bottom {show.elevation(bottom.level)}"
        place = view.place(bottom.u, bottom.level)
        calls.say(words, place, (*_UP, *_DOWN) if bottom.kind != "drain" else (*_DOWN, *_UP), role="bottom")
    u, level = one.deepest
    calls.say(f"dig to {show.elevation(level)}", view.place(u, level), _DOWN, role="dig")
    for span in one.spans:
        for u, way in ((span[0], 180.0), (span[1], 0.0)):
            foot = _beside(one, u, outward=1.0 if way == 0.0 else -1.0)
            if (
                foot is not None
                and one.floor - foot > DAYLIGHT
                and show.depth(one.floor - foot) != show.depth(0.0)
            ):
                place = view.place(u, (one.floor + foot) / 2)
                ways = (way, *((25.0, 50.0, 335.0, 310.0) if way == 0.0 else (155.0, 130.0, 205.0, 230.0)))
                calls.say(f"edge {show.depth(one.floor - foot)}", place, ways, role="edge")


def _beside(one: Section, u: float, *, outward: float) -> float | None:
    """How high the finished ground stands at the foot of an edge [m], on its outer side."""
    for line in one.finished:
        near = line[np.abs(line[:, 0] - u) < 1e-6]
        if len(near) > 1:
            return float(near[0 if outward < 0.0 else -1, 1])
    return None


def _entries(sections: Sequence[Section]) -> list[Entry]:
    found = [
        line_entry("Ground as surveyed", color=pens.EARTH, width=pens.RULE, dash=pens.EVEN_DASH),
        line_entry("Finished ground", color=pens.BLACK, width=pens.INDEX),
    ]
    for kind, words, tint, hatch, color in _AREAS:
        if any(getattr(one, kind) for one in sections):
            found.append(area_entry(words, face=tint, hatch=hatch, edge=color))
    found.append(Entry("Walls and floor, not to their height", _wall_sample))
    return found


def _wall_sample(page: Page, x: float, y: float) -> None:
    page.strokes(
        [((x + 2, y + 1.6), (x + 2, y - 1.4)), ((x + 10, y + 1.6), (x + 10, y - 1.4))],
        color=pens.BLACK,
        width=pens.INDEX,
    )
    page.strokes([((x + 2, y - 1.4), (x + 10, y - 1.4))], color=pens.BLACK, width=pens.FOOTPRINT)
