"""The worked building: 16 x 12 ft on three rows, its loads by hand, and the pads that its piers need."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.foundations.timber.load_path import AreaLoads, Shell, loads_on_piers, row_loads

FOOT = 0.3048
POUND = 4.4482216152605e-3  # kN
PSF = POUND / FOOT**2
PLF = POUND / FOOT

# Floor 40 + 10 psf, snow 35, roof 10 psf, walls 8 psf and 8 ft high, eaves 1 ft out; gables are 9 ft high on
# average: a rise of 4 in 12 over half of 12 ft.
LOADS = AreaLoads(40 * PSF, 10 * PSF, 35 * PSF, 10 * PSF, 8 * PSF)
SHELL = Shell(8 * FOOT, 1 * FOOT)
ROWS = [0.0, 6 * FOOT, 12 * FOOT]


def test_rows() -> None:
    """3 x 50 + 64 + 7 x 45 = 529 plf on the outer rows, 300 on the inner one, 864 lb a gable."""
    found = row_loads(16 * FOOT, 12 * FOOT, ROWS, LOADS, SHELL)
    assert [load.total / PLF for load in found.along] == pytest.approx([529, 300, 529])
    assert sum(found.ends) / POUND == pytest.approx(864)


def test_all_of_it_comes_down() -> None:
    """23 456 lb: floor 9 600, roof 10 080, walls 2 048, gables 1 728."""
    found = row_loads(16 * FOOT, 12 * FOOT, ROWS, LOADS, SHELL)
    total = sum(load.total for load in found.along) * 16 * FOOT + 2 * sum(found.ends)
    assert total / POUND == pytest.approx(9600 + 10080 + 2048 + 1728)


def test_piers() -> None:
    """Four in a row: 2 821 and 1 627 lb in the outer rows, 1 600 and 1 232 lb in the inner one."""
    places = np.array([(u, v) for v in ROWS for u in np.linspace(0.0, 16 * FOOT, 4)])
    along, across = np.array([1, 2, 2, 1]) * 16 * FOOT / 6, np.array([3, 6, 3]) * FOOT
    ring = np.array([(0, 0), (16, 0), (16, 12), (0, 12)]) * FOOT
    found = loads_on_piers([ring], places, np.outer(across, along).ravel(), LOADS, SHELL)
    outer, inner = [1626.7, 2821.3, 2821.3, 1626.7], [1232.0, 1600.0, 1600.0, 1232.0]
    assert found.total / POUND == pytest.approx([*outer, *inner, *outer], abs=0.05)
    pad = found.total.max() / (16 / 12 * FOOT) ** 2 / PSF, found.total.max() / (20 / 12 * FOOT) ** 2 / PSF
    assert pad == pytest.approx((1587, 1016), abs=0.6)


def test_a_ridge_beam_sends_half_the_roof_to_the_gables() -> None:
    """12 ft of roof span on 16 ft at 45 psf: half of it, 4 320 lb, stands in the middle of the two gables."""
    beam = row_loads(16 * FOOT, 12 * FOOT, ROWS, LOADS, SHELL._replace(roof="ridge beam"))
    rafters = row_loads(16 * FOOT, 12 * FOOT, ROWS, LOADS, SHELL)
    assert (beam.ends[1] - rafters.ends[1]) / POUND == pytest.approx(2160)
    assert (rafters.along[0].total - beam.along[0].total) / PLF == pytest.approx(3 * 45)


def test_less_where_published_combinations_are_used() -> None:
    """D + 0.75 L + 0.75 S gives 437.75 plf, 17 % less: taking all at once is on the safe side."""
    dead = row_loads(16 * FOOT, 12 * FOOT, ROWS, LOADS._replace(floor_live=0.0, roof_live=0.0), SHELL)
    whole = row_loads(16 * FOOT, 12 * FOOT, ROWS, LOADS, SHELL)
    combined = dead.along[0].total + 0.75 * whole.along[0].live
    assert combined / PLF == pytest.approx(437.75)
    assert combined / whole.along[0].total == pytest.approx(1 - 0.17, abs=0.005)
