"""Water on the finished ground of yards that are said to be led, by a flood of its own (``flow_oracle``)."""

from __future__ import annotations

from collections.abc import Callable

import flow_oracle
import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.ground.surface import Surface


def test_a_hollow_fills_to_its_lowest_pass_and_drains_over_it() -> None:
    """By hand: a pit of 1 in a plain of 5, with a pass of 3 to a low place of 2 at the rim."""
    height = np.full((5, 5), 5.0)
    height[2, 2], height[2, 3], height[2, 4] = 1.0, 3.0, 2.0
    onward, water = flow_oracle.flooded(height)
    assert water[2, 2] == 3.0
    assert water[2, 3] == 3.0
    assert onward[2, 2] == 2 * 5 + 3
    assert onward[2, 3] == 2 * 5 + 4
    assert onward[2, 4] == -1
    assert (water[1:4, 1:4] == [[5, 5, 5], [5, 3, 3], [5, 5, 5]]).all()


def test_no_water_is_lost_and_none_runs_uphill() -> None:
    """On rough ground with a gap in it every way ends at the rim or at the gap, and never rises."""
    height = np.random.default_rng(3).random((40, 50))
    height[10:14, 20:25] = np.nan
    onward, water = flow_oracle.flooded(height)
    known = np.isfinite(height).reshape(-1)
    flat, to = water.reshape(-1), onward.reshape(-1)
    runs = known & (to >= 0)
    assert (flat[to[runs]] <= flat[runs]).all()
    assert (flat[known] >= height.reshape(-1)[known]).all()
    place = np.flatnonzero(known)
    for _ in range(height.size):
        place = np.where(to[place] >= 0, to[place], place)
    assert (to[place] == -1).all()


def test_a_wall_of_earth_turns_water_away_and_a_notch_in_it_lets_it_in() -> None:
    """A plane that falls to the left, a pad in its way, a dike above it: with a gap the pad is reached."""
    x = np.arange(60)[None, :] * np.ones((40, 1))
    height = 0.1 * x
    height[5:35, 40] += 1.0
    height[5, 25:40] += 1.0
    height[34, 25:40] += 1.0
    pad = np.zeros(height.shape, dtype=bool)
    pad[15:25, 20:28] = True
    away = x > 41
    flow = flow_oracle.Flow(*flow_oracle.flooded(height), pad, pad, away)
    assert flow_oracle.area_reaching(flow, pad) == 0.0
    height[19:21, 40] -= 1.0
    flow = flow_oracle.Flow(*flow_oracle.flooded(height), pad, pad, away)
    assert flow_oracle.area_reaching(flow, pad) > 1.0


LED = (5, 6, 8, 9, 11, 13, 0, 17)
"""Swales and aprons, boards and side slopes, two turned L-shapes; ``tests/bench flow`` takes hundreds."""


@pytest.mark.parametrize("number", LED)
def test_no_water_from_uphill_comes_to_a_pad_that_is_said_to_be_led(number: int) -> None:
    """As surveyed it does in each of these yards; then none runs over the pad, nor to its foot."""
    yard = flow_oracle.yard(number)
    plan = flow_oracle.led(yard)
    assert plan is not None
    before = flow_oracle.flow_on(yard.surface, yard.pad, yard.level)
    assert flow_oracle.area_reaching(before, before.beside) > 5.0
    after = flow_oracle.flow_on(plan.ground, yard.pad, yard.level)
    assert flow_oracle.area_reaching(after, after.pad) == 0.0
    assert flow_oracle.area_reaching(after, after.beside) < 0.1


FLAT = (0, 5, 9, 24, 34)
"""Hardly any fall, one to three sides, boards and side slopes."""


@pytest.mark.parametrize("number", FLAT)
def test_no_water_comes_to_a_side_that_soil_is_shaped_away_from(number: int) -> None:
    """As surveyed it does, from all over the flat yard; then none comes to those sides, nor over the pad."""
    yard = flow_oracle.flat_yard(number)
    plan = flow_oracle.led(yard)
    assert plan is not None
    assert plan.kinds == ("plain_apron",)
    before, after = (
        flow_oracle.flow_on(ground, yard.pad, yard.level) for ground in (yard.surface, plan.ground)
    )
    foot = flow_oracle.before_sides(before, yard.surface, yard.pad, plan.sides[0])
    assert flow_oracle.area_reaching(before, foot) > 3.0
    assert flow_oracle.area_reaching(after, foot) == 0.0
    assert flow_oracle.area_reaching(after, after.pad) == 0.0


@pytest.mark.parametrize("number", [23, 42])
def test_a_sliver_at_a_ragged_edge_of_the_survey_is_no_step(number: int) -> None:
    """A swale that runs off the survey there leaves a triangle of some thousandths of a mm²."""
    flow_oracle.led(flow_oracle.flat_yard(number))


def test_both_kinds_are_among_them() -> None:
    """So that the check above is of aprons, too."""
    plans = [flow_oracle.led(flow_oracle.yard(number)) for number in (5, 6)]
    assert [plan.kinds for plan in plans if plan is not None] == [("swale",), ("apron",)]


def test_drops_run_straight_down_and_stop_at_the_foot_or_in_a_hollow(ground: Callable[..., Surface]) -> None:
    """On a plane that falls at 20 degrees to the raster: those as wide as the pad across the slope come."""
    way = np.array([np.cos(np.radians(20.0)), np.sin(np.radians(20.0))])
    marks = np.arange(0.0, 12.1, 2.0)
    surface = ground([(x, y, 10.0 - 0.1 * float(way @ (x, y))) for x in marks for y in marks])
    pad = Outline.rectangle((6.0, 5.0), (2.0, 2.0))
    across = np.linspace(-4.0, 4.0, 81)
    start = np.array([7.0, 6.0]) - 4.0 * way + across[:, None] * np.array([-way[1], way[0]])
    half = np.abs(np.array([(-1, 1), (1, 1)]) @ np.array([-way[1], way[0]])).max() + flow_oracle.STEP
    hit = flow_oracle.followed(surface, pad, start)
    sure = np.abs(np.abs(across) - half) > 0.15
    assert (hit == (np.abs(across) < half))[sure].all()
    dented = ground([(x, y, 10.0 - 0.1 * x - 2.0 * ((x, y) == (4.0, 6.0))) for x in marks for y in marks])
    assert not flow_oracle.followed(dented, pad, np.array([(3.5, 6.0)])).any()
