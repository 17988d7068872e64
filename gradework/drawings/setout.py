"""The sheet for setting out: order of work, lengths to measure, and every stake with boxes to tick."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.frame import SIDE_MM, TITLE_MM, draw_caution, draw_title
from gradework.drawings.labels import Taken, box_around, corners_of, place_names, without_room
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.page import (
    HEIGHT_MM,
    WIDTH_MM,
    MapWindow,
    Page,
    choose_scale,
    draw_blank_line,
    ring_path,
)
from gradework.errors import Finding

if TYPE_CHECKING:
    from gradework.project.setout import SettingOut
    from gradework.sitework.setout import StakedPoint
    from gradework.units.display import Display


# One stake on the sheet: where it goes, how it is marked, and what is read at each level.

_NAME = Style(points=13, weight="bold")
_STAKE_MARK = Style(points=13, weight="bold")
_PLACE = Style(points=9.5)
_BLOCK_WORDS = Style(points=9.5)
_HEAD = Style(points=8, color=pens.SOFT)
_BLOCK_SMALL = Style(points=8)
_LEVEL = Style(points=10)
_ROD = Style(points=13, weight="bold")
_TICK_MM, _EDGE_MM = 4.2, 2.0
_LEAST_WHAT_MM = 14.0
_PLACE_MM, _ROW_MM, _NAME_MM, _HEAD_MM = 4.8, 6.8, 8.0, 4.4


def block_height(point: StakedPoint, made: SettingOut) -> float:
    """How high the block of a stake stands [mm]."""
    levels = point.stake.worked_to
    table = _HEAD_MM + len(levels) * _ROW_MM if levels else 0.0
    return _NAME_MM + len(_places(point, made)) * _PLACE_MM + table + 2.0


def _places(point: StakedPoint, made: SettingOut) -> list[str]:
    """Say where the stake goes: coordinates, along and square to the baseline, by two tapes."""
    show, stake = made.plan.job.show, point.stake
    lines = [f"x {show.taped_number(stake.x)}   y {show.taped(stake.y)}"]
    if point.baseline is not None:
        offset = point.baseline.offset
        side = "L" if offset > 0 else "R"
        away = show.taped_number(abs(offset))
        words = "on the line" if away == show.taped_number(0.0) else f"{away} {side}"
        lines[0] += f"   along {show.taped_number(point.baseline.along)}, {words}"
    if point.tie is not None:
        tie = point.tie
        weak = ", weak" if tie.weak else ""
        hand = "" if tie.side == "on the line" else f"  {tie.side}"
        lines.append(
            f"{_mark(tie.first)} {show.taped(tie.from_first)}   {_mark(tie.second)} "
            f"{show.taped(tie.from_second)}{hand}{weak}"
        )
    return lines


def _mark(text: str) -> str:
    return shortened(name(text), _PLACE.points, 26.0)


def draw_block(
    page: Page, place: tuple[float, float], point: StakedPoint, made: SettingOut, *, width: float
) -> None:
    """Draw a stake's block with its upper left corner at ``place`` [mm]."""
    left, top = place
    show, height = made.plan.job.show, block_height(point, made)
    page.box(left, top - height, width, height, fill=False, linewidth=pens.RULE, gid="stake")
    _tick(page, left + _EDGE_MM, top - 1.8)
    mark = "" if point.mark is None else point.mark.text(show)
    page.write(mark, (left + width - _EDGE_MM, top - 2.2), _STAKE_MARK, across="right", up="top", role="mark")
    room = width - _TICK_MM - 3 * _EDGE_MM - width_mm(mark, _STAKE_MARK.points, "bold") - 3.0
    if mark and len(point.stake.worked_to) > 1:
        leads = f"to {point.marked_for}:"
        at = (left + width - _EDGE_MM - width_mm(mark, _STAKE_MARK.points, "bold") - 1.8, top - 3.4)
        page.write(leads, at, _BLOCK_SMALL, across="right", up="top", role="mark for")
        room -= width_mm(leads, _BLOCK_SMALL.points) + 1.8
    words = shortened(name(point.stake.name), _NAME.points, room, "bold")
    page.write(words, (left + _TICK_MM + 2 * _EDGE_MM, top - 2.2), _NAME, up="top", role="stake")
    y = top - _NAME_MM
    for line in _places(point, made):
        text = shortened(line, _PLACE.points, width - 2 * _EDGE_MM)
        page.write(text, (left + _EDGE_MM, y), _PLACE, up="top", role="place")
        y -= _PLACE_MM
    if point.stake.worked_to:
        _draw_levels(page, (left, y), point, show, width=width)


