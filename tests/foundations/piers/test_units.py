"""Block units: what is refused, where each may stand, and that the defaults agree with their own rules."""

from __future__ import annotations

import math

import pytest

from gradework.errors import InputError
from gradework.foundations.piers.units import BASE_PAD, UNITS_ON_HAND, BlockUnit
from gradework.units.amounts import M_PER_IN as INCH


def _unit(**changed: object) -> BlockUnit:
    given: dict[str, object] = {
        "name": "brick", "thickness": 0.057, "length": 0.19, "width": 0.09, "mass": 2.0, "price": 0.6,
    }  # fmt: skip
    return BlockUnit(**{**given, **changed})  # type: ignore[arg-type]


@pytest.mark.parametrize("size", ["thickness", "length", "width", "mass"])
@pytest.mark.parametrize("value", [0.0, -0.1, math.nan, math.inf, 5000.0])
def test_an_impossible_size_is_refused(size: str, value: float) -> None:
    with pytest.raises(InputError) as refused:
        _unit(**{size: value})
    assert refused.value.faults[0].code == "block-unit-impossible"
    assert "brick" in refused.value.faults[0].found


@pytest.mark.parametrize(
    "places",
    [
        {"hollow": True},
        {"may_carry": False, "may_cap": False},
        {"only_base": True, "may_carry": False},
        {"most": 0},
        {"price": -1.0},
        {"hollow": True, "may_cap": False, "may_carry": False},
    ],
)
def test_places_that_contradict_each_other_are_refused(places: dict[str, object]) -> None:
    with pytest.raises(InputError):
        _unit(**places)


def test_all_faults_of_a_unit_are_told_at_once() -> None:
    with pytest.raises(InputError) as refused:
        _unit(thickness=0.0, length=-1.0, price=math.nan)
    assert len(refused.value.faults) == 3


def test_base_and_cap_units_come_once() -> None:
    assert BASE_PAD.most_in_stack == 1
    assert _unit(may_carry=False).most_in_stack == 1
    assert _unit(most=3).most_in_stack == 3
    assert _unit().most_in_stack is None
    assert _unit().least_side == 0.09


@pytest.mark.parametrize("country", sorted(UNITS_ON_HAND))
def test_every_default_list_can_build_a_capped_stack(country: str) -> None:
    units = UNITS_ON_HAND[country]
    assert any(unit.may_cap for unit in units)
    assert len({unit.name for unit in units}) == len(units)
    assert all(unit.source and unit.thickness > INCH for unit in units)
