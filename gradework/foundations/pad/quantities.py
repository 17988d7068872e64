"""What a gravel pad takes at any level: digging, gravel, boards, cost; and its edge at the level chosen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.volumes import AGREEMENT, cut_and_fill
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.batter import BatterGround, Slopes
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.footprint import Side
    from gradework.foundations.pad.spec import PadPrices, PadSpec


# Closed form, many levels at once. Ground g, strip s, least gravel t, finished level L: the subgrade is
# min(g - s, L - t), so
#
#     digging = s area + ∫ max(0, (g - s + t) - L),   gravel = t area + ∫ max(0, L - (g - s + t)),
#
# which are cut and fill of the ground itself against the level L + s - t. Outside the outline comes the
# edge.

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Quantities:
    """Arrays (m,), one entry per level.

    excavation : all digging, in place [m³]; gravel : to place, compacted [m³]; native : dug ground put
    back as fill, compacted [m³]; spoil : to haul away, in place [m³]; edge_excavation,
    edge_gravel : the part of both that lies outside the outline [m³]; surplus : compacted fill that the
    digging makes beyond what is needed [m³]; cost : money, NaN without prices; rising : cost per metre of
    level, NaN for a battered edge.
    """

    levels: Floats
    excavation: Floats
    gravel: Floats
    native: Floats
    spoil: Floats
    edge_excavation: Floats
    edge_gravel: Floats
    surplus: Floats
    cost: Floats
    rising: Floats


@dataclass(frozen=True, eq=False)
class PadGround:
    """The ground of one pad, ready to be asked for any level."""

    spec: PadSpec
    prices: PadPrices
    pieces: Pieces
    sides: tuple[Side, ...]
    batter: BatterGround | None
    refolded: tuple[PadGround, ...] = ()
    """The same pad where every square of the survey folds up, and where every one folds down."""

    @property
    def edge_high(self) -> float:
        """Highest ground along the outline [m]."""
        return max(float(side.ground.max()) for side in self.sides)

    @property
    def edge_low(self) -> float:
        """Lowest ground along the outline [m]."""
        return min(float(side.ground.min()) for side in self.sides)

    @property
    def shift(self) -> float:
        """The level L is dug and filled like a plain level L + shift [m]."""
        return self.spec.strip - self.spec.gravel

    def at(self, levels: Floats) -> Quantities:
        """Everything at these levels (m,) [m]. Raises ``CheckError`` where soil and stone do not add up."""
        spec, area = self.spec, self.pieces.area
        plain = cut_and_fill(self.pieces, levels + self.shift)
        dug = np.array([one.cut for one in plain])
        filled = np.array([one.fill for one in plain])
        edge = self._edge(levels)
        below = dug + edge.dug  # under the strip: the topsoil itself never makes fill
        above = filled + edge.filled
        surplus = spec.compaction * below - above
        native = np.minimum(spec.compaction * below, above) if spec.native_fill else np.zeros_like(below)
        excavation = spec.strip * area + below + spec.strip * edge.fill_area
        gravel = spec.gravel * area + above + spec.strip * edge.fill_area - native
        self._check(levels, excavation - gravel - native, excavation + gravel + native, edge)
        spoil = excavation - native / spec.compaction
        cost = self._cost(excavation, spoil, gravel, edge.face)
        rising = np.full(len(levels), np.nan)
        if self.batter is None:
            dug_area = np.array([one.cut_area for one in plain])
            fill_area = np.array([one.fill_area for one in plain])
            native_rises = np.zeros(len(levels))
            if spec.native_fill:
                native_rises = np.where(surplus < 0.0, -spec.compaction * dug_area, fill_area)
            rising = self._cost(
                -dug_area, -dug_area - native_rises / spec.compaction, fill_area - native_rises, edge.held
            )
        return Quantities(
            levels=levels,
            excavation=excavation,
            gravel=gravel,
            native=native,
            spoil=spoil,
            edge_excavation=edge.dug + spec.strip * edge.fill_area,
            edge_gravel=edge.filled + spec.strip * edge.fill_area,
            surplus=surplus,
            cost=cost,
            rising=rising,
        )

    def doubt(self, levels: Floats) -> tuple[Floats, Floats]:
        """How far digging and gravel may be off because squares do not say how they fold, (m,) each [m³].

        All folds up and all folds down are the extremes, since digging rises and gravel falls with the ground
        (but for the strip under side slopes, whose width goes the other way).
        """
        here = self.at(levels)
        dig, gravel = np.zeros(len(levels)), np.zeros(len(levels))
        for other in self.refolded:
            there = other.at(levels)
            dig = np.maximum(dig, np.abs(there.excavation - here.excavation))
            gravel = np.maximum(gravel, np.abs(there.gravel - here.gravel))
        return dig, gravel

    def _check(self, levels: Floats, net: Floats, moved: Floats, edge: _EdgeSums) -> None:
        """What is dug less what is placed (``net``) lowers the mean of the ground to the finished level.

        So it follows from the corners of the ground alone, whatever strip and gravel are [m³]; ``moved`` is
        the sum of both.
        """
        area = float(self.pieces.areas.sum())
        wanted = area * (self.pieces.mean - levels) + edge.dug - edge.filled
        far = abs(self.pieces.mean) + float(np.abs(levels).max(initial=0.0))
        slack = AGREEMENT * moved + area * far * 1e-13
        if not (np.abs(net - wanted) <= slack).all():
            raise CheckError("digging less gravel does not bring the ground to the level of the pad")

    def _cost(self, excavation: Floats, spoil: Floats, gravel: Floats, face: Floats) -> Floats:
        """Money for these quantities, or for their rates; NaN where a price is missing."""
        spec, prices = self.spec, self.prices
        if prices.missing(spec.edge):
            return np.full(len(excavation), np.nan)
        dig, haul, stone, boards = (
            value or 0.0 for value in (prices.dig, prices.haul, prices.gravel, prices.boards)
        )
        return dig * excavation + haul * spec.swell * spoil + stone * spec.density * gravel + boards * face

    def _edge(self, levels: Floats) -> _EdgeSums:
        zero = np.zeros(len(levels))
        if self.batter is not None:
            slopes = self.batter.volumes(levels)
            return _EdgeSums(slopes.cut, slopes.fill, slopes.fill_area, zero, zero)
        return _EdgeSums(zero, zero, zero, *board_face(self.sides, levels))


class _EdgeSums(NamedTuple):
    """Outside the outline: dug and filled volumes [m³], area of fill [m²], boards [m²], length held [m]."""

    dug: Floats
    filled: Floats
    fill_area: Floats
    face: Floats
    held: Floats


def board_face(sides: tuple[Side, ...], levels: Floats) -> tuple[Floats, Floats]:
    """Face of boards from the ground outside up to each level [m²], and the length they stand on [m]; (m,)
    each.

    Exact: along each straight stretch of ground the height held is a straight line cut off at nothing.
    """
    low, high, length = stretches(sides)
    level = levels[:, None]
    held = np.clip((level - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
    held = np.where(high > low, held, level > low)
    depth = np.where(level >= high, level - 0.5 * (low + high), 0.5 * held * (level - low))
    return (depth * length).sum(axis=1), (held * length).sum(axis=1)


def stretches(sides: tuple[Side, ...]) -> tuple[Floats, Floats, Floats]:
    """The straight stretches of ground along all sides: lower end, higher end, length [m], (n,) each."""
    start = np.concatenate([side.ground[:-1] for side in sides])
    end = np.concatenate([side.ground[1:] for side in sides])
    length = np.concatenate([np.diff(side.along) for side in sides])
    return np.minimum(start, end), np.maximum(start, end), length


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

    kind: ClassVar[Literal["boxed"]] = "boxed"


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

    kind: ClassVar[Literal["battered"]] = "battered"


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
