"""At which level can it be built? The lowest that the gate lets pass, and the cheapest with what it takes.

Where the level by the rule of a foundation cannot be built, the gate is asked at others.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import CheckError, InputError
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.rules import least_fill_level, levels_to_ask
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.project import specs
from gradework.project.designed import (
    Foundation,
    judge_one,
    look_around,
    option_of,
    plan_one,
    plan_pad,
    plan_slab,
)
from gradework.project.gate import unplanned

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.nearby import Nearby
    from gradework.foundations.checks.gate import Judged
    from gradework.ground.surface import Surface
    from gradework.project.gate import Around
    from gradework.project.job.model import Job


# The search: ``ask`` says what the gate finds at a level.


class Found(NamedTuple):
    """What the gate says at a level [m]; the ground around what stands at it, where that was looked at."""

    level: float
    judged: Judged
    around: Around | None


Ask = Callable[[float], Found]

STEP = 0.0508
"""[m] Levels are asked 2 in apart; where all that pass lie between two of them, none is found."""

NEAR = 0.003175
"""[m] The lowest level is found to 1/8 in, one reading: the one taken passes, that much lower none did."""

COST_STEP = 0.0254
"""[m] The cheapest is that of levels 1 in apart, and of those on both sides of each change of the edge."""

_RAISING_MENDS = frozenset(
    {
        "floor above ground", "siding", "water", "dug face", "stone drained", "digging below 1:1",
        "water stays away", "outlet runs clear", "dug or staked near",
    }
)  # fmt: skip
"""Checks that may hold higher up; one of any other kind that fails ends the way up."""


def _may_mend(found: Found) -> bool:
    return all(check.check in _RAISING_MENDS for check in found.judged.false)


def _lift(found: Found) -> float:
    """How much higher it must stand at the least [m], as far as the heights above the ground say; without a
    swale they grow as it is raised, with one the ground beside it may be lower."""
    if found.around is None or found.around.swales:
        return 0.0
    short = [check for check in found.judged.false if check.check in ("floor above ground", "siding")]
    return max(((check.limit or 0.0) - (check.value or 0.0) for check in short), default=0.0)


def lowest_buildable(
    ask: Ask, low: float, high: float, *, own: Found | None = None, near: float = NEAR
) -> Found | None:
    """Give the lowest level from ``low`` to ``high`` [m] that passes; None where none of those asked does.

    ``own``: what is known at ``low``.
    """
    below, found, level = -math.inf, None, low
    while level <= high:
        found = own if own is not None and level == low else ask(level)
        if found.judged.buildable or not _may_mend(found):
            break
        below = max(level, level + _lift(found))
        level = below if below > level else min(level + STEP, high) if level < high else math.inf
    if found is None or not found.judged.buildable:
        return None
    while math.isfinite(below) and found.level - below > near:
        middle = ask(0.5 * (below + found.level))
        below, found = (below, middle) if middle.judged.buildable else (middle.level, found)
    return found


def cheapest_buildable(ask: Ask, levels: Sequence[float], alone: Sequence[float]) -> Found | None:
    """Give the cheapest of ``levels`` [m] that passes, with its measures; ``alone``: what each costs without
    them, which no measure lowers. None where none passes or a cost is not known."""
    best: Found | None = None
    for least, level in sorted(zip(alone, levels, strict=True)):
        if best is not None and least >= _cost(best):
            break
        found = ask(level)
        if found.judged.buildable and (best is None or _cost(found) < _cost(best)):
            best = found
    return best


def _cost(found: Found) -> float:
    return math.inf if found.judged.cost is None else found.judged.cost


# The level: where the one by its rule cannot be built, the gate is asked at others.


class Yard(NamedTuple):
    """What every foundation of a job shares; ``under``: the ground of the building."""

    job: Job
    surface: Surface
    nearby: Nearby
    under: Pieces


class Fitted(NamedTuple):
    """What came of asking: the foundation at another level, None where its own stays, with what was found
    there (None: to be looked at); the level ``nearest`` to one that is given at which it can be built."""

    planned: Foundation | None = None
    found: Found | None = None
    nearest: Judged | None = None


WITH_SWALES = ("floor above ground", "siding", "water")
"""Checks that a swale may let hold."""


def looked_at(yard: Yard, planned: Foundation, *, beside: bool = True) -> Found:
    """Judge one, and look around it unless told not to."""
    job, building = yard.job, yard.nearby.building
    around = look_around(job, yard.surface, yard.nearby, planned) if beside else None
    option = option_of(job, None, yard.under, planned)
    judged = judge_one(job, building, yard.under, option, planned, around)
    return Found(math.nan if judged.level is None else judged.level, judged, around)


def judged_at(yard: Yard, planned: Foundation) -> Found:
    """The same; where something fails that nothing beside it mends, there is no need to look around."""
    alone = looked_at(yard, planned, beside=False)
    mends = all(check.check in WITH_SWALES for check in alone.judged.false)
    return looked_at(yard, planned) if mends else alone


def _asking(yard: Yard, kind: str) -> Ask:
    def ask(level: float) -> Found:
        try:
            given = specs.at_level(yard.job, kind, level)
            return judged_at(yard, plan_one(kind, given, yard.surface, yard.nearby.building, in_full=False))
        except (InputError, CheckError):  # it leaves the survey, or its ground does not close: not there
            return Found(level, unplanned(kind), None)

    return ask


def fit(yard: Yard, kind: str, planned: Foundation, own: Found, *, near: float = NEAR) -> Fitted:
    """Put a foundation at the level that its rule asks for among those that can be built; one that is given
    stays. ``near`` [m]: how close."""
    ask, judged = _asking(yard, kind), own.judged
    if isinstance(planned, Pad) and planned.spec.rule == "least cost":
        return _cheapest_pad(yard, planned, own, ask)
    if judged.buildable or isinstance(planned, Piers) or judged.level is None:
        return Fitted()
    if isinstance(planned, Slab):
        low = min(float(side.ground.min()) for side in planned.sides)
        lower, upper, given = planned.level, low + planned.spec.edge_depth, planned.spec.level is not None
    else:
        lower = max(limit.level for limit in planned.limits if limit.least)
        upper = min(limit.level for limit in planned.limits if not limit.least)
        given = planned.spec.rule != "least fill"
    found = lowest_buildable(ask, judged.level, upper, own=own, near=near)
    if given:
        found = found or lowest_buildable(ask, lower, judged.level, near=near)
        return Fitted(nearest=None if found is None else found.judged)
    if found is None:
        return Fitted()
    job, building = yard.job, yard.nearby.building
    if kind == "slab":
        return Fitted(plan_slab(specs.at_level(job, kind, found.level), yard.surface, building), found)
    return Fitted(plan_pad(job, yard.surface, building, in_full=near < STEP, lowest=found.level), found)


def _cheapest_pad(yard: Yard, pad: Pad, own: Found, ask: Ask) -> Fitted:
    """Put a pad where it is cheapest with what is built beside it; where nothing is, it stands there."""
    if own.judged.buildable and all(one.counted for one in own.judged.measures):
        return Fitted()
    lowest = least_fill_level(pad.ground, pad.limits)
    levels = levels_to_ask(pad.ground, lowest, COST_STEP)
    found = cheapest_buildable(ask, levels.tolist(), pad.ground.at(levels).cost.tolist())
    if found is None:
        return Fitted()
    level = found.level
    return Fitted(plan_pad(yard.job, yard.surface, yard.nearby.building, cheapest=level), found)
