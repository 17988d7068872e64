"""Where the names of small things stand: beside them, inside them, or farther off at the end of a leader.

Bare geometry in millimetres on the page; nothing is drawn here. Every name gets the same size of type, the
largest at which all of them stand; where none is small enough, as many stand as find room.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from gradework.drawings.lettering import Style, height_mm, width_mm
from gradework.errors import Finding, finding

# Where labels may stand: boxes that are taken, spots that are thinned out, the best stretch of a contour.
#
# Bare geometry in millimetres on the page; nothing is drawn here.

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


Place = tuple[float, float]

LEAST_POINTS = 6.0
"""No name is set smaller than this, 1.5 mm high: what is read at arm's length on a site (judgement)."""

_AROUND_MM = 0.35  # white around the letters
_IN_MM = 0.15  # the same for a name inside its thing
_OFF_MM = 0.25  # from a thing to the white around its name
_OTHERS_MM = 0.7  # a name without a leader keeps so far from other things, so that it is clear whose it is
_LEADERS_MM = (2.0, 3.5, 5.0, 7.0, 9.0, 12.0, 15.0, 19.0, 24.0)
_DIRECTIONS = 16
_MOST_TOLD = 8
_EVERYWHERE = ("beside", "inside", "upright", "leader")


@dataclass(frozen=True, slots=True)
class Standing:
    """One name that stands: which thing it names, its middle [mm], its turn, its type, its leader or None.

    ``leader`` runs from the edge of the thing to the edge of the name [mm].
    """

    number: int
    text: str
    place: Place
    degrees: float
    style: Style
    leader: tuple[Place, Place] | None = None
    white: float = _AROUND_MM

    @property
    def box(self) -> Box:
        """The box of the letters and the ``white`` [mm] around them."""
        wide, high = _size(self.text, self.style, self.white)
        return box_around(self.place, *((high, wide) if self.degrees else (wide, high)))


def place_names(things: Sequence[Box], texts: Sequence[str], taken: Taken, style: Style) -> list[Standing]:
    """Find a place for the name of each thing; take the places that are found.

    Parameters
    ----------
    things
        The boxes of the things on the page; they are taken by this.
    texts
        Their names.
    taken
        What names keep off. Leaders may cross it, but no thing, no name of another, no other leader.
    style
        Of the names, at the largest size; half points less are tried down to ``LEAST_POINTS``.

    Returns
    -------
    list of Standing
        In the order of ``things``; one that is missing found no place at any size.
    """
    best: list[Standing] = []
    sizes = np.arange(style.points, min(LEAST_POINTS, style.points) - 0.01, -0.5).tolist()
    # where only some can stand beside their things, all of them inside are easier to read than a mixture
    for where in (("beside",), ("inside",), ("beside", "inside", "upright"), _EVERYWHERE):
        for points in sizes:
            found = _Room(things, taken).place_all(texts, replace(style, points=points), where)
            if len(found) > len(best):
                best = found
            if len(best) == len(things):
                break
        if len(best) == len(things):
            break
    for box in (*things, *(one.box for one in best)):
        taken.take(box)
    return best


def without_room(drawing: str, names: Sequence[str], count: int) -> tuple[Finding, ...]:
    """Tell which of ``count`` names found no room on a drawing ("The plan"); nothing where all stand."""
    if not names:
        return ()
    which = ", ".join(names[:_MOST_TOLD]) + (" ..." if len(names) > _MOST_TOLD else "")
    left_out = len(names)
    return (
        finding(
            "names-left-out", "note", "names on the drawings", float(left_out), 0.0,
            drawing=drawing, left_out=left_out, count=count, names=which,
        ),
    )  # fmt: skip


