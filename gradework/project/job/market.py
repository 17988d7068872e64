"""The ``[supplier]`` table: what the yard sells, in which steps, and what carries it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from typing import Annotated

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from gradework.earthwork.materials import MaterialError, find_gravel
from gradework.project.job.bounds import (
    BAG,
    BOARD,
    BOARD_LENGTH,
    CONCRETE_BAG,
    LOADED,
    MONEY,
    MOST_KINDS,
    PAYLOAD,
)
from gradework.project.job.values import (
    LayerOrNone,
    Sheet,
    Table,
    Words,
    at_most,
    number,
    percent,
    price,
    quoted,
    refuse,
    shown,
    thick,
    weighing,
    within,
)
from gradework.sitework.cutting import Board, FabricRoll
from gradework.sitework.supplier import Carrier, Supplier, find_selling_unit
from gradework.units.amounts import (
    KG_PER_LB,
    KG_PER_SHORT_TON,
    KG_PER_TONNE,
    M2_PER_FT2,
    M3_PER_YD3,
    parse_density,
    parse_mass,
    parse_volume,
)
from gradework.units.numbers import QuantityError

# What things cost, in the user's own money: the ``[prices]`` table, each amount per a unit he names.

_PER_MASS = {
    "short ton": KG_PER_SHORT_TON,
    "tonne": KG_PER_TONNE,
    "lb": KG_PER_LB,
    "kg": 1.0,
}
_PER_VOLUME = {
    "yd3": M3_PER_YD3,
    "yd³": M3_PER_YD3,
    "cubic yard": M3_PER_YD3,
    "m3": 1.0,
    "m³": 1.0,
    "cubic metre": 1.0,
    "cubic meter": 1.0,
}
_PER_AREA = {
    "sq ft": M2_PER_FT2,
    "square foot": M2_PER_FT2,
    "ft2": M2_PER_FT2,
    "ft²": M2_PER_FT2,
    "m2": 1.0,
    "m²": 1.0,
    "square metre": 1.0,
    "square meter": 1.0,
}


def _mass(value: object, info: ValidationInfo) -> float:
    return price(value, _PER_MASS, "38 per short ton", info)


def _price_per_volume(value: object, info: ValidationInfo) -> float:
    return price(value, _PER_VOLUME, "60 per yd3", info)


def _area(value: object, info: ValidationInfo) -> float:
    return price(value, _PER_AREA, "3.50 per sq ft", info)


def _money(value: object, info: ValidationInfo) -> float:
    amount = number(value, "an amount of money, such as 120")
    if amount < 0:
        refuse("job-value", shown(value), "an amount of money, such as 120", "leave out the minus sign")
    return within(amount, MONEY, value, info)


_BAG = re.compile(r"\s*(?P<money>[0-9]+(?:\.[0-9]+)?)\s+(?:per|a|an|/)\s+(?P<mass>[0-9].*?)(?:\s+bag)?\s*")


def _bag(value: object, info: ValidationInfo) -> tuple[float, float]:
    """Take money and mass [kg] of one bag, such as "6.80 per 80 lb"."""
    expected = 'money per bag of a weight, such as "6.80 per 80 lb"'
    match = _BAG.fullmatch(value) if isinstance(value, str) and len(value) <= 200 else None
    if match is None:
        refuse(
            "job-value", shown(value), expected, "write the amount, per, and the weight of a bag, in quotes"
        )
    try:
        kilograms = float(parse_mass(match["mass"]))
    except QuantityError as problem:
        refuse("job-value", problem.found, expected, problem.fix)
    within(kilograms, CONCRETE_BAG, value, info)
    return within(float(match["money"]), MONEY, value, info), kilograms


PerMass = Annotated[float, PlainValidator(_mass)]
PerVolume = Annotated[float, PlainValidator(_price_per_volume)]
PerArea = Annotated[float, PlainValidator(_area)]


Money = Annotated[float, PlainValidator(_money)]
PerBag = Annotated[tuple[float, float], PlainValidator(_bag)]


class Prices(Table):
    """Money per kilogram, cubic metre or square metre; None is a price not given.

    ``earth`` is loose, delivered; ``concrete`` is ready-mix, ``short_load`` what a small load costs on top,
    ``concrete_bag`` money and mass [kg] of a bag of premix. ``date`` says from when, and from where, the
    prices are.
    """

    gravel: PerMass | None = None
    dig: PerVolume | None = None
    haul: PerVolume | None = None
    earth: PerVolume | None = None
    boards: PerArea | None = None
    fabric: PerArea | None = None
    forms: PerArea | None = None
    film: PerArea | None = None
    mesh: PerArea | None = None
    concrete: PerVolume | None = None
    short_load: Money | None = None
    concrete_bag: PerBag | None = None
    date: Words | None = None
    currency: Words | None = None


MOST_WASTE = 0.5
"""[-] More than half again is no allowance for waste: an amount is wrong somewhere else."""

LEAST_WASTE = 0.01
"""[-] Less is either no allowance at all or a fraction that was written with a percent sign."""

MOST_MOISTURE = 0.25
"""[-] Stone that drains holds less water than this; wet sand at most about so much (memory)."""


def _sold_by(value: object, info: ValidationInfo) -> str:
    if not isinstance(value, str) or len(value) > 200:
        refuse("job-value", shown(value), 'words such as "half tons" or "50 lb bags"', "write it in quotes")
    try:
        unit = find_selling_unit(value, us=(info.context or {}).get("unit") != "m")
    except QuantityError as problem:
        refuse("job-value", problem.found, problem.expected, problem.fix)
    within(unit.mass_kg, BAG, value, info)
    return value


def _volume(value: object, info: ValidationInfo) -> float:
    expected = 'a quoted volume such as "5 yd3" or "4 m3"'
    if not isinstance(value, str):
        refuse("job-value", shown(value), expected, "write it in quotes, with its unit")
    try:
        cubic_metres = parse_volume(value)
    except QuantityError as problem:
        refuse("job-value", problem.found, expected, problem.fix)
    if cubic_metres <= 0:
        refuse("job-value", shown(value), expected, "give a volume above zero")
    return within(cubic_metres, LOADED, value, info)


Volume = Annotated[float, PlainValidator(_volume)]


class CarrierTable(Table):
    """A truck or a wheelbarrow: what it holds, loose, and what it may carry."""

    volume: Volume = Field(examples=['"5 yd3"'])
    payload: Annotated[float, weighing(PAYLOAD)] | None = None


class FabricTable(Table):
    """A roll of fabric as sold."""

    width: Sheet = Field(examples=['"6 ft"'])
    length: Sheet = Field(examples=['"50 ft"'])
    overlap: LayerOrNone | None = None

    @model_validator(mode="after")
    def _narrower_lap(self, info: ValidationInfo) -> FabricTable:
        usual = Supplier.metric() if (info.context or {}).get("unit") == "m" else Supplier.us()
        if (usual.fabric.overlap if self.overlap is None else self.overlap) >= self.width:
            refuse(
                "job-value",
                "strips no wider than their overlap",
                "an overlap narrower than the roll (without one, 12 in or 300 mm)",
                "give a wider roll, or a smaller overlap",
            )
        return self


BoardSize = Annotated[float, thick(BOARD)]
BoardLength = Annotated[float, thick(BOARD_LENGTH)]


class BoardTable(Table):
    """An edge board as sold, true sizes."""

    name: Words = Field(examples=['"2 x 6 treated board"'])
    thickness: BoardSize = Field(examples=['"1 1/2 in"'])
    face: BoardSize = Field(examples=['"5 1/2 in"'])
    lengths: Annotated[tuple[BoardLength, ...], Field(min_length=1), at_most(MOST_KINDS, "lengths")] = Field(
        examples=['["8 ft", "12 ft"]']
    )


def _waste(value: object) -> float:
    part = percent(value, MOST_WASTE)
    if 0 < part < LEAST_WASTE:
        meant = part * 100 if part * 100 <= MOST_WASTE else LEAST_WASTE
        fix = f'write "{meant * 100:g} %" if that is meant, or "0 %" for none'
        refuse("job-value", f"{shown(value)}, less than one in a hundred", "0 %, or 1 % to 50 %", fix)
    return part


Waste = Annotated[float, PlainValidator(_waste)]
"""An allowance on top of what is computed [-], written in per cent."""


def _moisture(value: object) -> float:
    return percent(value, MOST_MOISTURE)


def _densities(value: object, info: ValidationInfo) -> dict[str, float]:
    expected = 'stones with their compacted dry density, such as { "crusher run" = "1.9 short tons/yd3" }'
    if not isinstance(value, dict):
        refuse("job-value", shown(value), expected, "name the stone, and give the density in quotes")
    parse = partial(parse_density, us=(info.context or {}).get("unit") != "m")
    found: dict[str, float] = {}
    for name, text in value.items():
        density = quoted(text, parse, expected)
        try:
            stone = find_gravel(name)
            stone.with_compacted(density)
        except MaterialError as problem:
            refuse("job-value", problem.found, problem.expected, problem.fix)
        if stone.key in found:
            refuse("job-value", f"{stone.name} twice", "one density for each stone", "keep one of the two")
        found[stone.key] = density
    return found


class SupplierTable(Table):
    """What the yard sells and how; ``density`` [kg/m³] by the key of the stone, compacted and dry.

    None means the documented default of the unit system.
    """

    sold_by: Annotated[str, PlainValidator(_sold_by)] | None = None
    waste: Waste | None = None
    moisture: Annotated[float, PlainValidator(_moisture)] | None = None
    density: Annotated[dict[str, float], PlainValidator(_densities)] | None = None
    truck: CarrierTable | None = None
    barrow: CarrierTable | None = None
    fabric: FabricTable | None = None
    board: BoardTable | None = None

    def resolved(self, *, us: bool) -> Supplier:
        """Give the supplier: this table's own figures over the defaults of US or metric trade."""
        start = Supplier.us() if us else Supplier.metric()
        stone = start.stone if self.sold_by is None else find_selling_unit(self.sold_by, us=us)
        return replace(
            start,
            stone=stone,
            waste=start.waste if self.waste is None else self.waste,
            moisture=start.moisture if self.moisture is None else self.moisture,
            truck=_carrier(self.truck, start.truck),
            barrow=_carrier(self.barrow, start.barrow),
            fabric=_fabric(self.fabric, start.fabric),
            board=_board(self.board, start.board),
        )


def _carrier(table: CarrierTable | None, default: Carrier) -> Carrier:
    return default if table is None else Carrier(default.name, table.volume, table.payload)


def _fabric(table: FabricTable | None, default: FabricRoll) -> FabricRoll:
    if table is None:
        return default
    return FabricRoll(table.width, table.length, default.overlap if table.overlap is None else table.overlap)


def _board(table: BoardTable | None, default: Board) -> Board:
    return default if table is None else Board(table.name, table.thickness, table.face, table.lengths)