def _draw_levels(
    page: Page, place: tuple[float, float], point: StakedPoint, show: Display, *, width: float
) -> None:
    left, y = place
    readings = {reading.what: reading for reading in point.readings}
    strings = dict(point.from_string)
    rods = {what: show.rod_number(one.reading) for what, one in readings.items() if one.reach == "yes"}
    hung = {what: show.hung(height) for what, height in strings.items()}
    # the columns of figures stand from right to left: string, rod, elevation
    first = max([18.0, *(width_mm(text, _LEVEL.points) + 3.0 for text in hung.values())]) if hung else 0.0
    second = max(
        [18.0 if hung else 20.0, *(width_mm(text, _ROD.points, "bold") + 3.0 for text in rods.values())]
    )
    ends = [left + width - _EDGE_MM - shift for shift in (first, first + second)]
    figures = max(width_mm(show.elevation_number(level), _LEVEL.points) for _, level in point.stake.worked_to)
    start = left + _TICK_MM + 2 * _EDGE_MM
    # in feet and inches rod and string leave no room for the elevation, which nobody reads at the stake
    told = ends[1] - figures - 2.0 - start >= _LEAST_WHAT_MM
    room = (ends[1] - figures if told else ends[1]) - 2.0 - start
    heads = [("rod", ends[0]), *([("elevation", ends[1])] if told else [])]
    if strings:
        heads.append(("string", left + width - _EDGE_MM))
    for words, x in heads:
        page.write(words, (x, y - 0.8), _HEAD, across="right", up="top", role="head")
    y -= _HEAD_MM
    for what, level in point.stake.worked_to:
        _tick(page, left + _EDGE_MM, y - 0.6)
        _write_what(page, (start, y), what, room)
        if told:
            page.write(show.elevation_number(level), (ends[1], y - 1.2), _LEVEL, across="right", up="top")
        if what in readings:
            page.write(
                rods.get(what, "no rod"), (ends[0], y - 0.8), _ROD, across="right", up="top", role="rod"
            )
        else:
            page.strokes(
                [((ends[0] - 14.0, y - 5.4), (ends[0], y - 5.4))],
                color=pens.BLACK,
                width=pens.FINE,
                gid="rule to write on",
            )
        if what in strings:
            at = (left + width - _EDGE_MM, y - 1.2)
            page.write(hung[what], at, _LEVEL, across="right", up="top", role="string")
        y -= _ROW_MM


def _write_what(page: Page, place: tuple[float, float], what: str, room: float) -> None:
    """Write what is read, on two smaller lines where one does not hold it."""
    left, y = place
    if width_mm(what, _BLOCK_WORDS.points) <= room:
        page.write(what, (left, y - 1.2), _BLOCK_WORDS, up="top", role="what")
        return
    lines = wrapped(what, _BLOCK_SMALL.points, room)
    lines = [lines[0], shortened(" ".join(lines[1:]), _BLOCK_SMALL.points, room)] if len(lines) > 1 else lines
    for number, line in enumerate(lines):
        page.write(line, (left, y - 0.7 - 3.0 * number), _BLOCK_SMALL, up="top", role="what")


def _tick(page: Page, left: float, top: float) -> None:
    page.box(left, top - _TICK_MM, _TICK_MM, _TICK_MM, fill=False, linewidth=pens.RULE, gid="box to tick")


# The sketch on the sheet for setting out: building, stakes, marks and the baseline.

Floats = NDArray[np.float64]

