"""The page of figures says what the code uses."""

from __future__ import annotations

from pathlib import Path

from gradework.foundations.buying.rates import AMATEUR, DIGGING, LABOUR, by_hand
from gradework.foundations.piers.bearing import CORNER_LIMIT
from gradework.foundations.piers.spec import DOUBLE_STACK_LIMIT, SINGLE_STACK_LIMIT, FrostRule
from gradework.foundations.piers.stacks import HOLLOW_SLENDERNESS, SOLID_SLENDERNESS
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND
from gradework.foundations.prices import PriceList
from gradework.foundations.slab.quantities import DEFAULT_WASTE, LEAST_FACTOR, MOST_FACTOR
from gradework.units.amounts import M2_PER_FT2, M_PER_IN

PAGE = (Path(__file__).parents[2] / "docs" / "foundations.md").read_text("utf-8")


def test_hours_of_work_are_those_used() -> None:
    for work, (least, most) in LABOUR.items():
        assert f"| {work} | {least:g} | {most:g} |" in PAGE
    for soil, (open_dig, pit) in DIGGING.items():
        assert f"| {soil} | {open_dig:g} | {pit:g} |" in PAGE
    assert f"{AMATEUR[0]:g} to {AMATEUR[1]:g} of them" in PAGE
    least, most = by_hand(DIGGING["clay"][0])
    assert f"1 m³ of clay is {least:.1f} to {most:.1f} hours" in PAGE


def test_limits_are_those_used() -> None:
    assert f"below {SINGLE_STACK_LIMIT / M_PER_IN:g} in" in PAGE
    assert f"to {DOUBLE_STACK_LIMIT / M_PER_IN:g} in" in PAGE
    assert f"{HOLLOW_SLENDERNESS:g} with open cells, {SOLID_SLENDERNESS:g} solid or filled" in PAGE
    assert f"above three blocks, {CORNER_LIMIT / M_PER_IN:g} in with the cap" in PAGE
    assert f"to {FrostRule().exempt_area / M2_PER_FT2:.0f} ft²" in PAGE
    assert f"{LEAST_FACTOR:g} to {MOST_FACTOR:g} thicknesses" in PAGE
    assert f"| waste on concrete | {DEFAULT_WASTE * 100:.0f} %" in PAGE


def test_places_of_the_default_units_are_those_used() -> None:
    for unit in UNITS_ON_HAND["US"]:
        assert f"| {unit.name} | yes | {'yes' if unit.may_cap else 'no'} |" in PAGE


def test_base_pads_are_those_used() -> None:
    for pad in BASE_PADS["US"]:
        assert f"| {pad.name} | only at the bottom | no |" in PAGE


def test_the_default_prices_are_called_invented() -> None:
    assert PriceList().invented
    assert f"invented ({PriceList().date})" in PAGE
