"""The stakes of a swale: beside its bottom, clear of the dig, each leading back to the bottom there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely

from gradework.earthwork.grading.plain import PlainSpec, design_plain_apron
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.swale import Swale, design_swale
from gradework.earthwork.nearby import Nearby, Neighbour
from gradework.earthwork.outline import Outline
from gradework.errors import CheckError
from gradework.ground.surface import Surface
from gradework.sitework.led_stakes import led_stakes
from gradework.sitework.setout import Stake, StakeMark, set_out
from gradework.sitework.setout_ties import Mark
from gradework.sitework.staking import check_stakes

Ground = Callable[..., Surface]

BUILDING = Outline.rectangle((12.0, 10.0), (6.0, 4.0))
LEVEL = 10.0
FOOT = 0.3048


@pytest.fixture
def hill(ground: Ground) -> Surface:
    """Rises 12 % toward +y, 0.3 m over the pad at its uphill edge, y = 14."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    return ground([(x, y, 10.3 + 0.12 * (y - 14.0)) for x, y in places])


def dug(surface: Surface) -> Swale:
    made = design_swale(surface, BUILDING.rings[0], LEVEL, (2, 2), SwaleSpec())
    assert made is not None
    return made


def middle(stake: Stake) -> tuple[float, float]:
    return (stake.x, stake.y) if stake.aside is None else (stake.aside.x, stake.aside.y)


@pytest.mark.parametrize(("us", "step"), [(False, 0.1), (True, 0.5 * FOOT)])
def test_they_stand_on_round_distances_a_foot_clear_of_the_dig(hill: Surface, us: bool, step: float) -> None:
    made = dug(hill)
    shaped = shapely.union_all(shapely.polygons(made.ground.shaped))
    for stake in led_stakes(hill, BUILDING, [made], us=us):
        assert stake.aside is not None
        assert stake.aside.distance / step == pytest.approx(round(stake.aside.distance / step))
        away = shaped.distance(shapely.Point(stake.x, stake.y))
        assert FOOT - 1e-9 <= away < FOOT + step  # no farther than need be
        assert stake.ground == pytest.approx(10.3 + 0.12 * (stake.y - 14.0))


def test_each_is_marked_for_the_bottom_beside_it(hill: Surface) -> None:
    made = dug(hill)
    stakes = led_stakes(hill, BUILDING, [made])
    bottoms = made.ground.surface.elevation(np.array([middle(stake) for stake in stakes]))
    assert [stake.grade for stake in stakes] == pytest.approx(bottoms.tolist(), abs=1e-6)
    ends = {tuple(np.round(place, 6)) for place in made.bends[0][:, :2]}
    assert ends <= {tuple(np.round(middle(stake), 6)) for stake in stakes}


def test_they_are_five_feet_apart_from_each_bend(hill: Surface) -> None:
    stakes = led_stakes(hill, BUILDING, [dug(hill)], us=True)
    apart = np.hypot(*np.diff([middle(stake) for stake in stakes], axis=0).T)
    assert apart.max() <= 1.2 * 5.0 * FOOT
    assert (np.abs(apart - 5.0 * FOOT) < 1e-6).sum() >= len(
        apart
    ) - 3  # but for the last before a bend or an end
    assert [stake.name for stake in stakes] == [f"swale {k}" for k in range(1, len(stakes) + 1)]


def test_they_say_what_they_stand_away_from(hill: Surface) -> None:
    """Past the uphill side, round a corner and down beside the next: straight out, at the corner between."""
    stakes = led_stakes(hill, BUILDING, [dug(hill)])
    told = {stake.aside.where: stake.aside for stake in stakes if stake.aside is not None}
    assert len(told) == 3
    assert told["away from side 3-4"].way == pytest.approx((0.0, 1.0))
    corner = next(where for where in told if "corner" in where)
    assert [abs(part) for part in told[corner].way] == pytest.approx([0.5**0.5] * 2)


