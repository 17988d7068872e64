"""Finding where a falling curve crosses zero, always inside a bracket."""

from __future__ import annotations

from collections.abc import Callable

ENOUGH = 1e-11
"""[m] A level is found when the bracket or the last step is this short."""

_MOST_STEPS = 200


def falling_root(curve: Callable[[float], tuple[float, float]], low: float, high: float) -> float:
    """Return the level in [low, high] [m] where a falling curve crosses zero.

    ``curve`` gives its value and its slope (zero or below) at a level. Newton's step where it stays inside
    the bracket and makes headway, halving where it does not, so flat stretches and kinks cost steps, never
    the answer. Above zero all the way it returns ``high``, below zero all the way ``low``.

    >>> round(falling_root(lambda level: (2.0 - level**3, -3.0 * level**2), 0.0, 2.0), 9)
    1.25992105
    """
    if curve(low)[0] <= 0.0:
        return low
    if curve(high)[0] >= 0.0:
        return high
    level = 0.5 * (low + high)
    step = high - low
    for _ in range(_MOST_STEPS):
        value, slope = curve(level)
        if value == 0.0:
            return level
        low, high = (level, high) if value > 0.0 else (low, level)
        newton = level - value / slope if slope < 0.0 else low
        if low < newton < high and abs(newton - level) <= 0.5 * step:
            following = newton
        else:
            following = 0.5 * (low + high)
        step = abs(following - level)
        if step <= ENOUGH:
            return following
        level = following
    return level
