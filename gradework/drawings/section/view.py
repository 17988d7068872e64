"""A side view on a page: where it stands, how much its heights are drawn larger, its axes and its labels."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.labels import Box, Taken, box_around, corners_of, crosses
from gradework.drawings.lettering import Style, height_mm, width_mm
from gradework.drawings.page import Page, Scale, level_ticks, standard_scales
from gradework.units.display import fixed
from gradework.units.numbers import round_steps

if TYPE_CHECKING:
    from gradework.units.display import Display

Floats = NDArray[np.float64]
Place = tuple[float, float]

TALLER = (1, 2, 4)
"""Heights are drawn so many times larger than lengths: as little as still shows what is dug."""

ENOUGH_MM = 22.0
"""A view so high needs no taller heights."""

_TICK = Style(points=8)
_CALL = Style(points=8)
_LINE_MM = 1.2
_LEADERS_MM = (2.0, 4.0, 6.0, 8.5, 11.0, 14.0, 18.0)
_AXIS_MM = 1.5


@dataclass(frozen=True, slots=True)
class View:
    """Where a side view stands: u and elevation at its lower left corner [m], the corner itself [mm], the
    scale of lengths, and how many times larger heights are."""

    corner: Place
    u: float
    level: float
    scale: Scale
    taller: int

    def to_page(self, points: Floats) -> Floats:
        """Turn points (k, 2) [m: u, elevation] into places (k, 2) [mm]."""
        away = (np.asarray(points, dtype=float) - [self.u, self.level]) * [1.0, self.taller]
        page: Floats = np.asarray(self.corner) + away * self.scale.mm_per_m
        return page

    def place(self, u: float, level: float) -> Place:
        """Turn one point [m] into its place [mm]."""
        x, y = self.to_page(np.array([[u, level]]))[0].tolist()
        return x, y


def fitting(long: float, high: float, room: Place, show: Display) -> tuple[Scale, int]:
    """The scale of lengths and how many times taller heights are, for views at most ``long`` and ``high`` [m]
    in ``room`` [mm]; the least taller that still stands ``ENOUGH_MM`` high, else the most that fits."""
    for scale in standard_scales(show):
        fits = [k for k in TALLER if high * scale.mm_per_m * k <= room[1]]
        if long * scale.mm_per_m <= room[0] and fits:
            tall = [k for k in fits if high * scale.mm_per_m * k >= ENOUGH_MM]
            return scale, min(tall, default=max(fits))
    raise AssertionError("the scales have no end")  # pragma: no cover - the loop is endless


def taller_words(taller: int) -> str:
    """Say by how much heights are exaggerated.

    >>> taller_words(2), taller_words(1)
    ('heights drawn 2 times as large', 'heights to the same scale')
    """
    return "heights to the same scale" if taller == 1 else f"heights drawn {taller} times as large"


def draw_axes(
    page: Page, view: View, size: Place, show: Display, *, zero: float = 0.0, name: str = ""
) -> None:
    """Draw elevations at the left and distances below a view of ``size`` [m: long, high].

    ``zero`` [m]: the u that distances count from;  ``name`` what they are, for the line below them.
    """
    unit = show.metres_per_unit
    left, bottom = view.corner
    right, top = view.place(view.u + size[0], view.level + size[1])
    page.box(left, bottom, right - left, top - bottom, fill=False, linewidth=pens.FINE, zorder=9, gid="view")
    ends = (view.level / unit, (view.level + size[1]) / unit)
    room = (top - bottom) / (height_mm(_TICK.points) + 1.5)
    said = level_ticks(*ends, show)
    lines, ticks = [], []
    for number, text in said[:: max(1, math.ceil(len(said) / max(room, 1.0)))]:
        y = view.place(view.u, number * unit)[1]
        lines.append(((left, y), (right, y)))
        if bottom - 0.2 <= y - height_mm(_TICK.points) / 2 and y + height_mm(_TICK.points) / 2 <= top + 1.0:
            page.write(text, (left - _AXIS_MM, y), _TICK, across="right", up="center", role="level")
    first, last = (view.u - zero) / unit, (view.u + size[0] - zero) / unit
    step = round_steps(last - first, max(2, min(10, int((right - left) / 14.0))))
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    for k in range(math.ceil(first / step - 1e-9), math.floor(last / step + 1e-9) + 1):
        x, text = view.place(zero + k * step * unit, view.level)[0], fixed(k * step, decimals)
        half = width_mm(text, _TICK.points) / 2
        ticks.append(((x, bottom), (x, bottom + 1.5)))
        middle = min(max(x, left + half), right - half)
        page.write(text, (middle, bottom - 1.2), _TICK, across="center", up="top", role="distance")
    page.strokes(lines, color=pens.FAINT, width=pens.GRID, zorder=0.5, gid="levels")
    page.strokes(ticks, color=pens.BLACK, width=pens.FINE, zorder=9, gid="distances")
    page.write(name, ((left + right) / 2, bottom - 4.6), _TICK, across="center", up="top", role="axis")


@dataclass
class Calls:
    """The labels of a view: each beside its place, at the end of a leader where it must, off all lines."""

    page: Page
    taken: Taken
    _leaders: list[tuple[Place, Place]] = field(default_factory=list)
    _words: list[Box] = field(default_factory=list)

    def keep_off(self, line: Floats) -> None:
        """Let no label stand on a line (k, 2) [mm]."""
        for start, end in pairwise(line):
            steps = max(1, math.ceil(float(np.hypot(*(end - start))) / _LINE_MM))
            for share in (np.arange(steps) + 0.5) / steps:
                x, y = (start + share * (end - start)).tolist()
                self.taken.take(box_around((x, y), _LINE_MM, _LINE_MM))

    def say(self, text: str, place: Place, ways: Sequence[float], *, role: str = "call") -> bool:
        """Write ``text`` off ``place`` [mm], the nearest first, in one of the directions ``ways`` [degrees];
        tell whether it stands."""
        wide, high = width_mm(text, _CALL.points) + 1.0, height_mm(_CALL.points) + 1.0
        for end, middle in _around(place, wide, high, ways):
            box = box_around(middle, wide, high)
            leader = (place, end)
            clear = not any(crosses(one, box) for one in self._leaders)
            if (
                clear
                and not any(crosses(leader, one) for one in self._words)
                and self.taken.take_if_free(box)
            ):
                self._leaders.append(leader)
                self._words.append(box)
                self.page.clear_ground(corners_of(box))
                self.page.write(text, middle, _CALL, across="center", up="center", role=role)
                self.page.strokes([leader], color=pens.SOFT, width=pens.FINE, zorder=6.5, gid="leader")
                return True
        return False


def _around(place: Place, wide: float, high: float, ways: Sequence[float]) -> Iterator[tuple[Place, Place]]:
    """Ends of leaders from a place, and the middle of the words there."""
    for away in _LEADERS_MM:
        for degrees in ways:
            c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
            end = place[0] + away * c, place[1] + away * s
            back = min(
                wide / 2 / abs(c) if abs(c) > 1e-6 else math.inf,
                high / 2 / abs(s) if abs(s) > 1e-6 else math.inf,
            )
            yield end, (end[0] + back * c, end[1] + back * s)
