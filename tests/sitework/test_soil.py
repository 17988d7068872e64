"""The piles of soil: each closes, topsoil stays on top, more soil never finds fewer places."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from gradework.earthwork.grading.spread import Patch
from gradework.earthwork.materials import SOILS
from gradework.errors import CheckError
from gradework.sitework.soil import Dug, Pile, _cut_share, deeper_steps, placed, spread_and_hauled
from gradework.units.display import METRIC

LOAM, CLAY = SOILS["loam"], SOILS["clay"]
RING = np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)])
KINDS = ("dug", "back", "heaped", "relaid", "spread", "hauled", "heap")


def random_dig(seed: int) -> Dug:
    rng = np.random.default_rng(seed)
    topsoil, subsoil, beside = rng.uniform(0.0, 5.0, 3)
    back, own = rng.uniform(0.0, 1.0) * subsoil, rng.uniform(0.0, 0.8) * beside
    pad = rng.uniform(0.0, 1.0) * (topsoil + subsoil - back)
    return Dug(topsoil, subsoil, back, beside, 0.1 * beside, own, pad, *rng.uniform(0.0, 40.0, 2))


def plan(dug: Dug, *, soil=LOAM, thick: float = 0.05, haul: bool = True):
    done = placed(dug, soil, us=False)
    patch = Patch(RING, thick, np.full(4, 0.3))
    if patch.volume > done.left * soil.swell.value:
        patch = replace(patch, thick=thick * done.left * soil.swell.value / patch.volume)
    return spread_and_hauled(done, soil, (patch,) if patch.thick else (), haul=haul)


@pytest.mark.parametrize("seed", range(30))
def test_what_is_dug_is_placed_or_hauled(seed: int) -> None:
    dug = random_dig(seed)
    for haul in (True, False):
        made = plan(dug, haul=haul)
        for pile in made.piles:
            parts = math.fsum(getattr(pile, key) for key in KINDS[1:])
            assert parts == pytest.approx(pile.dug, rel=1e-9, abs=1e-12)
            assert min(getattr(pile, key) for key in KINDS) >= 0.0
        assert made.sum_of("dug") == pytest.approx(dug.topsoil + dug.subsoil + dug.beside + made.deeper)
        assert made.sum_of("back") == pytest.approx(dug.back + dug.beside_back)
        assert made.sum_of("heaped") == pytest.approx(dug.heap_own + dug.heap_pad)
        spread = math.fsum(one.volume for one in made.patches) / LOAM.swell.value
        assert made.sum_of("spread") == pytest.approx(spread, rel=1e-9)
        assert (made.sum_of("heap") == 0.0) if haul else (made.hauled == 0.0)


def test_more_or_less_left_than_was_ordered_away_is_refused() -> None:
    """4 m³ of topsoil and 3 of subsoil, of which 1 goes back: 6 are left."""
    made = spread_and_hauled(
        placed(Dug(4.0, 3.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0), LOAM, us=False), LOAM, ()
    )
    made.check_left(6.0)
    for known in (5.9, 6.1):
        with pytest.raises(CheckError, match="of soil are left over"):
            made.check_left(known)


def test_what_becomes_of_soil_is_told_in_place_and_loose() -> None:
    """4 m³ of topsoil and 3 of subsoil, 1 of it back; loam swells by a quarter. Nothing is not told."""
    done = placed(Dug(4.0, 3.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0), LOAM, us=False)
    told = spread_and_hauled(done, LOAM, (), haul=True).told
    assert {words: amount for words, amount, _ in told} == pytest.approx(
        {
            "topsoil, dug": 4.0,
            "topsoil, hauled": 4.0,
            "subsoil, dug": 3.0,
            "subsoil, goes back": 1.0,
            "subsoil, hauled": 2.0,
        }
    )
    assert all(loose == pytest.approx(1.25 * amount) for _, amount, loose in told)


def test_deeper_is_dug_only_where_topsoil_goes_back() -> None:
    bare, shaped = (
        spread_and_hauled(placed(Dug(4.0, 3.0, 0.0, 2.0, 0.0, 0.0, 0.0, area, 0.0), LOAM, us=False), LOAM, ())
        for area in (0.0, 20.0)
    )
    assert (bare.relaid, list(deeper_steps(bare, METRIC))) == (0.0, [])
    (told,) = deeper_steps(shaped, METRIC)
    assert f"dig {METRIC.depth(shaped.deep)} deeper" in told


@pytest.mark.parametrize(("cut", "fill", "share"), [(3.0, 1.0, 0.75), (0.0, 2.0, 0.0), (0.0, 0.0, 1.0)])
def test_which_part_of_the_shaped_ground_is_dug_down(cut: float, fill: float, share: float) -> None:
    made: Any = SimpleNamespace(ground=SimpleNamespace(cut_area=cut, fill_area=fill))
    assert _cut_share(made) == share


@pytest.mark.parametrize("seed", range(10))
def test_twice_of_everything_is_twice_of_each(seed: int) -> None:
    dug = random_dig(seed)
    twice = Dug(*(2.0 * amount for amount in dug))
    one, two = (placed(each, LOAM, us=True) for each in (dug, twice))
    assert two.relaid == pytest.approx(2.0 * one.relaid)
    for single, double in zip(one.piles, two.piles, strict=True):
        assert [getattr(double, key) for key in KINDS] == pytest.approx(
            [2.0 * getattr(single, key) for key in KINDS]
        )


def test_topsoil_caps_an_apron_and_never_lies_below_it_while_there_is_subsoil() -> None:
    # 10 m² heaped, 75 mm of topsoil on it: 0.75 m³ loose, 0.6 in place; the rest of the 2 m³ is subsoil
    done = placed(Dug(3.0, 4.0, 0.0, heap_pad=2.0, filled=10.0), LOAM, us=False)
    topsoil, subsoil, _ = done.piles
    assert (topsoil.heaped, subsoil.heaped) == (pytest.approx(0.6), pytest.approx(1.4))
    # where subsoil runs short, topsoil has to do
    done = placed(Dug(3.0, 1.0, 0.5, heap_pad=2.0, filled=10.0), LOAM, us=False)
    assert (done.piles[0].heaped, done.piles[1].heaped) == (pytest.approx(1.5), pytest.approx(0.5))


def test_topsoil_is_spread_before_subsoil() -> None:
    made = plan(Dug(0.5, 6.0, 0.0))
    topsoil, subsoil, _ = made.piles
    assert topsoil.hauled == 0.0
    assert subsoil.spread > 0.0
    assert subsoil.hauled > 0.0


def test_a_pile_that_does_not_close_is_refused() -> None:
    with pytest.raises(CheckError, match="found a place"):
        Pile("subsoil", 2.0, back=0.5, hauled=1.0).closed()
    with pytest.raises(CheckError, match="were dug"):
        placed(Dug(1.0, 1.0, 1.5), LOAM, us=True)
    with pytest.raises(CheckError, match="not dug"):
        spread_and_hauled(
            placed(Dug(0.1, 0.0, 0.0), LOAM, us=True), LOAM, (Patch(RING, 0.1, np.full(4, 0.3)),)
        )


def test_clay_takes_more_room_on_the_truck() -> None:
    dug = Dug(0.0, 2.0, 0.0)
    hauled = [spread_and_hauled(placed(dug, soil, us=True), soil, ()).hauled_loose for soil in (LOAM, CLAY)]
    assert hauled == pytest.approx([2.5, 2.86])
