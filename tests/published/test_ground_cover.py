"""Ground cover, stone that holds water, the hole beside blocks: worked examples of the trade, recomputed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.materials import COVER_STONE, GRAVELS, find_soil
from gradework.earthwork.outline import Outline
from gradework.foundations.pad.basin import water_held
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.piers.cover import beside, cover_under
from gradework.ground.surface import Surface
from gradework.units.amounts import KG_PER_SHORT_TON, M2_PER_FT2, M3_PER_YD3, M_PER_FT, M_PER_IN

FT3 = M_PER_FT**3


def test_cover_of_a_16_by_12_ft_building(ground: Callable[..., Surface]) -> None:
    """Fabric over the footprint and 1 ft more all round is 18 x 14 = 252 ft²; 2 in of stone on 192 ft² is
    1.185 yd³, 1.6 short tons at 1.35 tons per yd³. The example counts the stone under the floor alone;
    here it lies as far as the fabric, which would rot in the sun."""
    building = Outline.rectangle((2.0, 2.0), (16 * M_PER_FT, 12 * M_PER_FT))
    xyz = np.array([(x, y, 100.0) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    under = clip(ground(xyz), building)
    cover = cover_under(under, building, 100.5, 0.05, us=True)
    assert cover.outline.area / M2_PER_FT2 == pytest.approx(252)
    assert cover.depth / M_PER_IN == pytest.approx(2)
    floor = building.area * cover.depth
    assert floor / M3_PER_YD3 == pytest.approx(1.185, abs=0.0005)
    assert floor / M3_PER_YD3 * 1.35 == pytest.approx(1.6, abs=0.0005)
    # our stone is 1.37 tons per yd³ when it lies
    tons = floor * COVER_STONE.compacted.value / KG_PER_SHORT_TON
    assert tons == pytest.approx(1.6, rel=0.03)
    assert cover.stone == pytest.approx(floor * 252 / 192)


def test_soil_beside_a_block_in_a_24_in_hole() -> None:
    """A block of 8 x 16 in that stands 5 in deep in a hole of 24 x 24 in leaves 1.296 ft³ beside it."""
    inch2 = M_PER_IN**2
    assert beside(24 * 24 * inch2, 8 * 16 * inch2, 5 * M_PER_IN) / FT3 == pytest.approx(1.296, abs=0.0005)


def test_stone_in_clay_holds_251_gallons(ground: Callable[..., Surface]) -> None:
    """Derived: a pad of 18 x 14 ft with 4 in of clean stone in clay, voids 0.40 (memory), holds 33.6 ft³ =
    251 gal where it has no outlet."""
    pad = Outline.rectangle((20 * M_PER_FT, 20 * M_PER_FT), (18 * M_PER_FT, 14 * M_PER_FT))
    level = ground(np.array([(x, y, 10.0) for x in (0.0, 18.0) for y in (0.0, 18.0)]))
    spec = PadSpec(soil=find_soil("clay"), margin=0.0, material=GRAVELS["clean"])
    held = water_held(clip(level, pad), 10.0, spec, 10.0)
    assert held / FT3 == pytest.approx(33.6)
    assert held / 0.003785411784 == pytest.approx(251, abs=0.5)
