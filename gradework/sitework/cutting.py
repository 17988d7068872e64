"""What to cut from stock: the lengths to buy for pieces, a board as sold, the strips of fabric.

The search for stock lengths goes over the counts of equal pieces still to cut: the longest of them must lie
on some bar, so every way to fill that bar is tried and the rest solved the same way, each rest only once. A
list with too many different rests falls back on best fit and says that it is not proved least.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import shapely

from gradework.foundations.buying.strips import Sold, angles_of, lay

if TYPE_CHECKING:
    from numpy.typing import NDArray


GRID = 10_000
"""Lengths are compared in whole tenths of a millimetre: 1 ft is 3048 of them, exactly."""

MOST_RESTS = 5_000
"""Above so many different rests the exact search is left out."""


@dataclass(frozen=True, slots=True)
class CutBar:
    """One bar (board, roll) bought: its length, the pieces cut from it in order, what is left [m]."""

    stock: float
    pieces: tuple[float, ...]
    offcut: float


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """All bars to buy, longest first; ``proved`` says that no cheaper choice exists."""

    bars: tuple[CutBar, ...]
    proved: bool

    @property
    def bought(self) -> float:
        """Total length bought [m]."""
        return math.fsum(bar.stock for bar in self.bars)

    @property
    def offcuts(self) -> tuple[float, ...]:
        """What is left over, longest first [m]; nothing shorter than a centimetre counts."""
        return tuple(sorted((b.offcut for b in self.bars if b.offcut >= 0.01), reverse=True))

    def count(self) -> dict[float, int]:
        """Bars of each stock length [m], longest first."""
        return dict(sorted(Counter(bar.stock for bar in self.bars).items(), reverse=True))


_Cost = tuple[int, int]  # length bought, bars
_Load = tuple[int, ...]  # how many of each piece


def cut_stock(
    pieces: Sequence[float],
    stock: Sequence[float],
    *,
    kerf: float = 0.0,
) -> CuttingPlan:
    """Choose the bars for ``pieces`` [m] from ``stock`` lengths [m], any number of each: least total length.

    Ties go to fewer bars. Each cut takes ``kerf`` [m]. Lengths are kept to 0.1 mm. No pieces, no bars.
    Raises ``ValueError`` for a piece longer than the longest bar, or lengths not above 0.

    >>> plan = cut_stock([3.0, 3.0, 2.0], [4.0, 5.0])
    >>> plan.count(), round(plan.bought, 3)
    ({5.0: 1, 4.0: 1}, 9.0)
    """
    if not stock or min(stock) <= 0.0 or any(not (math.isfinite(p) and p > 0.0) for p in pieces):
        raise ValueError("pieces and stock lengths must be above 0")
    if not pieces:
        return CuttingPlan((), True)
    if max(pieces) > max(stock) + 0.5 / GRID:
        raise ValueError(f"a piece of {max(pieces)} m is longer than the longest stock of {max(stock)} m")
    search = _Search(pieces, stock, kerf)
    rests = math.prod(c + 1 for c in search.wanted)
    proved = rests <= MOST_RESTS
    loads = search.exact() if proved else search.best_fit()
    return CuttingPlan(search.bars(loads), proved)


class _Search:
    """The counts of equal pieces, longest first, and the bars they are cut from, in whole grid lengths."""

    def __init__(self, pieces: Sequence[float], stock: Sequence[float], kerf: float) -> None:
        self.kerf = up_to_grid(kerf)
        exact = {up_to_grid(piece): piece for piece in pieces}
        counts = Counter(up_to_grid(piece) for piece in pieces)
        self.lengths = sorted(counts, reverse=True)
        self.piece = [exact[length] for length in self.lengths]
        self.wanted: _Load = tuple(counts[length] for length in self.lengths)
        self.stock: dict[float, int] = {s: up_to_grid(s) for s in sorted(set(stock))}
        self.best: dict[_Load, tuple[_Cost, tuple[tuple[float, _Load], ...]]] = {}

    def exact(self) -> tuple[tuple[float, _Load], ...]:
        """Give the cheapest bars and what lies on each, for all pieces wanted."""
        nothing = tuple(0 for _ in self.wanted)
        self.best[nothing] = ((0, 0), ())
        stack = [self.wanted]
        while stack:  # depth first without recursion: a long list must not meet Python's recursion limit
            rest = stack[-1]
            if rest in self.best:
                stack.pop()
                continue
            ways = [(s, load, _less(rest, load)) for s in self.stock for load in self.loads(rest, s)]
            # a rest is settled only once all rests below it are: those are looked at first
            missing = [left for _, _, left in ways if left not in self.best]
            if missing:
                stack.extend(missing)
                continue
            s, load, left = min(ways, key=lambda way: self._with(way[0], way[2]))
            self.best[rest] = (self._with(s, left), ((s, load), *self.best[left][1]))
            stack.pop()
        return self.best[self.wanted][1]

    def _with(self, stock: float, left: _Load) -> _Cost:
        """Give the cost of a bar and of the best bars for what is left."""
        length, bars = self.best[left][0]
        return length + self.stock[stock], bars + 1

    def loads(self, rest: _Load, stock: float) -> Iterator[_Load]:
        """Give every full load of a bar that holds the longest piece left; full means nothing more fits."""
        first = next(i for i, count in enumerate(rest) if count)
        room = self.stock[stock] + self.kerf - self.lengths[first] - self.kerf  # the last piece needs no cut
        if room >= 0:
            start = [0] * len(rest)
            start[first] = 1
            yield from self._fill(rest, start, first, room)

    def _fill(self, rest: _Load, load: list[int], kind: int, room: int) -> Iterator[_Load]:
        if kind == len(rest):
            full = all(rest[i] == load[i] or self.lengths[i] + self.kerf > room for i in range(len(rest)))
            if full:
                yield tuple(load)
            return
        step = self.lengths[kind] + self.kerf
        most = min(rest[kind] - load[kind], room // step)
        for extra in range(most, -1, -1):
            more = load.copy()
            more[kind] += extra
            yield from self._fill(rest, more, kind + 1, room - extra * step)

    def best_fit(self) -> tuple[tuple[float, _Load], ...]:
        """Fill bar after bar: the one with the least waste per length used; not proved least."""
        rest, bars = self.wanted, []

        def waste(way: tuple[float, _Load]) -> Fraction:
            used = sum(length * count for length, count in zip(self.lengths, way[1], strict=True))
            return Fraction(self.stock[way[0]], used)

        while any(rest):
            longest = next(length for length, count in zip(self.lengths, rest, strict=True) if count)
            fitting = (s for s, grid in self.stock.items() if grid >= longest)
            stock, load = min(((s, self._greedy(rest, s)) for s in fitting), key=waste)
            bars.append((stock, load))
            rest = _less(rest, load)
        return tuple(bars)

    def _greedy(self, rest: _Load, stock: float) -> _Load:
        room, load = self.stock[stock] + self.kerf, [0] * len(rest)
        for kind, count in enumerate(rest):
            load[kind] = min(count, room // (self.lengths[kind] + self.kerf))
            room -= load[kind] * (self.lengths[kind] + self.kerf)
        return tuple(load)

    def bars(self, loads: Sequence[tuple[float, _Load]]) -> tuple[CutBar, ...]:
        """Turn grid lengths back into metres; the cuts' own width goes off the offcut."""
        made = []
        for stock, load in loads:
            pieces = tuple(p for p, count in zip(self.piece, load, strict=True) for _ in range(count))
            used = math.fsum(pieces) + self.kerf / GRID * len(pieces)
            made.append(CutBar(stock, pieces, max(0.0, stock - used)))
        return tuple(sorted(made, key=lambda bar: (-bar.stock, [-p for p in bar.pieces])))


