"""Known marks in a job: a place, or distances from other marks and the side on which the mark lies."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, TypeVar, cast

from pydantic import PlainValidator, TypeAdapter, ValidationInfo

from gradework.project.fields import Place, Taped, choice, refuse, shown

if TYPE_CHECKING:
    from gradework.fieldnotes.place_notes import Side

SIDES = ("left", "right")

Point = tuple[float, float]
Value = TypeVar("Value")

_PLACE = TypeAdapter(Place)
_TIES = TypeAdapter(dict[str, Taped])


class TiedMark(NamedTuple):
    """A mark that was taped: distances [m] from other marks, and the ``side`` of the first of them to the
    second on which it lies, None where that was not said."""

    ties: Mapping[str, float]
    side: Side | None = None


def side_word(value: object) -> str:
    """Take ``left`` or ``right``."""
    return choice(value, SIDES)


def _mark(value: object, info: ValidationInfo) -> Point | TiedMark:
    if not isinstance(value, dict):
        return _PLACE.validate_python(value, context=info.context)
    side = cast("Side", side_word(value["side"])) if "side" in value else None
    ties = {name: length for name, length in value.items() if name != "side"}
    if len(ties) < 2:
        refuse(
            "job-value",
            f"{shown(value)} with {len(ties) or 'no'} distance{'s' if len(ties) != 1 else ''}",
            "distances from two or more other marks, or a place in brackets",
            "measure to it from a second mark, or write it as [x, y]",
        )
    return TiedMark(_TIES.validate_python(ties, context=info.context), side)


MarkPlace = Annotated[Any, PlainValidator(_mark)]
Marks = dict[str, MarkPlace]
"""Marks by name: (x, y) [m], or a ``TiedMark``."""


def taped(marks: Mapping[str, Point | TiedMark]) -> dict[str, TiedMark]:
    """The marks among these that were taped from others."""
    return {name: mark for name, mark in marks.items() if isinstance(mark, TiedMark)}
