"""Boards with free joints: every way to join and cut small frames in whole feet, against the search."""

from __future__ import annotations

import pytest
from boards_again import STOCK, by_brute_force
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.sitework.joints import cut_runs

FOOT = 0.3048


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 14), min_size=1, max_size=4))
def test_no_joints_buy_less(runs: list[int]) -> None:
    found = cut_runs([run * FOOT for run in runs], [length * FOOT for length in STOCK])
    assert found.plan.bought / FOOT == pytest.approx(by_brute_force(runs))
