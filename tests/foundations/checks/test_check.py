"""Checks hold, break or are open, and outside the US a rule of the US says so."""

from __future__ import annotations

import pytest

from gradework.foundations.checks.check import COMMON, Check, cited, worst_of


@pytest.mark.parametrize(
    ("value", "limit", "holds"),
    [
        (1.0, 2.0, True),
        (2.0, 2.0, True),
        (2.0000001, 2.0, True),
        (2.01, 2.0, False),
        (None, 2.0, None),
        (1.0, None, None),
    ],
)
def test_a_check_holds_to_a_millionth(value: float | None, limit: float | None, holds: bool | None) -> None:
    assert Check("joist span", value, limit, "m", COMMON).holds is holds


def test_the_worst_is_the_one_nearest_to_or_farthest_beyond_its_limit() -> None:
    checks = [Check("skid span", v, m, "m", COMMON) for v, m in ((1.0, 2.0), (3.0, 4.0), (None, 1.0))]
    assert worst_of(checks) is checks[1]
    assert checks[1].strain == pytest.approx(0.75)
    assert checks[2].strain == 0.0


def test_sources_outside_the_us() -> None:
    assert cited("IRC R606.7", us=True) == "IRC R606.7"
    assert cited("IRC R606.7", us=False).startswith("no rule where you build")
    assert cited(COMMON, us=False) == COMMON
