"""Runs longer than the longest board: how many pieces each takes, and where they are joined to buy least.

The rules: a run that one board reaches is one piece; a longer one takes the fewest pieces that reach it, and
none of them is shorter than two stakes apart. Where the joints come is free. What is left of one board begins
the next run, or a full board ends it: boards are laid in a row, the row that buys least is looked for (A*).
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations_with_replacement
from typing import NamedTuple

from gradework.sitework.cutting import GRID, Board, CutBar, CuttingPlan, cut_stock, up_to_grid

SHORTEST_JOINED = 0.6096
"""No joined piece is shorter than this [m]: 2 ft, so that two stakes hold it. Common practice, no source."""

MOST_STEPS = 1_500
"""After so many steps the search ends, and long runs are joined at full boards instead."""


class _State(NamedTuple):
    """What is still to cut, by kinds, and what is left of the board on the bench, in whole grid lengths."""

    rest: tuple[int, ...]
    left: int


class _Step(NamedTuple):
    """One step: boards bought for it, pieces cut off the board on the bench, the pieces of each board bought,
    and how the run is joined (empty where it is one piece)."""

    bought: tuple[int, ...]
    cut: int
    pieces: tuple[int, ...]
    state: _State

    @property
    def joined(self) -> tuple[int, ...]:
        """The pieces of a joined run."""
        return (self.cut, *self.pieces) if self.pieces else ()


class Joined(NamedTuple):
    """What to buy for runs of boards, and of which pieces [m] each that is joined is made."""

    plan: CuttingPlan
    runs: tuple[tuple[float, ...], ...]

    @property
    def joints(self) -> int:
        """How many joints there are."""
        return sum(len(pieces) - 1 for pieces in self.runs)


def cut_runs(runs: Sequence[float], stock: Sequence[float], *, kerf: float = 0.0) -> Joined:
    """Choose the boards for ``runs`` [m] from ``stock`` lengths [m]: least length, then fewest boards.

    Each cut takes ``kerf`` [m]. The plan is ``proved`` where no way to join the runs could buy less.

    >>> two = cut_runs([4.9149, 4.9149], [2.4384, 3.048, 3.6576, 4.8768], kerf=0.003)  # 16' 1 1/2", twice
    >>> round(two.plan.bought / 0.3048, 3), [len(run) for run in two.runs]
    (34.0, [2, 2])
    """
    return _cut(tuple(sorted((up_to_grid(r) for r in runs), reverse=True)), tuple(sorted(set(stock))), kerf)


@lru_cache(maxsize=512)  # the same edge is ordered again for each level and each part that looks at it
def _cut(runs: tuple[int, ...], stock: tuple[float, ...], kerf: float) -> Joined:
    longest = max(stock, default=0.0)
    lengths = [run / GRID for run in runs]
    if not runs or runs[0] <= up_to_grid(longest):
        return Joined(cut_stock(lengths, stock, kerf=kerf), ())
    at_full = [at_full_boards(length, longest) for length in lengths]
    usual = Joined(
        cut_stock([piece for pieces in at_full for piece in pieces], stock, kerf=kerf),
        tuple(pieces for pieces in at_full if len(pieces) > 1),
    )
    search = _Rows(runs, tuple(map(up_to_grid, stock)), up_to_grid(kerf))
    found = search.best()
    if found is None or found.plan.bought > usual.plan.bought - 1e-9:
        found = usual
    least = search.least(sum(runs)) / GRID
    return found._replace(plan=CuttingPlan(found.plan.bars, found.plan.bought < least + 1e-6))


def frame_runs(sides: Sequence[float], board: Board) -> list[float]:
    """Give the runs to cut [m] for a timber frame; at each corner one board laps the end of the next.

    ``sides``: the length along the gravel [m] of each board of each side. The boards stand outside the
    gravel, so each run is longer than its side by one board thickness.
    """
    return [side + board.thickness for side in sides]


def at_full_boards(length: float, longest: float) -> tuple[float, ...]:
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


class _Rows:
    """All ways to lay boards in a row for kinds of runs, longest first, in whole grid lengths."""

    def __init__(self, runs: tuple[int, ...], stock: tuple[int, ...], kerf: int) -> None:
        counts = Counter(runs)
        self.kinds = tuple(sorted(counts, reverse=True))
        self.wanted = tuple(counts[kind] for kind in self.kinds)
        self.stock, self.kerf = stock, kerf
        self.least_piece = min(up_to_grid(SHORTEST_JOINED), stock[-1] // 2)
        self.shares = tuple(-(-kind // stock[-1]) for kind in self.kinds)
        self.unit = math.gcd(*stock)
        self.reached = [True]  # by whether boards of exactly so many units can be bought

    def least(self, length: int) -> int:
        """The least that boards of any number can come to for so much of them."""
        units = max(0, -(-length // self.unit))
        while True:
            while len(self.reached) <= units:
                at = len(self.reached)
                self.reached.append(
                    any(self.reached[at - s // self.unit] for s in self.stock if s // self.unit <= at)
                )
            if self.reached[units]:
                return units * self.unit
            units += 1

    def best(self) -> Joined | None:
        """Look for the row that buys least; None where the search grows too long."""
        start = _State(self.wanted, 0)
        total = sum(kind * count for kind, count in zip(self.kinds, self.wanted, strict=True))
        came: dict[_State, tuple[_State, _Step] | None] = {start: None}
        cost = {start: (0, 0)}
        heap = [(self.least(total), 0, total, 0, start)]
        for number in range(MOST_STEPS):
            if not heap:
                return None
            _, boards, _, _, state = heapq.heappop(heap)
            if not any(state.rest):
                return self._told(came, state)
            spent, bars = cost[state]
            if boards > bars:
                continue
            for step in self._steps(state):
                after = (spent + sum(step.bought), bars + len(step.bought))
                if after >= cost.get(step.state, (math.inf, 0)):
                    continue
                cost[step.state], came[step.state] = after, (state, step)
                rest = sum(k * c for k, c in zip(self.kinds, step.state.rest, strict=True))
                bound = after[0] + self.least(rest - step.state.left)
                heapq.heappush(heap, (bound, after[1], rest, number, step.state))
        return None

    def _steps(self, state: _State) -> Iterator[_Step]:
        for length in self.stock:  # what is left of the board before lies aside
            yield _Step((length,), 0, (), _State(state.rest, length))
        for number, count in enumerate(state.rest):
            if not count:
                continue
            rest = (*state.rest[:number], count - 1, *state.rest[number + 1 :])
            kind, share = self.kinds[number], self.shares[number]
            if share > 1:
                yield from self._joined(kind, share, state.left, rest)
            elif kind <= state.left:
                yield _Step((), kind, (), _State(rest, max(0, state.left - kind - self.kerf)))

    def _joined(self, kind: int, share: int, left: int, rest: tuple[int, ...]) -> Iterator[_Step]:
        """Begin a run with what is left and end it with boards bought: these full, or the first of it."""
        least = self.least_piece
        if left < least:
            return
        for bought in combinations_with_replacement(self.stock, share - 1):
            need = kind - sum(bought)
            if least <= need <= left:
                yield _Step(bought, need, bought, _State(rest, max(0, left - need - self.kerf)))
            for last in set(bought):
                full = list(bought)
                full.remove(last)
                end = kind - left - sum(full)
                row = (*full, last)
                if least <= end <= last:
                    yield _Step(row, left, (*full, end), _State(rest, max(0, last - end - self.kerf)))
                elif end < least < last and (first := left - (least - end)) >= least:
                    yield _Step(row, first, (*full, least), _State(rest, last - least - self.kerf))

    def _told(self, came: dict[_State, tuple[_State, _Step] | None], state: _State) -> Joined:
        steps: list[_Step] = []
        while (before := came[state]) is not None:
            state, step = before
            steps.append(step)
        bars: list[tuple[int, list[int]]] = []
        for step in reversed(steps):
            if step.cut:
                bars[-1][1].append(step.cut)
            if not step.pieces:
                bars += [(board, []) for board in step.bought]
            else:  # the last one is on the bench now, unless all are used up: then the one before still is
                at = len(bars) - (step.pieces == step.bought)
                bars[at:at] = [(board, [cut]) for board, cut in zip(step.bought, step.pieces, strict=True)]
        return Joined(
            CuttingPlan(tuple(sorted(map(self._bar, bars), key=_longest_first)), proved=False),
            tuple(tuple(piece / GRID for piece in step.joined) for step in reversed(steps) if step.joined),
        )

    def _bar(self, bar: tuple[int, list[int]]) -> CutBar:
        board, pieces = bar
        used = sum(pieces) + self.kerf * len(pieces)
        return CutBar(board / GRID, tuple(piece / GRID for piece in pieces), max(0, board - used) / GRID)


def _longest_first(bar: CutBar) -> tuple[float, list[float]]:
    return -bar.stock, [-piece for piece in bar.pieces]
