"""Everything round one pad together: slopes, swales on two sides, yards inside it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.swale import design_swale
from gradework.earthwork.grading.whole import whole_ground
from gradework.earthwork.outline import Outline
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

PAD = Outline.rectangle((12.0, 10.0), (6.0, 4.0))


def valley(ground: Ground) -> Surface:
    """Rises from x = 15 to both sides by 10 %, falls along y by 3 %: water comes to two sides of the pad."""
    places = [(x, y) for x in (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    return ground([(x, y, 10.0 + 0.1 * abs(x - 15.0) + 0.03 * (y - 12.0)) for x, y in places])


@pytest.fixture
def two(ground: Ground) -> tuple[Surface, list]:
    surface = valley(ground)
    made = [design_swale(surface, PAD.rings[0], 10.1, (side, side), SwaleSpec()) for side in (1, 3)]
    assert all(one is not None for one in made)
    return surface, made


def test_two_swales_are_both_in_it(two: tuple[Surface, list]) -> None:
    """Each bottom is where it was designed, or lower where the other one crosses it."""
    surface, swales = two
    whole = whole_ground(surface, PAD, 10.1, beside=swales)
    for swale in swales:
        off = whole.surface.elevation(swale.line[:, :2]) - swale.line[:, 2]
        assert off.max() <= 1e-6
        assert (np.abs(off) < 1e-6).sum() >= 2
    alone = [swale.ground for swale in swales]
    assert max(one.cut for one in alone) < whole.cut <= sum(one.cut for one in alone) + 1e-6
    lower = np.minimum(*(one.surface.elevation(surface.stations.xyz[:, :2]) for one in alone))
    assert whole.surface.elevation(surface.stations.xyz[:, :2]) == pytest.approx(lower, abs=1e-6)


def test_one_swale_is_its_own_ground(two: tuple[Surface, list]) -> None:
    surface, (swale, _) = two
    whole = whole_ground(surface, PAD, 10.1, beside=[swale])
    assert (whole.cut, whole.fill) == (swale.ground.cut, swale.ground.fill)


def test_a_swale_beside_slopes_keeps_both(ground: Ground) -> None:
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    surface = ground([(x, y, 10.3 + 0.06 * (y - 14.0)) for x, y in places])
    swale = design_swale(surface, PAD.rings[0], 10.5, (2, 2), SwaleSpec(), batter=Batter(2.0, 0.0, 0.0))
    assert swale is not None
    whole = whole_ground(surface, PAD, 10.5, batter=2.0, beside=[swale])
    assert whole.surface.elevation(np.array([(15.0, 9.6)])) == pytest.approx([10.3])
    assert whole.surface.elevation(swale.line[:, :2]) == pytest.approx(swale.line[:, 2], abs=1e-6)


def test_a_swale_beside_the_slopes_of_an_l_leaves_no_step_at_its_edge(ground: Ground) -> None:
    """The slopes start at the pad, all round, and run down to the swale without a wall between."""
    places = [(x, y) for x in range(-9, 41, 7) for y in range(-9, 41, 7)]
    surface = ground([(x, y, 10.0 + 0.05 * y) for x, y in places])
    ell = np.array([(8, 8), (20, 8), (20, 13), (14, 13), (14, 18), (8, 18)], dtype=float)
    swale = design_swale(surface, ell, 11.0, (2, 4), SwaleSpec(), batter=Batter(2.0, 0.0, 0.0))
    assert swale is not None
    whole = whole_ground(surface, Outline.polygon(ell), 11.0, batter=2.0, beside=[swale])
    step = np.roll(ell, -1, axis=0) - ell
    out = np.stack((step[:, 1], -step[:, 0]), axis=1) / np.hypot(*step.T)[:, None]
    beside = (ell + 0.4 * step) + 0.002 * out
    assert whole.surface.elevation(beside) == pytest.approx([10.999] * 6, abs=1e-6)
    assert whole.surface.elevation(swale.line[:, :2]) == pytest.approx(swale.line[:, 2], abs=1e-6)


@pytest.mark.parametrize(("batter", "beside"), [(None, 10.0), (2.0, 10.25)])
def test_without_a_swale_it_is_pad_and_slopes(ground: Ground, batter: float | None, beside: float) -> None:
    """Half a metre off its edge: level ground, or half way down a slope of 2:1 half a metre high."""
    surface = ground([(x, y, 10.0) for x in (0, 15, 30) for y in (0, 15, 30)])
    whole = whole_ground(surface, PAD, 10.5, batter=batter)
    assert whole.surface.elevation(np.array([(15.0, 9.5), (15.0, 11.0)])) == pytest.approx([beside, 10.5])


def test_a_yard_inside_the_pad_stays_as_it_is(ground: Ground) -> None:
    surface = ground([(x, y, 10.0) for x in (0, 15, 30) for y in (0, 15, 30)])
    ring = np.array([(10, 10), (20, 10), (20, 20), (10, 20)], dtype=float)
    yard = np.array([(13, 13), (13, 17), (17, 17), (17, 13)], dtype=float)
    whole = whole_ground(surface, Outline.polygon([ring, yard]), 10.5)
    assert whole.surface.elevation(np.array([(15.0, 15.0), (11.0, 15.0), (5.0, 5.0)])) == pytest.approx(
        [10.0, 10.5, 10.0]
    )
    assert (whole.cut, whole.fill) == (0.0, 0.0)
