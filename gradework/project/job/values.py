"""The kinds of value a job file holds: how each is read, and what is said of one that does not fit.

A bare number is a place or a size in the job's own unit. A thickness, a board or anything else that is small
is quoted with its unit, because a bare 4 that means inches would be read as feet. All lengths come out in
metres.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence, Sized
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import fields
from decimal import Decimal
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, NoReturn, SupportsFloat, cast

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, PlainValidator, TypeAdapter
from pydantic_core import PydanticCustomError

from gradework.earthwork.materials import MaterialError, find_gravel, find_soil
from gradework.errors import fault, visible
from gradework.project.job import bounds
from gradework.project.job.bounds import LEAST_FLOOR, MOST_MARKS, Bound
from gradework.units.amounts import parse_angle, parse_mass, parse_percent
from gradework.units.display import Display, counted
from gradework.units.lengths import METRIC_UNITS, Unit, parse_length
from gradework.units.numbers import QuantityError
from gradework.units.sizes import is_bare, split_size

if TYPE_CHECKING:
    from gradework.fieldnotes.places import Side

LARGEST = 1e9
"""No number in a job may be larger; it keeps every later product finite."""

_LONGEST_WORD = 200
"""Letters of a text; a longer one is no word that a key knows."""

CUSTOM = "gradework"
"""The type of the errors raised here; their context carries code, found, expected and fix."""

# Set by the job while its tables are read. Outside of a job there is none, and a bare number is refused:
# the only other way to know the unit would be to guess it.
_UNIT: ContextVar[Unit | None] = ContextVar("unit of bare numbers", default=None)


@contextmanager
def bare_numbers_in(unit: Unit) -> Iterator[None]:
    """Read the bare numbers of every table that is checked inside in ``unit``."""
    before = _UNIT.set(unit)
    try:
        yield
    finally:
        _UNIT.reset(before)


def unit_in_force() -> Unit:
    """The unit of the job that is read; metres outside of any."""
    return _UNIT.get() or "m"


def in_us_units() -> bool:
    """Whether the job that is read counts in feet or inches; without a job it does not."""
    return _UNIT.get() not in (*METRIC_UNITS, None)


class Table(BaseModel):
    """One table of the job file: frozen, and no key that it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def given(self, spec: type[Any]) -> dict[str, Any]:
        """Pick the values that the table holds for fields of the dataclass ``spec``, by their names.

        The default of each key stands in ``spec`` alone: what is None here is left to it.
        """
        names = [one.name for one in fields(spec) if one.name in type(self).model_fields]
        return {name: value for name in names if (value := getattr(self, name)) is not None}


def refuse(code: str, *, variant: str = "", **values: Any) -> NoReturn:
    """Raise the error that ``read_job`` turns into a fault with line and column."""
    told = fault(code, variant=variant, **values)
    context = {"code": code, "found": told.found, "expected": told.expected, "fix": told.fix}
    raise PydanticCustomError(CUSTOM, "{found}; expected {expected} - {fix}", context)


def refuse_parsed(code: str, problem: QuantityError | MaterialError) -> NoReturn:
    """The same for text that a parser refused, in its own words."""
    refuse(
        code, variant="parsed", found=visible(problem.found, 80), expected=problem.expected, do=problem.fix
    )


def shown(value: object) -> str:
    """Show a value of the job file as the user would write it, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{visible(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number of more than 20 digits"
    return visible(str(value))


def number(value: object, kind: str) -> float:
    """Take a finite number of a believable size; ``kind`` is the variant of `job-value` that it should be."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not -LARGEST <= value <= LARGEST:
        refuse("job-value", variant=kind, value=shown(value))
    return float(value)


def _metres(text: str, unit: Unit | None) -> float:
    try:
        metres = parse_length(text, unit)
    except QuantityError as problem:
        # the job has declared its units; in quotes they do not count, on purpose
        refuse(
            "job-length",
            variant="parsed",
            found=problem.found,
            expected=problem.expected,
            do=problem.fix.removesuffix(", or set units"),
        )
    if not -LARGEST <= metres <= LARGEST:
        refuse("job-length", variant="huge", value=shown(text))
    return metres


def position(value: object) -> float:
    """Take a place, distance or elevation [m]: a bare number in the job's unit, or quoted with a unit."""
    if isinstance(value, str):
        return _metres(value, None)
    # the shortest decimal that is this number: what the user wrote, whatever binary fraction it became
    return _metres(format(Decimal(repr(number(value, "position"))), "f"), _UNIT.get())


def within(amount: float, bound: Bound, value: object) -> float:
    """Refuse an ``amount`` (SI) that is out of its ``bound``; ``value`` is what the user wrote."""
    if not bound.holds(amount):
        refuse("job-out-of-range", value=shown(value), bounds=bound.expected(us=in_us_units()))
    return amount


