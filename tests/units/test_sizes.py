"""Sizes as people write them."""

from __future__ import annotations

import pytest

from gradework.units.lengths import parse_length
from gradework.units.sizes import is_bare, split_size


@pytest.mark.parametrize(
    ("text", "unit", "feet"),
    [
        ("16x12", "ft", (16, 12)),
        ("16 x 12", "ft", (16, 12)),
        ("16 X 12", "ft", (16, 12)),
        ("16×12", "ft", (16, 12)),
        ("16 by 12", "ft", (16, 12)),
        ("16,12", "ft", (16, 12)),
        ("16; 12", "ft", (16, 12)),
        ("16.5,12.25", "ft", (16.5, 12.25)),
        ("16' x 12'", "m", (16, 12)),
        ("16’ × 12’", "m", (16, 12)),
        ("16' 6\" x 12' 3\"", None, (16.5, 12.25)),
        ("16 x 12' 3\"", "m", (16, 12.25)),
        ("16 x 12 ft", "m", (16, 12)),
        ("16 ft x 12", "m", (16, 12)),
        ("192 x 144 in", "ft", (16, 12)),
        ('192 x 144"', "ft", (16, 12)),
        ("16 1/2 ft x 12", "ft", (16.5, 12)),
        ("4.8m x 3.6m", "ft", (4.8 / 0.3048, 3.6 / 0.3048)),
        ("4.8 x 3.6 m", "ft", (4.8 / 0.3048, 3.6 / 0.3048)),
        ("4,8 x 3,6", "m", (4.8 / 0.3048, 3.6 / 0.3048)),
        ("4,8 m x 3,6 m", "ft", (4.8 / 0.3048, 3.6 / 0.3048)),
        ("480 x 360 cm", "ft", (4.8 / 0.3048, 3.6 / 0.3048)),
    ],
)
def test_two_sides(text, unit, feet) -> None:
    parts = split_size(text)
    assert parts is not None
    assert [parse_length(part, unit) / 0.3048 for part in parts] == pytest.approx(feet)


@pytest.mark.parametrize("text", ["", "16", "x12", "16x", "16x12x8", "16,12,8", "16 12", ","])
def test_what_is_not_two_sides(text) -> None:
    assert split_size(text) is None


def test_bare_lengths() -> None:
    assert [is_bare(text) for text in ("16", "16.5", "1/2", "12 1/2", "4,8")] == [True] * 5
    assert [is_bare(text) for text in ("16'", "16 ft", "", "wide")] == [False] * 4
