"""Which holes each pier may have, so that no two of one kind overlap and every pier has one.

A hole that would overlap its like at a neighbour is not open to either of the two. Where that leaves a pier
none, as where its load asks for a wide hole beside piers that stand close, it keeps the smallest that carries
it, and its neighbours keep clear of that one. So a wide hole stands beside narrow ones, while each pier still
chooses by itself, which is what makes the search for the best top a proof.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.piers.neighbours import overlapping

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Size = tuple[float, float]


def with_room(local: Floats, size: Size, kept: Mapping[int, Size]) -> Bools:
    """Say which of the places (n, 2) [m: along, across] have room for a hole of ``size`` (n,).

    ``kept`` are the places that have one hole only, by number: no other is open to them, and none of the
    others may overlap it.

    >>> row = np.array([[0.0, 0.0], [0.7, 0.0], [2.0, 0.0]])
    >>> with_room(row, (0.8, 0.8), {}).tolist(), with_room(row, (0.8, 0.8), {0: (0.8, 0.8)}).tolist()
    ([False, False, True], [True, False, True])
    """
    pairs = overlapping(local, [kept.get(number, size) for number in range(len(local))])
    close = {number for pair in pairs for number in pair if number not in kept or kept.keys() >= set(pair)}
    return np.array([n not in close and kept.get(n, size) == size for n in range(len(local))], np.bool_)


def kept_holes(local: Floats, smallest: Sequence[Size | None], may: Mapping[Size, Bools]) -> dict[int, Size]:
    """Give the places where no hole has room beside its like, each with the smallest that carries the pier.

    ``may`` gives for each size of hole the places (n,) that may have it by their load and their ground;
    ``smallest`` is that of each place by its load, None where there is none.
    """
    kept: dict[int, Size] = {}
    while True:
        able = np.any([own & with_room(local, size, kept) for size, own in may.items()], axis=0)
        tight = {
            number: size
            for number, size in enumerate(smallest)
            if size is not None and number not in kept and not able[number]
        }
        if not tight:
            return kept
        kept |= tight
