"""The edge of a gravel pad: boards from the ground outside up to the level, or a slope down to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.gravelpad_quantities import board_face

if TYPE_CHECKING:
    from gradework.earthwork.batter import Slopes
    from gradework.earthwork.perimeter import Side

Floats = NDArray[np.float64]

_SHAVING = 1e-4
"""[m] A height over full boards by less than this does not start another course."""


@dataclass(frozen=True, eq=False)
class BoxedSide:
    """One side of a boxed pad.

    side : the ground along it.  heights : (k,) level above the ground outside at ``side.along`` [m], never
    below zero.  courses : running length of each course of boards, the top one first [m].  face : area of
    boards [m²].
    """

    side: Side
    heights: Floats
    courses: tuple[float, ...]
    face: float

    @property
    def name(self) -> str:
        """The two corners of the side."""
        return f"{self.side.start} to {self.side.end}"

    @property
    def length(self) -> float:
        """Length of the side [m]."""
        return self.side.length

    @property
    def greatest(self) -> float:
        """Greatest height above the ground outside [m]."""
        return float(self.heights.max())


@dataclass(frozen=True, eq=False)
class BoxedEdge:
    """Boards all round: per side, and the running length of each course over all sides [m], the top one
    first.

    ``least`` and ``greatest`` [m]: level less ground outside, below zero where the ground stands higher.
    """

    sides: tuple[BoxedSide, ...]
    courses: tuple[float, ...]
    face: float
    least: float
    greatest: float
    greatest_at: tuple[float, float]

    kind = "boxed"


@dataclass(frozen=True, eq=False)
class BatteredEdge:
    """Side slopes down (or up) to the ground.

    slopes : volumes outside the outline and where the slopes end.  excavation, gravel : the digging (with the
    strip under the slopes) and the gravel outside the outline [m³].  area : ground covered by pad and
    slopes [m²].
    """

    slopes: Slopes
    excavation: float
    gravel: float
    area: float
    greatest: float
    greatest_at: tuple[float, float]

    kind = "battered"


def boxed_edge(sides: tuple[Side, ...], level: float, board: float) -> BoxedEdge:
    """The boards of a pad at a level [m], in courses of the actual height of one board [m]."""
    boxed = tuple(_boxed_side(side, level, board) for side in sides)
    most = max(len(one.courses) for one in boxed)
    courses = tuple(sum(one.courses[n] for one in boxed if n < len(one.courses)) for n in range(most))
    height, place = greatest_height(sides, level)
    return BoxedEdge(
        sides=boxed,
        courses=courses,
        face=sum(one.face for one in boxed),
        least=level - max(float(side.ground.max()) for side in sides),
        greatest=height,
        greatest_at=place,
    )


def _boxed_side(side: Side, level: float, board: float) -> BoxedSide:
    heights = np.maximum(level - side.ground, 0.0)
    heights.setflags(write=False)
    count = int(np.ceil((float(heights.max()) - _SHAVING) / board))
    steps = np.asarray(level - board * np.arange(max(count, 0)), dtype=np.float64)
    _, held = board_face((side,), steps)
    [face], _ = board_face((side,), np.array([level]))
    return BoxedSide(side, heights, tuple(held.tolist()), float(face))


def greatest_height(sides: tuple[Side, ...], level: float) -> tuple[float, tuple[float, float]]:
    """Greatest height of the level above the ground along the sides [m], and where."""
    side = min(sides, key=lambda one: float(one.ground.min()))
    lowest = int(side.ground.argmin())
    return level - float(side.ground[lowest]), side.point(float(side.along[lowest]))
