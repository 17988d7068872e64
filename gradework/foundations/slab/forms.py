"""Form boards along the edge of a slab: side by side, as high as the ground outside asks for, in courses.

The top course reaches down from the top of the slab. Where the highest board sold is not enough another
stands below it, as high as what is left asks for. Boards end at the corners.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.footprint import Side

Floats = NDArray[np.float64]

SHORTEST = 0.6096
"""No board is shorter than this where the side has room [m]: 2 ft, so that two stakes hold it. Common
practice, no source."""

SHAVING = 1e-4
"""[m] Edge higher than a board by less than this does not take a higher one."""


class FormBoard(NamedTuple):
    """A run of boards of one height on one side: where it starts and how long it is [m].

    ``side`` counts the sides of the outline and ``course`` the boards from the top, both from 0; ``at_end``
    says that the run reaches the end of its side.
    """

    side: int
    course: int
    start: float
    length: float
    height: float
    at_end: bool

    @property
    def end(self) -> float:
        """Give where the run ends on its side [m]."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class FormStretch:
    """Edge with the same boards one above the other, from the top: their heights [m], the length of edge [m].

    >>> round(FormStretch((0.28575, 0.0889), 10.8).height, 6)
    0.37465
    """

    boards: tuple[float, ...]
    length: float

    @property
    def height(self) -> float:
        """Give the height of all boards together [m]."""
        return math.fsum(self.boards)

    @property
    def courses(self) -> int:
        """Give the number of boards one above the other."""
        return len(self.boards)


def form_boards(
    sides: Sequence[Side], *, top: float, least: float, most: float, heights: Sequence[float]
) -> tuple[FormBoard, ...]:
    """Choose boards for the edge: from the ground outside up to ``top`` [m], ``least`` to ``most`` high [m].

    ``heights`` [m] are the boards sold. Raises ``CheckError`` where a board is too low for the ground.
    """
    boards = []
    for number, side in enumerate(sides):
        own = [
            FormBoard(number, course, start, end - start, height, end >= side.length - SHAVING)
            for course in range(_courses(most, max(heights)))
            for start, end, height in _course(side, course, top, least, most, heights)
        ]
        _check(side, own, top, least, most)
        boards += own
    return tuple(boards)


def form_stretches(sides: Sequence[Side], boards: Sequence[FormBoard]) -> tuple[FormStretch, ...]:
    """Sum up the edge by what stands on it, lowest first; all stretches together are as long as the sides."""
    lengths: dict[tuple[float, ...], float] = {}
    for number, side in enumerate(sides):
        own = [board for board in boards if board.side == number]
        marks = sorted({0.0, side.length, *(b.start for b in own), *(b.end for b in own)})
        for start, end in pairwise(marks):
            stack = _stack(own, 0.5 * (start + end))
            lengths[stack] = lengths.get(stack, 0.0) + end - start
    found = [FormStretch(stack, length) for stack, length in lengths.items() if length > SHAVING]
    return tuple(sorted(found, key=lambda stretch: (stretch.height, stretch.courses)))


def _courses(height: float, tallest: float) -> int:
    """Count the courses of the highest board that reach ``height``; one at the least.

    >>> _courses(0.6096, 0.28575), _courses(0.1, 0.28575)
    (3, 1)
    """
    return max(1, math.ceil((height - SHAVING) / tallest))


def _stack(boards: Sequence[FormBoard], at: float) -> tuple[float, ...]:
    courses: dict[int, float] = {}
    for board in boards:
        if board.start <= at <= board.end:
            courses[board.course] = max(board.height, courses.get(board.course, 0.0))
    return tuple(courses[course] for course in sorted(courses))


def _check(side: Side, boards: Sequence[FormBoard], top: float, least: float, most: float) -> None:
    marks = sorted(
        {0.0, side.length, *side.along.tolist(), *(b.start for b in boards), *(b.end for b in boards)}
    )
    for start, end in pairwise(marks):
        ground = float(np.interp(0.5 * (start + end), side.along, side.ground))
        needed = min(max(top - ground, least), most)
        stands = sum(_stack(boards, 0.5 * (start + end)))
        if stands < needed - 2 * SHAVING and end - start > SHAVING:  # less is rounding of the ends
            raise CheckError(f"form boards from {side.start} to {side.end} are lower than {needed} m")


