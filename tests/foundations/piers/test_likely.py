"""The spread of piers: sure ground gives the piers themselves, lower ground thicker beds, taller stacks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.likely import hole_points, piers_spread
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.unsure import Unsure
from gradework.ground.surface import Surface
from gradework.units.display import METRIC

SURE = Unsure(topsoil=0.0, compaction=0.0)
BUILDING = Outline.rectangle((6.0, 6.0), (4.8, 3.6))


@pytest.fixture(scope="module")
def made(ground: Callable[..., Surface]) -> tuple[Piers, np.ndarray]:
    surface = ground([(0, 0, 10.0), (20, 0, 10.6), (20, 20, 10.9), (0, 20, 10.3)])
    piers = design_piers(surface, BUILDING, PierSpec(), PierPrices(), METRIC, in_full=False)
    assert piers.piers
    return piers, surface.elevation(hole_points(piers))


def test_sure_ground_gives_the_piers_themselves(made: tuple[Piers, np.ndarray]) -> None:
    piers, ground = made
    found = piers_spread(piers, np.tile(ground, (4, 1)), SURE)
    assert found.excavation.p90 == pytest.approx(sum(pier.dig for pier in piers.piers), rel=1e-6)
    assert found.wanted == pytest.approx(sum(pier.bed_volume for pier in piers.piers), rel=1e-6)
    for pier, own in zip(piers.piers, found.piers, strict=True):
        assert (own.name, own.taller) == (pier.name, 0.0)
        assert own.bed.p10 == own.bed.p90 == pytest.approx(pier.bed)
        assert own.dig.p50 == pytest.approx(pier.dig, rel=1e-6)


def test_lower_ground_takes_a_thicker_bed_and_then_a_taller_stack(made: tuple[Piers, np.ndarray]) -> None:
    piers, ground = made
    low = 0.15  # more than any bed has to spare
    found = piers_spread(piers, np.vstack([ground - low, *[ground] * 3]), SURE)
    for pier, own in zip(piers.piers, found.piers, strict=True):
        most = max(piers.spec.bed_most, pier.bed)
        assert own.taller == (0.25 if pier.bed + low - pier.deeper > most else 0.0)
    assert any(own.taller for own in found.piers)
    higher = piers_spread(piers, np.tile(ground + 0.1, (2, 1)), SURE)
    assert higher.gravel == piers_spread(piers, np.tile(ground, (2, 1)), SURE).gravel
    more = sum(0.1 * pier.hole_size[0] * pier.hole_size[1] for pier in piers.piers)
    assert higher.excavation.p50 == pytest.approx(sum(pier.dig for pier in piers.piers) + more, rel=1e-6)


def test_stone_may_be_denser(made: tuple[Piers, np.ndarray]) -> None:
    piers, ground = made
    found = piers_spread(piers, np.tile(ground, (4000, 1)), replace(SURE, compaction=0.02))
    beds = sum(pier.bed_volume for pier in piers.piers)
    assert found.wanted / beds == pytest.approx(1.0 + 1.2816 * 0.02, rel=2e-3)


def test_beds_of_no_thickness_get_one_where_the_ground_is_lower(ground: Callable[..., Surface]) -> None:
    surface = ground([(0, 0, 10.0), (20, 0, 10.0), (20, 20, 10.0), (0, 20, 10.0)])
    spec = PierSpec(bed_least=0.0, bed_most=0.0)
    piers = design_piers(surface, BUILDING, spec, PierPrices(), METRIC, in_full=False)
    assert [pier.bed for pier in piers.piers] == [0.0] * len(piers.piers) != []
    sure = surface.elevation(hole_points(piers))
    level = piers_spread(piers, np.tile(sure, (2, 1)), SURE)
    assert (level.gravel.p90, level.wanted) == pytest.approx((0.0, 0.0), abs=1e-12)
    low = piers_spread(piers, np.tile(sure - 0.2, (2, 1)), SURE)
    wanted = sum(pier.hole_size[0] * pier.hole_size[1] * (0.2 - pier.deeper) for pier in piers.piers)
    assert low.gravel.p50 == pytest.approx(wanted, rel=1e-6)
