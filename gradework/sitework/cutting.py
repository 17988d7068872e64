"""Which stock lengths to buy for a list of pieces, and how to cut them: solved exactly for small lists.

The search goes over the counts of equal pieces still to cut: the longest of them must lie on some bar, so
every way to fill that bar is tried and the rest solved the same way, each rest only once. A list with too
many different rests falls back on best fit and says that it is not proved least.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

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


_Cost = tuple[Fraction | int, int, int]  # money (or length), length, bars
_Load = tuple[int, ...]  # how many of each piece


def cut_stock(
    pieces: Sequence[float],
    stock: Sequence[float],
    *,
    kerf: float = 0.0,
    price: Mapping[float, float] | None = None,
) -> CuttingPlan:
    """Choose the bars for ``pieces`` [m] from ``stock`` lengths [m], any number of each; least first.

    Least means: least money where ``price`` gives a price per bar, else least total length; ties go to
    less length, then to fewer bars. Each cut takes ``kerf`` [m]. Lengths are kept to 0.1 mm. No pieces, no
    bars. Raises ``ValueError`` for a piece longer than the longest bar, or lengths not above 0.

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
    search = _Search(pieces, stock, kerf, price)
    rests = math.prod(c + 1 for c in search.wanted)
    proved = rests <= MOST_RESTS
    loads = search.exact() if proved else search.best_fit()
    return CuttingPlan(search.bars(loads), proved)


class _Search:
    """The counts of equal pieces, longest first, and the bars they are cut from, in whole grid lengths."""

    def __init__(
        self,
        pieces: Sequence[float],
        stock: Sequence[float],
        kerf: float,
        price: Mapping[float, float] | None,
    ) -> None:
        self.kerf = _up(kerf)
        exact = {_up(piece): piece for piece in pieces}
        counts = Counter(_up(piece) for piece in pieces)
        self.lengths = sorted(counts, reverse=True)
        self.piece = [exact[length] for length in self.lengths]
        self.wanted: _Load = tuple(counts[length] for length in self.lengths)
        self.stock: dict[float, int] = {s: _up(s) for s in sorted(set(stock))}
        self.cost: dict[float, _Cost] = {
            s: (Fraction(price[s]) if price else grid, grid, 1) for s, grid in self.stock.items()
        }
        self.best: dict[_Load, tuple[_Cost, tuple[tuple[float, _Load], ...]]] = {}

    def exact(self) -> tuple[tuple[float, _Load], ...]:
        """Give the cheapest bars and what lies on each, for all pieces wanted."""
        nothing = tuple(0 for _ in self.wanted)
        self.best[nothing] = ((0, 0, 0), ())
        stack = [self.wanted]
        while stack:  # depth first without recursion: a long list must not meet Python's recursion limit
            rest = stack[-1]
            if rest in self.best:
                stack.pop()
                continue
            ways = [(s, load, _less(rest, load)) for s in self.stock for load in self.loads(rest, s)]
            missing = [left for _, _, left in ways if left not in self.best]
            if missing:
                stack.extend(missing)
                continue
            s, load, left = min(ways, key=lambda way: _add(self.cost[way[0]], self.best[way[2]][0]))
            cost, bars = self.best[left]
            self.best[rest] = (_add(self.cost[s], cost), ((s, load), *bars))
            stack.pop()
        return self.best[self.wanted][1]

    def loads(self, rest: _Load, stock: float) -> Iterator[_Load]:
        """Give every full load of a bar that holds the longest piece left; full means nothing more fits."""
        first = next(i for i, count in enumerate(rest) if count)
        room = self.stock[stock] + self.kerf - self.lengths[first] - self.kerf
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
        while any(rest):
            stock, load = min(
                ((s, self._greedy(rest, s)) for s in self.stock if self.stock[s] >= self._longest(rest)),
                key=lambda way: self.cost[way[0]][0] / Fraction(self._used(way[1])),
            )
            bars.append((stock, load))
            rest = _less(rest, load)
        return tuple(bars)

    def _greedy(self, rest: _Load, stock: float) -> _Load:
        room, load = self.stock[stock] + self.kerf, [0] * len(rest)
        for kind, count in enumerate(rest):
            load[kind] = min(count, room // (self.lengths[kind] + self.kerf))
            room -= load[kind] * (self.lengths[kind] + self.kerf)
        return tuple(load)

    def _longest(self, rest: _Load) -> int:
        return next(self.lengths[i] for i, count in enumerate(rest) if count)

    def _used(self, load: _Load) -> int:
        return sum(self.lengths[i] * count for i, count in enumerate(load))

    def bars(self, loads: Sequence[tuple[float, _Load]]) -> tuple[CutBar, ...]:
        """Turn grid lengths back into metres; the cuts' own width goes off the offcut."""
        made = []
        for stock, load in loads:
            pieces = tuple(p for p, count in zip(self.piece, load, strict=True) for _ in range(count))
            used = math.fsum(pieces) + self.kerf / GRID * len(pieces)
            made.append(CutBar(stock, pieces, max(0.0, stock - used)))
        return tuple(sorted(made, key=lambda bar: (-bar.stock, [-p for p in bar.pieces])))


def _up(length: float) -> int:
    """Round a length up to the grid, but not for a last-digit error of the float."""
    return math.ceil(length * GRID - 1e-4)


def _less(rest: _Load, load: _Load) -> _Load:
    return tuple(r - taken for r, taken in zip(rest, load, strict=True))


def _add(one: _Cost, other: _Cost) -> _Cost:
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2])
