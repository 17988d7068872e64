"""What is written is read again: each figure must say the value it was written from."""

from __future__ import annotations

from gradework.errors import CheckError

# Each figure is read again by a second way, which shares nothing with the writing: it must say the value it
# was written from, within its last digit.

_HALF = 0.5 + 2e-6  # of the last digit; a value a millionth short of a tie still counts as the tie


def proved_decimal(text: str, value: float, digits: int) -> str:
    """Give ``text`` back; raise ``CheckError`` unless it says ``value`` to ``digits`` decimals.

    >>> proved_decimal("101.25", 101.245, 2)
    '101.25'
    """
    if abs(float(text) - value) > _HALF * 10.0**-digits + 4e-16 * abs(value):
        raise CheckError(f"{value!r} would be shown as {text}")
    return text


def proved_inches(text: str, inches: float, parts: int = 8) -> str:
    """Give ``text`` back; raise ``CheckError`` unless it says ``inches`` [in] to one of ``parts`` of an inch.

    >>> proved_inches("-5' 0 1/2\\"", -60.47)
    '-5\\' 0 1/2"'
    """
    if abs(_inches_in(text) - inches) > _HALF / parts + 4e-16 * abs(inches):
        raise CheckError(f"{inches!r} in would be shown as {text}")
    return text


def _inches_in(text: str) -> float:
    feet, mark, rest = text.removeprefix("-").rpartition("'")
    total = 12.0 * int(feet) if mark else 0.0
    for part in rest.removesuffix('"').split():
        above, _, below = part.partition("/")
        total += int(above) / int(below or 1)
    return -total if text.startswith("-") else total
