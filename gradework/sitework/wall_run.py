"""A run of walls that water comes to, and all that a measure past it hangs on."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.grading.route import SwaleSpec
from gradework.foundations.checks.near_water import may_lead

if TYPE_CHECKING:
    from gradework.earthwork.grading.foot import Batter
    from gradework.earthwork.nearby import Nearby
    from gradework.foundations.checks.drainage_rules import DrainageRule
    from gradework.foundations.checks.wall_strips import PadTop
    from gradework.ground.surface import Surface
    from gradework.sitework.heaped import LedPrices


class WallRun(NamedTuple):
    """A run of walls that water comes to, and all that a measure past it hangs on.

    ``sides``: the first and the last, counted on past 0; ``walls`` their names; ``uphill``: those sides that
    ground rises toward; ``margin`` [m]: the pad beyond the walls; ``batter``: its side slopes, None where
    boards hold it; ``prices``: None where nothing is known of them: then the least is dug;
    ``comes_out``: a pipe that does not come out on the survey is not wanted.
    """

    surface: Surface
    nearby: Nearby
    pad: PadTop
    rule: DrainageRule
    sides: tuple[int, int]
    walls: tuple[str, ...]
    uphill: tuple[int, ...]
    margin: float
    batter: Batter | None
    prices: LedPrices | None
    comes_out: bool = False

    @property
    def span(self) -> tuple[int, int]:
        """Its sides as a range: from the first to past the last."""
        return self.sides[0], self.sides[1] + 1

    @property
    def roof(self) -> float:
        """The roof in plan [m²]: all of it is taken to come to it, dripping or out of a gutter."""
        return self.nearby.building.area if self.pad.roof is None else self.pad.roof

    @property
    def swale(self) -> SwaleSpec:
        """What a swale past it keeps."""
        clear = partial(may_lead, self.surface, self.nearby) if self.nearby.neighbours else None
        return SwaleSpec(margin=self.margin, shown=self.pad.shown, bench_fall=self.rule.to_drain, clear=clear)


def runs_of(numbers: Sequence[int], count: int) -> list[tuple[int, int]]:
    """Sides next to each other as runs (first, last) round a ring of ``count``; last counts on past 0.

    >>> runs_of([0, 2, 3], 4), runs_of([0, 1, 2], 3), runs_of([], 4)
    ([(2, 4)], [(0, 2)], [])
    """
    wanted = set(numbers)
    if len(wanted) == count:
        return [(0, count - 1)]
    runs = []
    for first in sorted(wanted):
        if (first - 1) % count not in wanted:
            last = first
            while (last + 1) % count in wanted:
                last += 1
            runs.append((first, last))
    return runs
