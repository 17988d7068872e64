"""A building whose first corner was taped from known marks: the keys of ``[building]``, and its place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, cast

from pydantic import PlainValidator

from gradework.errors import Fault, Finding, InputError
from gradework.project.fields import Table, Taped
from gradework.project.mark_table import side_word
from gradework.project.tied_place import tied_place
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.fieldnotes.place_notes import Side

    Point = tuple[float, float]

MOST_APART = 0.05
"""The taped places of two corners may be so much nearer or farther than the building is long [m]: 2 in."""


class TiedTable(Table):
    """Distances of the first corner from known marks, in place of ``corner``; of the second in place of
    ``turn``; on which ``side`` they lie, from the first mark of ``ties`` to the second."""

    ties: dict[str, Taped] | None = None
    second_ties: dict[str, Taped] | None = None
    side: Annotated[str, PlainValidator(side_word)] | None = None


class TiedPlace(NamedTuple):
    """The first ``corner`` (x, y) [m] of a building, its ``turn`` [degrees], what the ties say of them."""

    corner: Point
    turn: float
    findings: tuple[Finding, ...]


def place_of(
    table: TiedTable, along: float, marks: Mapping[str, Point], turn: float, show: Display
) -> TiedPlace:
    """Find the place of a building ``along`` [m] that was tied, its turn where only one corner was.

    Raises ``InputError``: ties that do not meet, marks that are not known, two corners that are not as far
    apart as the building is long.
    """
    assert table.ties is not None
    side = cast("Side | None", table.side)
    seen = list(table.ties)
    first, told = tied_place("first corner", table.ties, marks, side, show, seen=seen)
    if table.second_ties is None:
        return TiedPlace(first, turn, told)
    second, more = tied_place("second corner", table.second_ties, marks, side, show, seen=seen)
    apart = math.dist(first, second)
    if abs(apart - along) > MOST_APART:
        raise InputError(
            [
                Fault(
                    "corners-apart",
                    f"two tied corners {show.length(apart)} apart",
                    f"the length of the building, {show.length(along)}",
                    "measure the ties again, or check on which side of the marks the corners lie",
                )
            ]
        )
    turn = math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))
    return TiedPlace(first, turn, (*told, *more))


def tie_clashes(building: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    """Find keys of the raw table that contradict ties: key, what was found, what was expected, the mend."""
    found = []
    if "ties" in building:
        found += [
            (key, f"{key} beside ties", f"ties or {key}", f"take out {key} or ties")
            for key in ("corner", "outline")
            if key in building
        ]
        if "second_ties" in building and "turn" in building:
            found.append(("turn", "turn beside second_ties", "one of the two", "take out one of them"))
    else:
        found += [
            (key, f"{key} without ties", "ties of the first corner", f"add ties, or take out {key}")
            for key in ("second_ties", "side")
            if key in building
        ]
    return found
