"""The order of a whole pad, drawn by hand: 14 x 18 ft in feet, a battered one in metres."""

from __future__ import annotations

import pytest

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL, DEFAULT_SOIL
from gradework.earthwork.outline import Outline
from gradework.sitework.order import seed_line
from gradework.sitework.order_foundations import PadQuantities, order_pad
from gradework.sitework.supplier import Supplier
from gradework.units.display import FEET, METRIC

FOOT = 0.3048


def pad(**other: object) -> PadQuantities:
    figures: dict[str, object] = {
        "gravel": CompactedVolume(14 * 18 * 0.5 * FOOT**3),  # 126 ft³ = 4.667 yd³: 8.63 tons dry, 9.97 needed
        "excavation": BankVolume(14 * 18 * 5 / 12 * FOOT**3),
        "thickness": 0.1524,
        "outline": Outline.rectangle((0.0, 0.0), (14 * FOOT, 18 * FOOT)),
        "sides": tuple((ft * FOOT, 1) for ft in (14, 18, 14, 18)),
    } | other
    return PadQuantities(**figures)  # type: ignore[arg-type]


def test_a_boxed_pad_in_feet() -> None:
    order = order_pad(pad(), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    lines = {line.item: (line.quantity, line.unit) for line in order.lines}
    assert lines == {
        "dense-graded crushed stone": (10.0, "short tons"),
        # 15 x 19 ft with the turn-up: 3 strips of 19 ft, two from one roll of 50 ft and one from the next
        "geotextile fabric, roll 6.0 ft x 50.0 ft": (2.0, "rolls"),
        # 18 ft 1 1/2 in is joined from 16 ft and 2 ft 1 1/2 in; the two short ends come from one 8 ft board
        "2 x 6 treated board, 16' 0\"": (4.0, "boards"),
        "2 x 6 treated board, 8' 0\"": (1.0, "boards"),
    }
    assert order.spoil is not None
    assert order.spoil.bank.m3 / 0.9144**3 == pytest.approx(3.89, abs=0.005)
    assert order.mass_kg > 10 * 907.18474


def test_a_battered_pad_in_metres_without_fabric() -> None:
    order = order_pad(pad(sides=()), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.metric(), METRIC, fabric=False)
    assert [(line.quantity, line.unit) for line in order.lines] == [
        (9.5, "tonnes")
    ]  # 7.83 t dry, 9.05 needed


def test_soil_that_stays_is_not_hauled() -> None:
    order = order_pad(pad(reused=BankVolume(1.0)), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    assert order.spoil is not None
    assert order.spoil.bank.m3 == pytest.approx(14 * 18 * 5 / 12 * FOOT**3 - 1.0)
    with pytest.raises(ValueError, match="not negative"):
        order_pad(pad(reused=BankVolume(100.0)), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)


def test_what_a_swale_lays_bare_is_seeded() -> None:
    """6 lb per 1,000 ft² on 450 ft²: 2.7 lb, sold by the pound; 42 m² take 1.23 kg, sold by the half."""
    (seed,) = (
        line
        for line in order_pad(
            pad(bare=450 * FOOT**2), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET
        ).lines
        if line.item == "grass seed"
    )
    assert (seed.quantity, seed.unit, seed.computed) == (3.0, "lb", pytest.approx(2.7))
    assert seed.in_si == (pytest.approx(3 * 0.45359237), "kg")
    metric = seed_line(42.0, METRIC)
    assert (metric.quantity, metric.unit) == (1.5, "kg")
    assert metric.computed == pytest.approx(42.0 * 6.0 * 0.45359237 / (1000.0 * FOOT**2))
    assert metric.mass_kg == 1.5