class _Room:
    """The room for names in one trial: what was taken before, the things, names and leaders so far."""

    def __init__(self, things: Sequence[Box], taken: Taken) -> None:
        self.taken = taken
        self.things = np.array(things, dtype=float).reshape(-1, 4)
        self.names: list[Box] = []
        self.leaders: list[tuple[Place, Place]] = []

    def place_all(self, texts: Sequence[str], style: Style, where: Sequence[str]) -> list[Standing]:
        """Place what can be placed ``where`` it may stand, the thing with the least choice first."""
        choices = [list(self._near(number, text, style, where)) for number, text in enumerate(texts)]
        found: list[Standing] = []
        left: list[int] = []
        for number in sorted(range(len(texts)), key=lambda n: len(choices[n])):
            one = next((c for c in choices[number] if self._name_is_free(c.box)), None)
            if one is None:
                left.append(number)
            else:
                self._keep(one, found)
        for number in left if "leader" in where else []:
            one = next(self._far(number, texts[number], style), None)
            if one is not None:
                self._keep(one, found)
        return sorted(found, key=lambda one: one.number)

    def _keep(self, one: Standing, found: list[Standing]) -> None:
        found.append(one)
        self.names.append(one.box)
        if one.leader is not None:
            self.leaders.append(one.leader)

    def _near(self, number: int, text: str, style: Style, where: Sequence[str]) -> Iterator[Standing]:
        """The places beside a thing, straight above it first, inside it, and upright beside it."""
        left, bottom, right, top = self.things[number].tolist()
        middle = ((left + right) / 2, (bottom + top) / 2)
        wide, high = _size(text, style)
        size = (right - left, top - bottom)
        if "beside" in where:
            yield from self._beside(Standing(number, text, middle, 0.0, style), size)
        if "inside" in where:
            slack = 2.0 * (_AROUND_MM - _IN_MM)
            for turn, across, along in ((0.0, wide, high), (90.0, high, wide)):
                if across - slack <= size[0] and along - slack <= size[1]:
                    yield Standing(number, text, middle, turn, style, white=_IN_MM)
        if "upright" in where:
            yield from self._beside(Standing(number, text, middle, 90.0, style), size)

    def _beside(self, at: Standing, size: tuple[float, float]) -> Iterator[Standing]:
        """Move a name from the middle of its thing to the free places that touch its sides."""
        left, bottom, right, top = at.box
        up, aside = (size[1] + top - bottom) / 2 + _OFF_MM, (size[0] + right - left) / 2 + _OFF_MM
        slide_x, slide_y = aside - _OFF_MM - 0.2, up - _OFF_MM - 0.2
        spots = [(0.0, up), (0.0, -up), (aside, 0.0), (-aside, 0.0)]
        for share in (0.3, 0.6, 1.0):
            for sign in (1.0, -1.0):
                spots += [(sign * share * slide_x, up), (sign * share * slide_x, -up)]
                spots += [(aside, sign * share * slide_y), (-aside, sign * share * slide_y)]
        for dx, dy in spots:
            one = replace(at, place=(at.place[0] + dx, at.place[1] + dy))
            if self.taken.is_free(one.box) and not self._meets_things(one.box, at.number, _OTHERS_MM):
                yield one

    def _far(self, number: int, text: str, style: Style) -> Iterator[Standing]:
        """The free places farther off, the nearest first, each with its leader."""
        left, bottom, right, top = self.things[number].tolist()
        x, y = (left + right) / 2, (bottom + top) / 2
        wide, high = _size(text, style)
        for away in _LEADERS_MM:
            for turn in range(_DIRECTIONS):
                c, s = (f(2.0 * math.pi * (turn + 0.5) / _DIRECTIONS) for f in (math.cos, math.sin))
                # ``away`` is what shows of the leader: from the edge of the thing to the edge of the name
                start = _edge((x, y), (right - left) / 2, (top - bottom) / 2, (c, s))
                end = (start[0] + away * c, start[1] + away * s)
                back = _edge((0.0, 0.0), wide / 2, high / 2, (c, s))
                one = Standing(
                    number, text, (end[0] + back[0], end[1] + back[1]), 0.0, style, leader=(start, end)
                )
                free = self.taken.is_free(one.box) and not self._meets_things(one.box, number, _OFF_MM)
                if free and self._name_is_free(one.box) and self._leader_is_free((start, end), number):
                    yield one

    def _meets_things(self, box: Box, own: int, apart: float) -> bool:
        l, b, r, t = self.things.T  # noqa: E741
        meets = (l < box[2] + apart) & (box[0] - apart < r) & (b < box[3] + apart) & (box[1] - apart < t)
        meets[own] = False
        own_box = self.things[own].tolist()
        return bool(meets.any()) or overlap(box, (own_box[0], own_box[1], own_box[2], own_box[3]))

    def _name_is_free(self, box: Box) -> bool:
        return not any(overlap(box, name) for name in self.names) and not any(
            crosses(leader, box) for leader in self.leaders
        )

    def _leader_is_free(self, leader: tuple[Place, Place], own: int) -> bool:
        boxes = enumerate(self.things.tolist())
        things = ((left, bottom, right, top) for n, (left, bottom, right, top) in boxes if n != own)
        if any(crosses(leader, box) for box in (*things, *self.names)):
            return False
        return not any(_cross_each_other(leader, other) for other in self.leaders)


def _size(text: str, style: Style, white: float = _AROUND_MM) -> tuple[float, float]:
    """Width and height of a name with the white around it [mm]."""
    return width_mm(text, style.points, style.weight) + 2 * white, height_mm(style.points) + 2 * white


def _edge(middle: Place, half_wide: float, half_high: float, direction: Place) -> Place:
    """Where a ray from the middle of a box leaves it."""
    c, s = direction
    reach = min(half_wide / abs(c) if c else math.inf, half_high / abs(s) if s else math.inf)
    return middle[0] + reach * c, middle[1] + reach * s


def crosses(line: tuple[Place, Place], box: Box) -> bool:
    """Tell whether a straight line from end to end passes through the inside of a box.

    >>> crosses(((0, 0), (4, 4)), (1, 1, 2, 2)), crosses(((0, 0), (4, 0)), (1, 0, 2, 2))
    (True, False)
    """
    first, last = 0.0, 1.0
    for start, end, low, high in (
        (line[0][0], line[1][0], box[0], box[2]),
        (line[0][1], line[1][1], box[1], box[3]),
    ):
        run = end - start
        if run == 0.0:
            if not low < start < high:
                return False
            continue
        one, two = sorted(((low - start) / run, (high - start) / run))
        first, last = max(first, one), min(last, two)
    return first < last


def _cross_each_other(one: tuple[Place, Place], other: tuple[Place, Place]) -> bool:
    def side(line: tuple[Place, Place], at: Place) -> float:
        (ax, ay), (bx, by) = line
        return (bx - ax) * (at[1] - ay) - (by - ay) * (at[0] - ax)

    return (
        side(one, other[0]) * side(one, other[1]) <= 0.0 and side(other, one[0]) * side(other, one[1]) <= 0.0
    )
