"""Stakes and string of a building."""

from __future__ import annotations

import math

import pytest

from gradework.earthwork.outline import Outline
from gradework.sitework.order import OrderLine, marking_lines
from gradework.units.display import FEET, METRIC

HUT = Outline.rectangle((2.0, 2.0), (4.0, 3.0))


def line(mass: float, *, by_itself: bool = False, loose: float = 0.0) -> OrderLine:
    return OrderLine("thing", 1.0, "pieces", 1.0, 1.0, 1.0, "", "", mass, loose_m3=loose, by_itself=by_itself)


def test_stakes_and_string_by_hand() -> None:
    stakes, string = marking_lines(HUT, 20, METRIC)
    assert (stakes.computed, stakes.quantity) == (20.0, 24.0)  # those on the sheet and 4 spare
    stretched = 14.0 + 4 * 2 * 1.2192 + 2 * 5.0  # sides, 4 ft beyond each end of each, both diagonals
    assert string.computed * 50.0 == pytest.approx(stretched)
    assert string.quantity == math.ceil(1.1 * stretched / 50.0)


@pytest.mark.parametrize("turn", [30.0, 90.0, 211.0])
def test_a_turned_building_takes_the_same(turn: float) -> None:
    turned = Outline.rectangle((-3.0, 8.0), (4.0, 3.0), turn)
    for line_here, line_there in zip(
        marking_lines(HUT, 0, FEET), marking_lines(turned, 0, FEET), strict=True
    ):
        assert line_here.computed == pytest.approx(line_there.computed)
