"""One place very far from all others: a wrong first digit, a wrong degree, a point that is not of this yard.

The yard's own size is the median distance from its middle, which one place cannot move however wrong it is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, visible
from gradework.survey.median import median

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from gradework.units import Display

LEAST_PLACES = 5
"""Fewer places do not tell which of them is away from the others."""

VERY_FAR = 20.0
"""A place this many times the median distance from the middle is very far. A full square of shots reaches to
1.9 times, a benchmark down the street to about 10; a judgement, no source."""

ALONE = 10.0
"""It stands alone when the nearest other place is this many median distances away."""

MOST_NAMED = 5


def far_places(
    names: Sequence[str],
    xy: ArrayLike,
    lines: Sequence[int] | NDArray[np.int64],
    show: Display,
    *,
    file: str = "",
) -> list[Finding]:
    """A warning for each place that stands alone very far from the others; ``xy`` (n, 2) [m].

    ``lines``: the line of each place, 0 unknown, of ``file`` where that is not the one with the heights. A
    finding's value is its distance from the middle of the places [m], its limit the greatest that passes.
    """
    at = np.asarray(xy, dtype=float).reshape(-1, 2)
    if len(at) < LEAST_PLACES:
        return []
    away = np.hypot(*(at - [median(at[:, 0]), median(at[:, 1])]).T)
    usual = median(away)
    far = np.flatnonzero(away > VERY_FAR * usual)
    found = []
    for index in far[np.argsort(-away[far])][:MOST_NAMED].tolist():
        others = np.hypot(*(np.delete(at, index, axis=0) - at[index]).T)
        if usual == 0 or float(others.min()) < ALONE * usual:
            continue
        line, name = int(lines[index]), visible(names[index])
        where = f"{name}, line {line}" + (f" of {visible(file)}" if file else "") if line else name
        found.append(
            Finding(
                "place-far-off",
                "warning",
                where,
                float(away[index]),
                VERY_FAR * usual,
                f"{name} stands {show.distance(float(away[index]))} from the middle of the yard, where half "
                f"of all places lie within {show.distance(usual)}. Look for a wrong digit or sign in its "
                "place; a mark so far off is better left out of the shots.",
            )
        )
    return found
