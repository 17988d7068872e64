"""Known marks in a job: a place, or distances from other marks and the side on which the mark lies."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Mapping, Sequence, Sized
from decimal import Decimal
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, NoReturn, SupportsFloat, TypeVar, cast

from pydantic import AfterValidator, BaseModel, ConfigDict, PlainValidator, TypeAdapter, ValidationInfo
from pydantic_core import PydanticCustomError

from gradework.earthwork.materials import MaterialError, find_gravel, find_soil
from gradework.errors import visible
from gradework.project.job import bounds
from gradework.project.job.bounds import MOST_MARKS, Bound
from gradework.units.amounts import parse_angle, parse_mass, parse_percent
from gradework.units.lengths import parse_length
from gradework.units.numbers import QuantityError

if TYPE_CHECKING:
    from gradework.fieldnotes.places import Side


# The kinds of value a job file holds, each with its own plain words when the value does not fit.
#
# Bare numbers are taken in the job's unit where a place is meant; a thickness, a board or anything else
# that is small is quoted with its unit, because a bare 4 that means inches would be read as feet.

LARGEST = 1e9
"""No number in a job may be larger; it keeps every later product finite."""

_LONGEST_WORD = 200
"""Letters of a text; a longer one is no word that a key knows."""

CUSTOM = "gradework"
"""The type of the errors raised here; their context carries code, found, expected and fix."""


class Table(BaseModel):
    """One table of the job file: frozen, and no key that it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def given(self, *names: str) -> dict[str, Any]:
        """Pick the values that the table holds; what is None keeps the default of the room that uses it."""
        return {name: getattr(self, name) for name in names if getattr(self, name) is not None}


def refuse(code: str, found: str, expected: str, fix: str) -> NoReturn:
    """Raise the error that ``read_job`` turns into a fault with line and column."""
    context = {"code": code, "found": found, "expected": expected, "fix": fix}
    raise PydanticCustomError(CUSTOM, "{found}", context)


def shown(value: object) -> str:
    """Show a value of the job file as the user would write it, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{visible(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number of more than 20 digits"
    return visible(str(value))


def number(value: object, expected: str) -> float:
    """Take a finite number of a believable size."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        refuse("job-value", shown(value), expected, "write a number, without quotes")
    if not -LARGEST <= value <= LARGEST or math.isnan(value):
        refuse("job-value", shown(value), expected, "write an ordinary number")
    return float(value)


def _metres(text: str, unit: Any, expected: str) -> float:
    try:
        metres = parse_length(text, unit)
    except QuantityError as problem:
        # the job has declared its units; in quotes they do not count, on purpose
        refuse("job-length", problem.found, problem.expected, problem.fix.removesuffix(", or declare units"))
    if not -LARGEST <= metres <= LARGEST:
        refuse("job-length", shown(text), expected, "write an ordinary length")
    return metres


def position(value: object, info: ValidationInfo) -> float:
    """Take a place, distance or elevation [m]: a bare number in the job's unit, or quoted with a unit."""
    expected = 'a number in the unit of the job, or a quoted length such as "12 ft 6 in"'
    if isinstance(value, str):
        return _metres(value, None, expected)
    number(value, expected)
    unit = (info.context or {}).get("unit")
    # the shortest decimal that is this number: what the user wrote, whatever binary fraction it became
    return _metres(format(Decimal(repr(value)), "f"), unit, expected)


def within(amount: float, bound: Bound, value: object, info: ValidationInfo) -> float:
    """Refuse an ``amount`` (SI) that is out of its ``bound``; ``value`` is what the user wrote."""
    if not bound.holds(amount):
        us = (info.context or {}).get("unit") != "m"
        refuse("job-out-of-range", shown(value), bound.expected(us=us), "check the digits and the unit")
    return amount


def at_most(count: int, things: str) -> AfterValidator:
    """Refuse a list or a table of more than ``count`` values."""

    def check(values: Sized) -> Sized:
        if len(values) > count:
            fix = "check that this is the right list, and keep what is needed"
            refuse("job-out-of-range", f"{len(values)} {things}", f"at most {count}", fix)
        return values

    return AfterValidator(check)


def placed(bound: Bound) -> PlainValidator:
    """Take a place or an elevation [m], bare or quoted, within ``bound``."""
    return PlainValidator(lambda value, info: within(position(value, info), bound, value, info))


def sized(bound: Bound) -> PlainValidator:
    """Take a length above zero [m], bare or quoted, within ``bound``."""
    return PlainValidator(lambda value, info: _size(value, bound, info))


