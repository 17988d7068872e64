"""What several rooms' tests need: a surface straight from numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import ArrayLike

from gradework.ground import Surface, build_surface
from gradework.survey import Stations

Ground = Callable[..., Surface]


@pytest.fixture(scope="session")
def ground() -> Ground:
    """Return a function that makes a surface of shots (n, 3) [m]."""

    def make(xyz: ArrayLike, unit: str = "m") -> Surface:
        shots = np.array(xyz, dtype=np.float64)
        names = [f"S{number}" for number in range(1, len(shots) + 1)]
        spread = np.full(len(shots), np.nan)
        return build_surface(Stations(names, shots, spread, np.arange(len(shots)) + 2, "yard.csv", unit))

    return make
