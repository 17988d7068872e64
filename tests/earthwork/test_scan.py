"""Slices through the ground: the same as clipping and prisms to rounding, and what a person can work out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.scan import MOST_TRIANGLES, Scanned, hold_against, scan
from gradework.earthwork.volumes import cut_and_fill
from gradework.errors import CheckError
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]


def test_a_slope_by_hand(ground: Ground) -> None:
    """It rises 1 in 10 along x; from x = 2 to 6, 3 m wide, against the level at x = 4: two prisms of
    2 x 0.2 / 2 x 3 = 0.6 m3 on 6 m2 each."""
    surface = ground([(0, 0, 10.0), (8, 0, 10.8), (8, 6, 10.8), (0, 6, 10.0)])
    found = scan(surface, Outline.rectangle((2.0, 1.0), (4.0, 3.0)), 10.4)
    assert found is not None
    assert found == pytest.approx((12.0, 0.0, 0.6, 0.6, 6.0, 6.0), abs=1e-12)


L_SHAPE = np.array([(4, 4), (12, 4), (12, 8), (8, 8), (8, 12), (4, 12)], dtype=float)
COURT = [
    np.array([(3, 3), (13, 3), (13, 13), (3, 13)], dtype=float),
    np.array([(6, 6), (6, 9), (9, 9), (9, 6)], dtype=float),
]


@pytest.mark.parametrize("seed", range(40))
def test_the_same_as_by_prisms(ground: Ground, seed: int) -> None:
    """On a grid of whole metres, with outlines along its lines, and on shots anywhere, turned outlines."""
    rng = np.random.default_rng(seed)
    if seed % 2:
        line = np.arange(0.0, 17.0, 4.0)
        xy = np.array([(x, y) for x in line for y in line])
    else:
        corners = [(0.0, 0.0), (17.0, 0.0), (17.0, 17.0), (0.0, 17.0)]
        xy = np.vstack((rng.uniform(0.0, 17.0, (rng.integers(20, 90), 2)), corners))
    surface = ground(np.column_stack((xy, np.round(rng.uniform(9.0, 11.0, len(xy)), 2))))
    outline = (
        Outline.rectangle((4.0, 4.0), (8.0, 4.0)),
        Outline.rectangle((6.0, 3.0), (7.0, 4.5), float(rng.uniform(5.0, 85.0))),
        Outline.polygon([L_SHAPE]),
        Outline.polygon(COURT),
    )[seed % 4]
    under = clip(surface, outline)
    for level in (9.4, under.mean, 10.5, float(surface.stations.xyz[7, 2])):
        (one,) = cut_and_fill(under, level)
        found = scan(surface, outline, level)
        assert found is not None
        wanted = (one.area, one.net, one.cut, one.fill, one.cut_area, one.fill_area)
        assert found == pytest.approx(wanted, abs=1e-9)


def test_what_differs_is_refused() -> None:
    found = Scanned(10.0, 0.0, 1.0, 1.0, 5.0, 5.0)
    hold_against(found, "a pad", cut=1.0 + 1e-9)
    with pytest.raises(CheckError, match=r"a pad: cut 1\.00001, by slices 1\.0"):
        hold_against(found, "a pad", cut=1.00001)
    with pytest.raises(CheckError):
        hold_against(found, "a pad", fill=float("nan"))
    hold_against(None, "ground of too many triangles", cut=5.0)


def test_ground_of_very_many_triangles_is_not_sliced(ground: Ground) -> None:
    line = np.arange(0.0, 25.0)
    shots = np.array([(x, y, 10.0 + 0.01 * x * y) for x in line for y in line])
    surface = ground(shots)
    assert len(surface.triangles) > MOST_TRIANGLES
    assert scan(surface, Outline.rectangle((0.5, 0.5), (23.0, 23.0)), 11.0) is None
    assert scan(surface, Outline.rectangle((4.0, 4.0), (3.0, 3.0)), 11.0) is not None
