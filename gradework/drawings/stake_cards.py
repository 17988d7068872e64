"""One stake on the sheet for setting out: where it goes, its mark, what is read, room for what was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings import pens
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.page import Page
from gradework.foundations.piers.plan import stack_words
from gradework.sitework.setout import to

if TYPE_CHECKING:
    from gradework.project.setout import SettingOut
    from gradework.sitework.setout import StakedPoint
    from gradework.units.display import Display


TICK_MM = 4.2
"""A box to tick [mm]."""

_NAME = Style(points=11.5, weight="bold")
_STAKE_MARK = Style(points=12, weight="bold")
_PLACE = Style(points=9.5)
_BLOCK_WORDS = Style(points=9.5)
_HEAD = Style(points=8, color=pens.SOFT)
_BLOCK_SMALL = Style(points=8)
_LEVEL = Style(points=10)
_ROD = Style(points=13, weight="bold")
_EDGE_MM = 2.0
_PLACE_MM, _ROW_MM, _NAME_MM, _HEAD_MM, _READ_MM = 4.8, 6.8, 8.0, 4.4, 15.0


def block_height(point: StakedPoint, made: SettingOut, width: float) -> float:
    """How high the block of a stake stands [mm] that is ``width`` wide."""
    table = _HEAD_MM + len(point.own_levels) * _ROW_MM if point.own_levels else 0.0
    return _NAME_MM + len(_places(point, made, width)) * _PLACE_MM + table + 2.0


def _places(point: StakedPoint, made: SettingOut, width: float) -> list[str]:
    """Say where the stake goes: coordinates, along and square to the baseline, by two tapes, by its pier.

    What to lay there follows, on as many lines as hold every block.
    """
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
            f"{_mark(tie.first)}: {show.taped(tie.from_first)}   {_mark(tie.second)}: "
            f"{show.taped(tie.from_second)}{hand}{weak}"
        )
    if stake.aside is not None:
        lines.append(f"{show.taped(stake.aside.distance)} from the middle, {stake.aside.where}")
    if point.finish is not None:
        # the plan has these figures only where it is the plan of a pad
        drawn = made.kind == made.plan.foundations.chosen == "pad"
        lines.append(f"{point.finish_text(show)}{' (as on the plan)' if drawn else ''}")
    if stake.kind == "pier":
        lines += wrapped(f"lay: {_laid(point, made)}", _PLACE.points, width - 2 * _EDGE_MM)
    return lines


def _laid(point: StakedPoint, made: SettingOut) -> str:
    """Name the blocks of a pier from the bottom up."""
    piers = made.plan.foundations.piers
    own = [pier for pier in (piers.piers if piers else ()) if f"pier {pier.name}" == point.stake.name]
    return "".join(stack_words(pier.laid, pier.across) for pier in own)


def _mark(text: str) -> str:
    return shortened(name(text), _PLACE.points, 26.0)


def draw_block(
    page: Page, place: tuple[float, float], point: StakedPoint, made: SettingOut, *, width: float
) -> None:
    """Draw a stake's block with its upper left corner at ``place`` [mm]."""
    left, top = place
    show, height = made.plan.job.show, block_height(point, made, width)
    page.box(left, top - height, width, height, fill=False, linewidth=pens.RULE, gid="stake")
    draw_tick(page, left + _EDGE_MM, top - 1.8)
    mark = point.mark_text(show)
    right = left + width - _EDGE_MM
    if point.marked_for is not None:
        page.write(
            to(point.marked_for), (right, top - 3.4), _BLOCK_SMALL, across="right", up="top", role="mark for"
        )
        right -= width_mm(to(point.marked_for), _BLOCK_SMALL.points) + 1.4
    page.write(mark, (right, top - 2.2), _STAKE_MARK, across="right", up="top", role="mark")
    room = right - width_mm(mark, _STAKE_MARK.points, "bold") - 3.0 - left - TICK_MM - 2 * _EDGE_MM
    words = shortened(name(point.stake.name), _NAME.points, room, "bold")
    page.write(words, (left + TICK_MM + 2 * _EDGE_MM, top - 2.2), _NAME, up="top", role="stake")
    y = top - _NAME_MM
    for line in _places(point, made, width):
        text = shortened(line, _PLACE.points, width - 2 * _EDGE_MM)
        page.write(text, (left + _EDGE_MM, y), _PLACE, up="top", role="place")
        y -= _PLACE_MM
    if point.own_levels:
        _draw_levels(page, (left, y), point, show, width=width)


