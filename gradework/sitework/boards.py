"""Edge boards around a boxed pad: courses by height, corners, joints, and the boards to buy."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from gradework.sitework.cutting import CuttingPlan, cut_stock

SHORTEST_JOINED = 0.6096
"""No joined piece is shorter than this [m]: 2 ft, so that two stakes hold it. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Board:
    """A board as sold: actual (not nominal) ``thickness`` and ``face`` height, stock ``lengths`` [m].

    ``density`` [kg/m³] is that of treated softwood as it comes from the yard, still damp.
    """

    name: str
    thickness: float
    face: float
    lengths: tuple[float, ...]
    density: float = 600.0
    kerf: float = 0.003

    def mass(self, length: float) -> float:
        """Give the mass [kg] of so many metres of board."""
        return self.thickness * self.face * length * self.density


@dataclass(frozen=True, slots=True)
class EdgeSide:
    """One side of the pad: its name, its length along the gravel [m], and how many boards stand on it."""

    name: str
    length: float
    courses: int


@dataclass(frozen=True, slots=True)
class BoardPlan:
    """The pieces of every side (name, length [m]), the boards to cut them from, and the joints needed."""

    board: Board
    pieces: tuple[tuple[str, float], ...]
    joints: int
    cutting: CuttingPlan

    @property
    def net_length(self) -> float:
        """Length of board built in [m]."""
        return math.fsum(length for _, length in self.pieces)


def courses_for(height: float, board: Board) -> int:
    """Give the number of boards one above the other that reach ``height`` [m]; 0 where nothing is to hold.

    A height over full boards by less than 0.1 mm is not given another board.

    >>> courses_for(0.30, Board("2 x 6", 0.0381, 0.1397, (3.6576,)))
    3
    """
    return max(0, math.ceil((height - 1e-4) / board.face))


def board_plan(
    sides: Sequence[EdgeSide], board: Board, *, price: Mapping[float, float] | None = None
) -> BoardPlan:
    """Cut the boards for every side; at each corner one board laps the end of the next.

    The boards stand outside the gravel, so each side is longer than the gravel by one board thickness. A side
    longer than the longest stock is joined; alternate courses start from opposite ends, so that joints do
    not stand one above the other.
    """
    longest = max(board.lengths)
    pieces = [
        (side.name, length)
        for side in sides
        for _ in range(side.courses)
        for length in joined(side.length + board.thickness, longest)
    ]
    runs = sum(side.courses for side in sides)
    cutting = cut_stock([length for _, length in pieces], board.lengths, kerf=board.kerf, price=price)
    return BoardPlan(board, tuple(pieces), len(pieces) - runs, cutting)


def joined(length: float, longest: float) -> tuple[float, ...]:
    """Split a run [m] into full boards and a rest; a rest too short to hold takes some from its neighbour."""
    if length <= longest + 5e-5:
        return (length,)
    full = int(length / longest)
    rest = length - full * longest
    if rest < 1e-4:
        return (longest,) * full
    least = min(SHORTEST_JOINED, longest / 2.0)
    if rest >= least:
        return (*((longest,) * full), rest)
    return (*((longest,) * (full - 1)), longest - (least - rest), least)
