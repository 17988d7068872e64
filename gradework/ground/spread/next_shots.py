"""Which shots would tell most: the places where a reading narrows a figure, one after another.

A reading at a place takes from the covariance of ground and figure what it tells of both (the update of
kriging with one more datum); the covariance is that of the likely grounds. The best place is taken, then the
best of those that are left, since two shots beside each other tell little more than one.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.survey.one_thread import one_thread

Floats = NDArray[np.float64]


class NextShot(NamedTuple):
    """A place to shoot [m], and the part [-] of the figure's spread that it leaves, with those before it."""

    x: float
    y: float
    left: float


@one_thread()
def next_shots(
    places: Floats, grounds: Floats, values: Floats, error: float, most: int
) -> tuple[NextShot, ...]:
    """The ``most`` places of ``places`` (m, 2) [m] whose readings narrow ``values`` (g,) most, best first.

    grounds : (g, m) [m] likely ground at the places.  error : what a reading there may be off by [m].
    None for a figure that does not hang on the ground.
    """
    both = np.column_stack((grounds, values))
    both = both - both.mean(axis=0)
    covariance = both.T @ both / len(both)
    start = float(covariance[-1, -1])
    found: list[NextShot] = []
    for _ in range(most if start > 0.0 else 0):
        own = covariance.diagonal()[:-1] + error**2
        gain = covariance[-1, :-1] ** 2 / own
        best = int(np.argmax(gain))
        covariance = covariance - np.outer(covariance[best], covariance[best]) / own[best]
        left = float(np.sqrt(max(covariance[-1, -1], 0.0) / start))
        found.append(NextShot(float(places[best, 0]), float(places[best, 1]), left))
    return tuple(found)
