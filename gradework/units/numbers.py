"""Plain decimal numbers as people and spreadsheets write them, read exactly.

Python's own ``float`` must not see raw text: it takes ``1_000``, ``nan``, ``inf``, ``1e400`` and digits of
other scripts without a word.
"""

from __future__ import annotations

import re
from fractions import Fraction

from gradework.units.characters import plain
from gradework.units.refusal import QuantityError, explain, quoted

LONGEST = 300
"""Text longer than this is no number a person wrote."""

_DECIMAL = r"([-+]?) ?(?:([0-9]+)(?:\.([0-9]*))?|\.([0-9]+))(?:[eE]([-+]?[0-9]{1,3}))?"
_GROUPED = r"[-+]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?"


def parse_number(text: str, *, decimal_comma: bool = False, grouped: bool = False) -> Fraction:
    """Read a plain decimal number exactly.

    Taken: ``98.72``, ``-.5``, ``+3``, ``1.5e-3``, ``1,234.56`` and ``1,234,567`` (thousands that can mean
    nothing else). With ``decimal_comma`` the comma and the point change places. ``1,234`` alone may be
    one and a bit or a thousand and more: refused unless ``grouped`` says that commas group.

    >>> parse_number("−98.72")
    Fraction(-2468, 25)
    >>> parse_number("98,72", decimal_comma=True)
    Fraction(2468, 25)

    Raises
    ------
    QuantityError
        for anything else, with the likely reading.
    """
    tidy = plain(text)
    if len(tidy) > LONGEST:
        raise QuantityError(f"{len(tidy)} characters ({quoted(tidy)})", "a number", "check this cell")
    swapped = tidy.translate(_SWAP) if decimal_comma else tidy
    value = _decimal(swapped)
    if (
        value is None
        and re.fullmatch(_GROUPED, swapped)
        and (grouped or "." in swapped or swapped.count(",") > 1)
    ):
        value = _decimal(swapped.replace(",", ""))
    if value is None:
        found, mend = _explained(tidy, decimal_comma)
        raise QuantityError(
            found, "a number such as 98,72" if decimal_comma else "a number such as 98.72", mend
        )
    return value


_SWAP = {ord(","): ".", ord("."): ","}


def _decimal(text: str) -> Fraction | None:
    match = re.fullmatch(_DECIMAL, text)
    if match is None:
        return None
    sign, whole, part, only_part, exponent = match.groups()
    part = only_part or part or ""
    value = Fraction(int((whole or "") + part), 10 ** len(part))
    if exponent:
        value *= Fraction(10) ** int(exponent)
    return -value if sign == "-" else value


def _explained(tidy: str, decimal_comma: bool) -> tuple[str, str]:
    if decimal_comma and re.fullmatch(r"[-+]?[0-9]+\.[0-9]+", tidy):
        comma, whole = tidy.replace(".", ","), tidy.replace(".", "")
        if re.fullmatch(_GROUPED, tidy.translate(_SWAP)):
            return f"{quoted(tidy)}, which may be {comma} or {whole}", f"write {comma} or {whole}"
        return (
            f"{quoted(tidy)}, with a point in a file of decimal commas",
            f"if {comma} is meant, write it so",
        )
    return explain(tidy)
