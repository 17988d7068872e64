"""At which level can it be built? The lowest that the gate lets pass, and the cheapest with what it takes.

Nothing is designed here: ``ask`` says what the gate finds at a level [m].
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from gradework.foundations.checks.gate import Judged
    from gradework.project.gate import Around
    from gradework.sitework.order import Order


class Found(NamedTuple):
    """What the gate says at a level [m]; the ground around what stands at it, where that was looked at; where
    it was priced, its order and the ``money`` for all of it, made-up prices and all."""

    level: float
    judged: Judged
    around: Around | None
    order: Order | None = None
    money: float = math.inf


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
    if found.around is None or found.around.measures:
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
    """Give the cheapest of ``levels`` [m] that passes, with its measures; ``alone``: the least that each can
    cost. None where none passes."""
    best: Found | None = None
    for least, level in sorted(zip(alone, levels, strict=True)):
        if best is not None and least >= best.money:
            break
        found = ask(level)
        if found.judged.buildable and (best is None or found.money < best.money):
            best = found
    return best


_DIGGING_FAILS = frozenset({"water", "outlet runs clear", "digging below 1:1", "own side"})
"""Checks of a slab that fail no less lower down: what leads water past starts lower and ends farther off."""


def highest_buildable(ask: Ask, low: float, high: float, *, slab: bool = False) -> Found | None:
    """Give the highest that passes of the levels ``STEP`` apart from ``high`` down to ``low`` [m]; None where
    none does. Of a ``slab`` none lower is asked where one fails by what only grows worse."""
    for step in range(math.floor((high - low) / STEP + 1e-9) + 1):
        found = ask(high - step * STEP)
        if found.judged.buildable:
            return found
        if slab and _DIGGING_FAILS & set(found.judged.failing):
            return None
    return None
