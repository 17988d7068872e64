"""What the ground under a pier carries: the building, the stack, and every piece of its base."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.piers.bearing import GRAVITY, counted_weight
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.stacks import stack_tables
from gradework.foundations.piers.units import BlockUnit
from gradework.ground.surface import Surface
from gradework.units.display import METRIC

Ground = Callable[..., Surface]

BASE = BlockUnit("slab", 0.09, 0.45, 0.30, 40.0, 2.0, only_base=True)
BLOCK = BlockUnit("block", 0.19, 0.39, 0.19, 16.0, 1.0)


def test_a_base_of_two_pieces_weighs_twice() -> None:
    """Two slabs 300 mm wide lie side by side under a double stack, one under a single one."""
    for across, pieces in ((1, 1), (2, 2)):
        based = [one for one in stack_tables((BASE, BLOCK), tallest=0.5, across=across) if one.base is BASE]
        assert based
        for table in based:
            assert counted_weight(table)[0] == pytest.approx(pieces * 40.0 * GRAVITY / 1000.0)


def test_no_bearing_lets_a_double_stack_through_that_its_own_check_refuses(ground: Ground) -> None:
    """Search and check weigh the same: where the ground bears just too little, there is no such pier."""
    x, y = np.meshgrid(np.arange(-2.0, 13.0, 3.0), np.arange(-2.0, 13.0, 3.0))
    surface = ground(np.column_stack((x.ravel(), y.ravel(), 100.0 + 0.02 * x.ravel())))
    building = Outline.rectangle((3.0, 3.0), (4.0, 3.0))
    spec = PierSpec(units=(BASE, BLOCK), pads=(), across=2, layout=RowLayout(rows=2, spacing=2.0))
    built = []
    for bearing in np.arange(25.0, 60.0, 0.5).tolist():
        loads = replace(spec.loads, bearing=bearing)
        plan = design_piers(surface, building, replace(spec, loads=loads), PierPrices(), METRIC)
        built.append(plan.top is not None)
    assert {True, False} == set(built)
    assert built == sorted(built)  # better ground never bars what worse ground bears
