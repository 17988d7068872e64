"""The gate: a check that fails bars a foundation, one that could not be made does not; the cheapest wins."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradework.foundations.checks.check import COMMON, Check, worst_of
from gradework.foundations.checks.gate import Judged, winner_of

HOLDS = Check("held edge", 0.2, 0.6, "m", COMMON)
FAILS = Check("held edge", 0.7, 0.6, "m", COMMON)
OPEN = Check("ground", None, 1.0, "-", COMMON, "least")


def judged(*checks: Check, cost: float | None = 1.0, name: str = "pad") -> Judged:
    return Judged(name, 0.0, 0.4, cost, checks)


@pytest.mark.parametrize(
    ("value", "limit", "holds"),
    [(0.2, 0.1, True), (0.1, 0.1, True), (0.1 - 1e-7, 0.1, True), (0.09, 0.1, False), (-0.1, 0.0, False),
     (-1e-9, 0.0, True), (None, 0.1, None), (0.2, None, None)],
)  # fmt: skip
def test_a_least_is_kept_from_above(value: float | None, limit: float | None, holds: bool | None) -> None:
    assert Check("siding", value, limit, "m", COMMON, "least").holds is holds


def test_the_strain_of_a_least_grows_as_the_value_shrinks() -> None:
    checks = [Check("siding", value, 0.15, "m", COMMON, "least") for value in (0.30, 0.15, 0.05, -0.01)]
    assert [check.strain for check in checks] == [0.5, 1.0, pytest.approx(3.0), math.inf]
    assert worst_of(checks) is checks[-1]
    assert Check("slab edge", 0.0, 0.0, "m", COMMON).strain == 0.0
    assert Check("slab edge", 0.1, 0.0, "m", COMMON).strain == math.inf


def test_an_if_may_be_built_and_a_failure_may_not() -> None:
    assert judged(HOLDS, OPEN).buildable
    assert judged(HOLDS, OPEN).open == (OPEN,)
    assert repr(judged(HOLDS, OPEN)) == "<pad: buildable if: ground>"
    assert not judged(HOLDS, OPEN, FAILS).buildable
    assert judged(HOLDS, OPEN, FAILS).false == (FAILS,)
    assert repr(judged(FAILS)) == "<pad: not buildable as drawn, held edge>"


def test_the_cheapest_that_can_be_built_wins() -> None:
    cheap, dear, unpriced = judged(FAILS, cost=1.0), judged(OPEN, cost=9.0), judged(HOLDS, cost=None)
    assert winner_of([cheap, dear, unpriced]) is dear
    assert winner_of([cheap, unpriced]) is unpriced
    assert winner_of([cheap]) is None
    assert winner_of([]) is None


CHECKS = st.builds(
    Check, st.just("held edge"), st.none() | st.floats(-2, 2), st.none() | st.floats(-2, 2), st.just("m"),
    st.just(COMMON), st.sampled_from(["most", "least"]),
)  # fmt: skip


@given(st.lists(st.tuples(st.lists(CHECKS, max_size=4), st.none() | st.floats(0, 9)), max_size=3), CHECKS)
def test_another_check_never_lets_more_be_built(
    options: list[tuple[list[Check], float | None]], more: Check
) -> None:
    before = [judged(*checks, cost=cost) for checks, cost in options]
    after = [judged(*checks, more, cost=cost) for checks, cost in options]
    for one, other in zip(before, after, strict=True):
        assert one.buildable or not other.buildable
    winner = winner_of(after)
    assert winner is None or not any(check.holds is False for check in winner.checks)
    least = winner_of(before)
    if winner is not None and winner.cost is not None:
        assert least is not None
        assert least.cost is not None
        assert least.cost <= winner.cost