_LABEL = Style(points=8)
_SKETCH_MARK = Style(points=9, weight="bold")
_SKETCH_SMALL = Style(points=8, color=pens.SOFT)
_ROOM_MM = 15.0
_LEAST_MM = 35.0
_MARK_MM = 1.8


def draw_stake_sketch(page: Page, box: tuple[float, float, float, float], made: SettingOut) -> list[str]:
    """Draw the sketch into ``box`` (left, bottom, right, top) [mm]; nothing where there is no room for it.

    Returns the names that found no room in the sketch.
    """
    left, bottom, right, top = box
    if top - bottom < _LEAST_MM or not made.sheet.points:
        return []
    show = made.plan.job.show
    stakes = np.array([(p.stake.x, p.stake.y) for p in made.sheet.points])
    marks = np.array([(m.x, m.y) for m in made.marks]).reshape(-1, 2)
    ring = made.plan.building.rings[0]
    everything = np.vstack([stakes, marks, ring])
    low, high = everything.min(axis=0), everything.max(axis=0)
    wide, tall = (float(v) for v in high - low)
    room = (right - left - 2 * _ROOM_MM, top - bottom - 12.0)
    scale = choose_scale((max(wide, 0.5), max(tall, 0.5)), room, show)
    middle = (low + high) / 2
    window = MapWindow(left, bottom, right, top, (float(middle[0]), float(middle[1])), scale)
    building = window.to_page(ring)
    page.axes.add_artist(
        matplotlib.patches.PathPatch(
            ring_path([building]), fill=False, linewidth=pens.RULE, edgecolor=pens.BLACK
        )
    )
    if len(marks) >= 2:
        line = window.to_page(marks[:2])
        page.strokes([line], color=pens.SOFT, width=pens.FINE, dash=pens.DAYLIGHT_DASH, gid="baseline")
    places, at = window.to_page(marks), window.to_page(stakes)
    page.axes.plot(*places.T, "^", markersize=8, color=pens.BLACK, markerfacecolor="white")
    page.axes.plot(*at.T, "s", markersize=3.5, color=pens.BLACK, markerfacecolor=pens.BLACK)
    taken = Taken((left, bottom + 3.5, right, top))
    for x, y in (*places.tolist(), *at.tolist()):
        taken.take(box_around((x, y), _MARK_MM, _MARK_MM))
    left_out = _label(page, taken, places, [m.name for m in made.marks], _SKETCH_MARK)
    names = [p.stake.name.removeprefix("pier ") for p in made.sheet.points]
    left_out += _label(page, taken, at, names, _LABEL)
    words = f"Sketch, {scale.words}: triangles are marks, squares stakes, the dashed line is the baseline."
    if left_out:
        words += f" No room for {len(left_out)} names."
    page.write(words, (left, bottom), _SKETCH_SMALL, role="sketch")
    return left_out


def _label(page: Page, taken: Taken, places: Floats, texts: list[str], style: Style) -> list[str]:
    """Write the names beside their places ``(n, 2)`` [mm] or on leaders; return those without room."""
    boxes = [box_around((x, y), _MARK_MM, _MARK_MM) for x, y in places.tolist()]
    shown = [name(text) for text in texts]
    standing = place_names(boxes, shown, taken, style)
    leaders = [one.leader for one in standing if one.leader is not None]
    page.strokes(leaders, color=pens.SOFT, width=pens.FINE, gid="leaders of names")
    for one in standing:
        page.clear_ground(corners_of(one.box))
        page.write(
            one.text,
            one.place,
            one.style,
            across="center",
            up="center",
            degrees=one.degrees,
            role="stake name",
        )
    stand = {one.number for one in standing}
    return [text for number, text in enumerate(shown) if number not in stand]


TICK_MM = 4.2
"""A box to tick [mm]."""

_BUILT = {"pad": "gravel pad", "piers": "block piers", "slab": "slab"}
_LEVELS = {"pad": "top of gravel", "piers": "top of piers", "slab": "top of slab"}
_GAP_MM, _LINE_MM = 4.0, 5.4
_COLUMNS = 2
_HEADING = Style(points=12, weight="bold")
_STEP = Style(points=11)
_BIG = Style(points=17, weight="bold")
_WORDS = Style(points=10)
_VALUE = Style(points=12, weight="bold")
_SMALL = Style(points=8.5, color=pens.SOFT)


