"""Streams under an open floor: what a builder names, and much ground above a wall."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.nearby import Water
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.gathered import KEEP_OFF, MOST_DRAINED, gathered_checks
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
HUT = Outline.rectangle((10.0, 4.0), (6.0, 4.0))


@pytest.fixture(scope="module")
def slope(ground: Ground) -> Surface:
    """24 x 24 m that fall 1 in 20 toward smaller y."""
    marks = np.arange(0.0, 24.1, 3.0)
    return ground([(x, y, 100.0 + 0.05 * y) for x in marks for y in marks])


def spout(x: float, y: float, *, led: bool = False) -> Water:
    return Water("downspout", "downspout", (x, y), led)


@pytest.mark.parametrize(
    ("x", "off", "holds"), [(13.0, 0.0, False), (9.5, 0.5, False), (9.3, 0.7, True), (20.0, 4.0, True)]
)
def test_a_stream_may_not_pass_within_2_ft(slope: Surface, x: float, off: float, holds: bool) -> None:
    (check,) = gathered_checks(slope, HUT, [spout(x, 15.0)], led=True)
    assert (check.check, check.where, check.limit) == ("gathered flow", "downspout", KEEP_OFF)
    assert check.value == pytest.approx(off, abs=1e-6)
    assert check.holds is holds


def test_what_is_led_past_or_comes_out_below_is_fine(slope: Surface) -> None:
    assert list(gathered_checks(slope, HUT, [spout(13.0, 15.0, led=True)], led=True)) == []
    (below,) = gathered_checks(slope, HUT, [spout(13.0, 2.0)], led=True)
    assert below.holds is True


def test_beyond_the_survey_nobody_knows(slope: Surface) -> None:
    (check,) = gathered_checks(slope, HUT, [spout(13.0, 30.0)], led=True)
    assert (check.value, check.holds) == (None, None)


def test_much_ground_above_one_wall_is_an_if(slope: Surface) -> None:
    """7 m wide, 16 m to the upper end: 112 m² and 93 are the most; of one farther up less comes."""
    wide = Outline.rectangle((10.0, 4.0), (7.0, 4.0))
    (check,) = gathered_checks(slope, wide, [], led=False)
    assert (check.check, check.where) == ("drained to a wall", "wall (corners 3-4)")
    assert check.value == pytest.approx(112.0, rel=0.1)
    assert check.value is not None
    assert check.value > MOST_DRAINED
    assert check.holds is None
    assert list(gathered_checks(slope, wide, [], led=True)) == []
    higher = Outline.rectangle((10.0, 9.0), (7.0, 4.0))
    assert list(gathered_checks(slope, higher, [], led=False)) == []
