"""What a gravel pad takes at any level: digging, gravel, boards, cost; and its edge at the level chosen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.volumes import AGREEMENT, cut_and_fill
from gradework.errors import CheckError
from gradework.foundations.pad.basin import Basin, basin_at
from gradework.foundations.pad.edge import (
    SHAVING,
    EdgeBuilt,
    EdgeParts,
    EdgeRuns,
    board_step,
    build_edge,
    edge_parts,
    kind_at,
)

if TYPE_CHECKING:
    from gradework.earthwork.batter import BatterGround, Slopes
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.footprint import Side
    from gradework.earthwork.grading.outlet import OutletGround
    from gradework.earthwork.room import RoomGround
    from gradework.foundations.buying.pad_prices import PadPrices
    from gradework.foundations.pad.spec import PadSpec


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
    edge_gravel : the part of both that lies outside the outline [m³]; beside : dug beside a boxed pad, in
    place, not in excavation: working room, laid-back face, trench of its edge [m³]; refilled : soil of that
    which goes back beside the pad, in place [m³]; surplus : compacted fill that the
    digging makes beyond what is needed [m³]; cost : money, NaN without prices.
    """

    levels: Floats
    excavation: Floats
    gravel: Floats
    native: Floats
    spoil: Floats
    edge_excavation: Floats
    edge_gravel: Floats
    beside: Floats
    refilled: Floats
    surplus: Floats
    cost: Floats