def setout_and_findings(
    made: SettingOut,
) -> tuple[list[matplotlib.figure.Figure], tuple[Finding, ...]]:
    """Draw all pages, and tell which names found no room in the sketch."""
    with steady():
        first = _start(made, "Order of work, and what to measure")
        told = _draw_first(first, made)
        pages = [first]
        waiting = list(made.sheet.points)
        while waiting:
            page = _start(made, "Stakes: places, marks and readings")
            _fill(page, made, waiting)
            pages.append(page)
        for number, page in enumerate(pages, start=1):
            edge = page.width - SIDE_MM
            words = f"page {number} of {len(pages)}"
            page.write(words, (edge, page.height - 11.6), _SMALL, across="right", role="page")
        return [page.finish() for page in pages], told


def _start(made: SettingOut, subtitle: str) -> Page:
    page = Page()
    level = made.plan.job.show.elevation(made.level)
    title = f"Setting out: {name(made.plan.job.name)}"
    draw_title(
        page, title=title, subtitle=subtitle, right=[f"{_LEVELS[made.kind]} {level}", "Print at 100 %"]
    )
    return page


def _draw_first(page: Page, made: SettingOut) -> tuple[Finding, ...]:
    """Draw the page that is read before the first stake goes in."""
    y = page.height - TITLE_MM - 2.0
    y = _draw_instrument(page, made, y)
    page.write("Order of work", (SIDE_MM, y), _HEADING, up="top", role="heading")
    y -= 8.0
    for step in made.sheet.steps:
        draw_tick(page, SIDE_MM, y)
        for line in wrapped(step, _STEP.points, page.width - 2 * SIDE_MM - TICK_MM - 3.0):
            page.write(line, (SIDE_MM + TICK_MM + 2.5, y - 0.6), _STEP, up="top", role="step")
            y -= _LINE_MM
        y -= 1.4
    foot = draw_caution(page, f"Set out from the plan of the {_BUILT[made.kind]}. Drawn by gradework.")
    y = _draw_measures(page, made, y - 1.5)
    left_out = draw_stake_sketch(page, (SIDE_MM, foot + 2.0, page.width - SIDE_MM, y - 2.0), made)
    return without_room("The sketch", left_out, len(made.marks) + len(made.sheet.points))


def _draw_instrument(page: Page, made: SettingOut, top: float) -> float:
    """Draw the height of the instrument in large figures, or rules to write it on; return the next line."""
    show, sheet = made.plan.job.show, made.sheet
    height = 17.0
    page.box(
        SIDE_MM, top - height, page.width - 2 * SIDE_MM, height, fill=False, linewidth=pens.RULE, gid="HI"
    )
    left = SIDE_MM + 3.0
    if sheet.instrument is None:
        marks = [mark for mark in made.plan.benchmarks if mark.basis != "levelled"]
        start = ("Benchmark _", "its elevation _")
        if marks:
            start = (_mark(marks[0].name), show.elevation(marks[0].elevation))
        parts = (*start, "+ backsight _", f"= HI _ {show.unit_mark}")
        draw_blank_line(page, (left, top - 7.5), parts, width=page.width - 2 * SIDE_MM - 6.0)
        words = "Rod reading on grade = HI - elevation. Write it beside each level."
        page.write(words, (left, top - 14.0), _WORDS, role="instrument")
    else:
        words = f"HI {show.elevation(sheet.instrument)}"
        page.write(words, (left, top - 2.6), _BIG, up="top", role="instrument")
        room = page.width - 2 * SIDE_MM - 6.0
        text = shortened(_instrument_words(made), _WORDS.points, room)
        page.write(text, (left, top - 14.0), _WORDS, role="instrument")
    if sheet.string is not None:
        text = f"String at {show.elevation(sheet.string)}"
        # beside the height of the instrument, or below the rules that it is written on
        at = (page.width - SIDE_MM - 3.0, top - (14.0 if sheet.instrument is None else 6.2))
        page.write(text, at, _VALUE, across="right", role="string")
    return top - height - 4.5


