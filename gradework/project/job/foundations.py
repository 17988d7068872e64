"""The ``[piers]`` and ``[slab]`` tables: what each key takes, and what is asked of the foundation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from pydantic import BeforeValidator, Field, PlainValidator, model_validator

from gradework.errors import Fault, InputError, fault
from gradework.foundations.piers.bearing import GRAVITY
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import FloorBuildUp, FrostRule, PierLoads, PierSpec
from gradework.foundations.piers.top_problem import GOALS
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND, BlockUnit
from gradework.foundations.slab.quantities import FILM_US, MESH_US, SheetKind
from gradework.foundations.slab.spec import SlabSpec
from gradework.foundations.timber.load_path import Shell
from gradework.foundations.timber.wood import (
    GRADES,
    LEAST,
    SPECIES,
    Section,
    Strength,
    Wood,
    section_of,
    sized,
)
from gradework.project.job.bounds import (
    ANCHOR,
    BEARING,
    BLOCK,
    CLEARANCE,
    COUNT,
    LOAD,
    MOST_KINDS,
    MOST_PIERS,
    SPACING,
    STRESS,
    WEIGHT,
    Bound,
)
from gradework.project.job.delivered import MeasuredTable, as_delivered
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
    one_of,
    quoted,
    refuse,
    refuse_parsed,
    shown,
    small,
    thick,
    weighing,
    whole,
    within,
)
from gradework.units.amounts import parse_pressure
from gradework.units.numbers import QuantityError

# The ``[piers]`` table: where block piers stand, what they are made of, what they carry.

METRIC_LAYOUT: Mapping[str, float] = {"end_inset": 0.3, "side_inset": 0.3}
METRIC_FLOOR: Mapping[str, float] = {"joist_spacing": 0.4}
METRIC_SHELL = Shell(wall_height=2.4, overhang=0.3)
METRIC_EAVE = 2.4
PIERS_METRIC_DEFAULTS: Mapping[str, float] = {
    "margin": 0.1,
    "least_dig": 0.15,
    "deeper": 0.15,
    "hole_step": 0.005,
    "bed_least": 0.1,
    "bed_most": 0.15,
    "clearance": 0.05,
}
"""What a metric job gets in place of the sizes in feet and inches [m]: the next round ones, at most 2 % less,
for the same reasons and with the same sources. True sizes of boards and published limits stay as they are."""

DIRECTIONS = ("longer side", "first side", "second side")
ROOFS = ("rafters", "ridge beam")


def _pressure(value: object, bound: Bound) -> float:
    return within(quoted(value, parse_pressure, "load"), bound, value)


def _strength(value: object) -> float:
    """Take what the soil may bear: as a load, but soil that bears nothing carries no pier."""
    kilopascals = _pressure(value, BEARING)
    if kilopascals == 0:
        refuse("job-value", variant="no-strength", value=shown(value))
    return kilopascals


def _any_pier(value: object) -> object:
    if value == {}:
        refuse("job-value", variant="no-piers")
    return value


Count = Annotated[int, whole(COUNT)]
Load = Annotated[float, PlainValidator(lambda value: _pressure(value, LOAD))]
BlockSize = Annotated[float, thick(BLOCK)]
Spacing = Annotated[float, thick(SPACING)]
SoilStrength = Annotated[float, PlainValidator(_strength)]
# may be below zero: a floor let into the ground on the high side
Clearance = Annotated[float, PlainValidator(lambda value: within(small(value), CLEARANCE, value))]
Stress = Annotated[float, PlainValidator(lambda value: _pressure(value, STRESS))]


def _section(value: object) -> Section:
    if not isinstance(value, str):
        refuse("job-value", variant="size", value=shown(value))
    try:
        return section_of(value)
    except QuantityError as problem:
        refuse_parsed("job-value", problem)


Size = Annotated[Section, PlainValidator(_section)]


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


class StrengthTable(Table):
    """Allowable stresses of the wood as it is used, from its own standard."""

    bending: Stress = Field(examples=['"7.5 MPa"'])
    shear: Stress = Field(examples=['"0.8 MPa"'])
    bearing: Stress = Field(examples=['"2 MPa"'])
    stiffness: Stress = Field(examples=['"9 GPa"'])


class FloorTable(Table):
    """What lies on the piers; None means the default. ``beam`` and ``joists`` are depths of usual widths."""

    skid: Size | None = None
    joist: Size | None = None
    beam: Layer | None = None
    joists: Layer | None = None
    joist_spacing: Layer | None = None
    boards: LayerOrNone | None = None
    treated: Flag | None = None
    species: Annotated[str, one_of(*SPECIES)] | None = None
    grade: Annotated[str, one_of(*GRADES)] | None = None
    strengths: StrengthTable | None = None

    @model_validator(mode="after")
    def _known_to_be_strong(self) -> FloorTable:
        try:
            for size in (self.skid, self.joist, *self._by_depth().values()):
                if size is not None and self.strengths is None:
                    _ = size.counted_as
        except QuantityError as problem:
            refuse_parsed("job-value", problem)
        return self

    def _by_depth(self) -> dict[str, Section]:
        """Sizes that are told by their depth alone: as wide as usual, under the name of the yard's size."""
        usual = FloorBuildUp()
        pairs = (("skid", self.beam, usual.skid), ("joist", self.joists, usual.joist))
        return {key: sized(like.width, depth) for key, depth, like in pairs if depth is not None}

    def build_up(self, *, us: bool) -> FloorBuildUp:
        """Say what lies on the piers."""
        own = None if self.strengths is None else Strength(**self.strengths.model_dump())
        wood = Wood(self.species or LEAST, own)
        usual = {} if us else METRIC_FLOOR
        return FloorBuildUp(**{**usual, **self._by_depth(), **self.given(FloorBuildUp), "wood": wood})


