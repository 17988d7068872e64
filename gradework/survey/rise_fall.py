"""Reduction by rise and fall: the second way, which never sees a height of instrument.

From one reading to the next in a set-up the ground rises by the earlier reading minus the later one. The
first way (``levels``) and this one share no arithmetic, so they check each other.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.survey.setups import Setup


def rises(setups: Sequence[Setup]) -> dict[int, float]:
    """Rise to each forward reading from the one before it [m], negative for a fall, by row of the notes.

    >>> from gradework.survey.setups import Setup, Sight
    >>> rises([Setup(1, 0, Sight(0, 2.191), (Sight(1, 2.507), Sight(2, 2.325)))])[1].__round__(3)
    -0.316
    """
    found: dict[int, float] = {}
    for setup in setups:
        before = setup.back.reading
        for sight in setup.forward:
            found[sight.row] = before - sight.reading
            before = sight.reading
    return found


def elevations(setups: Sequence[Setup], starts: Mapping[int, float]) -> dict[int, float]:
    """Elevation of every forward reading by rise and fall [m], by row of the notes.

    ``starts``: elevation of the mark each run begins on [m], by run. A set-up that continues a run begins
    where the one before it turned.
    """
    change = rises(setups)
    found: dict[int, float] = {}
    standing: dict[int, float] = dict(starts)
    for setup in setups:
        at = standing[setup.run]
        for sight in setup.forward:
            at += change[sight.row]
            found[sight.row] = at
        standing[setup.run] = at
    return found


def sums(setups: Sequence[Setup]) -> tuple[float, float]:
    """Sum of rises and sum of falls [m], both positive, over the set-ups given."""
    change = rises(setups).values()
    return math.fsum(c for c in change if c > 0), math.fsum(-c for c in change if c < 0)