def _instrument_words(made: SettingOut) -> str:
    show, seen = made.plan.job.show, made.backsight
    after = "Read the same mark again before you pack up."
    if seen is None:
        return f"Write down the mark it was read from. {after}"
    return (
        f"{name(seen.name)} at {show.elevation(seen.elevation)} + backsight {show.rod(seen.reading)}. {after}"
    )


def _draw_measures(page: Page, made: SettingOut, top: float) -> float:
    """Draw the sides and diagonals with boxes and room for what was measured; return the lower edge."""
    checks, show = made.sheet.checks, made.plan.job.show
    if not checks:
        return top
    page.write("Measure", (SIDE_MM, top), _HEADING, up="top", role="heading")
    allowed = f"the two diagonals of four corners may differ by {show.depth(made.sheet.allowed)}"
    after = SIDE_MM + width_mm("Measure", _HEADING.points, "bold") + 3.0
    page.write(allowed, (after, top - 0.7), _WORDS, up="top", role="allowed")
    y, wide = top - 8.0, (page.width - 2 * SIDE_MM - _GAP_MM) / 2
    half = (len(checks) + 1) // 2
    for number, check in enumerate(checks):
        column, row = divmod(number, half)
        left, at = SIDE_MM + column * (wide + _GAP_MM), y - row * 6.6
        draw_tick(page, left, at)
        words = _from_to(check.first, check.second) + (", diag." if check.kind == "diagonal" else "")
        text = show.taped(check.length)
        room = wide - TICK_MM - 3.0 - width_mm(text, _VALUE.points, "bold") - 24.0
        page.write(shortened(words, _WORDS.points, room), (left + TICK_MM + 2.0, at - 0.6), _WORDS, up="top")
        page.write(text, (left + wide - 22.0, at - 0.4), _VALUE, across="right", up="top", role="length")
        rule = [((left + wide - 20.0, at - TICK_MM), (left + wide, at - TICK_MM))]
        page.strokes(rule, color=pens.BLACK, width=pens.FINE, gid="rule to write on")
    return y - half * 6.6


def _from_to(first: str, second: str) -> str:
    """Name two stakes, the word that both share once.

    >>> _from_to("pad 1", "pad 2"), _from_to("pad 1", "slab 2")
    ('pad 1 to 2', 'pad 1 to slab 2')
    """
    kind, _, number = second.rpartition(" ")
    return f"{first} to {number}" if kind and first.startswith(f"{kind} ") else f"{first} to {second}"


def _fill(page: Page, made: SettingOut, waiting: list[StakedPoint]) -> None:
    """Draw as many stakes as find room, in two columns, and take them off the list."""
    wide = (WIDTH_MM - 2 * SIDE_MM - (_COLUMNS - 1) * _GAP_MM) / _COLUMNS
    ceiling, floor = HEIGHT_MM - TITLE_MM - 1.0, 7.0
    page.write(_legend(made, waiting), (SIDE_MM, 1.5), _SMALL, role="legend")
    for column in range(_COLUMNS):
        left, top = SIDE_MM + column * (wide + _GAP_MM), ceiling
        while waiting:
            height = block_height(waiting[0], made)
            if top - height < floor and top < ceiling:
                break
            draw_block(page, (left, top), waiting.pop(0), made, width=wide)
            top -= height + 2.5


def _legend(made: SettingOut, points: Sequence[StakedPoint]) -> str:
    parts = ["C: cut, F: fill, from the ground at the stake"]
    if any(point.baseline for point in points):
        first, second = (name(mark.name) for mark in made.marks[:2])
        parts.append(f"along, L left, R right: of the line from {first} to {second}")
    return shortened("; ".join(parts), _SMALL.points, WIDTH_MM - 2 * SIDE_MM)


def draw_tick(page: Page, left: float, top: float) -> None:
    """Draw a box to tick; ``left`` and ``top`` are its corner [mm]."""
    page.box(left, top - TICK_MM, TICK_MM, TICK_MM, fill=False, linewidth=pens.RULE, gid="box to tick")