class LoadsTable(Table):
    """What the building brings per area of plan, and what the ground may bear; None means the default."""

    floor: Load | None = None
    roof: Load | None = None
    snow: Load | None = None
    dead: Load | None = None
    roof_dead: Load | None = None
    walls: Load | None = None
    bearing: SoilStrength | None = None


class PiersTable(Table):
    """Block piers; None means the documented default."""

    goal: Annotated[str, one_of(*GOALS)] | None = None
    rows: Count | None = None
    row_spacing: Spacing | None = None
    spacing: Spacing | None = None
    end_inset: Margin | None = None
    side_inset: Margin | None = None
    along: Annotated[str, one_of(*DIRECTIONS)] | None = None
    positions: (
        Annotated[dict[str, Place], at_most(MOST_PIERS, "piers"), BeforeValidator(_any_pier)] | None
    ) = None
    double: Flag = False
    margin: LayerOrNone | None = None
    least_dig: HeightOrNone | None = None
    deeper: HeightOrNone | None = None
    one_size: Flag | None = None
    bed_least: LayerOrNone | None = None
    bed_most: LayerOrNone | None = None
    tallest: Height | None = None
    clearance: Clearance | None = None
    top: Elevation | None = None
    frost: Height | None = None
    dig_to_frost: Flag = False
    eave: Eave | None = None
    material: GravelName | None = None
    block_sizes: Annotated[str, one_of(*UNITS_ON_HAND)] | None = None
    units: Annotated[tuple[UnitTable, ...], at_most(MOST_KINDS, "kinds of block")] | None = None
    measured: Annotated[tuple[MeasuredTable, ...], at_most(MOST_KINDS, "kinds of block")] = ()
    base_pads: Flag = True
    cover: Flag | None = None
    anchor: Annotated[float, weighing(ANCHOR)] | None = None
    floor: FloorTable = FloorTable()
    loads: LoadsTable = LoadsTable()

    def spec(self, *, us: bool) -> PierSpec:
        """Say what is asked of the piers. Raises ``InputError`` for figures that cannot be."""
        named, layout, frost = self.given(PierSpec), self.given(RowLayout), self.given(FrostRule)
        if not us:
            named, layout = {**PIERS_METRIC_DEFAULTS, **named}, {**METRIC_LAYOUT, **layout}
            named["shell"], frost = METRIC_SHELL, {"eave": METRIC_EAVE, **frost}
        if self.bed_most is None and self.bed_least is not None:
            # a thicker least bed lifts the default most
            named["bed_most"] = max(named.get("bed_most", PierSpec().bed_most), self.bed_least)
        if self.anchor is not None:  # the load of an anchor is written as a weight
            named["anchor"] = self.anchor * GRAVITY / 1000.0
        blocks, pads = self._units(us=us), BASE_PADS[self._country(us=us)] if self.base_pads else ()
        listed = {unit.name for unit in blocks}
        on_hand = (*blocks, *(pad for pad in pads if pad.name not in listed))
        on_hand = as_delivered(on_hand, self.measured, us=us)
        named |= {
            "units": on_hand[: len(blocks)],
            "pads": on_hand[len(blocks) :],
            "layout": RowLayout(**layout, draw_in=self.end_inset is None),
            "positions": tuple((name, x, y) for name, (x, y) in (self.positions or {}).items()),
            "across": 2 if self.double else 1,
            "floor": self.floor.build_up(us=us),
            "loads": PierLoads(**self.loads.given(PierLoads)),
            "frost": FrostRule(depth=self.frost, dig=self.dig_to_frost, **frost),
        }
        return PierSpec(**named)

    def _country(self, *, us: bool) -> str:
        return self.block_sizes or ("US" if us else "UK")

    def _units(self, *, us: bool) -> tuple[BlockUnit, ...]:
        if self.units is None:
            return UNITS_ON_HAND[self._country(us=us)]
        if not self.units:
            raise InputError([fault("block-units-missing", variant="job")])
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


