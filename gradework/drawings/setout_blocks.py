"""One stake on the sheet: where it goes, how it is marked, and what is read at each level."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings import ink
from gradework.drawings.lettering import Style, name, shortened, width_mm, wrapped
from gradework.drawings.page import Page

if TYPE_CHECKING:  # the types only
    from gradework.project.stakes import SettingOut
    from gradework.sitework.setout import StakedPoint
    from gradework.units import Display

_NAME = Style(points=13, weight="bold")
_MARK = Style(points=13, weight="bold")
_PLACE = Style(points=9.5)
_WORDS = Style(points=9.5)
_HEAD = Style(points=8, color=ink.SOFT)
_SMALL = Style(points=8)
_LEVEL = Style(points=10)
_ROD = Style(points=13, weight="bold")
_TICK_MM, _EDGE_MM = 4.2, 2.0
_PLACE_MM, _ROW_MM, _NAME_MM, _HEAD_MM = 4.8, 6.8, 8.0, 4.4


def block_height(point: StakedPoint, made: SettingOut) -> float:
    """How high the block of a stake stands [mm]."""
    levels = point.stake.worked_to
    table = _HEAD_MM + len(levels) * _ROW_MM if levels else 0.0
    return _NAME_MM + len(_places(point, made)) * _PLACE_MM + table + 2.0


def _places(point: StakedPoint, made: SettingOut) -> list[str]:
    """Say where the stake goes: coordinates, along and square to the baseline, by two tapes."""
    show, stake = made.plan.job.show, point.stake
    lines = [f"x {show.elevation_number(stake.x)}   y {show.elevation_number(stake.y)} {show.unit_name}"]
    if point.baseline is not None:
        offset = point.baseline.offset
        side = "L" if offset > 0 else "R"
        away = show.elevation_number(abs(offset))
        words = "on the line" if away == show.elevation_number(0.0) else f"{away} {side}"
        lines[0] += f"   along {show.elevation_number(point.baseline.along)}, {words}"
    if point.tie is not None:
        tie = point.tie
        weak = ", weak" if tie.weak else ""
        hand = "" if tie.side == "on the line" else f"  {tie.side}"
        lines.append(
            f"{_mark(tie.first)} {show.length(tie.from_first)}   {_mark(tie.second)} "
            f"{show.length(tie.from_second)}{hand}{weak}"
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
    page.box(left, top - height, width, height, fill=False, linewidth=ink.RULE, gid="stake")
    _tick(page, left + _EDGE_MM, top - 1.8)
    mark = "" if point.mark is None else point.mark.text(show)
    page.write(mark, (left + width - _EDGE_MM, top - 2.2), _MARK, across="right", up="top", role="mark")
    room = width - _TICK_MM - 3 * _EDGE_MM - width_mm(mark, _MARK.points, "bold") - 3.0
    if mark and len(point.stake.worked_to) > 1:
        leads = f"to {point.marked_for}:"
        at = (left + width - _EDGE_MM - width_mm(mark, _MARK.points, "bold") - 1.8, top - 3.4)
        page.write(leads, at, _SMALL, across="right", up="top", role="mark for")
        room -= width_mm(leads, _SMALL.points) + 1.8
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
    # the columns of figures stand from right to left: string, rod, elevation
    ends = [left + width - _EDGE_MM - shift for shift in ((18.0, 36.0) if strings else (0.0, 20.0))]
    heads = [("rod", ends[0]), ("elevation", ends[1])]
    if strings:
        heads.append(("string", left + width - _EDGE_MM))
    for words, x in heads:
        page.write(words, (x, y - 0.8), _HEAD, across="right", up="top", role="head")
    y -= _HEAD_MM
    room = ends[1] - 15.0 - left - _TICK_MM - 2 * _EDGE_MM
    for what, level in point.stake.worked_to:
        _tick(page, left + _EDGE_MM, y - 0.6)
        _write_what(page, (left + _TICK_MM + 2 * _EDGE_MM, y), what, room)
        page.write(show.elevation_number(level), (ends[1], y - 1.2), _LEVEL, across="right", up="top")
        if what in readings:
            reading = readings[what]
            rod = show.elevation_number(reading.reading) if reading.reach == "yes" else "no rod"
            page.write(rod, (ends[0], y - 0.8), _ROD, across="right", up="top", role="rod")
        else:
            page.strokes(
                [((ends[0] - 14.0, y - 5.4), (ends[0], y - 5.4))],
                color=ink.BLACK,
                width=ink.FINE,
                gid="rule to write on",
            )
        if what in strings:
            height = f"{show.in_units(strings[what]):+.{2 if show.us else 3}f}"
            at = (left + width - _EDGE_MM, y - 1.2)
            page.write(height, at, _LEVEL, across="right", up="top", role="string")
        y -= _ROW_MM


def _write_what(page: Page, place: tuple[float, float], what: str, room: float) -> None:
    """Write what is read, on two smaller lines where one does not hold it."""
    left, y = place
    if width_mm(what, _WORDS.points) <= room:
        page.write(what, (left, y - 1.2), _WORDS, up="top", role="what")
        return
    lines = wrapped(what, _SMALL.points, room)
    lines = [lines[0], shortened(" ".join(lines[1:]), _SMALL.points, room)] if len(lines) > 1 else lines
    for number, line in enumerate(lines):
        page.write(line, (left, y - 0.7 - 3.0 * number), _SMALL, up="top", role="what")


def _tick(page: Page, left: float, top: float) -> None:
    page.box(left, top - _TICK_MM, _TICK_MM, _TICK_MM, fill=False, linewidth=ink.RULE, gid="box to tick")