@dataclass(frozen=True, eq=False)
class PadGround:
    """The ground of one pad, ready to be asked for any level."""

    spec: PadSpec
    prices: PadPrices
    pieces: Pieces
    sides: tuple[Side, ...]
    batter: BatterGround | None
    room: RoomGround | None = None
    outlets: OutletGround | None = None
    """Ways out of the lowest corner, in soil that lets no water go; else None."""
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
        edge = self.edge_at(levels)
        below = dug + edge.dug  # under the strip: the topsoil itself never makes fill
        above = filled + edge.filled
        surplus = spec.compaction * below - above
        native = np.minimum(spec.compaction * below, above) if spec.native_fill else np.zeros_like(below)
        excavation = spec.strip * area + below + spec.strip * edge.fill_area
        gravel = spec.gravel * area + above + spec.strip * edge.fill_area - native
        self._check(levels, excavation - gravel - native, excavation + gravel + native, edge)
        spoil = excavation - native / spec.compaction
        parts = [] if self.batter is not None else edge_parts_at(self.sides, levels, spec)
        piped, over = self._led_out(levels)
        room = self._room(levels)
        beside = room + [one.trench for one in parts or [EdgeParts()] * len(levels)] + over
        refilled = self._refilled(levels, room) + over
        cost = self._cost(excavation + beside, spoil + beside - refilled, gravel, parts)
        cost += self.prices.edge.pipe * piped / PIPE
        return Quantities(
            levels=levels,
            excavation=excavation,
            gravel=gravel,
            native=native,
            spoil=spoil,
            edge_excavation=edge.dug + spec.strip * edge.fill_area,
            edge_gravel=edge.filled + spec.strip * edge.fill_area,
            beside=beside,
            refilled=refilled,
            surplus=surplus,
            cost=cost,
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

    def _check(self, levels: Floats, net: Floats, moved: Floats, edge: EdgeSums) -> None:
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

    def _cost(self, excavation: Floats, spoil: Floats, gravel: Floats, parts: list[EdgeParts]) -> Floats:
        """Money for these quantities and for the parts of a boxed edge; NaN where a price is missing."""
        spec, prices = self.spec, self.prices
        if prices.missing(spec.edge):
            return np.full(len(excavation), np.nan)
        dig, haul, stone = (value or 0.0 for value in (prices.dig, prices.haul, prices.gravel))
        cost = dig * excavation + haul * spec.swell * spoil + stone * spec.density * gravel
        for number, one in enumerate(parts):
            held = sum(money for _, money in edge_money(one, prices).values())
            cost[number] += held + stone * spec.density * one.brought
        return cost

    def _room(self, levels: Floats) -> Floats:
        """Dug beside a boxed pad to build its edge where it is cut in: down to the bottom of its gravel."""
        return np.zeros(len(levels)) if self.room is None else self.room.volumes(levels - self.spec.gravel)

    def basin(self, level: float) -> Basin | None:
        """Whether the stone holds water at a level [m], in soil that lets none go; None in other soil."""
        if self.outlets is None:
            return None
        return basin_at(self.outlets, self.pieces, self.edge_low, self.spec, level)

    def _led_out(self, levels: Floats) -> tuple[Floats, Floats]:
        """Pipe that leads water out of the stone [m], and what is dug for it and goes back over it [m³]."""
        outlets = [basin.outlet if (basin := self.basin(level)) else None for level in levels.tolist()]
        pairs = [(one.length, one.cut) if one else (0.0, 0.0) for one in outlets]
        piped, over = np.array(pairs, dtype=np.float64).reshape(-1, 2).T
        return piped, over

    def _refilled(self, levels: Floats, dug: Floats) -> Floats:
        """Soil that fills the working room again up to the level [m³ in place], of what was ``dug`` there;
        the face stays as cut."""
        if self.room is None:
            return np.zeros(len(levels))
        room = self.room.strip(levels - self.spec.gravel) - self.room.strip(levels)
        refilled: Floats = np.minimum(room / self.spec.compaction, dug)
        return refilled

    def edge_at(self, levels: Floats) -> EdgeSums:
        """What is dug and filled outside the outline of a battered pad at these levels (m,) [m]."""
        zero = np.zeros(len(levels))
        if self.batter is None:
            return EdgeSums(zero, zero, zero)
        slopes = self.batter.volumes(levels)
        return EdgeSums(slopes.cut, slopes.fill, slopes.fill_area)


PIPE = 3.048
"""Length of one drain pipe as sold [m], 10 ft; 3 m in metric trade (memory)."""


class EdgeSums(NamedTuple):
    """Outside the outline of a battered pad: dug and filled volumes [m³], area of fill [m²]."""

    dug: Floats
    filled: Floats
    fill_area: Floats


def edge_money(parts: EdgeParts, prices: PadPrices) -> dict[str, tuple[float, float]]:
    """How much is bought of an edge [m², stakes, m²] and the money for it; boards without a price are free.

    Screws are paid with the stakes, pins and long screws with the timbers; the digging of the trench and the
    stone in it with the rest of both.
    """
    each = prices.edge
    pinned = each.pins * parts.pins + each.timber_screws * parts.timber_screws
    return {
        "timber frame": (parts.boards, (prices.boards or 0.0) * parts.boards),
        "edge stakes": (parts.stakes, each.stakes * parts.stakes + each.screws * parts.screws),
        "edge timbers": (parts.timbers, each.timbers * parts.timbers + pinned),
    }


def edge_parts_at(sides: tuple[Side, ...], levels: Floats, spec: PadSpec) -> list[EdgeParts]:
    """Give the bare amounts of a boxed edge at each level (m,) [m]."""
    return [edge_parts(runs, spec) for runs in edge_runs(sides, levels, spec)]


def edge_runs(sides: tuple[Side, ...], levels: Floats, spec: PadSpec) -> list[EdgeRuns]:
    """Give how far the edge runs along these sides at each level (m,) [m]."""
    low = min(float(side.ground.min()) for side in sides)
    greatest = levels - low
    face, first = board_face(sides, levels)
    high = board_face(sides, levels - board_step(spec))[1]
    kinds = [kind_at(height, spec) for height in greatest.tolist()]
    course = np.array([spec.timber if kind == "timbers" else spec.board for kind in kinds])
    most = int(np.ceil((greatest.max(initial=0.0) - SHAVING) / float(course.min(initial=spec.board))))
    courses = [first, *(board_face(sides, levels - number * course)[1] for number in range(1, most))]
    table = np.stack((greatest, face, first, high, *courses), axis=1).tolist()
    return [EdgeRuns(a, b, c, d, tuple(run for run in runs if run > 0.0)) for a, b, c, d, *runs in table]


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


@dataclass(frozen=True, eq=False)
class BoxedSide:
    """One side of a boxed pad.

    side : the ground along it.  heights : (k,) level above the ground outside at ``side.along`` [m], never
    below zero.  courses : running length of each course of boards or timbers, the top one first [m].  face :
    area held, from the ground up [m²].
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
    first; ``built`` is all that is put together.

    ``least`` and ``greatest`` [m]: level less ground outside, below zero where the ground stands higher.
    """

    sides: tuple[BoxedSide, ...]
    courses: tuple[float, ...]
    face: float
    least: float
    greatest: float
    greatest_at: tuple[float, float]
    built: EdgeBuilt

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


def boxed_edge(sides: tuple[Side, ...], level: float, spec: PadSpec, *, us: bool = True) -> BoxedEdge:
    """The edge of a pad at a level [m]: its boards in courses of the actual height of one, or timbers."""
    height, place = greatest_height(sides, level)
    at = np.array([level])
    # the highest place decides for all sides, so that corners meet
    whole = [edge_runs((side,), at, spec)[0] for side in sides]
    timbers = kind_at(height, spec) == "timbers"
    boxed = tuple(_boxed_side(side, level, spec.timber if timbers else spec.board) for side in sides)
    runs = tuple(one._replace(courses=side.courses) for one, side in zip(whole, boxed, strict=True))
    most = max(len(one.courses) for one in boxed)
    courses = tuple(sum(one.courses[n] for one in boxed if n < len(one.courses)) for n in range(most))
    return BoxedEdge(
        sides=boxed,
        courses=courses,
        face=sum(one.face for one in boxed),
        least=level - max(float(side.ground.max()) for side in sides),
        greatest=height,
        greatest_at=place,
        built=build_edge(runs, spec, us=us),
    )


def _boxed_side(side: Side, level: float, board: float) -> BoxedSide:
    heights = np.maximum(level - side.ground, 0.0)
    heights.setflags(write=False)
    count = int(np.ceil((float(heights.max()) - SHAVING) / board))
    steps = np.asarray(level - board * np.arange(max(count, 0)), dtype=np.float64)
    _, held = board_face((side,), steps)
    [face], _ = board_face((side,), np.array([level]))
    return BoxedSide(side, heights, tuple(held.tolist()), float(face))


def greatest_height(sides: tuple[Side, ...], level: float) -> tuple[float, tuple[float, float]]:
    """Greatest height of the level above the ground along the sides [m], and where."""
    side = min(sides, key=lambda one: float(one.ground.min()))
    lowest = int(side.ground.argmin())
    return level - float(side.ground[lowest]), side.point(float(side.along[lowest]))