class SheetTable(Table):
    """A film or a mesh as sold; ``lap`` where two sheets meet."""

    name: Words = Field(examples=['"10 mil film"'])
    width: Sheet = Field(examples=['"10 ft"'])
    length: Sheet = Field(examples=['"100 ft"'])
    lap: LayerOrNone = Field(examples=['"6 in"'])

    @model_validator(mode="after")
    def _narrower_lap(self) -> SheetTable:
        if self.lap > 0.5 * min(self.width, self.length):
            refuse("job-value", variant="sheet-lap")
        return self


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
    fill: Annotated[str, one_of(*FILLS)] | None = None
    waste: Waste | None = None
    film: Flag = True
    mesh: Flag = True
    film_roll: SheetTable | None = None
    mesh_sheet: SheetTable | None = None
    heated: Flag | None = None
    material: GravelName | None = None

    def spec(self, *, us: bool) -> SlabSpec:
        """Say what is asked of the slab. Raises ``InputError`` for figures that cannot be."""
        given = self.given(SlabSpec)
        if not us:
            given = {**SLAB_METRIC_DEFAULTS, "form_heights": FORM_HEIGHTS_METRIC, **given}
        if self.edge_depth is None:
            # a slab as thick as the default edge is deep has no thickened edge
            edge, thick = SlabSpec().edge_depth, SlabSpec().thickness
            given["edge_depth"] = max(given.get("edge_depth", edge), given.get("thickness", thick))
        given["film"] = self._sheet(self.film_roll, FILM_US if us else FILM_METRIC) if self.film else None
        given["mesh"] = self._sheet(self.mesh_sheet, MESH_US if us else MESH_METRIC) if self.mesh else None
        return SlabSpec(**given)

    @staticmethod
    def _sheet(own: SheetTable | None, usual: SheetKind) -> SheetKind:
        if own is None:
            return usual
        return SheetKind(own.name, own.width, own.length, own.lap, "given by the user")