def up_to_grid(length: float) -> int:
    """Round a length up to the grid, but not for a last-digit error of the float."""
    return math.ceil(length * GRID - 1e-4)  # up: a piece cut short is lost


def _less(rest: _Load, load: _Load) -> _Load:
    return tuple(r - taken for r, taken in zip(rest, load, strict=True))


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
class FabricRoll:
    """A roll as sold: ``width``, ``length`` and the least ``overlap`` of neighbouring strips [m].

    ``price`` is the money for one where it has a price of its own, else rolls are paid by their area.
    """

    width: float
    length: float
    overlap: float
    mass_per_m2: float = 0.15
    price: float | None = None

    @property
    def area(self) -> float:
        """Area of a roll [m²]."""
        return self.width * self.length

    @property
    def mass(self) -> float:
        """Mass of a roll [kg]."""
        return self.area * self.mass_per_m2


@dataclass(frozen=True, slots=True)
class FabricPlan:
    """Strips laid along ``direction`` [deg anticlockwise from +x] with their lengths [m], and the rolls.

    ``covered`` is the area lined once [m²]; ``lap`` the overlap as laid [m], below the roll's
    least by no more than ``SLIGHT``; ``cuts`` the pieces of each strip, ``rolls`` those they are cut from.
    """

    roll: FabricRoll
    direction: float
    strips: tuple[float, ...]
    lap: float
    covered: float
    cuts: tuple[tuple[float, ...], ...]
    rolls: int

    @property
    def laid(self) -> float:
        """Fabric laid, laps and trimmed corners counted [m²]."""
        return self.roll.width * math.fsum(piece for cut in self.cuts for piece in cut)


def fabric_plan(
    corners: NDArray[np.float64], roll: FabricRoll, sides: NDArray[np.float64] | None = None
) -> FabricPlan:
    """Lay strips over a plan ``corners`` (k, 2) [m], along or square to the side that buys fewest rolls.

    The plan is the area to line, already grown by what is turned up the sides; ``sides`` (n, 2) is the ring
    whose sides give the directions, where that is another one. Each strip runs where its band meets the plan;
    what is left of a roll begins another strip, with a lap. Ties go to the least length, then to fewer
    strips, then to the smaller angle. Raises ``ValueError`` for a lap as wide as the roll.
    """
    plan = shapely.Polygon(corners)
    angles = angles_of(corners if sides is None else sides)
    laid = lay(plan, Sold(roll.width, roll.length, roll.overlap), angles)
    return FabricPlan(
        roll, math.degrees(laid.angle), laid.runs, laid.lap, float(plan.area), laid.cuts, laid.pieces
    )


def cheapest_fabric(
    corners: NDArray[np.float64], rolls: Sequence[FabricRoll], sides: NDArray[np.float64] | None = None
) -> FabricPlan:
    """Lay each of the ``rolls`` on offer over a plan; choose what costs least, else what buys least area.

    Either all have a price or none: then they cost the same by the area. ``corners`` and ``sides`` are as in
    ``fabric_plan``.
    """
    plans = [fabric_plan(corners, roll, sides) for roll in rolls]
    return min(plans, key=lambda plan: (plan.rolls * (plan.roll.price or 0.0), plan.rolls * plan.roll.area))


def joined_ring(ring: NDArray[np.float64], others: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """The outside of a ring (k, 2) and all ``others`` that touch it, islands left bare filled in [m]."""
    whole = shapely.union_all([shapely.Polygon(one) for one in (ring, *others)])
    parts = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
    return np.asarray(max(parts, key=lambda part: part.area).exterior.coords)[:-1]
