"""Is what was built level and square, and what is the least rework that makes it so."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.piers.as_dug import SHIM_LIMIT
from gradework.foundations.piers.limits import checks_of_pier
from gradework.foundations.piers.neighbours import neighbours
from gradework.foundations.piers.plan import difference_in_words
from gradework.foundations.piers.stacks import course_plan, is_sound
from gradework.sitework.setout_ties import DIAGONAL_TOLERANCE
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.foundations.piers.spec import PierSpec
    from gradework.units.display import Display


_SAME = 1e-9


def advice_for(
    off: float, pier: Pier | None, spec: PierSpec | None, show: Display, *, shim: float = SHIM_LIMIT
) -> str:
    """Say how to bring a top to level that is ``off`` [m] above (+) or below (-) it.

    A low top is shimmed within the limit; otherwise the bed takes or gives gravel within its limits;
    otherwise one unit is swapped, and the bed makes up the rest. Without a pier only height and gravel are
    told.
    """
    size = show.depth(abs(off))
    # the cheapest cure first: a shim needs nothing taken down
    if off < 0.0 and -off <= shim + 1e-9:
        return f"shim it up {size} with a pair of shims"
    gravel = f"take {size} of gravel out of the bed" if off > 0.0 else f"add {size} of gravel to the bed"
    if pier is None or spec is None:
        return gravel
    bed = pier.bed - off
    if spec.bed_least - 1e-9 <= bed <= spec.bed_most + 1e-9:
        return f"{gravel}, {show.depth(bed)} left" if off > 0.0 else f"{gravel}, {show.depth(bed)} in all"
    # the bed alone cannot take it up: of all single swaps the one that changes the bed least
    swaps = sorted(_swaps(off, pier, spec), key=lambda swap: (swap[0], swap[2], swap[1]))
    if not swaps:
        if off > 0.0:
            return f"lower it {size}: the bed would be too thin, so dig the hole deeper"
        return f"raise it {size}: the bed would be too thick, so rebuild the stack"
    _, courses, changed = swaps[0]
    laid = pier.courses(spec.on_hand)
    return difference_in_words(spec.on_hand, laid, courses, changed, 0.0, show)


def surface_advice(off: float, built: Literal["pad", "slab"], show: Display) -> str:
    """Say how to bring a point of a pad or a slab to level that is ``off`` [m] above (+) or below (-) it.

    >>> from gradework.units.display import FEET
    >>> surface_advice(0.0127, "pad", FEET), surface_advice(-0.0127, "slab", FEET)
    ('rake 1/2 in of gravel off', 'raise the form 1/2 in, or patch hard concrete up 1/2 in')
    """
    size = show.depth(abs(off))
    if built == "pad":
        return f"rake {size} of gravel off" if off > 0.0 else f"add {size} of gravel and compact it"
    if off > 0.0:
        return f"lower the form {size}, or grind {size} off hard concrete"
    return f"raise the form {size}, or patch hard concrete up {size}"


def _swaps(off: float, pier: Pier, spec: PierSpec) -> Iterator[tuple[float, tuple[int, ...], float]]:
    """Give (change of the bed, courses, bed thicker by) for one unit taken, added or swapped."""
    units = spec.on_hand
    laid = pier.courses(units)
    for out in (None, *(k for k, count in enumerate(laid) if count)):
        for put in (None, *range(len(units))):
            if out == put:
                continue
            courses = list(laid)
            if out is not None:
                courses[out] -= 1
            if put is not None:
                courses[put] += 1
            if not _may_stand(courses, laid, pier, spec):
                continue
            # the top has to move by -off: what the stack does not give, the bed does
            grown = sum(u.thickness * (b - a) for u, a, b in zip(units, laid, courses, strict=True))
            thicker = -off - grown
            if spec.bed_least - 1e-9 <= pier.bed + thicker <= spec.bed_most + 1e-9:
                yield abs(thicker), tuple(courses), thicker


def _may_stand(courses: Sequence[int], laid: Sequence[int], pier: Pier, spec: PierSpec) -> bool:
    """Say whether a swap leaves the base as it is, fits the hole that is dug, and carries its load."""
    units = spec.on_hand
    pairs = list(zip(units, courses, strict=True))
    same_base = all(not u.only_base or c == old for (u, c), old in zip(pairs, laid, strict=True))
    few = all(u.most_in_stack is None or c <= u.most_in_stack for u, c in pairs)
    if not (same_base and few and is_sound(units, courses, pier.across)):
        return False
    now = pier.restacked(units, courses)
    plans = [course_plan(unit, pier.across) for unit in now.laid]
    widest = max(plan[0] for plan in plans), max(plan[1] for plan in plans)
    on_base = not now.laid[0].only_base or _within(widest, plans[0])
    held = [check.holds for check in checks_of_pier(now, spec.loads.bearing) if check.check != "stack height"]
    fits = on_base and _within(spec.hole_of(widest), pier.hole_size)
    return fits and all(held) and now.height <= spec.limit_of(pier.across) + _SAME


def _within(plan: tuple[float, float], room: tuple[float, float]) -> bool:
    return plan[0] <= room[0] + _SAME and plan[1] <= room[1] + _SAME


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
        # rounded, so that a last digit of the float does not decide between equals
        return len(moved), round(sum(moved), 9), round(abs(level - plan), 9), level

    return min(candidates, key=rework)


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
    tolerance. With ``piers`` the advice knows each pier's bed and units; points of a pad or a slab
    (``built``) get their own. Raises ``ValueError`` for no tops.
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
            todo = "leave it"
        elif built == "piers":
            todo = advice_for(off, known.get(name), spec, show, shim=shim)
        else:
            todo = surface_advice(off, built, show)
        points.append(LevelPoint(name, level, level - plan, off, rework, todo))
    return LevelCheck(plan, best, tolerance, tuple(points), checked, passed)


def apart(difference: float, show: Display) -> str:
    """Say how far two levels, or two taped lengths, are apart [m], as they were read: in decimals of a foot
    by who reads those. What is then laid, shimmed or dug is a thickness, which is said in inches.

    >>> from gradework.units.display import FEET, METRIC, Display
    >>> apart(0.0127, FEET), apart(0.0127, Display("ft", "inches")), apart(0.0127, METRIC)
    ('0.04 ft', '1/2 in', '13 mm')
    """
    return show.rod(difference) if show.form == "tenths" else show.depth(difference)


def allowed(difference: float, show: Display) -> str:
    """Say by how much they may be apart [m]; as the rule says it, too.

    >>> from gradework.units.display import FEET
    >>> allowed(0.00635, FEET)
    '0.02 ft (1/4 in)'
    """
    said, rule = apart(difference, show), show.depth(difference)
    return said if said == rule else f"{said} ({rule})"


def high_or_low(off: float, show: Display) -> str:
    """Say how far a top is off.

    >>> from gradework.units.display import FEET
    >>> high_or_low(0.00635, FEET), high_or_low(-0.0127, FEET), high_or_low(0.0, FEET)
    ('0.02 ft high', '0.04 ft low', 'on level')
    """
    if abs(off) < 0.0005 or apart(abs(off), show) == apart(0.0, show):
        return "on level"
    return f"{apart(abs(off), show)} {'high' if off > 0.0 else 'low'}"


Floats = NDArray[np.float64]

_ROUNDS = 50
_MOST_MISFIT = 0.05  # of the longest length: more is no slip of a tape but a wrong figure


@dataclass(frozen=True, slots=True)
class CornerMove:
    """Move corner ``number`` (from 1) ``along`` the first side and ``across`` it, left positive [m]."""

    number: int
    along: float
    across: float

    @property
    def distance(self) -> float:
        """Give how far the corner is moved [m]."""
        return math.hypot(self.along, self.across)


@dataclass(frozen=True)
class SquareCheck:
    """Corners as measured (4, 2) [m], first at the origin, second on the x axis.

    ``diagonals`` differ by ``difference`` [m], allowed ``tolerance``; ``misfit`` [m] is the worst
    disagreement of the six lengths among themselves. ``held`` are the corners (from 1) left standing,
    ``moves`` what brings the others to the planned rectangle.
    """

    corners: Floats
    diagonals: tuple[float, float]
    difference: float
    tolerance: float
    misfit: float
    held: tuple[int, int]
    moves: tuple[CornerMove, ...]
    passed: bool


class NoFourCornersError(ValueError):
    """Sides and diagonals that no four corners can have; ``misfit`` [m] is the worst disagreement."""

    def __init__(self, misfit: float) -> None:
        self.misfit = misfit
        super().__init__(f"these sides and diagonals do not belong to four corners: off by {misfit:.3f} m")


def check_square(
    sides: Sequence[float],
    diagonals: Sequence[float],
    *,
    size: tuple[float, float],
    tolerance: float = DIAGONAL_TOLERANCE,
) -> SquareCheck:
    """Judge four corners from measured ``sides`` 1-2, 2-3, 3-4, 4-1 and ``diagonals`` 1-3, 2-4 [m].

    ``size`` [m] is the planned rectangle (side 1-2, side 2-3). It passes when the diagonals differ by no more
    than ``tolerance`` and no side is off by more than the same. Moves are given for the one side that, left
    standing, asks for the fewest corners to move, then the shortest longest move. Raises
    ``NoFourCornersError`` for lengths that no four corners can have.
    """
    measured = np.array([*sides, *diagonals], np.float64)
    if len(measured) != 6 or not (np.isfinite(measured).all() and (measured > 0.0).all()):
        raise ValueError("four sides and two diagonals above 0 are needed")
    corners = _place_corners(measured)
    misfit = float(np.abs(_lengths(corners) - measured).max())
    # four corners in order turn left at each of them; a crossed or folded outline does not
    ahead = np.roll(corners, -1, axis=0) - corners
    turns = ahead[:, 0] * np.roll(ahead, -1, axis=0)[:, 1] - ahead[:, 1] * np.roll(ahead, -1, axis=0)[:, 0]
    if misfit > _MOST_MISFIT * measured.max() or not (turns > 0.0).all():
        raise NoFourCornersError(misfit)
    planned = np.array([[0.0, 0.0], [size[0], 0.0], [size[0], size[1]], [0.0, size[1]]])
    off = np.abs(measured[:4] - _lengths(planned)[:4]).max()
    difference = float(abs(measured[4] - measured[5]))
    passed = difference <= tolerance + 1e-9 and off <= tolerance + 1e-9
    held, moves = _least_moves(corners, planned, tolerance)
    corners.setflags(write=False)
    pair = float(measured[4]), float(measured[5])
    return SquareCheck(corners, pair, difference, tolerance, misfit, held, () if passed else moves, passed)


_PAIRS = ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))


def _lengths(corners: Floats) -> Floats:
    return np.array([math.hypot(*(corners[b] - corners[a])) for a, b in _PAIRS])


def _place_corners(measured: Floats) -> Floats:
    """Place the corners by least squares of all six lengths: five unknowns, one length to spare."""
    a, b, _, d, p, q = measured
    # start from the five lengths that place the corners, without side 3-4; then share the misfit out
    corners = np.array([[0.0, 0.0], [a, 0.0], _third(a, p, b), _third(a, d, q)])
    free = np.array([corners[1, 0], *corners[2], *corners[3]])
    for _ in range(_ROUNDS):
        corners = _from_free(free)
        residual = measured - _lengths(corners)
        slopes = np.empty((6, 5))
        for k in range(5):
            step = np.zeros(5)
            step[k] = 1e-6 * measured.max()  # central differences: good to about 1e-10 of a length
            slopes[:, k] = (_lengths(_from_free(free + step)) - _lengths(_from_free(free - step))) / (
                2 * step[k]
            )
        change = np.linalg.lstsq(slopes, residual, rcond=None)[0]
        free = free + change
        if np.abs(change).max() < 1e-12 * measured.max():
            break
    return _from_free(free)


def _third(base: float, from_first: float, from_second: float) -> tuple[float, float]:
    along = (base**2 + from_first**2 - from_second**2) / (2.0 * base)
    return along, math.sqrt(max(0.0, from_first**2 - along**2))


def _from_free(free: Floats) -> Floats:
    return np.array([[0.0, 0.0], [free[0], 0.0], [free[1], free[2]], [free[3], free[4]]])


def _least_moves(
    corners: Floats, planned: Floats, tolerance: float
) -> tuple[tuple[int, int], tuple[CornerMove, ...]]:
    """Hold one corner and the line of one of its sides, for each of the eight ways; give the least work."""
    ways = []
    for held in range(4):
        for other in ((held + 1) % 4, (held - 1) % 4):
            wanted = _laid_on(corners, planned, held, other)
            shift = wanted - corners
            distance = np.hypot(*shift.T)
            # a corner within half the tolerance of its place is left alone
            moved = [k for k in range(4) if distance[k] > 0.5 * tolerance]
            moves = tuple(CornerMove(k + 1, float(shift[k, 0]), float(shift[k, 1])) for k in moved)
            ways.append((len(moved), round(float(distance.max()), 9), (held + 1, other + 1), moves))
    best = min(ways, key=lambda way: way[:3])
    return best[2], best[3]


def _laid_on(corners: Floats, planned: Floats, held: int, other: int) -> Floats:
    """Lay the planned rectangle on the held corner with its side toward the other corner."""
    now, then = corners[other] - corners[held], planned[other] - planned[held]
    turn = math.atan2(now[1], now[0]) - math.atan2(then[1], then[0])
    cosine, sine = math.cos(turn), math.sin(turn)
    laid: Floats = corners[held] + (planned - planned[held]) @ np.array([[cosine, sine], [-sine, cosine]])
    return laid
