"""The floor frame: counts and lengths of a floor by hand, and what must hold for any."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from gradework.foundations.buying.money import money_for
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.foundations.prices import PriceList
from gradework.foundations.timber.wood import section_of
from gradework.sitework.order import Order
from gradework.sitework.order_floor import (
    Frame,
    SkidLine,
    frame_floor,
    joined_on,
    sheets_over,
    with_floor,
)
from gradework.sitework.supplier import Supplier
from gradework.units.display import FEET

FT, IN = 0.3048, 0.0254
FLOOR = FloorBuildUp(section_of("4x8"), section_of("2x8"))
STOCK = 16 * FT


def rectangle(along: float, across: float) -> np.ndarray:
    return np.array([(0.0, 0.0), (along, 0.0), (along, across), (0.0, across)])


def skids(along: float, across: float, count: int = 2, inset: float = 0.0) -> list[SkidLine]:
    return [SkidLine(0.0, along, float(at)) for at in np.linspace(inset, across - inset, count)]


def uses(made: Frame) -> Counter[tuple[str, float]]:
    return Counter((stick.use, round(stick.length / IN, 3)) for stick in made.sticks)


def test_a_floor_of_16_by_12_feet_by_hand() -> None:
    """Two skids of 16 ft 2 ft in from the walls; 13 joists 16 in apart, 12 ft less two rims of 1 1/2 in; 12
    blocks of 14 1/2 in over each skid; three strips of two sheets."""
    made = frame_floor(
        [rectangle(16 * FT, 12 * FT)], skids(16 * FT, 12 * FT, inset=2 * FT), FLOOR, STOCK, us=True
    )
    assert uses(made) == {
        ("skids", 192.0): 2, ("joists", 141.0): 13, ("rims", 192.0): 2, ("blocks over skids", 14.5): 24,
    }  # fmt: skip
    assert (made.sheets, made.ends, made.crossings) == (6, 2 * (13 + 24), 26)
    assert made.area / FT**2 == pytest.approx(192.0)


def test_skids_below_the_rims_need_no_blocks_and_one_between_them_does() -> None:
    ring = rectangle(16 * FT, 12 * FT)
    for count, blocks in ((2, 0), (3, 12)):
        made = frame_floor([ring], skids(16 * FT, 12 * FT, count), FLOOR, STOCK, us=True)
        assert uses(made)["blocks over skids", 14.5] == blocks


def test_its_order_by_hand() -> None:
    """Skids and joists whole from stock; rims of 16 ft; sheets, and the height of the floor in words."""
    ring, under = rectangle(16 * FT, 12 * FT), skids(16 * FT, 12 * FT)
    order = with_floor(Order(), [ring], under, FLOOR, Supplier.us(), FEET)
    lumber = [line for line in order.lines if "lumber" in line.item]
    bought = {(line.item[:3], round(line.longest / FT)): line.quantity for line in lumber}
    assert bought == {("4x8", 16): 2.0, ("2x8", 16): 2.0, ("2x8", 12): 13.0}
    sheets, *screws = (line for line in order.lines if "lumber" not in line.item)
    assert (sheets.quantity, sheets.item) == (6.0, "floor plywood 3/4 in, 4' 0\" x 8' 0\"")
    assert f"= {FEET.depth(FLOOR.thickness)}" in sheets.note
    assert [line.quantity for line in screws] == [268.0, 3 * 26 + 2 * 26]  # 15 on each m² of 17.84
    assert {line.place for line in order.lines} == {"floor"}
    assert {line.shop for line in order.lines} == {"timber yard"}
    assert order.floor == pytest.approx(192.0 * FT**2)


def test_without_skids_it_says_so() -> None:
    order = with_floor(Order(), [rectangle(3.0, 3.0)], [], FLOOR, Supplier.us(), FEET)
    (note,) = (line.note for line in order.lines if line.unit == "sheets")
    assert "no skids are ordered" in note


def test_an_l_has_joists_as_long_as_the_floor_there() -> None:
    ell = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.2, 2.0), (2.2, 4.0), (0.0, 4.0)])
    under = [SkidLine(0.0, 4.0, 0.5), SkidLine(0.0, 2.2, 3.5)]
    made = frame_floor([ell], under, replace(FLOOR, joist_spacing=0.5), 4.8, us=False)
    lengths = Counter(round(s.length + 2 * FLOOR.joist.width, 6) for s in made.sticks if s.use == "joists")
    assert lengths == {4.0: 6, 2.0: 4}  # one more where the notch begins, between two joists
    assert made.area == pytest.approx(12.4)
    assert sum(s.length for s in made.sticks if s.use == "rims") == pytest.approx(8.0)


@pytest.mark.parametrize("seed", range(40))
def test_pieces_are_the_fewest_that_meet_on_supports(seed: int) -> None:
    rng = np.random.default_rng(seed)
    most, end = 4.8, float(rng.uniform(0.5, 14.0))
    supports = np.sort(rng.uniform(0.0, end, 9)).tolist()
    pieces = joined_on(0.0, end, supports, most)
    assert sum(pieces) == pytest.approx(end)
    assert max(pieces) <= most + 1e-6
    best = {0.0: 0}  # the fewest pieces up to each support
    for at in (*supports, end):
        ways = [count for start, count in best.items() if at - start <= most + 1e-6]
        if ways:
            best[at] = min(ways) + 1
    if end in best:
        assert len(pieces) == best[end]
        joints = np.cumsum(pieces)[:-1].tolist()
        assert all(min(abs(joint - at) for at in supports) < 1e-9 for joint in joints)


@pytest.mark.parametrize("spacing", [0.3, 0.4, 0.6])
@pytest.mark.parametrize("along", [3.0, 4.8, 6.1])
def test_a_longer_floor_or_closer_joists_never_take_less(spacing: float, along: float) -> None:
    def total(length: float, apart: float) -> tuple[float, int]:
        floor = replace(FLOOR, joist_spacing=apart)
        made = frame_floor([rectangle(length, 3.6)], skids(length, 3.6), floor, 4.8, us=False)
        return sum(s.length for s in made.sticks if s.use == "joists"), made.sheets

    own, longer = total(along, spacing), total(along + 0.7, spacing)
    assert longer[0] >= own[0]
    assert longer[1] >= own[1]
    assert total(along, spacing / 2.0)[0] >= own[0]


@pytest.mark.parametrize("seed", range(30))
def test_sheets_cover_the_floor_and_are_at_most_one_a_strip_too_many(seed: int) -> None:
    rng = np.random.default_rng(seed)
    along, across = rng.uniform(1.0, 9.0, 2)
    sheet, spacing = (1.2, 2.4), float(rng.choice([0.3, 0.4, 0.6]))
    count = sheets_over(shapely.box(0.0, 0.0, along, across), spacing, sheet)
    assert count * sheet[0] * sheet[1] >= along * across - 1e-6
    strips = -(-across // sheet[0])
    assert count <= strips * -(-along // sheet[1])


@pytest.mark.parametrize(
    ("along", "across", "count"),
    [
        (4.8, 3.6, 6),  # three strips of two
        (3.6, 2.4, 3),  # the half that is left of the first strip begins the second
        (4.8, 1.8, 3),  # the last strip is half as wide: two of it from one sheet
        (2.5, 1.2, 2),
    ],
)
def test_sheets_by_hand(along: float, across: float, count: int) -> None:
    assert sheets_over(shapely.box(0.0, 0.0, along, across), 0.4, (1.2, 2.4)) == count


@pytest.mark.parametrize("across", [8, 12, 17])
def test_a_longer_floor_never_costs_less_where_its_lumber_is_proved_least(across: int) -> None:
    """Where the search for stock lengths gave up, which the line says, it may cost a hundredth too much."""
    prices, before, proved = PriceList(), 0.0, True
    for along in range(8, 31):
        under = skids(along * FT, across * FT, 3)
        order = with_floor(Order(), [rectangle(along * FT, across * FT)], under, FLOOR, Supplier.us(), FEET)
        money = money_for((paid for line in order.lines for paid in line.paid), prices)
        assert money >= before * (1.0 - 1e-9 if proved else 0.99), (along, across)
        before, proved = money, not any("not proved" in line.note for line in order.lines)


def test_a_long_skid_is_joined_on_a_pier_and_on_stone_anywhere() -> None:
    """8 m from boards of 4.88 m: on the last pier within reach, 4.2 m along; without piers into halves."""
    for places, pieces in (((0.5, 2.0, 4.2, 6.0, 7.5), [3.8, 4.2]), ((), [4.0, 4.0])):
        lines = [SkidLine(0.0, 8.0, at, places) for at in (0.0, 3.0)]
        made = frame_floor([rectangle(8.0, 3.0)], lines, FLOOR, STOCK, us=True)
        assert sorted(stick.length for stick in made.sticks if stick.use == "skids") == pytest.approx(
            sorted(2 * pieces)
        )


def test_sheets_of_plywood_are_paid_by_area_and_weigh_by_volume() -> None:
    """16 x 12 ft: six sheets of 4 x 8 ft, 3/4 in, 600 kg/m³ (common practice, no source)."""
    under = skids(16 * FT, 12 * FT, inset=2 * FT)
    order = with_floor(Order(), [rectangle(16 * FT, 12 * FT)], under, FLOOR, Supplier.us(), FEET)
    (sheets,) = (line for line in order.lines if line.unit == "sheets")
    area = 6 * 4 * 8 * FT**2
    assert (sheets.quantity, sheets.computed) == (6, pytest.approx(6.0))
    assert [(one.key, one.amount) for one in sheets.paid] == [("floor_sheets", pytest.approx(area))]
    assert sheets.mass_kg == pytest.approx(area * 0.75 * IN * 600.0)


def test_a_floor_that_comes_to_a_point_ends_where_its_rims_meet() -> None:
    """A wall that slants away from the joists, and a tip: nothing is cut of no length."""
    for ring in (
        [(0, 0), (4, 0), (5, 1.5), (4, 3), (0, 3)],
        [(0, 0), (5, 0), (4, 3), (0, 3)],
        [(0, 0), (5, 0), (0, 3)],
    ):
        made = frame_floor([np.array(ring, float)], skids(5.0, 3.0), FLOOR, STOCK, us=False)
        assert min(stick.length for stick in made.sticks) > 0.0
        joists = [stick.length for stick in made.sticks if stick.use == "joists"]
        assert max(joists) <= 3.0
        assert len(joists) >= 4
