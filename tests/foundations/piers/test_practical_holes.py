"""Holes as a builder digs them: in whole steps, and of one size for all where that costs nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp, FrostRule, PierLoads, PierPrices, PierSpec
from gradework.foundations.piers.stacks import course_plan
from gradework.foundations.piers.units import UNITS_ON_HAND
from gradework.foundations.timber.wood import Wood, section_of
from gradework.ground.surface import Surface
from gradework.report.foundations import pier_lines
from gradework.units.amounts import KPA_PER_PSF, M_PER_IN
from gradework.units.display import FEET

Ground = Callable[..., Surface]

STOUT = FloorBuildUp(section_of("6x6"), section_of("2x12"), wood=Wood("southern pine"))
HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
SPEC = PierSpec(layout=RowLayout(rows=3, spacing=1.6), floor=STOUT)
HEAVY = replace(SPEC, loads=PierLoads(floor=60.0 * KPA_PER_PSF, bearing=2500.0 * KPA_PER_PSF))
"""Loads that ask for a wide base under the inner piers of each row only."""


LIGHT = PierLoads(floor=0.5, roof=0.0, dead=0.2, roof_dead=0.2, walls=0.1)


def planned(ground: Ground, spec: PierSpec, prices: PierPrices | None = None, fall: float = 0.083) -> Piers:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0, 9.1, 1.0), np.arange(0, 8.1, 1.0)))
    xyz = np.column_stack((x, y, 100.0 + fall * x + 0.3 * fall * y))
    return design_piers(ground(xyz), HUT, spec, prices or PierPrices(), FEET)


def whole(length: float, step: float) -> bool:
    return abs(length / step - round(length / step)) < 1e-5


@pytest.mark.parametrize("step", [0.5 * M_PER_IN, M_PER_IN, 0.005])
@pytest.mark.parametrize("goal", ["least money", "fewest units", "least digging", "lowest floor"])
def test_sides_and_depth_are_whole_steps(ground: Ground, goal: str, step: float) -> None:
    plan = planned(ground, replace(SPEC, hole_step=step, margin=0.0937, goal=goal))  # type: ignore[arg-type]
    assert plan.top is not None
    for pier in plan.piers:
        assert whole(pier.depth, step)
        assert all(whole(side, 2 * step) for side in pier.hole_size)
        plans = np.array([course_plan(unit, pier.across) for unit in pier.laid])
        widest = plans.max(axis=0)
        for side, course in zip(pier.hole_size, widest, strict=True):
            assert course + 2 * 0.0937 - 1e-6 <= side < course + 2 * 0.0937 + 2 * step


def test_a_depth_that_is_no_whole_step_is_dug_to_the_next(ground: Ground) -> None:
    frost = FrostRule(depth=0.301, dig=True)
    plan = planned(ground, replace(SPEC, frost=frost, tallest=1.2))
    assert plan.top is not None
    assert min(pier.depth for pier in plan.piers) == pytest.approx(12.0 * M_PER_IN)


def test_what_one_size_for_all_costs_is_told(ground: Ground) -> None:
    plan = planned(ground, HEAVY)
    sizes = {pier.hole_size for pier in plan.piers}
    assert len(sizes) > 1
    one = plan.one_size
    assert one is not None
    assert one.size is not None
    assert not one.taken
    even = planned(ground, replace(HEAVY, one_size=True))
    assert {pier.hole_size for pier in even.piers} == {one.size}
    more = sum(pier.cost for pier in even.piers) - sum(pier.cost for pier in plan.piers)
    assert more == pytest.approx(one.more)
    assert more > 0.0
    text, of_one = (" ".join(" ".join(pier_lines(each, FEET)).split()) for each in (plan, even))
    assert f"costs {more:.0f} more: one_size = true" in text
    assert f"One size for all costs {more:.0f} more." in of_one


def test_one_size_that_costs_nothing_is_taken(ground: Ground) -> None:
    free = PierPrices(gravel=0.0, digging=0.0)
    plan = planned(ground, HEAVY, free, fall=0.0)
    assert plan.one_size is not None
    assert plan.one_size.taken
    assert len({pier.hole_size for pier in plan.piers}) == 1


def test_piers_alike_have_one_size_anyway(ground: Ground) -> None:
    solid = tuple(unit for unit in UNITS_ON_HAND["US"] if not unit.hollow)
    plan = planned(ground, replace(SPEC, units=solid, pads=(), loads=LIGHT))
    assert plan.one_size is None
    assert len({pier.hole_size for pier in plan.piers}) == 1


def test_depths_are_said(ground: Ground) -> None:
    plan = planned(ground, SPEC)
    lines = pier_lines(plan, FEET)
    (head,) = [line for line in lines if line.strip().startswith("pier ")]
    end = head.index(" dig ") + 4
    said = [line[:end].rpartition("  ")[2] for line in lines if re.match(r" *\d-\d ", line)]
    assert said == [FEET.depth(pier.depth) for pier in plan.piers]
