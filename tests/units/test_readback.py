"""A figure is read again before it is shown: one that says something else is not shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradework.errors import CheckError
from gradework.units import display
from gradework.units.display import eighths, feet_inches, fixed
from gradework.units.readback import proved_decimal, proved_inches

values = st.floats(-1e9, 1e9) | st.sampled_from(
    [101.245, -0.5, 0.125, 1e15, -1e15, 11.999999, 95.9375, 5e-324]
)


@given(values, st.integers(0, 4))
def test_what_is_written_right_passes(value: float, digits: int) -> None:
    fixed(value, digits)
    feet_inches(value)
    eighths(value)


@pytest.mark.parametrize(
    ("prove", "wrong"),
    [
        (lambda: proved_decimal("101.24", 101.2451, 2), "101.24"),
        (lambda: proved_decimal("-0.5", 0.5, 1), "-0.5"),
        (lambda: proved_decimal("1024", 102.4, 0), "1024"),
        (lambda: proved_inches("5' 3 1/2\"", 63.7), "5' 3 1/2\""),
        (lambda: proved_inches("5' 3 1/2\"", 3.5), "5' 3 1/2\""),
        (lambda: proved_inches("-4 1/2", 4.5), "-4 1/2"),
        (lambda: proved_inches('3/8"', 3.8), '3/8"'),
    ],
)
def test_what_says_another_value_is_not_shown(prove: Callable[[], str], wrong: str) -> None:
    with pytest.raises(CheckError, match=f"would be shown as {wrong}"):
        prove()


@pytest.mark.parametrize("show", [lambda: fixed(101.24, 2), lambda: feet_inches(63.5), lambda: eighths(4.5)])
def test_a_slip_in_rounding_stops_the_run(monkeypatch: pytest.MonkeyPatch, show: Callable[[], str]) -> None:
    right: Any = display.round_half_away
    monkeypatch.setattr(display, "round_half_away", lambda value, digits=0: right(value, digits) + 1)
    with pytest.raises(CheckError, match="would be shown as"):
        show()


def test_a_slip_in_the_fraction_stops_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(display, "_inches", lambda count, parts: f"{count // parts} {count % parts}/{parts}")
    assert feet_inches(63.5) == "5' 3 4/8\""
    monkeypatch.setattr(
        display, "_inches", lambda count, parts: f"{count // parts} {count % parts}/{2 * parts}"
    )
    with pytest.raises(CheckError):
        feet_inches(63.5)
