"""One trip: what each supplier hands over, who carries it in how many loads, what does not fit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import COVER_STONE, DEFAULT_GRAVEL
from gradework.sitework.order import Order, OrderLine, gravel_line, gravel_need
from gradework.sitework.supplier import VEHICLES, VEHICLES_METRIC, Carrier, Supplier, find_vehicle
from gradework.sitework.trip import stop_text, stops_of, total_text
from gradework.units.amounts import KG_PER_LB, KG_PER_SHORT_TON, parse_mass, parse_volume
from gradework.units.display import FEET
from gradework.units.lengths import parse_length
from gradework.units.numbers import QuantityError

TANDEM = Carrier("tandem", 7.6, 12 * KG_PER_SHORT_TON)
SINGLE = Carrier("single axle", 3.8, 7 * KG_PER_SHORT_TON)
PICKUP = Carrier("half-ton pickup", 1.5, 1500 * KG_PER_LB, longest=12 * 0.3048)


def bought(shop_key: str, mass: float, *, longest: float = 0.0, by_itself: bool = False) -> OrderLine:
    line = OrderLine(
        shop_key, 1.0, "pieces", 1.0, 1.0, 1.0, "", "", mass, longest=longest, by_itself=by_itself
    )
    return line.paid_by(shop_key, 1.0)


def stone(tons: float, kind: str = "base", loose: float = 1.0) -> OrderLine:
    mass = tons * KG_PER_SHORT_TON
    line = OrderLine(kind, tons, "short tons", tons, tons, 0.5, "", "", mass, loose_m3=loose, kind=kind)
    return line.paid_by("gravel", mass)


def order(*lines: OrderLine, trucks: tuple[Carrier, ...] = ()) -> tuple[str, ...]:
    supplier = replace(Supplier.us(), trucks=trucks)
    return tuple(f"{stop.shop}: {stop_text(stop, FEET)}" for stop in stops_of(Order().plus(*lines), supplier))


def test_ten_tons_are_one_load_of_a_tandem_and_not_two_of_a_single_axle() -> None:
    (told,) = order(stone(10.0))
    assert told == "quarry: 10.0 tons; 2 truck loads of up to 7.0 tons, 5.0 tons each, limited by weight"
    (told,) = order(stone(10.0), trucks=(SINGLE, TANDEM))
    assert told == "quarry: 10.0 tons; 1 tandem load of up to 12.0 tons"
    (told,) = order(stone(6.0), trucks=(SINGLE, TANDEM))  # the smaller one does
    assert "1 single axle load" in told


def test_kinds_of_stone_do_not_share_a_load_and_places_of_a_kind_do() -> None:
    (stop,) = stops_of(Order().plus(stone(4.0), stone(2.0, "clean"), stone(2.5)), Supplier.us())
    assert [(load.what, load.loads.count) for load in stop.loads] == [("base", 1), ("clean", 1)]
    assert stop.loads[0].mass == pytest.approx(6.5 * KG_PER_SHORT_TON)
    assert stop.count == 2


def test_light_stone_is_limited_by_volume() -> None:
    (told,) = order(stone(2.0, loose=9.0))
    assert told == "quarry: 2.0 tons; 3 truck loads of up to 7.0 tons, 0.67 tons each, limited by volume"


def test_a_dump_truck_brings_no_boards_and_a_pickup_no_long_ones() -> None:
    boards = bought("boards", 100.0, longest=16 * 0.3048)
    assert order(boards) == ("timber yard: 220 lb",)  # nothing is said of who fetches them
    assert order(bought("blocks", 900.0), trucks=(TANDEM, PICKUP)) == (
        "masonry yard: 0.99 tons; 2 half-ton pickup loads of up to 0.75 tons, 0.50 tons each, "
        "limited by weight",
    )
    (told,) = order(boards, bought("stakes", 30.0), trucks=(TANDEM, PICKUP))
    assert told.startswith("timber yard: 287 lb; 1 half-ton pickup load")
    assert told.endswith("; have boards delivered")


def test_what_one_person_lifts_is_no_load() -> None:
    """51 lb is the most in the best case (NIOSH lifting equation): 23.0 kg ride along, 24 are fetched."""
    light, heavy = (order(bought("seed", mass), trucks=(TANDEM, PICKUP)) for mass in (23.0, 24.0))
    assert light == ("garden store: 51 lb",)
    assert "1 half-ton pickup load" in heavy[0]
    assert "pickup load" in order(bought("boards", 5.0, longest=2.4), trucks=(TANDEM, PICKUP))[0]


def test_ready_mix_comes_by_itself() -> None:
    stops = stops_of(Order().plus(bought("concrete", 9000.0, by_itself=True), stone(3.0)), Supplier.us())
    assert [stop.shop for stop in stops] == ["quarry", "concrete plant"]
    assert stops[1].loads == ()
    assert stop_text(stops[1], FEET).endswith("have concrete delivered")
    assert total_text(stops, FEET) == "12.9 tons; 1 load"


@pytest.mark.parametrize("us", [True, False])
def test_every_vehicle_that_is_named_has_figures_that_can_be_read(us: bool) -> None:
    for words in VEHICLES if us else VEHICLES_METRIC:
        name, (volume, payload, longest) = find_vehicle(words.upper(), us=us)
        assert (name, parse_volume(volume) > 0.0, parse_mass(payload) > 0.0) == (words, True, True)
        assert not longest or parse_length(longest, "m") > 2.0
    with pytest.raises(QuantityError, match="ox cart"):
        find_vehicle("ox cart", us=us)


def test_an_order_of_nothing_has_no_stops() -> None:
    assert stops_of(Order(), Supplier.us()) == ()
    assert total_text((), FEET) == "0 lb"


def test_lines_of_stone_tell_kind_and_place() -> None:
    us = Supplier.us()
    base = gravel_line(gravel_need(CompactedVolume(3.0), DEFAULT_GRAVEL, us), us, FEET)
    clean = gravel_line(gravel_need(CompactedVolume(1.0), COVER_STONE, us), us, FEET, place="cover")
    assert (base.kind, base.place) == (DEFAULT_GRAVEL.name, "base")
    assert (clean.kind, clean.place) == (COVER_STONE.name, "cover")
