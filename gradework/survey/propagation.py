"""How errors of measured lengths carry into areas and volumes made of them, to first order."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike


def product_error(values: Sequence[float], sds: Sequence[float]) -> float:
    """Standard error of a product of independent lengths, in the unit of the product.

    Ghilani & Wolf, error of a product; ``values`` and ``sds`` in one unit. A value of 0 needs no special
    care.

    >>> round(product_error([252.46, 605.08], [0.053, 0.072]), 1)
    36.9
    """
    others = [math.prod(v for j, v in enumerate(values) if j != i) for i in range(len(values))]
    return math.sqrt(math.fsum((o * s) ** 2 for o, s in zip(others, sds, strict=True)))


def area_error(corners: ArrayLike, sd: float) -> float:
    """Standard error [m²] of the area of an outline (k, 2) [m] whose corners are each off by ``sd`` [m] per
    axis.

    (sd/2)·√(sum d²), d the distance between the two neighbours of each corner.

    >>> round(area_error([[0, 0], [10, 0], [10, 10], [0, 10]], 0.02), 7)
    0.2828427
    """
    at = np.asarray(corners, dtype=float).reshape(-1, 2)
    across = np.roll(at, -1, axis=0) - np.roll(at, 1, axis=0)
    return float(sd / 2 * np.sqrt((across**2).sum()))