def roomy(sides: tuple[float, float]) -> tuple[float, float]:
    """Refuse sides [m] that hold less floor than any building."""
    if sides[0] * sides[1] < LEAST_FLOOR:
        show = Display(unit_in_force())
        along, across = map(show.length, sides)
        told = {"least": show.area(LEAST_FLOOR), "unit": show.unit}
        told |= {"bare": "16", "other": "ft"} if show.us else {"bare": "4.8", "other": "m"}
        refuse("job-out-of-range", variant="floor", along=along, across=across, **told)
    return sides


def at_most(count: int, things: str) -> AfterValidator:
    """Refuse a list or a table of more than ``count`` values."""

    def check(values: Sized) -> Sized:
        if len(values) > count:
            refuse("job-out-of-range", variant="list", count=len(values), things=things, most=count)
        return values

    return AfterValidator(check)


def placed(bound: Bound) -> PlainValidator:
    """Take a place or an elevation [m], bare or quoted, within ``bound``."""
    return PlainValidator(lambda value: within(position(value), bound, value))


def sized(bound: Bound) -> PlainValidator:
    """Take a length above zero [m], bare or quoted, within ``bound``."""
    return PlainValidator(lambda value: _size(value, bound))


def whole(bound: Bound) -> PlainValidator:
    """Take a whole number within ``bound``."""

    def count(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            refuse("job-value", variant="whole", value=shown(value))
        within(value, bound, value)
        return value

    return PlainValidator(count)


def thick(bound: Bound) -> PlainValidator:
    """Take a quoted length above zero [m] within ``bound``."""
    return PlainValidator(lambda value: _thick(value, bound))


def thin(bound: Bound) -> PlainValidator:
    """Take a quoted length of zero or more [m] within ``bound``."""
    return PlainValidator(lambda value: _thin(value, bound))


def _size(value: object, bound: Bound) -> float:
    metres = position(value)
    if metres <= 0:
        refuse("job-value", variant="side", value=shown(value))
    return within(metres, bound, value)


def small(value: object) -> float:
    """Take a quoted length [m]; a bare number is refused even where the job has a unit."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        refuse("job-length", variant="bare", value=shown(value))
    if not isinstance(value, str):
        refuse("job-length", value=shown(value))
    return _metres(value, None)


def _thin(value: object, bound: Bound) -> float:
    metres = small(value)
    if metres < 0:
        refuse("job-value", variant="length", value=shown(value))
    return within(metres, bound, value)


def _thick(value: object, bound: Bound) -> float:
    metres = small(value)
    if metres <= 0:
        refuse("job-value", variant="thickness", value=shown(value))
    return within(metres, bound, value)


def _angle(value: object) -> float:
    if isinstance(value, str):
        try:
            return float(parse_angle(value))
        except QuantityError as problem:
            refuse_parsed("job-value", problem)
    degrees = number(value, "turn")
    if not bounds.TURN.holds(degrees):
        refuse("job-value", variant="full-turn", value=shown(value))
    return degrees


def _ratio(value: object) -> float:
    ratio = number(value, "batter")
    if ratio <= 0:
        refuse("job-value", variant="batter", value=shown(value))
    return within(ratio, bounds.BATTER, value)


def quoted(value: object, parse: Callable[[str], SupportsFloat], kind: str) -> float:
    """Take a quantity in quotes by its parser, in SI; what the parser refuses is told in its words."""
    if not isinstance(value, str):
        refuse("job-value", variant=kind, value=shown(value))
    try:
        return float(parse(value))
    except QuantityError as problem:
        refuse_parsed("job-value", problem)


def percent(value: object, most: float) -> float:
    """Take a quoted percentage from 0 to ``most`` [-] as a fraction."""
    fraction = quoted(value, parse_percent, "percent")
    if not 0 <= fraction <= most:
        refuse("job-value", variant="percent-range", value=shown(value), most=round(most * 100))
    return fraction


def weighing(bound: Bound) -> PlainValidator:
    """Take a quoted weight above zero [kg] within ``bound``."""
    return PlainValidator(lambda value: _mass(value, bound))


def _mass(value: object, bound: Bound) -> float:
    kilograms = quoted(value, partial(parse_mass, us=in_us_units()), "weight")
    if not kilograms > 0:
        refuse("job-value", variant="no-weight", value=shown(value))
    return within(kilograms, bound, value)


def _words(value: object) -> str:
    if not isinstance(value, str):
        refuse("job-value", variant="text", value=shown(value))
    if not value.strip() or len(value) > _LONGEST_WORD:
        refuse("job-value", variant="text-length", value=shown(value))
    return value


def _material(value: object, find: Callable[[str], object]) -> str:
    words = _words(value)
    try:
        find(words)
    except MaterialError as problem:
        refuse_parsed("job-value", problem)
    return words


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        refuse("job-value", variant="flag", value=shown(value))
    return value


def _one_or_two(value: object) -> tuple[float, float]:
    if not isinstance(value, list | tuple):
        one = _size(value, bounds.SIDE)
        return one, one
    if len(value) != 2:
        refuse("job-value", variant="spacing", value=shown(value))
    return _size(value[0], bounds.SIDE), _size(value[1], bounds.SIDE)


def _two_sides(value: object) -> object:
    """Take a size in one piece apart, as "16x12": along, across, in the job's unit where it says none."""
    parts = split_size(value) if isinstance(value, str) else None
    if parts is None:
        return value
    return [f"{part} {_UNIT.get() or ''}".strip() if is_bare(part) else part for part in parts]


def choice(value: object, allowed: Sequence[str]) -> str:
    """Take one of the allowed words; any other is answered with the nearest."""
    listed = ", ".join(f'"{word}"' for word in allowed)
    lower = {word.lower(): word for word in allowed}
    if not isinstance(value, str):
        refuse("job-value", variant="choice-quotes", value=shown(value), listed=listed)
    wanted = " ".join(value[:_LONGEST_WORD].lower().split())
    if wanted in lower:
        return lower[wanted]
    near = difflib.get_close_matches(wanted, lower, n=1, cutoff=0.4)
    if near:
        refuse("job-value", variant="choice-near", value=shown(value), listed=listed, near=lower[near[0]])
    refuse("job-value", variant="choice", value=shown(value), listed=listed)


def one_of(*allowed: str) -> PlainValidator:
    """Take one of the allowed words."""
    return PlainValidator(lambda value: choice(value, allowed))


_PRICE = re.compile(r"\s*(?P<money>[0-9]+(?:\.[0-9]+)?)\s+(?:per|a|an|/)\s+(?P<unit>\S.*?)\s*")


def price(value: object, per: Mapping[str, float], example: str) -> float:
    """Take money per unit, such as "38 per short ton"; ``per`` maps each unit to its size in SI."""
    match = _PRICE.fullmatch(value) if isinstance(value, str) and len(value) <= _LONGEST_WORD else None
    if match is None:
        refuse("job-value", variant="price", value=shown(value), example=example)
    unit = " ".join(match["unit"].lower().split())
    if unit not in per:
        told = {"unit": visible(unit), "listed": ", ".join(per)}
        if unit in ("ton", "tons", "t"):
            refuse("job-value", variant="price-ton", **told)
        near = difflib.get_close_matches(unit, per, n=1, cutoff=0.4)
        if near:
            refuse("job-value", variant="price-near", near=near[0], **told)
        refuse("job-value", variant="price-unit", **told)
    return within(float(match["money"]), bounds.MONEY, value) / per[unit]


Coordinate = Annotated[float, placed(bounds.PLACE)]
Place = tuple[Coordinate, Coordinate]
Elevation = Annotated[float, placed(bounds.ELEVATION)]
SideLength = Annotated[float, sized(bounds.SIDE)]
BuildingSide = Annotated[float, sized(bounds.BUILDING)]
BuildingSize = Annotated[
    tuple[BuildingSide, BuildingSide], BeforeValidator(_two_sides), AfterValidator(roomy)
]
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
Percent = Annotated[float, PlainValidator(lambda value: percent(value, 1.0))]
Words = Annotated[str, PlainValidator(_words)]
GravelName = Annotated[str, PlainValidator(lambda value: _material(value, find_gravel))]
SoilName = Annotated[str, PlainValidator(lambda value: _material(value, find_soil))]
Flag = Annotated[bool, PlainValidator(_flag)]


SIDES = ("left", "right")

Point = tuple[float, float]

_PLACE = TypeAdapter(Place)
_TIES = TypeAdapter(dict[str, Taped])


class TiedMark(NamedTuple):
    """A mark that was taped: distances [m] from other marks, and the ``side`` of the first of them to the
    second on which it lies, None where that was not said."""

    ties: Mapping[str, float]
    side: Side | None = None


def _mark(value: object) -> Point | TiedMark:
    if not isinstance(value, dict):
        return _PLACE.validate_python(value)
    side = cast("Side", choice(value["side"], SIDES)) if "side" in value else None
    ties = {name: length for name, length in value.items() if name != "side"}
    if len(ties) < 2:
        distances = counted(len(ties), "distances") if ties else "no distances"
        refuse("job-value", variant="few-ties", distances=distances)
    return TiedMark(_TIES.validate_python(ties), side)


MarkPlace = Annotated[Any, PlainValidator(_mark)]
Marks = Annotated[dict[str, MarkPlace], at_most(MOST_MARKS, "marks")]
"""Marks by name: (x, y) [m], or a ``TiedMark``."""


def taped(marks: Mapping[str, Point | TiedMark]) -> dict[str, TiedMark]:
    """The marks among these that were taped from others."""
    return {name: mark for name, mark in marks.items() if isinstance(mark, TiedMark)}
