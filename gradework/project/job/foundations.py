"""The ``[slab]`` table: a concrete slab on ground, its layers, its edge, its sheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainValidator, ValidationInfo, model_validator

from gradework.errors import Fault, Faults, InputError
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import FloorBuildUp, FrostRule, PierLoads, PierSpec
from gradework.foundations.piers.top_problem import GOALS
from gradework.foundations.piers.units import UNITS_ON_HAND, BlockUnit
from gradework.foundations.slab.quantities import FILM_US, MESH_US, SheetKind
from gradework.foundations.slab.spec import SlabSpec
from gradework.project.job.bounds import (
    BEARING,
    BLOCK,
    CLEARANCE,
    COUNT,
    LOAD,
    MOST_KINDS,
    MOST_PIERS,
    SPACING,
    WEIGHT,
    Bound,
)
from gradework.project.job.market import Money, Waste
from gradework.project.job.values import (
    Eave,
    Elevation,
    Flag,
    GravelName,
    Height,
    HeightOrNone,
    Layer,
    LayerOrNone,
    Margin,
    Place,
    Sheet,
    Table,
    Words,
    at_most,
    choice,
    position,
    quoted,
    refuse,
    shown,
    thick,
    weighing,
    within,
)
from gradework.units.amounts import parse_pressure

# Depth of frost and height of the eaves hold for every foundation of a job: each stands in one place.

PLACES = (("frost", "site"), ("eave", "building"))
"""Each key, and the table that holds it for the whole job; [piers] may hold it in its place."""


def frost_clashes(document: Mapping[str, Any]) -> Iterator[tuple[tuple[str, str], str, str, str]]:
    """Find keys told twice: where, what was found, what is expected, the fix."""
    piers = document.get("piers")
    for key, table in PLACES:
        here = document.get(table)
        if isinstance(piers, Mapping) and isinstance(here, Mapping) and key in piers and key in here:
            yield (
                ("piers", key),
                f"{key} in [piers] beside {key} in [{table}]",
                f"one {key} for the whole job",
                f"take the line out of [piers]; that of [{table}] holds for the slab too",
            )


# The ``[piers]`` table: where block piers stand, what they are made of, what they carry.

METRIC_LAYOUT: Mapping[str, float] = {
    "row_spacing": 2.4,
    "spacing": 1.8,
    "end_inset": 0.3,
    "side_inset": 0.3,
}
PIERS_METRIC_DEFAULTS: Mapping[str, float] = {
    "margin": 0.1,
    "least_dig": 0.15,
    "deeper": 0.15,
    "bed_least": 0.1,
    "bed_most": 0.15,
    "clearance": 0.05,
}
"""What a metric job gets in place of the sizes in feet and inches [m]: the next round ones, at most 2 % less,
for the same reasons and with the same sources. True sizes of boards and published limits stay as they are."""

DIRECTIONS = ("longer side", "first side", "second side")


def _count(value: object, info: ValidationInfo) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        refuse("job-value", shown(value), "a whole number", "write a whole number, without quotes")
    within(value, COUNT, value, info)
    return value


def _goal(value: object) -> str:
    return choice(value, GOALS)


def _along(value: object) -> str:
    return choice(value, DIRECTIONS)


def _sizes(value: object) -> str:
    return choice(value, tuple(UNITS_ON_HAND))


def _pressure(value: object, bound: Bound, info: ValidationInfo) -> float:
    expected = 'a quoted load such as "40 psf" or "1.9 kPa"'
    kilopascals = quoted(value, parse_pressure, expected)
    return within(kilopascals, bound, value, info)


def _load(value: object, info: ValidationInfo) -> float:
    return _pressure(value, LOAD, info)


def _strength(value: object, info: ValidationInfo) -> float:
    """Take what the soil may bear: as a load, but soil that bears nothing carries no pier."""
    kilopascals = _pressure(value, BEARING, info)
    if kilopascals == 0:
        refuse("job-value", shown(value), "more than 0 kPa", "give what the soil may bear, or leave it out")
    return kilopascals


def _clearance(value: object, info: ValidationInfo) -> float:
    """Take a thin length that may be below zero: a floor let into the ground on the high side."""
    if not isinstance(value, str):
        expected = 'a quoted length with its unit, such as "4 in" or "100 mm"'
        refuse("job-length", shown(value), expected, "write it in quotes, with its unit")
    return within(position(value, info), CLEARANCE, value, info)


def _any_pier(value: object) -> object:
    if value == {}:
        expected = "at least one pier, such as { NE = [26, 16] }"
        fix = "name each pier with its place, or leave positions out: then rows are laid out"
        refuse("job-value", "no piers", expected, fix)
    return value


Count = Annotated[int, PlainValidator(_count)]
Load = Annotated[float, PlainValidator(_load)]
BlockSize = Annotated[float, thick(BLOCK)]
Spacing = Annotated[float, thick(SPACING)]
Strength = Annotated[float, PlainValidator(_strength)]


class UnitTable(Table):
    """One kind of block on hand: true sizes, weight, price each, and where in a stack it may lie."""

    name: Words = Field(examples=['"4 in solid block"'])
    thickness: BlockSize = Field(examples=['"3 5/8 in"'])
    length: BlockSize = Field(examples=['"15 5/8 in"'])
    width: BlockSize = Field(examples=['"7 5/8 in"'])
    weight: Annotated[float, weighing(WEIGHT)] = Field(examples=['"32 lb"'])
    price: Money = Field(examples=["2.40"])
    hollow: Flag = False
    carries: Flag = True
    caps: Flag | None = None
    base: Flag = False
    most: Count | None = None

    def unit(self) -> BlockUnit:
        """Give the block; open cells cannot cap unless the table says otherwise. Raises ``InputError``."""
        return BlockUnit(
            self.name,
            self.thickness,
            self.length,
            self.width,
            self.weight,
            self.price,
            hollow=self.hollow,
            may_carry=self.carries,
            may_cap=not self.hollow if self.caps is None else self.caps,
            only_base=self.base,
            most=self.most,
        )


class FloorTable(Table):
    """What lies on the piers, actual sizes; None means the default."""

    beam: LayerOrNone | None = None
    joists: LayerOrNone | None = None
    boards: LayerOrNone | None = None
    treated: Flag | None = None


class LoadsTable(Table):
    """What the building brings per area of plan, and what the ground may bear; None means the default."""

    floor: Load | None = None
    roof: Load | None = None
    snow: Load | None = None
    dead: Load | None = None
    bearing: Strength | None = None


class PiersTable(Table):
    """Block piers; None means the documented default."""

    goal: Annotated[str, PlainValidator(_goal)] | None = None
    rows: Count | None = None
    row_spacing: Spacing | None = None
    spacing: Spacing | None = None
    end_inset: Margin | None = None
    side_inset: Margin | None = None
    along: Annotated[str, PlainValidator(_along)] | None = None
    positions: (
        Annotated[dict[str, Place], at_most(MOST_PIERS, "piers"), BeforeValidator(_any_pier)] | None
    ) = None
    double: Flag = False
    margin: LayerOrNone | None = None
    least_dig: HeightOrNone | None = None
    deeper: HeightOrNone | None = None
    bed_least: LayerOrNone | None = None
    bed_most: LayerOrNone | None = None
    tallest: Height | None = None
    clearance: Annotated[float, PlainValidator(_clearance)] | None = None
    top: Elevation | None = None
    frost: Height | None = None
    dig_to_frost: Flag = False
    eave: Eave | None = None
    material: GravelName | None = None
    block_sizes: Annotated[str, PlainValidator(_sizes)] | None = None
    units: Annotated[tuple[UnitTable, ...], at_most(MOST_KINDS, "kinds of block")] | None = None
    floor: FloorTable = FloorTable()
    loads: LoadsTable = LoadsTable()

    def spec(self, *, us: bool) -> PierSpec:
        """Say what is asked of the piers. Raises ``InputError`` for figures that cannot be."""
        frost = FrostRule(depth=self.frost, dig=self.dig_to_frost)
        named = self.given("goal", "margin", "least_dig", "deeper", "bed_least", "bed_most", "tallest")
        named |= self.given("clearance", "top")
        layout = self.given("rows", "row_spacing", "spacing", "end_inset", "side_inset", "along")
        if not us:
            named, layout = {**PIERS_METRIC_DEFAULTS, **named}, {**METRIC_LAYOUT, **layout}
        if self.bed_most is None and self.bed_least is not None:
            # a thicker least bed lifts the default most
            named["bed_most"] = max(named.get("bed_most", PierSpec().bed_most), self.bed_least)
        return PierSpec(
            units=self._units(us=us),
            layout=RowLayout(**layout),
            positions=tuple((name, x, y) for name, (x, y) in (self.positions or {}).items()),
            across=2 if self.double else 1,
            floor=replace(FloorBuildUp(), **self.floor.given("beam", "joists", "boards", "treated")),
            loads=replace(PierLoads(), **self.loads.given("floor", "roof", "snow", "dead", "bearing")),
            frost=frost if self.eave is None else replace(frost, eave=self.eave),
            **named,
        )

    def _units(self, *, us: bool) -> tuple[BlockUnit, ...]:
        if self.units is None:
            return UNITS_ON_HAND[self.block_sizes or ("US" if us else "UK")]
        if not self.units:
            stop = Faults()
            stop.stop("block-units-missing", "no block units", "at least one", "list the units you can buy")
        units: list[BlockUnit] = []
        faults: list[Fault] = []
        for table in self.units:
            try:
                units.append(table.unit())
            except InputError as problem:
                faults.extend(problem.faults)
        if faults:
            raise InputError(faults)
        return tuple(units)


FILLS = ("gravel", "earth")

FILM_METRIC = SheetKind("0.25 mm film", 4.0, 25.0, 0.15, "150 mm, common practice, no source")
MESH_METRIC = SheetKind("A142 mesh", 2.4, 4.8, 0.30, "300 mm, common practice, no source")
"""Film and mesh as sold in metres (sizes from memory)."""


SLAB_METRIC_DEFAULTS: Mapping[str, float] = {
    "freeboard": 0.16,
    "thickness": 0.10,
    "edge_depth": 0.30,
    "edge_width": 0.20,
    "strip": 0.10,
    "base": 0.10,
}
"""The defaults in inches as a metric job would round them [m]; freeboard up, to keep 6 in of fall."""

FORM_HEIGHTS_METRIC = (0.100, 0.150, 0.200, 0.225, 0.250)
"""Heights of boards as sold in metres [m] (memory)."""


def _fill(value: object) -> str:
    return choice(value, FILLS)


class SheetTable(Table):
    """A film or a mesh as sold; ``lap`` where two sheets meet."""

    name: Words = Field(examples=['"10 mil film"'])
    width: Sheet = Field(examples=['"10 ft"'])
    length: Sheet = Field(examples=['"100 ft"'])
    lap: LayerOrNone = Field(examples=['"6 in"'])

    @model_validator(mode="after")
    def _narrower_lap(self) -> SheetTable:
        if self.lap > 0.5 * min(self.width, self.length):
            refuse(
                "job-value",
                "a lap wider than half of its sheet",
                "a lap of at most half the width and length of the sheet",
                "give a wider sheet, or a smaller lap",
            )
        return self

    def kind(self) -> SheetKind:
        """Give the sheet."""
        return SheetKind(self.name, self.width, self.length, self.lap, "given by the user")


class SlabTable(Table):
    """A slab on ground; None means the documented default. ``film`` and ``mesh`` false leave them out."""

    level: Elevation | None = None
    freeboard: LayerOrNone | None = None
    margin: Margin | None = None
    thickness: Layer | None = None
    edge_depth: Layer | None = None
    edge_width: LayerOrNone | None = None
    strip: LayerOrNone | None = None
    base: LayerOrNone | None = None
    fill: Annotated[str, PlainValidator(_fill)] | None = None
    waste: Waste | None = None
    film: Flag = True
    mesh: Flag = True
    film_roll: SheetTable | None = None
    mesh_sheet: SheetTable | None = None
    heated: Flag = False
    material: GravelName | None = None

    def spec(self, *, us: bool) -> SlabSpec:
        """Say what is asked of the slab. Raises ``InputError`` for figures that cannot be."""
        names = ("level", "freeboard", "margin", "thickness", "edge_depth", "edge_width", "strip", "base")
        given = self.given(*names, "fill", "waste")
        if not us:
            given = {**SLAB_METRIC_DEFAULTS, "form_heights": FORM_HEIGHTS_METRIC, **given}
        if self.edge_depth is None:
            # a slab as thick as the default edge is deep has no thickened edge
            edge, thick = SlabSpec().edge_depth, SlabSpec().thickness
            given["edge_depth"] = max(given.get("edge_depth", edge), given.get("thickness", thick))
        return SlabSpec(
            **given,
            film=_sheet(self.film_roll, FILM_US if us else FILM_METRIC) if self.film else None,
            mesh=_sheet(self.mesh_sheet, MESH_US if us else MESH_METRIC) if self.mesh else None,
            heated=self.heated,
        )


def _sheet(table: SheetTable | None, default: SheetKind) -> SheetKind:
    return default if table is None else table.kind()
