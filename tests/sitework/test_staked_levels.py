"""The levels on the stakes of pad and slab, by hand on a plane: what is stripped and dug, what is laid."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.pad.design import design_pad
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.slab.design import design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.ground.surface import Surface
from gradework.sitework.setout import Stake
from gradework.sitework.staking import stakes_to_set
from gradework.units.display import METRIC

Ground = Callable[..., Surface]

HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
"""Its corners lie at 100.12 and 100.408 m on the plane, which rises 6 in 100 along x."""


@pytest.fixture
def plane(ground: Ground) -> Surface:
    return ground(np.array([(x, y, 100.0 + 0.06 * x) for x in (-3.0, 12.0) for y in (-3.0, 12.0)]))


def _at(stakes: tuple[Stake, ...], kind: str, x: float) -> Stake:
    return next(stake for stake in stakes if stake.kind == kind and stake.x == pytest.approx(x))


def test_a_pad_corner_is_dug_to_stripped_ground_or_as_deep_as_the_gravel(plane: Surface) -> None:
    spec = PadSpec(margin=0.3, strip=0.1, gravel=0.15, level=100.4)
    stakes = stakes_to_set(plane, HUT, design_pad(plane, HUT, spec), 100.4)
    low, high = (_at(stakes, "pad corner", x) for x in (1.7, 7.1))
    assert low.ground == pytest.approx(100.102)
    assert low.grade == pytest.approx(100.102 - 0.1)  # all that grows is stripped, however low
    assert high.grade == pytest.approx(100.4 - 0.15)  # 100.426 - 0.1 would leave too little gravel
    for stake in (low, high):
        assert stake.levels == (("subgrade", stake.grade), ("top of gravel", 100.4))


def test_a_slab_corner_tells_subgrade_edge_base_and_top(plane: Surface) -> None:
    spec = SlabSpec(level=100.45, thickness=0.1, base=0.15, edge_depth=0.3, strip=0.1)
    slab = design_slab(plane, HUT, spec, SlabPrices(), METRIC)
    stakes = stakes_to_set(plane, HUT, slab, 100.45, dialect="gb")
    low, high = (_at(stakes, "slab corner", x) for x in (2.0, 6.8))
    told = {"bottom of edge": 100.15, "top of base course": 100.35, "top of slab": 100.45}
    assert dict(low.levels) == pytest.approx(told | {"formation": 100.12 - 0.1})
    assert dict(high.levels) == pytest.approx(told | {"formation": 100.35 - 0.15})
    for stake in (low, high):
        assert stake.grade == dict(stake.levels)["formation"]
        assert [level for _, level in stake.levels] == sorted(level for _, level in stake.levels)


def test_a_slab_without_a_deeper_edge_has_no_bottom_of_edge(plane: Surface) -> None:
    spec = SlabSpec(level=100.6, thickness=0.1, base=0.15, edge_depth=0.1, strip=0.1)
    stakes = stakes_to_set(plane, HUT, design_slab(plane, HUT, spec, SlabPrices(), METRIC), 100.6)
    names = {name for stake in stakes for name, _ in stake.levels}
    assert "top of slab" in names
    assert "bottom of edge" not in names
