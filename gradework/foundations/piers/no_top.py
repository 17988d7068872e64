"""Why no common top suits all piers, and the least change that would make one possible."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, finding, sentence
from gradework.foundations.piers.best_top import best_top, tops_that_fit
from gradework.foundations.piers.posing import Yard, pose
from gradework.foundations.piers.stacks import NANOMETRES
from gradework.foundations.piers.top_problem import TopProblem
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.piers.spec import PierPrices, PierSpec
    from gradework.units.display import Display

_STEP = {True: 0.25 * M_PER_IN, False: 0.005}  # what a fix is given to in US and metric jobs [m]
_FAR = 1.0  # and up to how much more [m]
_TALLEST = 3.0


def why_no_top(
    yard: Yard, spec: PierSpec, prices: PierPrices, show: Display, *, in_full: bool = True
) -> Finding:
    """Give the stop finding for piers without a common top, with what would help where told ``in_full``."""
    problem = pose(yard, spec, prices, spec.goal).problem
    if spec.top is not None:
        return _no_such_top(replace(problem, lowest_top=None, highest_top=None), spec.top, show)
    lowest = np.nanmax([hole.bottoms for hole in problem.holes], axis=0)
    fall = float(np.ptp(lowest))
    code, told = "piers-no-common-top", show.depth(fall)
    if not in_full:
        return finding(code, "stop", "piers", fall, variant="short", fall=told)
    taller = replace(spec, tallest=min(2.0 * max(map(spec.limit_of, spec.ways_across)), _TALLEST))
    ways = " ".join(_ways_to_one_top(problem, pose(yard, taller, prices, spec.goal).problem, spec, show))
    return finding(code, "stop", "piers", fall, fall=told, ways=ways)


def _ways_to_one_top(problem: TopProblem, taller: TopProblem, spec: PierSpec, show: Display) -> list[str]:
    """Say what would make a common top possible, each way by itself."""
    ways: list[str] = []

    def helps(way: str, **most: object) -> None:
        ways.append(sentence("piers-no-common-top", f"say-{way}", dialect=show.dialect, **most))

    step = _STEP[show.us]
    deeper = _least_growth(lambda more: replace(problem, deeper=problem.deeper + more), step)
    if deeper is not None:
        helps("deeper", deeper=show.depth(spec.deeper + deeper))
    bed = _least_growth(lambda more: replace(problem, bed_most=problem.bed_most + more), step)
    if bed is not None:
        helps("bed", bed=show.depth(spec.bed_most + bed))
    if best_top(taller, "fewest units") is not None:
        helps("stack", most=show.depth(max(map(spec.limit_of, spec.ways_across))))
    if not ways:
        helps("units")
    return ways


def _no_such_top(problem: TopProblem, top: float, show: Display) -> Finding:
    tops = tops_that_fit(problem) / NANOMETRES
    near = [show.elevation(float(t)) for t in (*tops[tops < top][-1:], *tops[tops > top][:1])]
    return finding(
        "piers-no-common-top",
        "stop",
        "piers",
        top,
        variant="near" if near else "never",
        top=show.elevation(top),
        tops=" and ".join(near),
    )


def _least_growth(widened: Callable[[float], TopProblem], step: float) -> float | None:
    """Give the least widening [m], in steps, that makes a common top possible; None up to a metre."""

    def fits(steps: int) -> bool:
        return best_top(widened(steps * step), "fewest units") is not None

    low, high = 0, round(_FAR / step)
    if not fits(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high * step
