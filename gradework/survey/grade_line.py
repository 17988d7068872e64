"""A straight grade between control stakes: the level of a drain, a wall or a ramp at every stake along a
line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GradeLine:
    """``grade`` (n,) [m] elevation of the line at each stake; ``cut`` (n,) [m] ground above it, minus for
    fill; ``falls`` (k-1,) [-] fall over run of each stretch between control stakes, positive downhill.
    Read-only."""

    grade: Floats
    cut: Floats
    falls: Floats


def straight_grade(along: ArrayLike, ground: ArrayLike, control: Mapping[int, float]) -> GradeLine:
    """The line that is straight between control stakes.

    ``along`` (n,) [m] distance of each stake from the first, rising; ``ground`` (n,) [m] elevations;
    ``control`` gives the cut [m] wanted at some stakes (by number from 0), the first and the last among them.
    Raises ValueError where the first or last stake has no control or the distances do not rise.

    >>> straight_grade([0, 10, 20], [5.0, 4.9, 4.0], {0: 0.5, 2: 0.5}).cut.round(3).tolist()
    [0.5, 0.9, 0.5]
    """
    at = np.asarray(along, dtype=float)
    level = np.asarray(ground, dtype=float)
    fixed = sorted(control)
    if not fixed or fixed[0] != 0 or fixed[-1] != len(at) - 1:
        raise ValueError("the first and the last stake need a cut to hold")
    if np.any(np.diff(at) <= 0):
        raise ValueError("the distances of the stakes must rise")
    held = np.array([level[i] - control[i] for i in fixed])
    grade = np.interp(at, at[fixed], held)
    falls = -np.diff(held) / np.diff(at[fixed])
    cut = level - grade
    for array in (grade, cut, falls):
        array.setflags(write=False)
    return GradeLine(grade, cut, falls)