def test_where_the_ground_beside_it_was_not_shot_they_stand_in_it(ground: Ground) -> None:
    """The survey ends 3 m above the pad, short of the bank."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 14.5, 17.0)]
    surface = ground([(x, y, 10.1 + 0.1 * (y - 14.0)) for x, y in places])
    stakes = led_stakes(surface, BUILDING, [dug(surface)])
    inside = [stake for stake in stakes if stake.aside is None]
    assert inside
    assert all(stake.ground is not None and stake.ground >= (stake.grade or 0.0) - 1e-6 for stake in inside)


def test_the_sheet_leads_back_to_the_bottom(hill: Surface) -> None:
    """By cut, by rod and by string; a bottom is no level that all end at, and none has to be the pad's."""
    stakes = led_stakes(hill, BUILDING, [dug(hill)])
    sheet = set_out(stakes, marks=[Mark("A", 0.0, 0.0), Mark("B", 30.0, 0.0)], instrument=12.0, string=10.5)
    assert sheet.shared == ()
    assert sheet.steps[1].startswith("Dig the swale first")
    check_stakes(sheet.points, hill, finished=LEVEL, sight=(11.0, 1.0), string=10.5)
    for point in sheet.points:
        assert [what for what, _ in point.own_levels] == ["swale bottom"]
        assert point.mark is not None
        assert point.marked_for == "swale bottom"
    wrong = replace(sheet.points[0], mark=StakeMark("F", 0.5))
    with pytest.raises(CheckError):
        check_stakes([wrong], hill, finished=LEVEL)


def test_no_stake_stands_beyond_a_fence(hill: Surface) -> None:
    """A fence 0.1 m past the line of the swale: its stakes stand in the line there."""
    made = dug(hill)
    y = float(made.line[:, 1].max()) + 0.1
    fence = Neighbour("fence", "fence", np.array([(0.0, y), (30.0, y)]), False, 0.0)
    stakes = led_stakes(hill, BUILDING, [made], nearby=Nearby(BUILDING, (fence,)))
    assert max(stake.y for stake in stakes) < y
    assert {stake.aside is None for stake in stakes} == {True, False}
    assert len(stakes) == len(led_stakes(hill, BUILDING, [made]))
    across = Neighbour("fence", "fence", np.array([(0.0, y - 0.2), (30.0, y - 0.2)]), False, 0.0)
    fewer = led_stakes(hill, BUILDING, [made], nearby=Nearby(BUILDING, (across,)))
    assert 0 < len(fewer) < len(stakes)


def test_two_swales_are_counted_through(hill: Surface) -> None:
    made = dug(hill)
    once, twice = (len(led_stakes(hill, BUILDING, [made] * times)) for times in (1, 2))
    assert twice == 2 * once
    assert led_stakes(hill, BUILDING, [made] * 2)[-1].name == f"swale {twice}"


def test_the_foot_of_a_plain_apron_is_staked_where_its_soil_ends(ground: Ground) -> None:
    """Nothing is dug there: the stake stands at the place itself, on grade."""
    flat = ground([(x, y, 10.0 + 0.01 * (y - 14.0)) for x in range(0, 31, 3) for y in range(0, 31, 3)])
    made = design_plain_apron(flat, BUILDING.rings[0], 10.4, (2, 2), PlainSpec(0.05, 3.048, 0.0))
    assert made is not None
    stakes = led_stakes(flat, BUILDING, [made])
    assert [stake.name for stake in stakes] == [f"apron {k}" for k in range(1, len(stakes) + 1)]
    assert len(stakes) >= 3
    for stake in stakes:
        assert (stake.kind, stake.aside) == ("apron", None)
        assert stake.y == pytest.approx(14.0 + 3.048)
        assert stake.grade == pytest.approx(stake.ground)
    made_up = set_out(stakes, marks=[Mark("A", 0.0, 0.0), Mark("B", 30.0, 0.0)], instrument=None, string=None)
    assert {point.mark for point in made_up.points} == {StakeMark("GRADE", 0.0)}
