"""The cover under the floor never makes a basin, and soil that goes back is soil that came out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.foundations.comparison import option_of_piers
from gradework.foundations.piers.cover import COVER_DEPTH, cover_under
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.stacks import course_plan
from gradework.ground.surface import Surface
from gradework.units.amounts import M_PER_FT, M_PER_IN
from gradework.units.display import FEET

Ground = Callable[..., Surface]
HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
AIR = 2.0 * M_PER_IN


def plane(rise: float) -> np.ndarray:
    return np.array([(x, y, 100.0 + rise * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])


def plan(ground: Ground, rise: float = 0.05, **given: object) -> Piers:
    spec = PierSpec(layout=RowLayout(rows=2), **given)  # type: ignore[arg-type]
    return design_piers(ground(plane(rise)), HUT, spec, PierPrices(), FEET)


def test_where_there_is_room_nothing_is_stripped(ground: Ground) -> None:
    under = clip(ground(plane(0.05)), HUT)
    cover = cover_under(under, HUT, under.highest + 0.3, AIR, us=True)
    assert (cover.strip, cover.stripped, cover.tight) == (0.0, 0.0, False)
    assert cover.clear == pytest.approx(0.3 - COVER_DEPTH)
    assert cover.outline.area == pytest.approx((4.8 + 2 * M_PER_FT) * (3.6 + 2 * M_PER_FT))


@pytest.mark.parametrize("air", [2.0, 2.5, 3.0, 3.75])
def test_sod_comes_off_no_deeper_than_stone_goes_back_and_to_an_open_side(ground: Ground, air: float) -> None:
    under = clip(ground(plane(0.05)), HUT)
    cover = cover_under(under, HUT, under.highest + air * M_PER_IN, AIR, us=True)
    assert 0.0 < cover.stripped <= cover.depth + 1e-12
    assert cover.stripped == pytest.approx((4.0 - air) * M_PER_IN)
    floor = under.highest - cover.stripped
    assert floor > under.lowest  # water runs off on the low side
    assert cover.strip == pytest.approx(cut_and_fill(under, floor)[0].cut)
    assert cover.clear == pytest.approx(AIR)


def test_on_ground_too_level_nothing_is_stripped_and_it_is_told(ground: Ground) -> None:
    found = plan(ground, 0.0)
    assert found.cover is not None
    assert found.top is not None
    room = found.top - found.building.highest
    close = room < AIR + COVER_DEPTH - 1e-6
    assert found.cover.tight is close
    told = [one for one in found.findings if one.code == "pier-cover-tight"]
    assert len(told) == close
    tight = cover_under(found.building, HUT, found.building.highest + AIR, AIR, us=True)
    assert (tight.tight, tight.strip) == (True, 0.0)
    assert tight.clear == pytest.approx(0.0)


def test_a_tight_cover_names_the_clearance_that_mends_it(ground: Ground) -> None:
    level = plan(ground, 0.0).building.highest
    found = plan(ground, 0.0, top=level + 2.5 * M_PER_IN)
    (told,) = [one for one in found.findings if one.code == "pier-cover-tight"]
    assert 'clearance = "4"' in told.advice or 'clearance = "4 in"' in told.advice
    mended = plan(ground, 0.0, clearance=4.0 * M_PER_IN)
    assert not any(one.code == "pier-cover-tight" for one in mended.findings)


def test_what_goes_back_and_what_is_left_is_what_was_dug(ground: Ground) -> None:
    piers = plan(ground)
    dug = sum(pier.dig for pier in piers.piers)
    assert piers.cover is not None
    assert piers.back + piers.left == pytest.approx(dug + piers.cover.strip)
    for pier in piers.piers:
        back, deep = pier.back, pier.dig / pier.hole.area - pier.bed
        assert 0.0 < back < pier.dig
        assert pier.bed_volume <= pier.dig - back + 1e-12
        # beside the narrowest and the widest unit all the way up
        plans = [a * b for a, b in (course_plan(unit, pier.across) for unit in pier.laid)]
        assert (pier.hole.area - max(plans)) * deep - 1e-12 <= back
        assert back <= (pier.hole.area - min(plans)) * deep + 1e-12


def test_the_cover_is_priced_and_worked_and_can_be_left_out(ground: Ground) -> None:
    piers = plan(ground)
    bare = plan(ground, cover=False)
    assert piers.cover is not None
    assert bare.cover is None
    assert bare.top == piers.top
    option, without = (option_of_piers(one, HUT) for one in (piers, bare))
    assert piers.cost_total - bare.cost_total == pytest.approx(piers.cover_cost)
    assert piers.cover_cost > 0.0
    assert option.hours[0] > without.hours[0]
    dearer = replace(piers, prices=replace(piers.prices, stone=piers.prices.stone + 10.0))
    assert dearer.cost_total - piers.cost_total == pytest.approx(10.0 * piers.cover.stone)
