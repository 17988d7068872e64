"""Laws of what a pier may carry: more load, a weaker soil or a corner never allow a taller stack."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.foundations.piers.bearing import (
    Demand,
    base_capacity,
    most_carried,
    pier_force,
    tallest_allowed,
)
from gradework.foundations.piers.stacks import StackTable, stack_tables
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND

TABLES = [
    table
    for country in ("US", "UK", "AU")
    for across in (1, 2)
    for table in stack_tables((*UNITS_ON_HAND[country], *BASE_PADS[country]), tallest=1.5, across=across)
]
loads = st.lists(st.floats(0.0, 60.0), min_size=1, max_size=6)


def demand(given: list[float], corner: bool = False) -> Demand:
    return Demand(np.array(given), np.full(len(given), corner))


@pytest.mark.parametrize(
    "table", TABLES, ids=lambda t: f"{t.across} on {t.base.name if t.base else 'blocks'}"
)
@settings(max_examples=20, deadline=None)
@given(given=loads, more=st.floats(0.1, 20.0), bearing=st.floats(40.0, 200.0))
def test_more_to_carry_never_allows_more(
    table: StackTable, given: list[float], more: float, bearing: float
) -> None:
    free = tallest_allowed(table, demand(given), bearing)
    assert (tallest_allowed(table, demand([load + more for load in given]), bearing) <= free).all()
    assert (tallest_allowed(table, demand(given), 0.9 * bearing) <= free).all()
    assert (tallest_allowed(table, demand(given, corner=True), bearing) <= free).all()


@pytest.mark.parametrize(
    "table", TABLES, ids=lambda t: f"{t.across} on {t.base.name if t.base else 'blocks'}"
)
def test_the_tallest_stack_just_holds(table: StackTable) -> None:
    """At the limit the ground bears exactly what it may; the true weight is no more than what is counted."""
    bearing = 72.0
    load = np.array([0.6 * base_capacity(table, bearing)])
    most = tallest_allowed(table, Demand(load, np.array([False])), bearing) / 1e9
    if most[0] > 0.2 and table.density > 0.0:
        assert pier_force(load, most, table)[0] == pytest.approx(base_capacity(table, bearing), rel=1e-6)
    counted = pier_force(np.zeros(len(table.heights)), table.heights / 1e9, table)
    assert (table.mass * 9.80665e-3 <= counted * (1 + 1e-9)).all()


def test_what_is_most_is_carried_and_no_more() -> None:
    """The largest load that some base carries leaves it a stack; a little more leaves none."""
    single = [table for table in TABLES if table.units[0].name.endswith("block") and table.across == 1][:4]
    most = most_carried(single, 72.0)
    for factor, able in ((1.0 - 1e-9, True), (1.0 + 1e-6, False)):
        rows = [
            np.searchsorted(table.heights, tallest_allowed(table, demand([factor * most]), 72.0), "right")[0]
            for table in single
        ]
        assert bool(max(rows) > 0) is able
