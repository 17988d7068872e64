"""Is what was laid out square: corners from sides and diagonals, and which corner to move how far."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.sitework.setout_ties import DIAGONAL_TOLERANCE

Floats = NDArray[np.float64]

_ROUNDS = 50
_MOST_MISFIT = 0.05  # of the longest length: more is no slip of a tape but a wrong figure


@dataclass(frozen=True, slots=True)
class CornerMove:
    """Move corner ``number`` (from 1) ``along`` the first side and ``across`` it, left positive [m]."""

    number: int
    along: float
    across: float

    @property
    def distance(self) -> float:
        """Give how far the corner is moved [m]."""
        return math.hypot(self.along, self.across)


@dataclass(frozen=True)
class SquareCheck:
    """Corners as measured (4, 2) [m], first at the origin, second on the x axis.

    ``diagonals`` differ by ``difference`` [m], allowed ``tolerance``; ``misfit`` [m] is the worst
    disagreement of the six lengths among themselves. ``held`` are the corners (from 1) left standing,
    ``moves`` what brings the others to the planned rectangle.
    """

    corners: Floats
    diagonals: tuple[float, float]
    difference: float
    tolerance: float
    misfit: float
    held: tuple[int, int]
    moves: tuple[CornerMove, ...]
    passed: bool


class NoFourCornersError(ValueError):
    """Sides and diagonals that no four corners can have; ``misfit`` [m] is the worst disagreement."""

    def __init__(self, misfit: float) -> None:
        self.misfit = misfit
        super().__init__(f"these sides and diagonals do not belong to four corners: off by {misfit:.3f} m")


def check_square(
    sides: Sequence[float],
    diagonals: Sequence[float],
    *,
    size: tuple[float, float],
    tolerance: float = DIAGONAL_TOLERANCE,
) -> SquareCheck:
    """Judge four corners from measured ``sides`` 1-2, 2-3, 3-4, 4-1 and ``diagonals`` 1-3, 2-4 [m].

    ``size`` [m] is the planned rectangle (side 1-2, side 2-3). It passes when the diagonals differ by no more
    than ``tolerance`` and no side is off by more than the same. Moves are given for the one side that, left
    standing, asks for the fewest corners to move, then the shortest longest move. Raises
    ``NoFourCornersError`` for lengths that no four corners can have.
    """
    measured = np.array([*sides, *diagonals], np.float64)
    if len(measured) != 6 or not (np.isfinite(measured).all() and (measured > 0.0).all()):
        raise ValueError("four sides and two diagonals above 0 are needed")
    corners = _place_corners(measured)
    misfit = float(np.abs(_lengths(corners) - measured).max())
    ahead = np.roll(corners, -1, axis=0) - corners
    turns = ahead[:, 0] * np.roll(ahead, -1, axis=0)[:, 1] - ahead[:, 1] * np.roll(ahead, -1, axis=0)[:, 0]
    if misfit > _MOST_MISFIT * measured.max() or not (turns > 0.0).all():
        raise NoFourCornersError(misfit)
    planned = np.array([[0.0, 0.0], [size[0], 0.0], [size[0], size[1]], [0.0, size[1]]])
    off = np.abs(measured[:4] - _lengths(planned)[:4]).max()
    difference = float(abs(measured[4] - measured[5]))
    passed = difference <= tolerance + 1e-9 and off <= tolerance + 1e-9
    held, moves = _least_moves(corners, planned, tolerance)
    corners.setflags(write=False)
    pair = float(measured[4]), float(measured[5])
    return SquareCheck(corners, pair, difference, tolerance, misfit, held, () if passed else moves, passed)


_PAIRS = ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))


def _lengths(corners: Floats) -> Floats:
    return np.array([math.hypot(*(corners[b] - corners[a])) for a, b in _PAIRS])


def _place_corners(measured: Floats) -> Floats:
    """Place the corners by least squares of all six lengths: five unknowns, one length to spare."""
    a, b, _, d, p, q = measured
    corners = np.array([[0.0, 0.0], [a, 0.0], _third(a, p, b), _third(a, d, q)])
    free = np.array([corners[1, 0], *corners[2], *corners[3]])
    for _ in range(_ROUNDS):
        corners = _from_free(free)
        residual = measured - _lengths(corners)
        slopes = np.empty((6, 5))
        for k in range(5):
            step = np.zeros(5)
            step[k] = 1e-6 * measured.max()
            slopes[:, k] = (_lengths(_from_free(free + step)) - _lengths(_from_free(free - step))) / (
                2 * step[k]
            )
        change = np.linalg.lstsq(slopes, residual, rcond=None)[0]
        free = free + change
        if np.abs(change).max() < 1e-12 * measured.max():
            break
    return _from_free(free)


def _third(base: float, from_first: float, from_second: float) -> tuple[float, float]:
    along = (base**2 + from_first**2 - from_second**2) / (2.0 * base)
    return along, math.sqrt(max(0.0, from_first**2 - along**2))


def _from_free(free: Floats) -> Floats:
    return np.array([[0.0, 0.0], [free[0], 0.0], [free[1], free[2]], [free[3], free[4]]])


def _least_moves(
    corners: Floats, planned: Floats, tolerance: float
) -> tuple[tuple[int, int], tuple[CornerMove, ...]]:
    """Hold one corner and the line of one of its sides, for each of the eight ways; give the least work."""
    ways = []
    for held in range(4):
        for other in ((held + 1) % 4, (held - 1) % 4):
            wanted = _laid_on(corners, planned, held, other)
            shift = wanted - corners
            distance = np.hypot(*shift.T)
            moved = [k for k in range(4) if distance[k] > 0.5 * tolerance]
            moves = tuple(CornerMove(k + 1, float(shift[k, 0]), float(shift[k, 1])) for k in moved)
            ways.append((len(moved), round(float(distance.max()), 9), (held + 1, other + 1), moves))
    best = min(ways, key=lambda way: way[:3])
    return best[2], best[3]


def _laid_on(corners: Floats, planned: Floats, held: int, other: int) -> Floats:
    """Lay the planned rectangle on the held corner with its side toward the other corner."""
    now, then = corners[other] - corners[held], planned[other] - planned[held]
    turn = math.atan2(now[1], now[0]) - math.atan2(then[1], then[0])
    cosine, sine = math.cos(turn), math.sin(turn)
    laid: Floats = corners[held] + (planned - planned[held]) @ np.array([[cosine, sine], [-sine, cosine]])
    return laid
