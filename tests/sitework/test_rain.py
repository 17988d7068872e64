"""Ponds near a building: as surveyed, and against the foot of what is built."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.grading.whole import whole_ground
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface
from gradework.sitework.rain import NEAR, Rain, rain_on, standing_findings
from gradework.units.display import METRIC

Ground = Callable[..., Surface]
MARKS = np.arange(0.0, 24.1, 2.0)


def looked_at(surface: Surface, corner: tuple[float, float], level: float | None) -> Rain:
    """The rain about a building of 4 by 4 m, on a pad as large as it at a level, or on none."""
    building = Outline.rectangle(corner, (4.0, 4.0))
    if level is None:
        return rain_on(surface, building, surface, None)
    finished = whole_ground(surface, building, level).surface
    return rain_on(surface, building, finished, PadTop(level, building))


def dented(ground: Ground, deep: float = 0.5) -> Surface:
    """A slope of 1 in 50 with a dent at (12, 12)."""
    return ground(
        [(x, y, 100.0 + 0.02 * x - (deep if (x, y) == (12, 12) else 0.0)) for x in MARKS for y in MARKS]
    )


def test_a_dent_is_told_near_the_building_only(ground: Ground) -> None:
    surface = dented(ground)
    (pond,) = looked_at(surface, (15.0, 10.0), None).before
    assert pond.pond.level == pytest.approx(100.2)
    assert pond.pond.depth == pytest.approx(0.46)
    assert pond.pond.lowest[:2] == (12.0, 12.0)
    assert 1.0 < pond.off < NEAR
    assert looked_at(surface, (19.0, 19.0), None).before == ()
    assert looked_at(dented(ground, 0.06), (15.0, 10.0), None).before == ()


def test_under_an_open_floor_it_says_so(ground: Ground) -> None:
    rain = looked_at(dented(ground), (10.0, 10.0), None)
    (told,) = standing_findings(rain, METRIC)
    assert (told.code, told.severity) == ("water-stands", "warning")
    assert "where the building goes" in told.advice
    assert rain.before[0].off == 0.0


def test_a_pad_over_it_fills_it(ground: Ground) -> None:
    """What was there and will be gone is a note."""
    rain = looked_at(dented(ground), (10.0, 10.0), 100.3)
    assert rain.after == ()
    (told,) = standing_findings(rain, METRIC)
    assert told.severity == "note"


def test_water_stands_against_a_pad_across_a_valley(ground: Ground) -> None:
    """A pad like a dam: water stands behind it as high as its top, where that is the lowest way out."""
    valley = ground([(x, y, 100.0 + 0.05 * x + 0.3 * abs(y - 12.0)) for x in MARKS for y in MARKS])
    rain = looked_at(valley, (10.0, 10.0), 101.0)
    assert rain.before == ()
    assert rain.after is not None
    (pond,) = rain.after
    assert pond.pond.level == pytest.approx(101.0)
    assert pond.pond.depth == pytest.approx(0.3, abs=1e-6)
    assert pond.off < 1e-6
    (low,) = looked_at(valley, (10.0, 10.0), 100.85).after or ()
    assert low.pond.level == pytest.approx(100.85)


def test_drops_from_uphill_run_over_the_place_and_then_past_the_pad(ground: Ground) -> None:
    """On a plane that falls along -x: those as wide as the building run over it, the others pass."""
    plane = ground([(x, y, 100.0 + 0.1 * x) for x in MARKS for y in MARKS])
    (runs,) = looked_at(plane, (10.0, 10.0), None).runs
    assert len(runs) == 5
    assert [one.comes for one in runs] == [abs(one.legs[0][0, 1] - 12.0) < 2.0 for one in runs]
    assert {round(one.legs[0][0, 0] - 14.0, 3) for one in runs} == {6.096}
    for one in runs:
        (leg,) = one.legs
        assert leg[-1, 0] == pytest.approx(0.0, abs=1e-9)
        assert np.ptp(leg[:, 1]) < 1e-9
    now, then = looked_at(plane, (10.0, 10.0), 101.6).runs
    assert [one.comes for one in then] == [one.comes for one in now]
    assert all(one.legs[-1][-1, 0] == pytest.approx(14.0) for one in then if one.comes)


def test_on_level_ground_nobody_knows_which_way_is_up(ground: Ground) -> None:
    level = ground([(x, y, 100.0) for x in MARKS for y in MARKS])
    assert looked_at(level, (10.0, 10.0), None).runs == ((),)
    assert Rain().runs == ()


def test_what_comes_to_a_drain_does_not_come_to_the_foundation(ground: Ground) -> None:
    """On a plane that falls to the building: what starts above comes, until a drain lies across its way."""
    surface = ground([(x, y, 100.0 + 0.05 * x) for x in MARKS for y in MARKS])
    building = Outline.rectangle((8.0, 10.0), (4.0, 4.0))
    finished, top = whole_ground(surface, building, 100.7).surface, PadTop(100.7, building)
    runs = rain_on(surface, building, finished, top).runs[1]
    comes = [10.0 <= one.legs[0][0, 1] <= 14.0 for one in runs]
    assert 0 < sum(comes) < len(comes)
    assert [one.comes for one in runs] == comes
    assert not any(one.drained for one in runs)
    # a line of the survey's own triangles, uphill of the building and wider than it
    across = np.array([[(14.0, y), (14.0, y + 2.0)] for y in np.arange(4.0, 20.0, 2.0)])
    runs = rain_on(surface, building, finished, top, [across]).runs[1]
    assert [(one.comes, one.drained) for one in runs] == [(False, True)] * len(comes)
    assert [one.legs[-1][-1][0] for one in runs] == pytest.approx([14.0] * len(comes))