def _draw_levels(
    page: Page, place: tuple[float, float], point: StakedPoint, show: Display, *, width: float
) -> None:
    """Draw the levels that are the stake's own, each with a rule for what was read; heights below the string
    stand in place of elevations where there is one."""
    left, y = place
    readings = {reading.what: reading for reading in point.readings}
    rods = {what: show.rod_number(one.reading) for what, one in readings.items() if one.reach == "yes"}
    hung = {what: show.hung(height) for what, height in point.from_string}
    # the columns of figures stand from right to left: as read, rod, and the string or else the elevation
    right, rods_end = left + width - _EDGE_MM, left + width - _EDGE_MM - _READ_MM
    others = hung or {what: show.elevation_number(level) for what, level in point.own_levels}
    rod = max([15.0, *(width_mm(text, _ROD.points, "bold") + 3.0 for text in rods.values())])
    end = rods_end - rod
    for words, x in (("as read", right), ("rod", rods_end), ("string" if hung else "elevation", end)):
        page.write(words, (x, y - 0.8), _HEAD, across="right", up="top", role="head")
    y -= _HEAD_MM
    figures = max(width_mm(text, _LEVEL.points) for text in others.values())
    room = end - figures - 2.0 - left - TICK_MM - 2 * _EDGE_MM
    for what, _ in point.own_levels:
        draw_tick(page, left + _EDGE_MM, y - 0.6)
        _write_what(page, (left + TICK_MM + 2 * _EDGE_MM, y), what, room)
        page.write(others[what], (end, y - 1.2), _LEVEL, across="right", up="top", role="level")
        if what in readings:
            text = rods.get(what, "no rod")
            page.write(text, (rods_end, y - 0.8), _ROD, across="right", up="top", role="rod")
        else:
            draw_rule(page, (rods_end - 12.0, rods_end), y - 5.4)
        draw_rule(page, (rods_end + 2.5, right), y - 5.4)
        y -= _ROW_MM


def _write_what(page: Page, place: tuple[float, float], what: str, room: float) -> None:
    """Write what is read, on two smaller lines where one does not hold it."""
    left, y = place
    if width_mm(what, _BLOCK_WORDS.points) > room:
        what = {"bottom of hole": "hole", "top of bed": "bed"}.get(what, what)
    if width_mm(what, _BLOCK_WORDS.points) <= room:
        page.write(what, (left, y - 1.2), _BLOCK_WORDS, up="top", role="what")
        return
    lines = wrapped(what, _BLOCK_SMALL.points, room)
    lines = [lines[0], shortened(" ".join(lines[1:]), _BLOCK_SMALL.points, room)] if len(lines) > 1 else lines
    for number, line in enumerate(lines):
        page.write(line, (left, y - 0.7 - 3.0 * number), _BLOCK_SMALL, up="top", role="what")


def draw_rule(page: Page, ends: tuple[float, float], y: float) -> None:
    """Draw a rule to write on between two places across the page [mm]."""
    page.strokes([((ends[0], y), (ends[1], y))], color=pens.BLACK, width=pens.FINE, gid="rule to write on")


def draw_tick(page: Page, left: float, top: float) -> None:
    """Draw a box to tick; ``left`` and ``top`` are its corner [mm]."""
    page.box(left, top - TICK_MM, TICK_MM, TICK_MM, fill=False, linewidth=pens.RULE, gid="box to tick")
