"""How high water stands where all hollows are full: a priority flood, and the spill point of each hollow.

It floods a graph: places of a surface and its edges, or cells of a raster and their neighbours. Between two
joined places the ground is straight, so the lowest pass out of a hollow is a place, and levels are exact.
Barnes, Lehman and Mulla 2014 (Computers & Geosciences 62, 117-127) flood a raster from its rim inward, the
lowest first. Here each place is first led down to the bottom it drains to, and only the bottoms are flooded,
over the lowest pass between each two: the level is the same, and there are few of them.
"""

from __future__ import annotations

import heapq
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

OUTSIDE = -1

_LAST = 1 << 60
"""Behind all others of one level."""


class Flood(NamedTuple):
    """The places (n,) and the bottoms (b,) that they drain to.

    ``below``: the steepest lower place joined to each, itself where none is; ``bottom``: the number of the
    bottom; ``level`` [m]: of the water there, at least of the ground.

    Of each bottom: ``lowest`` its place; ``full`` [m] the level of water there; ``spill``: the place at which
    it runs over; ``over``: the place beyond, and ``onto`` the bottom that it belongs to, both ``OUTSIDE``
    where water leaves there; ``rank``: its turn in the flood; ``pond``: the bottom, flooded before, that it
    stands in one water with, itself for the first of them.
    """

    below: Numbers
    bottom: Numbers
    level: Floats
    lowest: Numbers
    full: Floats
    spill: Numbers
    over: Numbers
    onto: Numbers
    rank: Numbers
    pond: Numbers


def steepest(heights: Floats, pairs: Numbers, lengths: Floats) -> Numbers:
    """The place (n,) that each falls to most steeply along ``pairs`` (e, 2) of ``lengths`` (e,) [m]; itself
    where no joined place is lower. Of equally steep ones the last in the order of the pairs.

    >>> steepest(np.array([3.0, 2.0, 2.5]), np.array([(0, 1), (0, 2), (1, 2)]), np.ones(3)).tolist()
    [1, 1, 1]
    """
    below = np.arange(len(heights))
    best = np.zeros(len(heights))
    fall = (heights[pairs[:, 0]] - heights[pairs[:, 1]]) / lengths
    down = np.where((fall > 0.0)[:, None], pairs, pairs[:, ::-1])
    fall = np.abs(fall)
    np.maximum.at(best, down[:, 0], fall)
    taken = (fall > 0.0) & (fall == best[down[:, 0]])
    below[down[taken, 0]] = down[taken, 1]
    return below


def ends(onward: Numbers) -> Numbers:
    """Follow ``onward`` (n,) from each place until it leads to itself: no ways may run in a circle."""
    while True:
        further = onward[onward]
        if (further == onward).all():
            return onward
        onward = further


def flood(
    heights: Floats,
    pairs: Numbers,
    lengths: Floats,
    lips: Floats,
    late: NDArray[np.bool_] | None = None,
) -> Flood:
    """Flood places of ``heights`` (n,) [m] joined by ``pairs`` (e, 2); at ``lips`` (n,) [m] water leaves
    them, never where one is infinite. Level ground that could drain elsewhere does not
    drain to ``late`` ones (n,).

    >>> bowl = np.array([5.0, 1.0, 3.0, 2.0, 0.0])
    >>> row = np.array([(0, 1), (1, 2), (2, 3), (3, 4)])
    >>> flood(bowl, row, np.ones(4), np.array([np.inf, np.inf, np.inf, np.inf, 0.0])).level.tolist()
    [5.0, 3.0, 3.0, 2.0, 0.0]
    """
    below = steepest(heights, pairs, lengths)
    root = ends(below)
    lowest = np.flatnonzero(below == np.arange(len(below)))
    number = np.zeros(len(heights), dtype=np.int64)
    number[lowest] = np.arange(len(lowest))
    bottom = number[root]
    after = np.zeros(len(heights), dtype=bool) if late is None else late
    passes, high = _passes(heights, pairs, bottom, lips, after)
    by, full, rank = _spread(len(lowest), passes, high, after)
    onto, _, over, inside = passes[by].T
    higher = (over >= 0) & (heights[over] >= heights[inside])
    # in one water with the one before, if the pass between the two lies under it
    joined = np.where(high[by] < np.where(onto < 0, -np.inf, full[onto]), onto, np.arange(len(lowest)))
    level = np.maximum(heights, full[bottom])
    spill = np.where(higher, over, inside)
    return Flood(below, bottom, level, lowest, full, spill, over, onto, rank, ends(joined))


def _passes(
    heights: Floats, pairs: Numbers, bottom: Numbers, lips: Floats, late: NDArray[np.bool_]
) -> tuple[Numbers, Floats]:
    """The lowest pass (k, 4) between each two bottoms and out of each, both ways: from and to which bottom,
    and the place on either side, ``OUTSIDE`` first; and how high each is (k,) [m]."""
    across = pairs[bottom[pairs[:, 0]] != bottom[pairs[:, 1]]]
    rim = np.flatnonzero(lips < np.inf)
    out = np.full(len(rim), OUTSIDE)
    one = np.concatenate((out, across[:, 0], across[:, 1]))
    two = np.concatenate((rim, across[:, 1], across[:, 0]))
    own = np.where(one == OUTSIDE, OUTSIDE, bottom[one])
    high = np.maximum(heights[two], np.where(one == OUTSIDE, lips[two], heights[one]))
    pair = (own + 1) * (len(heights) + 1) + bottom[two]
    order = np.lexsort((late[two], high, pair))
    first = order[np.diff(pair[order], prepend=-1) != 0]
    return np.stack((own, bottom[two], one, two), axis=1)[first], high[first]


def _spread(
    count: int, passes: Numbers, high: Floats, late: NDArray[np.bool_]
) -> tuple[Numbers, Floats, Numbers]:
    """Flood ``count`` bottoms over the ``passes``, the lowest level first: the pass that each is flooded
    over, its level [m] and its turn (b,)."""
    starts = np.searchsorted(passes[:, 0], np.arange(-1, count + 1)).tolist()
    goal, height = passes[:, 1].tolist(), high.tolist()
    by = np.full(count, -1)
    rank, full = np.zeros(count, dtype=np.int64), np.full(count, np.inf)
    after = (late[passes[:, 3]] * _LAST).tolist()
    waiting = [(height[k], after[k] + k, k) for k in range(starts[0], starts[1])]
    heapq.heapify(waiting)
    turn, seen, later = 0, bytearray(count), len(passes)
    while waiting:
        level, _, k = heapq.heappop(waiting)
        own = goal[k]
        if seen[own]:
            continue
        seen[own], by[own], rank[own], full[own] = 1, k, turn, level
        turn += 1
        for other in range(starts[own + 1], starts[own + 2]):
            if not seen[goal[other]]:
                later += 1  # of equal levels the first found: over level ground by the fewest steps
                heapq.heappush(waiting, (max(level, height[other]), later, other))
    return by, full, rank
