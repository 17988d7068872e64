"""The profile of a yard along any line, on one wide page: ground before and after, stations, walls."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.labels import Taken, box_around, corners_of
from gradework.drawings.lettering import Style, height_mm, name, shortened, width_mm
from gradework.drawings.page import (
    HEIGHT_MM,
    WIDTH_MM,
    Entry,
    Page,
    area_entry,
    draw_legend,
    line_entry,
    ring_path,
)
from gradework.drawings.section.cut import areas_between
from gradework.drawings.section.view import Calls, View, draw_axes, fitting, taller_words
from gradework.earthwork.rings import ring_area
from gradework.ground.profile import as_lines, heights_beside

if TYPE_CHECKING:
    from gradework.project.profile import End, Profile
    from gradework.survey.stations import Stations
    from gradework.units.display import Display

Floats = NDArray[np.float64]

_LEFT_MM, _RIGHT_MM, _AXES_MM, _HEAD_MM, _ROOM_MM = 17.0, 3.0, 9.5, 8.0, 9.0
_WORDS_MM = 12.0
"""Room above the ground for the names of stations and the building."""

_LEGEND_MM, _COLUMN_MM = 26.0, 78.0
_HIGH_MM = WIDTH_MM - frame.TITLE_MM - _AXES_MM - _HEAD_MM - _ROOM_MM - _WORDS_MM - _LEGEND_MM - 16.0
_HEADING = Style(points=10, weight="bold")
_SMALL = Style(points=8)
_LONGEST_NAME_MM = 24.0
_UP = (90.0, 60.0, 120.0, 30.0, 150.0)
_DOWN = (270.0, 300.0, 240.0, 330.0, 210.0, 345.0, 195.0)
_SEEN_MM2 = 0.5
"""A smaller area on the page is not seen, and would stand in the legend for nothing."""

_AREAS = (
    ("dug", "Dug away", pens.CUT_TINT, pens.CUT_HATCH, pens.EARTH),
    ("filled", "Filled up", pens.FILL_TINT, pens.FILL_HATCH, pens.SOFT),
)


def draw_profile(
    profile: Profile, title: str, stations: Stations, show: Display, *, stamp: str = ""
) -> matplotlib.figure.Figure:
    """Draw a profile on a page that lies on its side, 259 mm wide and as high as it must be.

    Heights may be drawn larger than lengths, which the page says. ``title`` is the name of the job.
    """
    every = [profile.ground, *([] if profile.finished is None else [profile.finished])]
    heights = np.concatenate([one[:, :, 1].ravel() for one in every])
    low, high = float(heights.min()), float(heights.max())
    with steady():
        room = (HEIGHT_MM - _LEFT_MM - _RIGHT_MM, _HIGH_MM)
        scale, taller = fitting(profile.length, max(high - low, 0.02), room, show)
        per = scale.mm_per_m * taller
        tall = (high - low) * per + _ROOM_MM + _WORDS_MM
        page = Page(HEIGHT_MM, frame.TITLE_MM + _HEAD_MM + tall + _AXES_MM + _LEGEND_MM + 14.0)
        frame.draw_title(
            page,
            title=name(title),
            subtitle=f"The ground along a line; {taller_words(taller)}",
            right=[f"Scale {scale.words}", "Print at 100 % (actual size)"],
            stamp=stamp,
        )
        top = page.height - frame.TITLE_MM
        ends = [_end_words(end, show) for end in (profile.first, profile.last)]
        page.write(f"From {ends[0]} to {ends[1]}", (_LEFT_MM, top - 1.0), _HEADING, up="top", role="section")
        view = View((_LEFT_MM, top - _HEAD_MM - tall), 0.0, low - _ROOM_MM / per, scale, taller)
        draw_axes(
            page, view, (profile.length, tall / per), show,
            name=f"{show.unit_title.capitalize()} from {ends[0]}",
        )  # fmt: skip
        entries = _draw_ground(page, view, profile)
        _draw_words(page, view, profile, show, tall)
        draw_legend(
            page, (frame.SIDE_MM, view.corner[1] - _AXES_MM - 2.0), entries, width=_COLUMN_MM, columns=2
        )
        frame.draw_caution(page, frame.source_words(stations.file, stations.xyz))
        return page.finish()


def _end_words(end: End, show: Display) -> str:
    if not end.station:
        return show.place(end.x, end.y)
    return shortened(name(end.station), _HEADING.points, 60.0)


def _draw_ground(page: Page, view: View, profile: Profile) -> list[Entry]:
    """Draw both grounds and what is dug and filled between them; return the entries of the legend."""
    before = [view.to_page(line) for line in as_lines(profile.ground)]
    entries = [line_entry("Ground as surveyed", color=pens.EARTH, width=pens.RULE, dash=pens.EVEN_DASH)]
    page.strokes(before, color=pens.EARTH, width=pens.RULE, dash=pens.EVEN_DASH, zorder=4.2, gid="existing")
    if profile.finished is None:
        return entries
    after = [view.to_page(line) for line in as_lines(profile.finished)]
    page.strokes(after, color=pens.BLACK, width=pens.INDEX, zorder=4.0, gid="finished")
    entries.append(line_entry("Finished ground", color=pens.BLACK, width=pens.INDEX))
    ground, finished = matched(profile)
    shaped = {"dug": areas_between(finished, ground), "filled": areas_between(ground, finished)}
    for kind, words, tint, hatch, color in _AREAS:
        areas = [area for one in shaped[kind] if abs(ring_area(area := view.to_page(one))) > _SEEN_MM2]
        if areas:
            style = {"facecolor": tint, "edgecolor": color, "hatch": hatch, "linewidth": 0.0, "zorder": 1.5}
            page.axes.add_artist(matplotlib.patches.PathPatch(ring_path(areas), gid=words, **style))
            page.strokes(
                [np.vstack([area, area[:1]]) for area in areas], color=color, width=pens.GRID, zorder=1.6
            )
            entries.append(area_entry(words, face=tint, hatch=hatch, edge=color))
    return entries


def matched(profile: Profile) -> tuple[list[Floats], list[Floats]]:
    """Ground and finished ground in stretches (2, 2) over the same distances, parted where they cross."""
    assert profile.finished is not None
    at = profile.bends()
    (_, low), (high, _) = (heights_beside(profile.ground, one) for one in (at[:-1], at[1:]))
    (_, foot), (top, _) = (heights_beside(profile.finished, one) for one in (at[:-1], at[1:]))
    pieces = np.stack((at[:-1], at[1:], low, high, foot, top), axis=1)
    pieces = pieces[np.isfinite(pieces).all(axis=1)]
    ground: list[Floats] = []
    finished: list[Floats] = []
    for u, v, low_u, low_v, foot_u, foot_v in pieces.tolist():
        first, last = foot_u - low_u, foot_v - low_v
        parts = [0.0, first / (first - last), 1.0] if first * last < 0.0 else [0.0, 1.0]
        for a, b in pairwise(parts):
            share = np.array([a, b])
            places = u + share * (v - u)
            ground.append(np.column_stack((places, low_u + share * (low_v - low_u))))
            finished.append(np.column_stack((places, foot_u + share * (foot_v - foot_u))))
    return ground, finished


def _draw_words(page: Page, view: View, profile: Profile, show: Display, tall: float) -> None:
    """Name the stations that the line passes, say where the building stands, and how high and low it gets."""
    left, bottom = view.corner
    right, top = left + profile.length * view.scale.mm_per_m, bottom + tall
    calls = Calls(page, Taken((left + 0.5, bottom + 0.5, right - 0.5, top - 0.5)))
    for found in (profile.ground, profile.finished):
        for line in () if found is None else as_lines(found):
            calls.keep_off(view.to_page(line))
    for first, last in profile.walls:
        ends = [view.place(at, view.level)[0] for at in (first, last)]
        uprights = [((x, bottom), (x, top)) for x in ends]
        dash = pens.DAYLIGHT_DASH
        page.strokes(uprights, color=pens.SOFT, width=pens.FINE, dash=dash, zorder=3.0, gid="wall")
        _say_between("building", ends, (left, right), top, page, calls)
    _call_heights(view, profile, show, calls)
    for one in profile.stations:
        place = view.place(one.at, one.elevation)
        page.strokes(
            [(place, (place[0], place[1] + 1.5))], color=pens.BLACK, width=pens.FINE, zorder=5.0, gid="shot"
        )
        words = shortened(name(one.name), _SMALL.points, _LONGEST_NAME_MM)
        calls.say(words, place, (90.0, 70.0, 110.0, 45.0, 135.0), role="station")


def _say_between(
    words: str, ends: Sequence[float], reach: tuple[float, float], top: float, page: Page, calls: Calls
) -> None:
    """Write a word between two uprights at the upper edge, where it has room."""
    first, last = max(ends[0], reach[0]), min(ends[1], reach[1])
    wide, high = width_mm(words, _SMALL.points), height_mm(_SMALL.points)
    middle = ((first + last) / 2, top - 1.2 - high / 2)
    box = box_around(middle, wide + 1.0, high + 0.8)
    if last - first > wide + 2.0 and calls.taken.take_if_free(box):
        page.clear_ground(corners_of(box))
        page.write(words, middle, _SMALL, across="center", up="center", role="building")


def _call_heights(view: View, profile: Profile, show: Display, calls: Calls) -> None:
    """Say how high and how low the ground lies, above and below it."""
    rows = profile.ground.reshape(-1, 2)
    for word, number, ways in (
        ("high", int(rows[:, 1].argmax()), _UP),
        ("low", int(rows[:, 1].argmin()), (*_DOWN, *_UP)),
    ):
        at, height = rows[number].tolist()
        calls.say(f"{word} {show.elevation(height)}", view.place(at, height), ways, role=word)
