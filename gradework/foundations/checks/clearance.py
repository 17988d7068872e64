"""How far wood stands above the ground: the floor, siding, joists and skids by their treatment."""

from __future__ import annotations

from gradework.foundations.checks import limits
from gradework.foundations.checks.check import COMMON, Check


def floor_clear(height: float) -> Check:
    """Hold the floor against the finished ground beside it: never below it. ``height`` [m] above it.

    >>> floor_clear(-0.01).holds
    False
    """
    return Check("floor above ground", height, 0.0, "m", COMMON, "least")


def siding_clear(height: float) -> Check:
    """Hold siding against the ground outside: 6 in. ``height`` [m]: where it may begin, above that ground.

    The stone of a pad at the foot of the wall is neither ground nor paving.

    >>> siding_clear(5.5 * 0.0254).holds, siding_clear(6.0 * 0.0254).holds
    (False, True)
    """
    return Check("siding", height, limits.SIDING, "m", limits.SIDING_RULE, "least")


def framing_clear(name: str, height: float, *, treated: bool | None) -> Check:
    """Hold "joists" or "skids" ``height`` [m] above the ground: 18 and 12 in, or treated for contact with it.

    ``treated`` None where nobody said: then it is an "if".

    >>> [framing_clear("skids", 0.1, treated=one).holds for one in (True, False, None)]
    [True, False, None]
    """
    least = {"joists": limits.JOISTS, "skids": limits.SKIDS}[name]
    limit: float | None = least
    if height < least and treated is not False:
        limit = None if treated is None else 0.0
    return Check(name, height, limit, "m", limits.FRAMING_RULE, "least")
