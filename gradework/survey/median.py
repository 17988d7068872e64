"""The middle value of shots, without numpy's own, which loads its masked arrays to look for NaN."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def median(values: NDArray[np.float64]) -> float:
    """The median of ``values`` (n,): the middle one, or half the sum of the middle two; NaN for none.

    A NaN among them makes it NaN.

    >>> median(np.array([3.0, 1.0, 2.0])), median(np.array([4.0, 1.0, 2.0, 3.0])), median(np.array([]))
    (2.0, 2.5, nan)
    """
    n = len(values)
    if n == 0 or np.isnan(values).any():
        return float("nan")
    ordered = np.sort(values)
    return float((ordered[(n - 1) // 2] + ordered[n // 2]) / 2)
