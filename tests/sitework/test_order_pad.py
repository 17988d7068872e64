"""The order of a whole pad, drawn by hand: 14 x 18 ft in feet, a battered one in metres."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL, DEFAULT_SOIL, GRAVELS
from gradework.earthwork.outline import Outline
from gradework.foundations.pad.edge import EdgeBuilt, EdgeRuns, build_edge
from gradework.foundations.pad.spec import PadSpec
from gradework.sitework.order import seed_line
from gradework.sitework.order_foundations import PadQuantities, _layered, order_pad
from gradework.sitework.supplier import Supplier
from gradework.units.display import FEET, METRIC

FOOT, INCH = 0.3048, 0.0254


def edge_of(height: float) -> EdgeBuilt:
    """The edge of a pad of 14 x 18 ft on level ground, so many inches above it."""
    sides = []
    for ft in (14, 18, 14, 18):
        run, courses = ft * FOOT, -(-height // 5.5)
        high = run if height > 5.5 else 0.0
        sides.append(EdgeRuns(height * INCH, run * height * INCH, run, high, (run,) * int(courses)))
    return build_edge(tuple(sides), PadSpec())


def pad(**other: object) -> PadQuantities:
    figures: dict[str, object] = {
        "gravel": CompactedVolume(14 * 18 * 0.5 * FOOT**3),  # 126 ft³ = 4.667 yd³: 8.63 tons dry, 9.97 needed
        "excavation": BankVolume(14 * 18 * 5 / 12 * FOOT**3),
        "thickness": 0.1524,
        "outline": Outline.rectangle((0.0, 0.0), (14 * FOOT, 18 * FOOT)),
        "edge": edge_of(5.5),
    } | other
    return PadQuantities(**figures)  # type: ignore[arg-type]


def test_a_boxed_pad_in_feet() -> None:
    order = order_pad(pad(), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    lines = {line.item: (line.quantity, line.unit) for line in order.lines}
    assert lines == {
        "dense-graded crushed stone": (10.0, "short tons"),
        # 15 x 19 ft with the turn-up: 3 strips of 19 ft, two from one roll of 50 ft and one from the next
        "geotextile fabric, roll 6.0 ft x 50.0 ft": (2.0, "rolls"),
        # 18 ft 1 1/2 in is joined, 14 ft 1 1/2 in takes a 16 ft board: 70 ft, where full boards would take 72
        "2 x 6 treated board, 16' 0\"": (3.0, "boards"),
        "2 x 6 treated board, 12' 0\"": (1.0, "boards"),
        "2 x 6 treated board, 10' 0\"": (1.0, "boards"),
        # a stake every 4 ft and one more on each side: 5 on 14 ft, 6 on 18 ft; one behind each joint
        "2 x 4 stakes, 2' 6\"": (24.0, "pieces"),
        "deck screws, 3 in": (52.0, "pieces"),
    }
    assert order.spoil is not None
    assert order.spoil.bank.m3 / 0.9144**3 == pytest.approx(3.89, abs=0.005)
    assert order.mass_kg > 10 * 907.18474


def test_boards_are_paid_by_their_face_and_weigh_what_treated_softwood_does() -> None:
    """Dressed 2 x 6 is 1 1/2 x 5 1/2 in (PS 20); 600 kg/m³, damp (common practice, no source)."""
    order = order_pad(pad(), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    boards = [line for line in order.lines if line.item.startswith("2 x 6 treated board")]
    assert len(boards) == 3
    for line in boards:
        length = line.quantity * float(line.item.split("'")[0].split()[-1]) * FOOT
        (paid,) = line.paid
        assert (paid.key, paid.amount) == ("boards", pytest.approx(length * 5.5 * INCH))
        assert line.mass_kg == pytest.approx(length * 1.5 * INCH * 5.5 * INCH * 600.0)


def test_a_battered_pad_in_metres_without_fabric() -> None:
    order = order_pad(pad(edge=None), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.metric(), METRIC, fabric=False)
    assert [(line.quantity, line.unit) for line in order.lines] == [
        (9.5, "tonnes")
    ]  # 7.83 t dry, 9.05 needed


def test_timbers_with_clean_stone_in_place_of_some_of_the_pads_own() -> None:
    """16 1/2 in round 64 ft: three timbers and one buried; clean stone in place of some of the pad's."""
    edge = edge_of(16.5)
    plain = order_pad(pad(edge=None), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    order = order_pad(pad(edge=edge), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    lines = {line.item: line for line in order.lines}
    timber = [line for item, line in lines.items() if item.startswith("6 x 6 treated timber")]
    # each run is one timber wider than its side
    bought = sum(line.quantity * float(line.item.split("'")[0].split()[-1]) for line in timber)
    assert bought >= 4 * (64 + 4 * 5.5 / 12)
    # with the building 12 in back the pins stand 48 in / (1 + 12 / 16.5) = 27.8 in apart, whole inches 27:
    # from 12 in off one end to 12 in off the other 144 / 27 and 192 / 27, so 6 and 8 spaces
    assert lines["1/2 in rebar pins, 24 in"].quantity == 2 * 7 + 2 * 9
    assert lines["timber screws, 10 in"].quantity == 3 * 2 * (8 + 10)
    behind = 64 * 16.5 / 12 * FOOT**3
    under = 64 * (12 * 11.5 - 5.5**2) / 144 * FOOT**3
    clean = lines["clean crushed stone under and behind the timbers"]
    assert clean.computed * 907.18474 == pytest.approx(GRAVELS["clean"].compacted.value * (behind + under))
    own = (lines[DEFAULT_GRAVEL.name].computed, plain.lines[0].computed)
    assert own[0] * 907.18474 == pytest.approx(own[1] * 907.18474 - behind * DEFAULT_GRAVEL.compacted.value)
    # a pad of clean stone takes all of it on one line
    clear = order_pad(pad(edge=edge), GRAVELS["clean"], DEFAULT_SOIL, Supplier.us(), FEET)
    [line] = [line for line in clear.lines if "stone" in line.item]
    volume = 14 * 18 * 0.5 * FOOT**3 + under
    assert line.computed * 907.18474 == pytest.approx(GRAVELS["clean"].compacted.value * volume)


def test_each_deadman_takes_six_feet_into_the_bank_and_two_across() -> None:
    def feet(edge: EdgeBuilt) -> float:
        order = order_pad(pad(edge=edge), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
        timbers = [line for line in order.lines if line.item.startswith("6 x 6 treated timber")]
        return sum(line.quantity * float(line.item.split("'")[0].split()[-1]) for line in timbers)

    # 20 times 6 ft and 2 ft; the saw takes a little of each, so no board of 8 ft gives both
    more = feet(replace(edge_of(16.5), deadmen=20)) - feet(replace(edge_of(16.5), deadmen=0))
    assert 20 * 8 <= more <= 1.2 * 20 * 8


def test_an_edge_in_metres_is_sold_in_millimetres() -> None:
    sides = (EdgeRuns(0.2, 0.8, 4.0, 4.0, (4.0, 4.0)),) * 4
    spec = PadSpec.usual(us=False)
    edge = build_edge(sides, spec, us=False)
    order = order_pad(pad(edge=edge), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.metric(), METRIC)
    names = [line.item for line in order.lines]
    assert any(name.startswith("47 x 100 mm stakes") for name in names)
    assert "deck screws, 80 mm" in names


@pytest.mark.parametrize(
    ("native", "gravel", "thick", "short"),
    [
        (0.0, 5.0, 0.4, False),  # gravel alone, to its deepest
        (3.0, 2.0, 0.1, False),  # soil makes all fill under the least layer: 0.1 m on 20 m² are 2 m³
        (3.0, 2.0 + 1e-10, 0.1, False),
        (3.0, 2.01, 0.4, True),  # soil ran short: gravel fills below it too
    ],
)
def test_how_thick_the_gravel_lies_where_soil_makes_part_of_the_fill(
    native: float, gravel: float, thick: float, short: bool
) -> None:
    pad: Any = SimpleNamespace(
        chosen=SimpleNamespace(native=native, gravel=gravel, deepest_gravel=0.4),
        spec=SimpleNamespace(gravel=0.1, strip=0.15),
        pieces=SimpleNamespace(area=20.0),
        edge=None,
    )
    assert _layered(pad) == (thick, short)


def test_soil_that_stays_is_not_hauled() -> None:
    order = order_pad(pad(reused=BankVolume(1.0)), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    assert order.spoil is not None
    assert order.spoil.bank.m3 == pytest.approx(14 * 18 * 5 / 12 * FOOT**3 - 1.0)
    with pytest.raises(ValueError, match="not negative"):
        order_pad(pad(reused=BankVolume(100.0)), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)


def test_soil_that_is_all_heaped_leaves_none_whatever_the_rounding() -> None:
    plain = pad()
    dug = plain.excavation.m3 + plain.beside.m3
    taken = pad(reused=BankVolume(dug * (1.0 + 1e-15)))
    assert taken.reused.m3 > dug
    order = order_pad(taken, DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    assert order.spoil is not None
    assert order.spoil.bank.m3 == 0.0


def test_what_a_swale_lays_bare_is_seeded() -> None:
    """6 lb per 1,000 ft² on 450 ft²: 2.7 lb, sold by the pound; 42 m² take 1.23 kg, sold by the half."""
    seed = seed_line(450 * FOOT**2, FEET)
    assert (seed.quantity, seed.unit, seed.computed) == (3.0, "lb", pytest.approx(2.7))
    assert seed.in_si == (pytest.approx(3 * 0.45359237), "kg")
    metric = seed_line(42.0, METRIC)
    assert (metric.quantity, metric.unit) == (1.5, "kg")
    assert metric.computed == pytest.approx(42.0 * 6.0 * 0.45359237 / (1000.0 * FOOT**2))
    assert metric.mass_kg == 1.5
