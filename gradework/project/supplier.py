"""The ``[supplier]`` table: what the yard sells, in which steps, and what carries it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Annotated

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from gradework.earthwork.materials import MaterialError, find_gravel
from gradework.project.bounds import BAG, BOARD, BOARD_LENGTH, LOADED, PAYLOAD
from gradework.project.fields import (
    LayerOrNone,
    Sheet,
    Table,
    Words,
    percent,
    quoted,
    refuse,
    shown,
    thick,
    weighing,
    within,
)
from gradework.sitework.boards import Board
from gradework.sitework.fabric import FabricRoll
from gradework.sitework.supplier import Carrier, Supplier, find_selling_unit
from gradework.units import QuantityError, parse_density, parse_volume

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
        refuse("job-value", problem.found, problem.expected, problem.mend)
    within(unit.mass_kg, BAG, value, info)
    return value


def _volume(value: object, info: ValidationInfo) -> float:
    expected = 'a quoted volume such as "5 yd3" or "4 m3"'
    if not isinstance(value, str):
        refuse("job-value", shown(value), expected, "write it in quotes, with its unit")
    try:
        cubic_metres = parse_volume(value)
    except QuantityError as problem:
        refuse("job-value", problem.found, expected, problem.mend)
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
    lengths: Annotated[tuple[BoardLength, ...], Field(min_length=1)] = Field(examples=['["8 ft", "12 ft"]'])


def _waste(value: object) -> float:
    part = percent(value, MOST_WASTE)
    if 0 < part < LEAST_WASTE:
        meant = part * 100 if part * 100 <= MOST_WASTE else LEAST_WASTE
        mend = f'write "{meant * 100:g} %" if that is meant, or "0 %" for none'
        refuse("job-value", f"{shown(value)}, less than one in a hundred", "0 %, or 1 % to 50 %", mend)
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
            refuse("job-value", problem.found, problem.expected, problem.mend)
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
