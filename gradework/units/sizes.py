"""The size of a rectangle as people write it: two lengths with x, by or a comma between them."""

from __future__ import annotations

import re

from gradework.units.lengths import unit_named
from gradework.units.numbers import plain

_BETWEEN = r"(?i)\s*(?:[x×*]|\bby\b)\s*"
_COMMA = r"\s*[,;]\s*"
_BARE = r"[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?: ?[0-9]+/[0-9]+)?|[-+]?[0-9]+/[0-9]+"


def split_size(text: str) -> tuple[str, str] | None:
    """Take a size apart into along and across, or None for any other text.

    The unit behind one of two lengths is that of both: ``4.8 x 3.6 m`` is in metres. Between x a comma is the
    decimal mark; without an x it stands between the lengths.

    >>> split_size("16x12"), split_size("16' x 12'"), split_size("4.8 x 3.6 m"), split_size("16,12")
    (('16', '12'), ("16'", "12'"), ('4.8 m', '3.6 m'), ('16', '12'))
    >>> split_size("16"), split_size("16x12x8")
    (None, None)
    """
    tidy = plain(text)
    parts = [part.strip() for part in re.split(_BETWEEN, tidy)]
    if len(parts) == 2:
        parts = [re.sub(r"^([-+]?[0-9]+),([0-9]+)", r"\1.\2", part) for part in parts]
    else:
        parts = [part.strip() for part in re.split(_COMMA, tidy)] if len(parts) == 1 else []
    if len(parts) != 2 or not all(parts):
        return None
    first, second = parts
    return _with_unit_of(first, second), _with_unit_of(second, first)


def is_bare(length: str) -> bool:
    """True for a number without a unit: whole, decimal, a fraction, or a whole number with one."""
    return re.fullmatch(_BARE, length) is not None


def _with_unit_of(length: str, other: str) -> str:
    """A bare length with the unit of the other one; feet where that is in feet and inches."""
    if not is_bare(length) or is_bare(other):
        return length
    if re.search(r"'|(?i:\bft\b|feet|foot)", other):
        return f"{length} ft"
    word = re.search(r"([A-Za-z\"]+)\.?$", other)
    return f"{length} {word[1]}" if word is not None and unit_named(word[1]) else length
