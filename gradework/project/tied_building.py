"""A building whose first corner was taped from known marks: the keys of ``[building]``, and its place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, cast

from pydantic import PlainValidator

from gradework.errors import Fault, InputError
from gradework.project.fields import Size, Table, choice
from gradework.project.placing import Point, tied_corner
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.fieldnotes.place_notes import Side

SIDES = ("left", "right")

MOST_APART = 0.05
"""The taped places of two corners may be so much nearer or farther than the building is long [m]: 2 in."""


def _side(value: object) -> str:
    return choice(value, SIDES)


class TiedTable(Table):
    """Distances of the first corner from known marks, in place of ``corner``; of the second in place of
    ``turn``; on which ``side`` of the first mark to the second they lie."""

    ties: dict[str, Size] | None = None
    second_ties: dict[str, Size] | None = None
    side: Annotated[str, PlainValidator(_side)] | None = None


def place_of(
    table: TiedTable, along: float, marks: Mapping[str, Point], turn: float, show: Display
) -> tuple[Point, float]:
    """Find the first corner (x, y) [m] and the turn [degrees] of a building ``along`` [m] that was tied.

    Raises ``InputError``: ties that do not meet, marks that are not known, two corners that are not as far
    apart as the building is long.
    """
    assert table.ties is not None
    side = cast("Side | None", table.side)
    first = tied_corner(table.ties, marks, side, show)
    if table.second_ties is None:
        return first, turn
    second = tied_corner(table.second_ties, marks, side, show)
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
    return first, math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))


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