def thick(bound: Bound) -> PlainValidator:
    """Take a quoted length above zero [m] within ``bound``."""
    return PlainValidator(lambda value, info: within(_thickness(value), bound, value, info))


def thin(bound: Bound) -> PlainValidator:
    """Take a quoted length of zero or more [m] within ``bound``."""
    return PlainValidator(lambda value, info: within(_thickness_or_none(value), bound, value, info))


def _size(value: object, bound: Bound, info: ValidationInfo) -> float:
    metres = position(value, info)
    if metres <= 0:
        refuse("job-value", shown(value), "a length above zero", "give the length of the side")
    return within(metres, bound, value, info)


def _small(value: object) -> float:
    expected = 'a quoted length with its unit, such as "4 in" or "100 mm"'
    if isinstance(value, int | float) and not isinstance(value, bool):
        refuse(
            "job-length",
            f"{shown(value)} without a unit",
            expected,
            f'write "{shown(value)} in" or "{shown(value)} mm"',
        )
    if not isinstance(value, str):
        refuse("job-length", shown(value), expected, "write it in quotes, with its unit")
    return _metres(value, None, expected)


def _thickness(value: object) -> float:
    metres = _small(value)
    if metres <= 0:
        refuse("job-value", shown(value), "a thickness above zero", "leave the line out for the default")
    return metres


def _thickness_or_none(value: object) -> float:
    metres = _small(value)
    if metres < 0:
        refuse("job-value", shown(value), "a length of zero or more", "leave out the minus sign")
    return metres


def _angle(value: object) -> float:
    expected = "degrees, anticlockwise from the x axis"
    if isinstance(value, str):
        try:
            return float(parse_angle(value))
        except QuantityError as problem:
            refuse("job-value", problem.found, expected, problem.fix)
    degrees = number(value, expected)
    if not -360 <= degrees <= 360:
        refuse("job-value", shown(value), "-360 to 360 degrees", "give the turn within one full circle")
    return degrees


def _ratio(value: object, info: ValidationInfo) -> float:
    ratio = number(value, "a number above zero")
    if ratio <= 0:
        refuse("job-value", shown(value), "a number above zero", "give how far out for 1 down, such as 2")
    return within(ratio, bounds.BATTER, value, info)


def quoted(
    value: object,
    parse: Callable[[str], SupportsFloat],
    expected: str,
    *,
    fix: str = "write it in quotes, with its unit",
) -> float:
    """Take a quantity in quotes by its parser, in SI; what the parser refuses is told in its words."""
    if not isinstance(value, str):
        refuse("job-value", shown(value), expected, fix)
    try:
        return float(parse(value))
    except QuantityError as problem:
        refuse("job-value", problem.found, expected, problem.fix)


def percent(value: object, most: float = 1.0) -> float:
    """Take a quoted percentage from 0 to ``most`` [-] as a fraction."""
    expected = 'a quoted percentage such as "10 %"'
    fix = "say per cent, so that 0.1 and 10 cannot be confused"
    fraction = quoted(value, parse_percent, expected, fix=fix)
    if not 0 <= fraction <= most:
        refuse("job-value", shown(value), f"0 % to {round(most * 100)} %", "give a percentage in that range")
    return fraction


def _percent(value: object) -> float:
    return percent(value)


def weighing(bound: Bound) -> PlainValidator:
    """Take a quoted weight above zero [kg] within ``bound``."""
    return PlainValidator(lambda value, info: _mass(value, bound, info))


def _mass(value: object, bound: Bound, info: ValidationInfo) -> float:
    expected = 'a quoted weight such as "50 lb", "10 short tons" or "25 kg"'
    parse = partial(parse_mass, us=(info.context or {}).get("unit") != "m")
    kilograms = quoted(value, parse, expected)
    if not kilograms > 0:
        refuse("job-value", shown(value), "a weight above zero", "give the weight")
    return within(kilograms, bound, value, info)


def _words(value: object) -> str:
    if not isinstance(value, str):
        refuse("job-value", shown(value), "words in quotes", f'write "{shown(value)}"')
    if not value.strip() or len(value) > _LONGEST_WORD:
        refuse("job-value", shown(value), "1 to 200 letters", "give a shorter or a real text")
    return value


def _material(value: object, find: Callable[[str], object]) -> str:
    words = _words(value)
    try:
        find(words)
    except MaterialError as problem:
        refuse("job-value", visible(problem.found, 80), problem.expected, problem.fix)
    return words


