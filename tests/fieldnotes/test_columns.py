"""Whole columns at once give the values of the careful way, or nothing."""

from __future__ import annotations

import pytest

from gradework.fieldnotes.columns import metres_of
from gradework.units.lengths import parse_length

PLAIN = [
    ["98.72", "-3", "+101.005", ".5", "7.", "-0.00", "0", "000.10"],
    ["6300000.123456", "2100000.000001", "-0.000001"],
    ["0.0123456789", "23.9999999999"],
    ["0.1234567890123456789", "98.71999999999999886313", "1"],
    ["123456789012.25", "0.000001"],
    ["12345678901234567890", "0.1"],
    [" 4.5", "4.25 ", "1"],
    ["98"],
]


@pytest.mark.parametrize("unit", ["ft", "in", "m", "ftUS"])
@pytest.mark.parametrize("cells", PLAIN)
def test_plain_decimals_are_the_same_to_the_last_bit(cells, unit):
    bulk = metres_of(cells, unit)
    if float(max(cells, key=len)) > 1e9:
        assert bulk is None or bulk == [parse_length(cell, unit) for cell in cells]
    else:
        assert bulk == [parse_length(cell, unit) for cell in cells]
        assert [str(value) for value in bulk if value == 0] == ["0.0"] * bulk.count(0)


@pytest.mark.parametrize("unit", ["ft", "m"])
@pytest.mark.parametrize(
    "cell",
    ["nan", "inf", "-inf", "1e400", "1e300", "1_0", "٣", "", " ", "5' 3\"", "1,5", "x", "1.2.3", "9" * 301],
)
def test_anything_else_is_left_to_the_careful_way(cell, unit):
    assert metres_of(["1.5", cell, "2"], unit) is None


def test_infinities_that_cancel_are_seen():
    assert metres_of(["inf", "-inf"], "m") is None
    assert metres_of(["nan", "1"], "ft") is None


def test_decimal_commas():
    assert metres_of(["98,72", "-3", "1,5"], "m", decimal_comma=True) == [98.72, -3.0, 1.5]
    assert metres_of(["98,72", "1.234"], "m", decimal_comma=True) is None


def test_no_cells():
    assert metres_of([], "ft") == []