def _course(
    side: Side, course: int, top: float, least: float, most: float, heights: Sequence[float]
) -> Iterator[tuple[float, float, float]]:
    """Give the boards of one course along a side: start, end, height [m]; none where none is needed."""
    above = course * max(heights)
    sold = sorted(heights)
    runs: list[list[float]] = []
    for start, end in pairwise(_marks(side, [top - above - height for height in (0.0, *sold)])):
        ground = float(np.interp(0.5 * (start + end), side.along, side.ground))
        rest = min(max(top - ground, least), most) - above
        board = next((height for height in sold if rest <= height + SHAVING), sold[-1])
        if rest <= (SHAVING if course else -math.inf):
            board = 0.0
        if runs and runs[-1][2] == board:
            runs[-1][1] = end
        else:
            runs.append([start, end, board])
    for number in range(1, len(runs) - 1):
        if runs[number][2] == 0.0 and runs[number][1] - runs[number][0] < SHORTEST:
            runs[number][2] = min(runs[number - 1][2], runs[number + 1][2])  # a board runs across a short gap
    for stands, group in groupby(runs, key=lambda run: run[2] > 0.0):
        if stands:
            yield from _lengthened(list(group), side.length)


def _marks(side: Side, levels: Sequence[float]) -> list[float]:
    """Distances along a side where its ground passes one of these levels, and its ends and bends [m]."""
    marks = {0.0, side.length, *side.along.tolist()}
    for (start, end), (a, b) in zip(
        pairwise(side.along.tolist()), pairwise(side.ground.tolist()), strict=True
    ):
        for level in levels:
            limit = level - SHAVING
            if min(a, b) < limit < max(a, b):
                marks.add(start + (end - start) * (limit - a) / (b - a))
    return sorted(marks)


def _lengthened(runs: list[list[float]], length: float) -> Iterator[tuple[float, float, float]]:
    """Leave no board shorter than ``SHORTEST``: a higher neighbour takes it over, or a lower one lends."""
    runs = _merged(runs)
    while len(runs) > 1:
        short = min(range(len(runs)), key=lambda n: runs[n][1] - runs[n][0])
        start, end, height = runs[short]
        if end - start >= SHORTEST - SHAVING:
            break
        beside = [n for n in (short - 1, short + 1) if 0 <= n < len(runs)]
        higher = [n for n in beside if runs[n][2] > height]
        if higher:
            runs[short][2] = min(runs[n][2] for n in higher)
        else:
            lender = max(beside, key=lambda n: runs[n][1] - runs[n][0])
            _borrow(runs, short, lender, SHORTEST - (end - start))
        runs = _merged(runs)
    if len(runs) == 1 and runs[0][1] - runs[0][0] < SHORTEST:
        middle, room = 0.5 * (runs[0][0] + runs[0][1]), min(SHORTEST, length)
        start = min(max(0.0, middle - 0.5 * room), length - room)
        runs = [[start, start + room, runs[0][2]]]
    yield from ((start, end, height) for start, end, height in runs)


def _borrow(runs: list[list[float]], short: int, lender: int, missing: float) -> None:
    """Lengthen one run by what is missing from its neighbour, by all of it where too little would be left."""
    if runs[lender][1] - runs[lender][0] - missing < SHORTEST:
        runs[lender][2] = runs[short][2]
    elif lender < short:
        runs[lender][1] = runs[short][0] = runs[short][0] - missing
    else:
        runs[lender][0] = runs[short][1] = runs[short][1] + missing


def _merged(runs: Sequence[list[float]]) -> list[list[float]]:
    merged: list[list[float]] = []
    for start, end, height in runs:
        if merged and merged[-1][2] == height:
            merged[-1][1] = end
        else:
            merged.append([start, end, height])
    return merged