def _gravel(value: object) -> str:
    return _material(value, find_gravel)


def _soil(value: object) -> str:
    return _material(value, find_soil)


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        refuse("job-value", shown(value), "true or false", "write true or false, without quotes")
    return value


def _one_or_two(value: object, info: ValidationInfo) -> tuple[float, float]:
    if not isinstance(value, list):
        one = _size(value, bounds.SIDE, info)
        return one, one
    if len(value) != 2:
        refuse("job-value", shown(value), "one spacing, or two in brackets", "write 5 or [5, 4]")
    return _size(value[0], bounds.SIDE, info), _size(value[1], bounds.SIDE, info)


def choice(value: object, allowed: Sequence[str]) -> str:
    """Take one of the allowed words; any other is answered with the nearest."""
    listed = ", ".join(f'"{word}"' for word in allowed)
    lower = {word.lower(): word for word in allowed}
    if not isinstance(value, str):
        refuse("job-value", shown(value), f"one of {listed}", "write one of them, in quotes")
    wanted = " ".join(value[:_LONGEST_WORD].lower().split())
    if wanted in lower:
        return lower[wanted]
    near = difflib.get_close_matches(wanted, lower, n=1, cutoff=0.4)
    fix = f'did you mean "{lower[near[0]]}"?' if near else "write one of them"
    return refuse("job-value", shown(value), f"one of {listed}", fix)


_PRICE = re.compile(r"\s*(?P<money>[0-9]+(?:\.[0-9]+)?)\s+(?:per|a|an|/)\s+(?P<unit>\S.*?)\s*")


def price(value: object, per: dict[str, float], example: str, info: ValidationInfo) -> float:
    """Take money per unit, such as "38 per short ton"; ``per`` maps each unit to its size in SI."""
    expected = f'money per unit, such as "{example}"'
    match = _PRICE.fullmatch(value) if isinstance(value, str) and len(value) <= _LONGEST_WORD else None
    if match is None:
        refuse("job-value", shown(value), expected, "write the amount, per, and the unit, in quotes")
    unit = " ".join(match["unit"].lower().split())
    if unit not in per:
        listed = ", ".join(per)
        near = difflib.get_close_matches(unit, per, n=1, cutoff=0.4)
        fix = f'did you mean "per {near[0]}"?' if near else "write one of them"
        if unit in ("ton", "tons", "t"):
            fix = 'say "short ton" (2,000 lb) or "tonne" (1,000 kg)'
        refuse("job-value", f'"per {visible(unit)}"', f"one of: {listed}", fix)
    return within(float(match["money"]), bounds.MONEY, value, info) / per[unit]


Coordinate = Annotated[float, placed(bounds.PLACE)]
Place = tuple[Coordinate, Coordinate]
Elevation = Annotated[float, placed(bounds.ELEVATION)]
SideLength = Annotated[float, sized(bounds.SIDE)]
BuildingSide = Annotated[float, sized(bounds.BUILDING)]
Taped = Annotated[float, sized(bounds.TAPED)]
Reach = Annotated[float, sized(bounds.REACH)]
Spacing = Annotated[tuple[float, float], PlainValidator(_one_or_two)]
Layer = Annotated[float, thick(bounds.LAYER)]
LayerOrNone = Annotated[float, thin(bounds.LAYER)]
Margin = Annotated[float, thin(bounds.MARGIN)]
Height = Annotated[float, thick(bounds.HEIGHT)]
HeightOrNone = Annotated[float, thin(bounds.HEIGHT)]
Eave = Annotated[float, thick(bounds.EAVE)]
Sheet = Annotated[float, thick(bounds.SHEET)]
Angle = Annotated[float, PlainValidator(_angle)]
Ratio = Annotated[float, PlainValidator(_ratio)]
Percent = Annotated[float, PlainValidator(_percent)]
Words = Annotated[str, PlainValidator(_words)]
GravelName = Annotated[str, PlainValidator(_gravel)]
SoilName = Annotated[str, PlainValidator(_soil)]
Flag = Annotated[bool, PlainValidator(_flag)]


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
Marks = Annotated[dict[str, MarkPlace], at_most(MOST_MARKS, "marks")]
"""Marks by name: (x, y) [m], or a ``TiedMark``."""


def taped(marks: Mapping[str, Point | TiedMark]) -> dict[str, TiedMark]:
    """The marks among these that were taped from others."""
    return {name: mark for name, mark in marks.items() if isinstance(mark, TiedMark)}
