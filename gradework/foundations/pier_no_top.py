"""Why no common top suits all piers, and the least change that would make one possible."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding
from gradework.foundations.pier_spec import PierSpec
from gradework.foundations.pier_stacks import NANOMETRES, stack_tables
from gradework.foundations.pier_tops import TopProblem, best_top, tops_that_fit
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.units import Display

_STEP = 0.25 * M_PER_IN  # a mend is given to a quarter of an inch, up to about a metre
_MOST_STEPS = 157
_TALLEST = 3.0


def why_no_top(problem: TopProblem, spec: PierSpec, show: Display) -> Finding:
    """Give the stop finding for piers without a common top, with what would help."""
    if spec.top is not None:
        return _no_such_top(replace(problem, lowest_top=None, highest_top=None), spec.top, show)
    lowest = np.nanmax([hole.bottoms for hole in problem.holes], axis=0)
    fall = float(np.ptp(lowest))
    ways = []
    deeper = _least_growth(lambda more: replace(problem, deeper=problem.deeper + more))
    if deeper is not None:
        ways.append(f"allow holes to go {show.depth(spec.deeper + deeper)} deeper than needed")
    bed = _least_growth(lambda more: replace(problem, bed_most=problem.bed_most + more))
    if bed is not None:
        ways.append(f"allow beds up to {show.depth(spec.bed_most + bed)}")
    tables = stack_tables(spec.units, tallest=min(2.0 * spec.stack_limit, _TALLEST), across=spec.across)
    taller = tuple(replace(h, table=table) for h, table in zip(problem.holes, tables, strict=True))
    if best_top(replace(problem, holes=taller), "fewest units") is not None:
        ways.append(f"allow stacks higher than {show.depth(spec.stack_limit)} (double or engineered)")
    if not ways:
        ways.append("list a unit that may cap and thinner solid units")
    return Finding(
        "piers-no-common-top",
        "stop",
        "piers",
        fall,
        None,
        f"No one top suits all piers: the ground falls {show.depth(fall)} between them. "
        f"To make one fit: {'; or '.join(ways)}.",
    )


def _no_such_top(problem: TopProblem, top: float, show: Display) -> Finding:
    tops = tops_that_fit(problem) / NANOMETRES
    near = [show.elevation(float(t)) for t in (*tops[tops < top][-1:], *tops[tops > top][:1])]
    nearest = f"The nearest that fit are {' and '.join(near)}." if near else "No other top fits either."
    return Finding(
        "piers-no-common-top",
        "stop",
        "piers",
        top,
        None,
        f"No stacks of the units on hand reach a top of {show.elevation(top)} on every pier. {nearest}",
    )


def _least_growth(widened: Callable[[float], TopProblem]) -> float | None:
    """Give the least widening [m] that makes a common top possible, or None up to a metre."""

    def fits(steps: int) -> bool:
        return best_top(widened(steps * _STEP), "fewest units") is not None

    low, high = 0, _MOST_STEPS
    if not fits(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high * _STEP
