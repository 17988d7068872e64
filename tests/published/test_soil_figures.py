"""Worked figures of soil: how much loose soil covers, topsoil back on, each beside where it comes from."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.earthwork.conditions import BankVolume
from gradework.earthwork.grading.spread import Patch
from gradework.earthwork.materials import SOILS
from gradework.sitework.soil import Dug, placed, spread_and_hauled

FT, YD3 = 0.3048, 0.9144**3
LOAM = SOILS["loam"]  # swell 1.25: FM 5-434 (15 June 2000), Table 1-1


SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


@pytest.mark.parametrize(("inches", "square_feet"), [(1, 324), (2, 162), (3, 108), (4, 81)])
def test_one_cubic_yard_covers(inches: int, square_feet: int) -> None:
    # derived: 27 ft³ by the depth; the edges of the layer are upright here
    patch = Patch(SQUARE * square_feet**0.5 * FT, inches / 12 * FT, np.full(4, 1e-6))
    assert patch.volume / YD3 == pytest.approx(1.0, abs=1e-5)


def test_topsoil_of_a_strip_laid_again_three_inches_deep() -> None:
    # derived: 18 x 14 ft, 4 in deep, is 3.11 yd³ in place, 3.89 loose, which covers 420 sq ft 3 in deep
    strip = 18 * 14 * 4 / 12 * FT**3
    done = placed(Dug(strip, 0.0, 0.0, cut=1e3), LOAM, us=True)
    assert strip / YD3 == pytest.approx(3.11, abs=0.005)
    assert done.deeper / YD3 == pytest.approx(3.89, abs=0.005)
    assert done.relaid / FT**2 == pytest.approx(420.0)


def test_a_dig_spread_two_inches_deep() -> None:
    # derived: 6.73 yd³ in place swells to 8.41 loose, which covers 1,363 sq ft 2 in deep
    loose = LOAM.to_loose(BankVolume(6.73 * YD3)).m3
    assert loose / YD3 == pytest.approx(8.41, abs=0.005)
    assert loose / (2 / 12 * FT) / FT**2 == pytest.approx(1363, abs=0.5)
    left = spread_and_hauled(placed(Dug(0.0, 6.73 * YD3, 0.0), LOAM, us=True), LOAM, ())
    assert left.hauled_loose == pytest.approx(loose)
