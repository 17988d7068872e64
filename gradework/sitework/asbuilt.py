"""Is what was built level: tops against neighbours and plan, and the least reworking that mends it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from gradework.foundations.pier_places import neighbours
from gradework.sitework.asbuilt_advice import SHIM_LIMIT, advice_for, surface_advice
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.piers import Piers
    from gradework.units import Display

LEVEL_TOLERANCE = 0.25 * M_PER_IN
"""Neighbouring piers may differ by this [m] (24 CFR 3285.6; seen, its print lost the fraction)."""

PLAN_TOLERANCE = 0.75 * M_PER_IN
"""A whole foundation may stand this far above or below its planned level [m] (ACI 117, slabs on ground;
memory; for piers and pads there is no published figure, so it is used for them too)."""


@dataclass(frozen=True, slots=True)
class LevelPoint:
    """One top as read [m]; ``off_plan``, ``off_best``: above (+) or below (-) the plan, the best level."""

    name: str
    measured: float
    off_plan: float
    off_best: float
    rework: bool
    advice: str


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Two neighbouring tops and how much the first is above the second [m]; ``ok`` within the tolerance."""

    first: str
    second: str
    difference: float
    ok: bool


@dataclass(frozen=True)
class LevelCheck:
    """The answer: ``passed`` when every two neighbours agree within ``tolerance`` [m].

    ``plan`` is the level planned, ``best`` the common level [m] that needs the least reworking.
    """

    plan: float
    best: float
    tolerance: float
    points: tuple[LevelPoint, ...]
    pairs: tuple[Neighbours, ...]
    passed: bool

    @property
    def middle(self) -> float:
        """Give the level that half of the tops stand above [m], which no single slip moves far."""
        return float(np.median([point.measured for point in self.points]))

    @property
    def spread(self) -> tuple[LevelPoint, LevelPoint]:
        """Give the highest and the lowest top."""
        return max(self.points, key=lambda p: p.measured), min(self.points, key=lambda p: p.measured)

    @property
    def reworked(self) -> int:
        """Count the tops to rework for the best common level."""
        return sum(point.rework for point in self.points)


def best_common_level(tops: Sequence[float], tolerance: float, plan: float) -> float:
    """Give the level that needs the least reworking: fewest tops moved, then the least movement in all [m].

    A top within half the ``tolerance`` of the level stays, so that any two that stay agree within it; any
    other is moved to the level. The number moved changes only where a top enters or leaves the band, and
    between those places the movement is a sum of distances, least at one of the tops: so the tops and both
    ends of their bands hold a best level, and all are tried. Ties go to the level nearest to the plan,
    then the lower.

    >>> best_common_level([100.0, 100.002, 100.05], 0.006, 100.0)
    100.003
    """
    half = 0.5 * tolerance
    candidates = {plan, *tops, *(top - half for top in tops), *(top + half for top in tops)}

    def rework(level: float) -> tuple[int, float, float, float]:
        moved = [abs(top - level) for top in tops if abs(top - level) > half + _SAME]
        return len(moved), round(sum(moved), 9), round(abs(level - plan), 9), level

    return min(candidates, key=rework)


_SAME = 1e-9


def neighbouring_piers(piers: Piers) -> tuple[tuple[str, str], ...]:
    """Give the pairs of piers that stand next to each other, by their places in plan."""
    names = [pier.name for pier in piers.piers]
    pairs = neighbours(np.array([(pier.x, pier.y) for pier in piers.piers]))
    return tuple((names[first], names[second]) for first, second in pairs)


def check_levels(
    measured: Mapping[str, float],
    pairs: Sequence[tuple[str, str]],
    *,
    plan: float,
    show: Display,
    tolerance: float = LEVEL_TOLERANCE,
    piers: Piers | None = None,
    shim: float = SHIM_LIMIT,
    built: Literal["pad", "piers", "slab"] = "piers",
) -> LevelCheck:
    """Compare tops as read [m] with each other and with the planned level [m].

    ``pairs`` are the neighbours; a pair with a top not read is left out. Where every pair agrees, all tops
    are left alone; otherwise those are reworked that are farther from the best common level than half the
    tolerance. With ``piers`` the advice knows each
    pier's bed and units; points of a pad or a slab (``built``) get their own. Raises ``ValueError`` for no
    tops.
    """
    if not measured:
        raise ValueError("no tops were read")
    best = best_common_level(list(measured.values()), tolerance, plan)
    checked = tuple(
        Neighbours(a, b, measured[a] - measured[b], abs(measured[a] - measured[b]) <= tolerance + _SAME)
        for a, b in pairs
        if a in measured and b in measured
    )
    passed = all(pair.ok for pair in checked)
    points = []
    known = {} if piers is None else {pier.name: pier for pier in piers.piers}
    for name, level in measured.items():
        off = level - best
        rework = not passed and abs(off) > 0.5 * tolerance + _SAME
        spec = None if piers is None else piers.spec
        if not rework:
            words = "leave it"
        elif built == "piers":
            words = advice_for(off, known.get(name), spec, show, shim=shim)
        else:
            words = surface_advice(off, built, show)
        points.append(LevelPoint(name, level, level - plan, off, rework, words))
    return LevelCheck(plan, best, tolerance, tuple(points), checked, passed)


def high_or_low(off: float, show: Display) -> str:
    """Say how far a top is off.

    >>> from gradework.units import FEET
    >>> high_or_low(0.00635, FEET), high_or_low(-0.0127, FEET), high_or_low(0.0, FEET)
    ('1/4 in high', '1/2 in low', 'on level')
    """
    if abs(off) < _SHOWN or show.depth(abs(off)) == show.depth(0.0):
        return "on level"
    word: Literal["high", "low"] = "high" if off > 0.0 else "low"
    return f"{show.depth(abs(off))} {word}"


_SHOWN = 0.0005
