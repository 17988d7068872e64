"""How a result is written down: tables of (attribute, key), and figures that are finite or null."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from typing import Any

from gradework.errors import CheckError

Table = tuple[tuple[Any, ...], ...]
"""Rows of (attribute, key) or, for results inside a result, (attribute, key, how each of them is written).

How is a table, or a function that gives the document of one.

An attribute may be dotted ("unit.name", "hours.0"); "?" ends one that is not always known.
"""

_FIGURE = re.compile(r"_(?:m[23]?|kg|t|percent|degrees)$")


def sure(value: float) -> float:
    """Give a figure that every plan has as a plain float; raise ``CheckError`` unless it is finite.

    >>> sure(-0.0)
    0.0
    """
    if not math.isfinite(value):
        raise CheckError(f"a figure of the record is {value}")
    return float(value) + 0.0


def known(value: float | None) -> float | None:
    """Give a finite number as a plain float, anything else as None.

    >>> known(-0.0), known(float("nan")), known(None)
    (0.0, None, None)
    """
    if value is None or not math.isfinite(value):
        return None
    return float(value) + 0.0


def written(thing: object, table: Table) -> dict[str, Any]:
    """Write the attributes of a result under their keys, in the order of the table.

    Figures (floats, and what has a unit at the end of its key) have to be finite, or are null where the
    attribute ends in "?". Words, counts and truth values stay as they are; tuples become lists.

    >>> from gradework.sitework.setout_ties import Measure
    >>> written(Measure("side", "a", "b", 4), (("first", "from"), ("length", "length_m")))
    {'from': 'a', 'length_m': 4.0}
    """
    made: dict[str, Any] = {}
    for attribute, key, *inner in table:
        value: Any = thing
        for part in attribute.removesuffix("?").split("."):
            value = value[int(part)] if part.isdigit() else getattr(value, part)
        if inner and value is not None:
            value = rows(value, *inner) if isinstance(value, tuple) else rows([value], *inner)[0]
        elif attribute.endswith("?"):
            value = known(value)
        elif isinstance(value, tuple):
            value = [sure(part) if isinstance(part, float) else part for part in value]
        elif isinstance(value, float) or _FIGURE.search(key):
            value = sure(value)
        made[key] = value
    return made


def rows(things: Iterable[Any], how: Table | Callable[[Any], Any]) -> list[Any]:
    """Write each of several results by one table, or by a function."""
    return [how(thing) if callable(how) else written(thing, how) for thing in things]
