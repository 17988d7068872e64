"""Fabric: laps, direction, strips of odd plans; against a fine raster and by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.foundations.buying.strips import SLIGHT, Sold, angles_of, lay
from gradework.sitework.cutting import FabricRoll, cheapest_fabric, fabric_plan, joined_ring
from gradework.sitework.order_laid import fabric_line
from gradework.units.display import FEET

FOOT = 0.3048


def rectangle(along: float, across: float, turn: float = 0.0) -> np.ndarray:
    corners = np.array([[0, 0], [along, 0], [along, across], [0, across]], dtype=float)
    c, s = math.cos(turn), math.sin(turn)
    return corners @ np.array([[c, s], [-s, c]])


def test_19_by_15_ft_from_a_6_ft_roll_by_hand() -> None:
    # along: 3 strips of 19 ft = 57 ft (6 + 5 + 5 = 16 >= 15); across: 4 strips of 15 ft = 60 ft
    plan = fabric_plan(rectangle(19 * FOOT, 15 * FOOT), FabricRoll(6 * FOOT, 50 * FOOT, 1 * FOOT))
    assert [s / FOOT for s in plan.strips] == pytest.approx([19, 19, 19])
    assert plan.direction == pytest.approx(0.0)
    assert plan.lap / FOOT == pytest.approx(1.5)  # spread evenly: three widths less the 15 ft, over two laps
    assert plan.rolls == 2
    assert plan.covered / FOOT**2 == pytest.approx(285)


def test_the_other_way_where_that_needs_less() -> None:
    # 20 x 11 ft: along 2 strips of 20 = 40; across 4 strips of 11 = 44.  11 x 20 ft is the same, turned
    plan = fabric_plan(rectangle(11 * FOOT, 20 * FOOT), FabricRoll(6 * FOOT, 50 * FOOT, 1 * FOOT))
    assert plan.direction == pytest.approx(90.0)
    assert [s / FOOT for s in plan.strips] == pytest.approx([20, 20])


def test_one_width_covers_a_narrow_pad() -> None:
    plan = fabric_plan(rectangle(3.0, 1.8), FabricRoll(2.0, 25.0, 0.3))
    assert (len(plan.strips), plan.lap) == (1, 0.0)
    assert plan.laid == pytest.approx(6.0)


def test_an_l_shaped_plan_takes_short_strips_where_it_is_short() -> None:
    corners = np.array([[0, 0], [6, 0], [6, 2], [2, 2], [2, 4], [0, 4]], dtype=float)
    plan = fabric_plan(corners, FabricRoll(2.0, 25.0, 0.0))
    assert sorted(plan.strips) == pytest.approx([2.0, 6.0])
    assert plan.covered == pytest.approx(16.0)


def test_a_strip_longer_than_the_roll_is_lapped() -> None:
    laid = lay(shapely.Polygon(rectangle(12.0, 1.5)), Sold(2.0, 5.0, 0.5), [0.0])
    assert [math.fsum(cut) for cut in laid.cuts] == pytest.approx([12.0 + 2 * 0.5])
    assert laid.pieces == 3
    # square to it eight strips of 1.5 m take three rolls, too, and less of them
    plan = fabric_plan(rectangle(12.0, 1.5), FabricRoll(2.0, 5.0, 0.5))
    assert (plan.rolls, len(plan.strips)) == (3, 8)


def test_what_is_left_of_a_roll_begins_another_strip() -> None:
    """24 x 15 ft turned up 6 in: 25 x 16 ft is three strips of 25 ft along, 75 ft, or four of 16 ft, 64 ft;
    two rolls of 50 ft hold either."""
    plan = fabric_plan(rectangle(25 * FOOT, 16 * FOOT), FabricRoll(6 * FOOT, 50 * FOOT, 1 * FOOT))
    assert plan.rolls == 2
    # 26 ft wide: strips of 26 ft leave 24, and a second one is joined of two pieces
    plan = fabric_plan(rectangle(26 * FOOT, 16 * FOOT), FabricRoll(6 * FOOT, 50 * FOOT, 1 * FOOT))
    assert plan.rolls == 2


@settings(deadline=None, max_examples=60)
@given(st.floats(1.0, 9.0), st.floats(1.0, 9.0), st.floats(0.0, math.pi), st.floats(0.0, 0.6))
def test_turning_the_pad_changes_nothing(along: float, across: float, turn: float, overlap: float) -> None:
    roll = FabricRoll(2.0, 25.0, overlap)
    straight, turned = (
        fabric_plan(rectangle(along, across), roll),
        fabric_plan(rectangle(along, across, turn), roll),
    )
    assert turned.laid == pytest.approx(straight.laid, rel=1e-3)  # tenths of a millimetre
    assert turned.laid >= turned.covered * (1 - 1e-3)
    assert straight.lap >= overlap - SLIGHT - 1e-9 or len(straight.strips) == 1


def test_a_lap_under_a_tenth_of_a_millimetre_takes_no_third_strip() -> None:
    plan = fabric_plan(rectangle(1.0, 4.0), FabricRoll(2.0, 25.0, SLIGHT * 0.6))
    assert (len(plan.strips), plan.lap) == (2, 0.0)


def test_every_place_of_an_odd_plan_is_covered() -> None:
    """A slow second look: each point of a fine raster inside the plan lies on some strip."""
    corners = np.array([[0, 0], [5, 1], [6.5, 4], [3, 6], [-1, 3]], dtype=float)
    roll = Sold(1.9, 25.0, 0.3)
    plan = lay(shapely.Polygon(corners), roll, angles_of(corners))
    angle = plan.angle
    turned = corners @ np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    assert plan.lows[0] == pytest.approx(turned[:, 1].min())
    assert plan.lows[-1] + roll.width == pytest.approx(turned[:, 1].max())
    assert max(np.diff(plan.lows)) <= roll.width - roll.lap + 1e-9
    for low, strip in zip(plan.lows, plan.runs, strict=True):
        rows = np.linspace(low, low + roll.width, 400)
        reach = [row_reach(turned, row) for row in rows]
        met = [r for r in reach if r is not None]
        raster = max(r[1] for r in met) - min(r[0] for r in met)
        assert strip >= raster - 1e-3
        assert strip == pytest.approx(raster, abs=0.03)  # rows 5 mm apart, sides no flatter than 1:6 to a row


def row_reach(corners: np.ndarray, y: float) -> tuple[float, float] | None:
    met = []
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if min(y0, y1) <= y <= max(y0, y1) and y0 != y1:
            met.append(x0 + (x1 - x0) * (y - y0) / (y1 - y0))
    return (min(met), max(met)) if met else None


def test_a_lap_as_wide_as_the_roll_is_refused() -> None:
    with pytest.raises(ValueError, match="narrower"):
        fabric_plan(rectangle(3, 3), FabricRoll(1.0, 25.0, 1.0))


def test_a_pad_and_its_slopes_make_one_plan_laid_along_the_pads_sides() -> None:
    pad = rectangle(4.0, 3.0)
    a = np.linspace(0, 2 * math.pi, 200, endpoint=False)
    slopes = np.column_stack([2 + 4 * np.cos(a), 1.5 + 3 * np.sin(a)])
    hollow = slopes[::-1] * 0.01 + [3.9, 1.5]
    whole = joined_ring(pad, [slopes, hollow])
    plan = fabric_plan(whole, FabricRoll(2.0, 25.0, 0.3), pad)
    assert plan.covered == pytest.approx(100 * 4 * 3 * math.sin(2 * math.pi / 200))
    assert plan.direction in (0.0, 90.0)
    assert len(joined_ring(pad, [])) == 4


def test_of_several_rolls_the_cheapest_is_bought() -> None:
    """11 x 20 ft: two strips of 6 ft from one roll (300 sq ft), one of 12.5 ft from a roll of 625 sq ft."""
    narrow, wide = (FabricRoll(width * FOOT, 50 * FOOT, 1 * FOOT) for width in (6, 12.5))
    pad = rectangle(11 * FOOT, 20 * FOOT)
    assert (
        cheapest_fabric(pad, (wide, narrow)).roll == narrow
    )  # the least area, where all cost the same by it
    dear, cheap = replace(narrow, price=90.0), replace(wide, price=80.0)
    assert cheapest_fabric(pad, (dear, cheap)).roll == cheap
    assert fabric_line(cheapest_fabric(pad, (dear, cheap)), FEET).paid[0].each == pytest.approx(
        80 / cheap.area
    )
