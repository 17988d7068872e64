"""Stakes and string of a building."""

from __future__ import annotations

import math

import pytest

from gradework.earthwork.outline import Outline
from gradework.sitework.order import OrderLine
from gradework.sitework.order_marking import marking_lines
from gradework.sitework.setout import Stake
from gradework.sitework.supplier import Supplier
from gradework.units.display import FEET, METRIC

HUT = Outline.rectangle((2.0, 2.0), (4.0, 3.0))


def line(mass: float, *, by_itself: bool = False, loose: float = 0.0) -> OrderLine:
    return OrderLine("thing", 1.0, "pieces", 1.0, 1.0, 1.0, "", "", mass, loose_m3=loose, by_itself=by_itself)


def staked(corners: int, boards: int = 0, ground: float | None = 0.0) -> list[Stake]:
    """Stakes on level ground; where batter boards stand it lies at ``ground`` [m]."""
    kinds = ["building corner"] * corners + ["batter board"] * boards
    return [Stake(str(n), kind, 0.0, 0.0, ground, None, ()) for n, kind in enumerate(kinds)]  # type: ignore[arg-type]


@pytest.mark.parametrize(("level", "long"), [(0.3, 24), (0.6, 36), (0.9, 48), (1.0, 48), (2.0, 48)])
def test_batter_boards_by_hand(level: float, long: int) -> None:
    """Eight boards of 30 in: three from 8 ft (90 in and two cuts), four from 12 ft, so 24 ft in all."""
    made = marking_lines(HUT, staked(4, 8), level, Supplier.us().board, FEET)
    stakes, posts, *boards, screws, _ = made
    assert (stakes.quantity, posts.quantity, screws.quantity) == (8.0, 16.0, 32.0)
    assert f"{FEET.depth(long * 0.0254)} long: 12 in in the ground" in posts.note
    assert ("hang the string lower" in posts.note) is (level > 36 * 0.0254)
    bought = sum(line.quantity * line.longest for line in boards) / 0.3048
    assert bought == pytest.approx(24.0)
    assert sum(line.paid[0].amount for line in boards) == pytest.approx(24 * 0.3048 * 4 * 0.0254**2)
    assert {line.paid[0].key for line in boards} == {"lumber"}


def test_boards_on_ground_that_was_not_surveyed_get_the_shortest_stakes() -> None:
    _, posts, *_ = marking_lines(HUT, staked(4, 3, None), 5.0, Supplier.us().board, FEET)
    assert (posts.quantity, "24 in long" in posts.note) == (6.0, True)


def test_stakes_and_string_by_hand() -> None:
    stakes, string = marking_lines(HUT, staked(20), 0.0, Supplier.metric().board, METRIC)
    assert (stakes.computed, stakes.quantity) == (20.0, 24.0)  # those on the sheet and 4 spare
    stretched = 14.0 + 4 * 2 * 1.2192 + 2 * 5.0  # sides, 4 ft beyond each end of each, both diagonals
    assert string.computed * 50.0 == pytest.approx(stretched)
    assert string.quantity == math.ceil(1.1 * stretched / 50.0)


@pytest.mark.parametrize("turn", [30.0, 90.0, 211.0])
def test_a_turned_building_takes_the_same(turn: float) -> None:
    turned = Outline.rectangle((-3.0, 8.0), (4.0, 3.0), turn)
    for line_here, line_there in zip(
        *(marking_lines(hut, staked(4), 0.0, Supplier.us().board, FEET) for hut in (HUT, turned)), strict=True
    ):
        assert line_here.computed == pytest.approx(line_there.computed)
