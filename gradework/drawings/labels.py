"""Where labels may stand: boxes that are taken, spots that are thinned out, the best stretch of a contour.

Bare geometry in millimetres on the page; nothing is drawn here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, bottom, right, top [mm]."""

_CELL_MM = 8.0


@dataclass
class Taken:
    """The boxes that labels have taken inside a window; kept in cells, so asking is fast.

    ``window`` is left, bottom, right, top [mm]; nothing fits that reaches out of it.
    """

    window: Box
    boxes: list[Box] = field(default_factory=list)
    _cells: dict[tuple[int, int], list[int]] = field(default_factory=dict)

    def _cells_of(self, box: Box) -> Iterable[tuple[int, int]]:
        left, bottom, right, top = (math.floor(side / _CELL_MM) for side in box)
        return ((i, j) for i in range(left, right + 1) for j in range(bottom, top + 1))

    def take(self, box: Box) -> None:
        """Mark ``box`` as taken, whether or not it was free."""
        for cell in self._cells_of(box):
            self._cells.setdefault(cell, []).append(len(self.boxes))
        self.boxes.append(box)

    def is_free(self, box: Box) -> bool:
        """Tell whether ``box`` lies in the window and touches no box that is taken."""
        left, bottom, right, top = box
        if left < self.window[0] or bottom < self.window[1] or right > self.window[2] or top > self.window[3]:
            return False
        near = {number for cell in self._cells_of(box) for number in self._cells.get(cell, ())}
        return not any(overlap(box, self.boxes[number]) for number in near)

    def take_if_free(self, *boxes: Box) -> bool:
        """Take all of ``boxes`` if every one of them is free; tell whether it was so."""
        if not all(self.is_free(box) for box in boxes):
            return False
        for box in boxes:
            self.take(box)
        return True


def overlap(one: Box, other: Box) -> bool:
    """Tell whether two boxes share more than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def box_around(place: tuple[float, float], width: float, height: float, gap: float = 0.0) -> Box:
    """The box of ``width`` by ``height`` [mm] centred at ``place``, grown by ``gap``."""
    x, y = place
    return (x - width / 2 - gap, y - height / 2 - gap, x + width / 2 + gap, y + height / 2 + gap)


def corners_of(box: Box) -> Floats:
    """The four corners ``(4, 2)`` [mm] of a box."""
    left, bottom, right, top = box
    return np.array([(left, bottom), (right, bottom), (right, top), (left, top)])


def slanted_boxes(place: tuple[float, float], width: float, height: float, degrees: float) -> list[Box]:
    """Cover a turned label by upright squares along its line, so that ``Taken`` can hold it."""
    count = max(1, math.ceil(width / height))
    step = width / count
    along = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    side = height + (step - height) * max(abs(along[0]), abs(along[1])) if step > height else height
    offsets = [(i + 0.5) * step - width / 2 for i in range(count)]
    return [box_around((place[0] + o * along[0], place[1] + o * along[1]), side, side) for o in offsets]


@dataclass(frozen=True, slots=True)
class LineLabel:
    """A place for a label on a line: its middle [mm] and its turn, upright: -90 < degrees <= 90."""

    x: float
    y: float
    degrees: float


def upright(degrees: float) -> float:
    """Turn a direction so that letters along it do not stand on their heads.

    >>> upright(170), upright(-90), upright(45)
    (-10.0, 90.0, 45.0)
    """
    turned = math.fmod(degrees, 180.0)
    if turned > 90.0:
        turned -= 180.0
    elif turned <= -90.0:
        turned += 180.0
    return turned


def label_places(line: Floats, width: float, *, step: float = 4.0) -> list[LineLabel]:
    """List the places where a label of ``width`` [mm] can stand on ``line``, the straightest stretch first.

    Parameters
    ----------
    line
        ``(k, 2)`` [mm] on the page.
    width
        Of the label [mm]; a line shorter than 1.5 times that has no place.
    step
        Places are tried so far apart along the line [mm].

    Returns
    -------
    list of LineLabel
        The turn follows the chord under the label, upright; ties go to the place nearest the line's middle.
    """
    parts = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(parts)])
    length = float(along[-1])
    if length < 1.5 * width:
        return []
    count = max(1, int((length - width) // step))
    middles = np.linspace(width / 2, length - width / 2, count) if count > 1 else np.array([length / 2])

    def at(s: Floats) -> Floats:
        return np.column_stack([np.interp(s, along, line[:, 0]), np.interp(s, along, line[:, 1])])

    first, middle, last = at(middles - width / 2), at(middles), at(middles + width / 2)
    chord = last - first
    reach = np.hypot(*chord.T)
    bend = width - reach + np.hypot(*(middle - (first + last) / 2).T)
    order = np.lexsort((np.abs(middles - length / 2), np.round(bend, 1)))
    turns = np.degrees(np.arctan2(chord[:, 1], chord[:, 0]))
    return [LineLabel(float(middle[i, 0]), float(middle[i, 1]), upright(float(turns[i]))) for i in order]
