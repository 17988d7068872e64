"""The sheet for setting out: order of work, lengths to measure, and every stake with boxes to tick."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.frame import SIDE_MM, TITLE_MM, draw_caution, draw_title
from gradework.drawings.labels import Taken, box_around, corners_of, place_names, without_room
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.nearby import draw_nearby, widened
from gradework.drawings.page import (
    HEIGHT_MM,
    WIDTH_MM,
    MapWindow,
    Page,
    choose_scale,
    draw_blank_line,
    ring_path,
)
from gradework.drawings.stake_cards import TICK_MM, block_height, draw_block, draw_rule, draw_tick
from gradework.errors import Finding
from gradework.sitework.asbuilt import allowed
from gradework.sitework.past_walls import led
from gradework.sitework.setout import FINISHED, LED

if TYPE_CHECKING:
    from gradework.project.setout import SettingOut
    from gradework.sitework.setout import StakedPoint


# The sketch on the sheet for setting out: building, stakes, marks and the baseline.

Floats = NDArray[np.float64]

_LABEL = Style(points=8)
_SKETCH_MARK = Style(points=9, weight="bold")
_SKETCH_SMALL = Style(points=8, color=pens.SOFT)
_ROOM_MM = 15.0
NEAR = 3.0
"""What stands within this of all stakes [m] is shown on the sketch."""
_LEAST_MM, _SKETCH_MM = 35.0, 75.0
_MARK_MM = 1.8
_SKETCH_LINE_MM = 3.5


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
    off_roof = _off_roof(made)
    everything = np.vstack([stakes, marks, ring, *off_roof])
    nearby = made.plan.nearby
    low, high = widened(everything.min(axis=0), everything.max(axis=0), nearby, NEAR)
    wide, tall = (float(v) for v in high - low)
    # room for the words below is kept for the longest that they can become
    foot = bottom + _SKETCH_LINE_MM * math.ceil(150.0 / (right - left))
    room = (right - left - 2 * _ROOM_MM, top - foot - 8.0)
    scale = choose_scale((max(wide, 0.5), max(tall, 0.5)), room, show)
    words = f"Sketch, {scale.words}: triangles are marks, squares stakes, the dashed line is the baseline."
    if any(p.stake.kind == "anchor" for p in made.sheet.points):
        words = words.replace("stakes, the dashed line is", "stakes, circles anchors, dashes")
    words += " Blue along an eave: a gutter, and the pipe from it." if off_roof else ""
    middle = (low + high) / 2
    window = MapWindow(left, foot, right, top, (float(middle[0]), float(middle[1])), scale)
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
    anchored = np.array([point.stake.kind == "anchor" for point in made.sheet.points])
    page.axes.plot(*at[~anchored].T, "s", markersize=3.5, color=pens.BLACK, markerfacecolor=pens.BLACK)
    page.axes.plot(*at[anchored].T, "o", markersize=3.0, color=pens.BLACK, markerfacecolor="white")
    rows = [window.to_page(np.array([string.start, string.end])) for string in made.rows]
    page.strokes(rows, color=pens.SOFT, width=pens.FINE, gid="row strings")
    staked = {point.stake.kind for point in made.sheet.points}
    dug = led(made.plan.foundations.measures_of(made.kind)) if staked.intersection(LED) else ()
    bottoms = [line[:, :2] for one in dug for line in one.bends or (one.line,)] + off_roof
    page.strokes([window.to_page(line) for line in bottoms], color=pens.WATER, width=pens.RULE, gid="led")
    taken = Taken((left, foot, right, top))
    for x, y in (*places.tolist(), *at.tolist()):
        taken.take(box_around((x, y), _MARK_MM, _MARK_MM))
    _, unnamed = draw_nearby(page, window, taken, nearby)
    left_out = _label(page, taken, places, [m.name for m in made.marks], _SKETCH_MARK)
    # anchors stand beside piers with names of their own: theirs are on the cards
    names = [p.stake.name.removeprefix("pier ") for p in made.sheet.points if p.stake.kind != "anchor"]
    left_out += [*_label(page, taken, at[~anchored], names, _LABEL), *unnamed]
    if left_out:
        words += f" No room for {len(left_out)} names."
    for number, text in enumerate(reversed(wrapped(words, _SKETCH_SMALL.points, right - left))):
        page.write(text, (left, bottom + _SKETCH_LINE_MM * number), _SKETCH_SMALL, role="sketch")
    return left_out


def _off_roof(made: SettingOut) -> list[Floats]:
    """Gutters and the pipes from them, as lines (2, 2), site."""
    around = made.plan.foundations.around.get(made.kind)
    if around is None or around.roof is None:
        return []
    gutters = around.roof.of("gutter")
    pipes = [np.array([spout.foot, spout.end]) for one in gutters for spout in one.led]
    return [*(one.eave.line for one in gutters), *pipes]


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
        rooms = [(first, _draw_first(first, made))]
        pages, waiting = [first], list(made.sheet.points)
        while waiting:
            pages.append(_start(made, "Stakes: places, marks and readings"))
            left = _fill(pages[-1], made, waiting)
        if len(pages) > 1:
            rooms.append((pages[-1], left))
        # on the first page, else on the last; where neither has the room its names would not fit: on its own
        enough = [one for one in rooms if one[1][3] - one[1][1] >= _SKETCH_MM]
        if not enough and made.sheet.points:
            pages.append(_start(made, "Where the stakes stand"))
            wide, tall = pages[-1].width, pages[-1].height
            enough = [(pages[-1], (SIDE_MM, SIDE_MM, wide - SIDE_MM, tall - TITLE_MM - 2.0))]
        page, box = (enough or rooms)[0]
        left_out = draw_stake_sketch(page, box, made)
        count = len(made.marks) + len(made.sheet.points) + len(made.plan.nearby)
        told = without_room("The sketch", left_out, count)
        for number, page in enumerate(pages, start=1):
            edge = page.width - SIDE_MM
            words = f"page {number} of {len(pages)}"
            page.write(words, (edge, page.height - 11.6), _SMALL, across="right", role="page")
        return [page.finish() for page in pages], told


def _start(made: SettingOut, subtitle: str) -> Page:
    page = Page()
    level = made.plan.job.show.elevation(made.level)
    title = f"Setting out: {name(made.plan.job.name)}"
    right = [f"{FINISHED.capitalize()} {level}", "Print at 100 %"]
    draw_title(page, title=title, subtitle=subtitle, right=right, stamp=made.plan.stamp(made.kind))
    return page


def _draw_first(page: Page, made: SettingOut) -> tuple[float, float, float, float]:
    """Draw the page that is read before the first stake goes in; return the room left on it (left, bottom,
    right, top) [mm]."""
    y = page.height - TITLE_MM - 2.0
    y = _draw_shared(page, made, _draw_instrument(page, made, y))
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
    y = _draw_rows(page, made, y - 2.0)
    return SIDE_MM, foot + 2.0, page.width - SIDE_MM, y - 2.0


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
            start = (shortened(name(marks[0].name), _WORDS.points, 40.0), show.elevation(marks[0].elevation))
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


def _draw_shared(page: Page, made: SettingOut, top: float) -> float:
    """Draw the levels that stakes end at, each once, with room for what is read; return the lower edge."""
    show, y = made.plan.job.show, top
    edge = page.width - SIDE_MM
    for shared in made.sheet.shared:
        finished = abs(shared.level - made.level) < 1e-6
        words = _LEVELS[made.kind] if finished else "strings on the boards"
        draw_tick(page, SIDE_MM, y)
        page.write(words, (SIDE_MM + TICK_MM + 2.5, y - 0.6), _STEP, up="top", role="shared")
        level = show.elevation(shared.level)
        if shared.from_string is not None and abs(shared.from_string) > 1e-9:
            level += f", string {show.hung(shared.from_string)}"
        page.write(level, (edge - 78.0, y - 0.6), _STEP, across="right", up="top", role="shared level")
        page.write("rod", (edge - 70.0, y - 0.9), _SMALL, up="top", role="head")
        reading = shared.reading
        if reading is None:
            draw_rule(page, (edge - 62.0, edge - 42.0), y - TICK_MM)
        else:
            rod = show.rod_number(reading.reading) if reading.reach == "yes" else "no rod"
            page.write(rod, (edge - 42.0, y - 0.4), _VALUE, across="right", up="top", role="rod")
        page.write("as read", (edge - 23.0, y - 0.9), _SMALL, across="right", up="top", role="as read")
        draw_rule(page, (edge - 21.0, edge), y - TICK_MM)
        y -= 6.6
    return y - 1.5 if made.sheet.shared else y


def _draw_rows(page: Page, made: SettingOut, top: float) -> float:
    """Draw where a hooked tape passes the piers of each row; return the lower edge."""
    if not made.rows:
        return top
    show = made.plan.job.show
    page.write("Piers by running tape", (SIDE_MM, top), _HEADING, up="top", role="heading")
    y, room = top - 7.5, page.width - 2 * SIDE_MM - TICK_MM - 2.5
    for string in made.rows:
        words = f"Row {string.row}, {show.taped(string.length)} from {string.first} to {string.second}"
        if string.beside:
            where = "inside" if string.inside >= 0.0 else "outside"
            words += f", {show.taped(abs(string.inside))} {where} side {string.beside}"
        places = ", ".join(f"{name(pier)} {show.taped(along)}" for pier, along in string.places)
        draw_tick(page, SIDE_MM, y)
        text = f"{words}. Building line {show.taped(string.line)}; piers {places}."
        for line in wrapped(text, _WORDS.points, room):
            page.write(line, (SIDE_MM + TICK_MM + 2.5, y - 0.6), _WORDS, up="top", role="row")
            y -= _LINE_MM - 0.4
        y -= 1.2
    return y


def _draw_measures(page: Page, made: SettingOut, top: float) -> float:
    """Draw the sides and diagonals with boxes and room for what was measured; return the lower edge."""
    checks, show = made.sheet.checks, made.plan.job.show
    if not checks:
        return top
    page.write("Measure", (SIDE_MM, top), _HEADING, up="top", role="heading")
    limit = f"the two diagonals of four corners may differ by {allowed(made.sheet.allowed, show)}"
    after = SIDE_MM + width_mm("Measure", _HEADING.points, "bold") + 3.0
    page.write(limit, (after, top - 0.7), _WORDS, up="top", role="allowed")
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


def _fill(page: Page, made: SettingOut, waiting: list[StakedPoint]) -> tuple[float, float, float, float]:
    """Draw as many stakes as find room, in two columns, and take them off the list; return the room left in
    the last one (left, bottom, right, top) [mm]."""
    wide = (WIDTH_MM - 2 * SIDE_MM - (_COLUMNS - 1) * _GAP_MM) / _COLUMNS
    ceiling, floor = HEIGHT_MM - TITLE_MM - 1.0, 7.0
    page.write(_legend(made, waiting), (SIDE_MM, 1.5), _SMALL, role="legend")
    for column in range(_COLUMNS):
        left, top = SIDE_MM + column * (wide + _GAP_MM), ceiling
        while waiting:
            height = block_height(waiting[0], made, wide)
            if top - height < floor and top < ceiling:
                break
            draw_block(page, (left, top), waiting.pop(0), made, width=wide)
            top -= height + 2.5
    return left, floor + 2.0, left + wide, top


def _legend(made: SettingOut, points: Sequence[StakedPoint]) -> str:
    parts = ["C: cut, F: fill, from the ground at the stake"]
    if any(point.baseline for point in points):
        first, second = (name(mark.name) for mark in made.marks[:2])
        parts.append(f"along, L left, R right: of the line from {first} to {second}")
    return shortened("; ".join(parts), _SMALL.points, WIDTH_MM - 2 * SIDE_MM)
