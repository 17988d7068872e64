"""The sheet for setting out: order of work, lengths to measure, and every stake with boxes to tick."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.fill_in import draw_fill_in
from gradework.drawings.frame import SIDE_MM, TITLE_MM, draw_caution, draw_title
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.naming import without_room
from gradework.drawings.page import HEIGHT_MM, WIDTH_MM, Page
from gradework.drawings.setout_blocks import block_height, draw_block
from gradework.drawings.setout_sketch import draw_stake_sketch
from gradework.errors import Finding

if TYPE_CHECKING:  # the type only
    from gradework.project.stakes import SettingOut
    from gradework.sitework.setout import StakedPoint

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
_SMALL = Style(points=8.5, color=ink.SOFT)


def draw_setout(made: SettingOut) -> list[matplotlib.figure.Figure]:
    """Draw all pages, 190 by 259 mm each: first the work and what to measure, then the stakes."""
    return setout_and_findings(made)[0]


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
        SIDE_MM, top - height, page.width - 2 * SIDE_MM, height, fill=False, linewidth=ink.RULE, gid="HI"
    )
    left = SIDE_MM + 3.0
    if sheet.instrument is None:
        parts = ("Benchmark _", "its elevation _", "+ backsight _", f"= HI _ {show.unit_name}")
        draw_fill_in(page, (left, top - 7.5), parts, width=page.width - 2 * SIDE_MM - 6.0)
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
        f"{name(seen.name)} at {show.elevation(seen.elevation)} + backsight "
        f"{show.elevation_number(seen.reading)}. {after}"
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
        text = show.length(check.length)
        room = wide - TICK_MM - 3.0 - width_mm(text, _VALUE.points, "bold") - 24.0
        page.write(shortened(words, _WORDS.points, room), (left + TICK_MM + 2.0, at - 0.6), _WORDS, up="top")
        page.write(text, (left + wide - 22.0, at - 0.4), _VALUE, across="right", up="top", role="length")
        rule = [((left + wide - 20.0, at - TICK_MM), (left + wide, at - TICK_MM))]
        page.strokes(rule, color=ink.BLACK, width=ink.FINE, gid="rule to write on")
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
    if made.sheet.string is not None:
        parts.append("string: + above it, - below it")
    return shortened("; ".join(parts), _SMALL.points, WIDTH_MM - 2 * SIDE_MM)


def draw_tick(page: Page, left: float, top: float) -> None:
    """Draw a box to tick; ``left`` and ``top`` are its corner [mm]."""
    page.box(left, top - TICK_MM, TICK_MM, TICK_MM, fill=False, linewidth=ink.RULE, gid="box to tick")
