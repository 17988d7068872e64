"""The ``[prices]`` and ``[supplier]`` tables: what things cost, how the supplier sells and delivers them."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from typing import Annotated

from pydantic import BeforeValidator, Field, PlainValidator, model_validator

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
    in_us_units,
    number,
    percent,
    price,
    quoted,
    refuse,
    refuse_parsed,
    shown,
    thick,
    weighing,
    within,
)
from gradework.sitework.cutting import Board, FabricRoll
from gradework.sitework.supplier import Carrier, Supplier, find_selling_unit, find_vehicle
from gradework.units.amounts import (
    KG_PER_LB,
    KG_PER_SHORT_TON,
    KG_PER_TONNE,
    M2_PER_FT2,
    M3_PER_YD3,
    M_PER_IN,
    parse_density,
    parse_mass,
    parse_volume,
)
from gradework.units.numbers import QuantityError

# What things cost, in the user's own money: the ``[prices]`` table, each amount per a unit he names.

_PER_MASS = {"short ton": KG_PER_SHORT_TON, "tonne": KG_PER_TONNE, "lb": KG_PER_LB, "kg": 1.0}
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
_PER_LUMBER = {
    "board foot": 144.0 * M_PER_IN**3,
    "m3": 1.0,
    "m³": 1.0,
    "cubic metre": 1.0,
    "cubic meter": 1.0,
}


def _money(value: object) -> float:
    amount = number(value, "money")
    if amount < 0:
        refuse("job-value", variant="money-negative", value=shown(value))
    return within(amount, MONEY, value)


_BAG = re.compile(r"\s*(?P<money>[0-9]+(?:\.[0-9]+)?)\s+(?:per|a|an|/)\s+(?P<mass>[0-9].*?)(?:\s+bag)?\s*")


def _bag(value: object) -> tuple[float, float]:
    """Take money and mass [kg] of one bag, such as "6.80 per 80 lb"."""
    match = _BAG.fullmatch(value) if isinstance(value, str) and len(value) <= 200 else None
    if match is None:
        refuse("job-value", variant="price-bag", value=shown(value))
    try:
        kilograms = float(parse_mass(match["mass"]))
    except QuantityError as problem:
        refuse_parsed("job-value", problem)
    within(kilograms, CONCRETE_BAG, value)
    return within(float(match["money"]), MONEY, value), kilograms


PerMass = Annotated[float, PlainValidator(lambda value: price(value, _PER_MASS, "38 per short ton"))]
PerVolume = Annotated[float, PlainValidator(lambda value: price(value, _PER_VOLUME, "60 per yd3"))]
PerArea = Annotated[float, PlainValidator(lambda value: price(value, _PER_AREA, "3.50 per sq ft"))]
PerLumber = Annotated[float, PlainValidator(lambda value: price(value, _PER_LUMBER, "1.25 per board foot"))]
Money = Annotated[float, PlainValidator(_money)]
PerBag = Annotated[tuple[float, float], PlainValidator(_bag)]


class Prices(Table):
    """Money per kilogram, cubic metre or square metre; None is a price not given.

    ``stakes``, ``screws``, ``pins``, ``timber_screws``, ``setout_stakes``, ``pipe`` and ``gutter`` (10 ft
    of it), ``downspout``, ``shims`` (a pair) and ``string`` (a roll) are each; ``seed`` is by mass,
    ``lumber`` by nominal volume, ``floor_sheets`` by area; ``earth`` is loose, delivered; ``concrete`` is
    ready-mix, ``short_load`` what a small load costs on top, ``concrete_bag`` money
    and mass [kg] of a bag of dry mix. ``date`` says from when, and from where, the prices are.
    """

    gravel: PerMass | None = None
    dig: PerVolume | None = None
    haul: PerVolume | None = None
    earth: PerVolume | None = None
    boards: PerArea | None = None
    stakes: Money | None = None
    screws: Money | None = None
    timbers: PerArea | None = None
    pins: Money | None = None
    timber_screws: Money | None = None
    pipe: Money | None = None
    fabric: PerArea | None = None
    forms: PerArea | None = None
    film: PerArea | None = None
    mesh: PerArea | None = None
    anchor: Money | None = None
    concrete: PerVolume | None = None
    short_load: Money | None = None
    concrete_bag: PerBag | None = None
    shims: Money | None = None
    setout_stakes: Money | None = None
    string: Money | None = None
    seed: PerMass | None = None
    gutter: Money | None = None
    downspout: Money | None = None
    lumber: PerLumber | None = None
    floor_sheets: PerArea | None = None
    hour: Money | None = None
    plate_day: Money | None = None
    laser_day: Money | None = None
    excavator_day: Money | None = None
    date: Words | None = None
    currency: Words | None = None


MOST_WASTE = 0.5
"""[-] More than half again is no allowance for waste: an amount is wrong somewhere else."""

LEAST_WASTE = 0.01
"""[-] Less is either no allowance at all or a fraction that was written with a percent sign."""

MOST_MOISTURE = 0.25
"""[-] Stone that drains holds less water than this; wet sand at most about so much (memory)."""


def _sold_by(value: object) -> str:
    if not isinstance(value, str) or len(value) > 200:
        refuse("job-value", variant="sold-by", value=shown(value))
    try:
        unit = find_selling_unit(value, us=in_us_units())
    except QuantityError as problem:
        refuse_parsed("job-value", problem)
    within(unit.mass_kg, BAG, value)
    return value


def _volume(value: object) -> float:
    cubic_metres = quoted(value, parse_volume, "volume")
    if cubic_metres <= 0:
        refuse("job-value", variant="no-volume", value=shown(value))
    return within(cubic_metres, LOADED, value)


Volume = Annotated[float, PlainValidator(_volume)]


class CarrierTable(Table):
    """A truck or a wheelbarrow: what it holds, loose, and what it may carry."""

    volume: Volume = Field(examples=['"5 yd3"'])
    payload: Annotated[float, weighing(PAYLOAD)] | None = None


class VehicleTable(CarrierTable):
    """A vehicle that comes; ``longest`` is the longest board that lies on it, left out on a dump truck."""

    name: Words = Field(examples=['"my trailer"'])
    longest: Annotated[float, thick(BOARD_LENGTH)] | None = None

    def carrier(self) -> Carrier:
        """Give what the order asks."""
        return Carrier(self.name, self.volume, self.payload, self.longest or 0.0)


def _named(value: object) -> object:
    """Give the figures of a vehicle that is only named."""
    if not isinstance(value, str):
        return value
    try:
        name, (volume, payload, longest) = find_vehicle(value, us=in_us_units())
    except QuantityError as problem:
        refuse_parsed("job-value", problem)
    return {"name": name, "volume": volume, "payload": payload} | ({"longest": longest} if longest else {})


Vehicle = Annotated[VehicleTable, BeforeValidator(_named)]


class FabricTable(Table):
    """A roll of fabric as sold."""

    width: Sheet = Field(examples=['"6 ft"'])
    length: Sheet = Field(examples=['"50 ft"'])
    overlap: LayerOrNone | None = None
    price: Money | None = None

    @model_validator(mode="after")
    def _narrower_lap(self) -> FabricTable:
        usual = Supplier.us() if in_us_units() else Supplier.metric()
        if (usual.fabrics[0].overlap if self.overlap is None else self.overlap) >= self.width:
            refuse("job-value", variant="roll-overlap")
        return self

    def roll(self, usual: FabricRoll) -> FabricRoll:
        """Give what the order asks, with the usual lap."""
        return replace(usual, **self.given(FabricRoll))


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
        refuse("job-value", variant="waste-small", value=shown(value), meant=f"{meant * 100:g}")
    return part


Waste = Annotated[float, PlainValidator(_waste)]
"""An allowance on top of what is computed [-], written in per cent."""

Moisture = Annotated[float, PlainValidator(lambda value: percent(value, MOST_MOISTURE))]


def _densities(value: object) -> dict[str, float]:
    if not isinstance(value, dict):
        refuse("job-value", variant="densities", value=shown(value))
    found: dict[str, float] = {}
    for name, text in value.items():
        density = quoted(text, partial(parse_density, us=in_us_units()), "density")
        try:
            stone = find_gravel(name)
            stone.with_compacted(density)
        except MaterialError as problem:
            refuse_parsed("job-value", problem)
        if stone.key in found:
            refuse("job-value", variant="density-twice", stone=stone.name)
        found[stone.key] = density
    return found


class SupplierTable(Table):
    """What the yard sells and how; ``density`` [kg/m³] by the key of the stone, compacted and dry.

    None means the documented default of the unit system.
    """

    sold_by: Annotated[str, PlainValidator(_sold_by)] | None = None
    waste: Waste | None = None
    moisture: Moisture | None = None
    density: Annotated[dict[str, float], PlainValidator(_densities)] | None = None
    truck: CarrierTable | None = None
    trucks: Annotated[tuple[Vehicle, ...], Field(min_length=1), at_most(MOST_KINDS, "trucks")] | None = Field(
        default=None, examples=['["tandem", "half-ton pickup"]']
    )
    barrow: CarrierTable | None = None
    fabric: FabricTable | None = None
    fabrics: (
        Annotated[tuple[FabricTable, ...], Field(min_length=1), at_most(MOST_KINDS, "fabrics")] | None
    ) = None
    board: BoardTable | None = None

    @model_validator(mode="after")
    def _one_way(self) -> SupplierTable:
        if self.truck is not None and self.trucks is not None:
            refuse("job-value", variant="both-ways", one="truck", other="trucks")
        if self.fabric is not None and self.fabrics is not None:
            refuse("job-value", variant="both-ways", one="fabric", other="fabrics")
        if len({roll.price is None for roll in self.fabrics or ()}) > 1:
            refuse("job-value", variant="some-prices")
        return self

    def resolved(self, *, us: bool) -> Supplier:
        """Give the supplier: this table's own figures over the defaults of US or metric trade."""
        usual = Supplier.us() if us else Supplier.metric()
        own = self.given(Supplier)
        if self.truck is not None:
            own["truck"] = replace(usual.truck, volume=self.truck.volume, payload=self.truck.payload)
        if self.barrow is not None:
            own["barrow"] = replace(usual.barrow, volume=self.barrow.volume, payload=self.barrow.payload)
        own.pop("trucks", None)
        if self.trucks is not None:
            own["trucks"] = tuple(one.carrier() for one in self.trucks)
        own.pop("fabrics", None)
        if rolls := self.fabrics or (() if self.fabric is None else (self.fabric,)):
            own["fabrics"] = tuple(roll.roll(usual.fabrics[0]) for roll in rolls)
        if self.board is not None:
            own["board"] = Board(**self.board.given(Board))
        if self.sold_by is not None:
            own["stone"] = find_selling_unit(self.sold_by, us=us)
        return replace(usual, **own)
