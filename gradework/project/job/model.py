"""The job as data: every table of the job file, frozen and checked; absent means the documented default.

``docs/job-file.md`` shows each key to the user. A foundation of another kind adds its table in a file of its
own and one line in ``Job``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any, Literal, Self, cast

from pydantic import Field, PlainValidator, PrivateAttr, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler  # pydantic 2.7 offers it here only
from pydantic_core import PydanticCustomError

from gradework.earthwork.materials import MaterialError, own_factor
from gradework.errors import InputError, visible
from gradework.foundations.checks.drainage_rules import RULES as RULES_IN_FORCE
from gradework.project.job.access import DaysTable, DoorTable
from gradework.project.job.bounds import BUILDING, ELEVATION
from gradework.project.job.foundations import DIRECTIONS, ROOFS, PiersTable, SlabTable
from gradework.project.job.market import Prices, SupplierTable
from gradework.project.job.site import PlaceTable, SiteTable, Spread
from gradework.project.job.survey import ReadingsTable, SetoutTable, TiedTable
from gradework.project.job.toml_text import Path, Positions
from gradework.project.job.values import (
    Angle,
    BuildingSize,
    Eave,
    Flag,
    GravelName,
    Height,
    Layer,
    LayerOrNone,
    Margin,
    Percent,
    Place,
    Ratio,
    Reach,
    SoilName,
    Spacing,
    Table,
    Words,
    bare_numbers_in,
    choice,
    number,
    one_of,
    percent,
    position,
    refuse,
    refuse_parsed,
    roomy,
    shown,
    unit_in_force,
    within,
)
from gradework.sitework.days import Crew
from gradework.units.display import Display
from gradework.units.form import FORMS, Form
from gradework.units.lengths import UNITS, Unit

LEVEL_RULES = ("least fill", "balanced", "least cost")
EDGES = ("boxed", "battered")
FOUNDATIONS = ("pad", "piers", "slab")
ROOF_WATER = ("gutter", "drip strip")
GROUNDS = ("firm", "soft", "filled", "organic", "swelling")


def _level(value: object) -> str | float:
    if isinstance(value, str) and not any(c.isdigit() for c in value):
        return choice(value, LEVEL_RULES)
    return within(position(value), ELEVATION, value)


def _factor(value: object, name: Literal["swell", "compaction"]) -> float:
    ratio = number(value, "factor")
    try:
        return own_factor(name, ratio).value
    except MaterialError as problem:
        refuse_parsed("job-value", problem)


LEAST_SURE, MOST_SURE = 0.5, 0.99
"""[-] An order that suffices in fewer cases than it fails is none; no survey tells one in a hundred."""


def _sure(value: object) -> float:
    part = percent(value, 1.0)
    if not LEAST_SURE <= part <= MOST_SURE:
        refuse("job-value", variant="sure", value=shown(value))
    return part


Swell = Annotated[float, PlainValidator(lambda value: _factor(value, "swell"))]
Compaction = Annotated[float, PlainValidator(lambda value: _factor(value, "compaction"))]


def _said(value: object) -> Display:
    return Display(unit_in_force(), cast("Form", choice(value, FORMS)))


def as_units_go() -> Display:
    """How lengths are said where the job does not say it and no notes have been read yet."""
    return Display(unit_in_force())


Said = Annotated[Display, PlainValidator(_said)]


class GridTable(Table):
    """How lettered stations lie: A1 at ``origin``, numbers along x, letters along y, turned by ``turn``."""

    spacing: Spacing = Field(examples=["5"])
    origin: Place | None = None
    turn: Angle | None = None


class SurveyTable(ReadingsTable):
    """Where the notes are and how to read them."""

    notes: Words = Field(examples=['"yard.csv"'])
    sheet: Words | None = None
    columns: Words | None = None
    decimal: Annotated[str, one_of(".", ",")] | None = None
    grid: GridTable | None = None


class BuildingTable(TiedTable):
    """The outline of the building: a rectangle, or any simple polygon with holes [m]; its walls, roof and
    door."""

    size: BuildingSize | None = None
    corner: Place | None = None
    turn: Angle = 0.0
    outline: Annotated[tuple[Place, ...], Field(min_length=3)] | None = None
    holes: tuple[Annotated[tuple[Place, ...], Field(min_length=3)], ...] = ()
    eave: Eave | None = None
    wall_height: Height | None = None
    overhang: LayerOrNone | None = None
    roof: Annotated[str, one_of(*ROOFS)] | None = None
    ridge: Annotated[str, one_of(*DIRECTIONS)] | None = None
    attached: Flag | None = None
    door: DoorTable | None = None

    @model_validator(mode="after")
    def _as_large_as_a_building(self) -> BuildingTable:
        wide = [max(values) - min(values) for values in zip(*(self.outline or ()), strict=True)]
        for side in wide:
            within(side, BUILDING, f"{side:.4g} m from corner to corner")
        if all(wide[:2]) and self.outline is not None:  # corners in one line are told as such
            roomy((wide[0], wide[1]))
        return self


class PadTable(Table):
    """The gravel pad: which rule sets its level, its layers, its edge. None means the default."""

    level: Annotated[str | float, PlainValidator(_level)] | None = None
    margin: Margin | None = None
    strip: LayerOrNone | None = None
    gravel: Layer | None = None
    edge: Annotated[str, one_of(*EDGES)] | None = None
    batter: Ratio | None = None
    timber_edge: Flag | None = None
    room: LayerOrNone | None = None
    layback: Ratio | None = None
    material: GravelName | None = None
    freeboard: LayerOrNone | None = None
    drain: Flag | None = None
    max_cut: Height | None = None
    max_height: Height | None = None
    most_gravel: Height | None = None
    most_native: Height | None = None
    native_fill: Flag | None = None


class SoilTable(Table):
    """The ground that is dug, what was found where the building stands, and where soil goes that is left
    over: whether it is spread, or on which outline (k, 2) [m] only; whether the rest is hauled away."""

    kind: SoilName | None = None
    ground: Annotated[str, one_of(*GROUNDS)] | None = None
    swell: Swell | None = None
    compaction: Compaction | None = None
    spread: Spread = True
    haul: Flag = True


class OrderTable(Table):
    """How sure the order shall be [-], and how far topsoil [m] and compacted stone [-] may be off."""

    sure: Annotated[float, PlainValidator(_sure)] | None = None
    topsoil: LayerOrNone | None = None
    compaction: Percent | None = None


class FloorOrderTable(Table):
    """Whether the frame of the floor is ordered, too; what it is made of stands under ``[piers.floor]``."""

    order: Flag = False


class DrainageTable(Table):
    """The drainage rule in force, the user's own reach and least fall, whether the ground is paved, what
    takes the rain of the roof, whether what drains to the walls from above is led past an open floor."""

    rule: Annotated[str, one_of(*RULES_IN_FORCE)] | None = None
    reach: Reach | None = None
    fall: Percent | None = None
    paved: Flag | None = None
    roof_water: Annotated[str, one_of(*ROOF_WATER)] | None = None
    led_past: Flag = False


class Job(Table):
    """A whole job, as a job file holds it: what is built where, on which notes, at which prices.

    ``docs/job-file.md`` explains every key. Bare numbers are taken in the job's own ``units``, whoever makes
    it; what comes out is SI. ``gradework.read_job`` tells what does not fit in plain words.

    Attributes
    ----------
    name
        What the job is called.
    units
        The unit of bare numbers in the job and in its notes: "ft", "in", "m", "cm", "mm" or "ftUS".
    show
        How lengths are said back: "inches", "tenths", "m" or "mm"; left out, as the notes were written.
    survey
        The notes and how to read them.
    building
        ``size`` (along, across), ``corner`` (x, y) [m] and ``turn`` [degrees anticlockwise], or ``outline``.
    pad, piers, slab
        A table for each foundation; ``piers`` and ``slab`` are None where the job does not ask for them.
    build
        "pad", "piers" or "slab": the one to order, or None.
    setout, soil, supplier, order, floor, drainage, prices, site, place, days
        What else the job says; what it leaves out is None or has its default.

    Raises
    ------
    pydantic.ValidationError
        A table made in Python with a key or a value that does not fit; ``read_job`` raises ``InputError``.

    Examples
    --------
    >>> job = Job(name="Shed", units="ft", survey={"notes": "yard.csv"},
    ...           building={"size": [16, 12], "corner": [0, 0]})
    >>> job
    <Job 'Shed': pad, in ft>
    >>> job.building.size                                    # metres
    (4.8768, 3.6576)
    """

    name: Words = Field(examples=['"Garden studio"'])
    units: Annotated[str, one_of(*UNITS)] = Field(examples=['"ft"'])
    show: Said = Field(default_factory=as_units_go)
    survey: SurveyTable = Field(examples=['{ notes = "yard.csv" }'])
    building: BuildingTable = Field(examples=["{ size = [16, 12], corner = [0, 0] }"])
    build: Annotated[str, one_of(*FOUNDATIONS)] | None = None
    pad: PadTable = PadTable()
    piers: PiersTable | None = None
    slab: SlabTable | None = None
    setout: SetoutTable = SetoutTable()
    soil: SoilTable = SoilTable()
    supplier: SupplierTable = SupplierTable()
    order: OrderTable = OrderTable()
    floor: FloorOrderTable = FloorOrderTable()
    drainage: DrainageTable = DrainageTable()
    prices: Prices = Prices()
    site: SiteTable = SiteTable()
    days: DaysTable = DaysTable()
    place: PlaceTable = PlaceTable()

    # the folder of its file, where the files that it names are looked for; None for a job of no file
    _folder: str | None = PrivateAttr(default=None)
    # where the job was read from, for messages about values that only later turn out unusable
    _file: str = PrivateAttr(default="")
    _where: Positions | None = PrivateAttr(default=None)
    # values that an option put in place of the job's own, by their path
    _given: Mapping[Path, str] = PrivateAttr(default_factory=dict)

    @model_validator(mode="wrap")
    @classmethod
    def _in_its_own_units(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Read every bare number in the job's own units, whoever makes the job."""
        try:
            unit = choice(data.get("units") if isinstance(data, Mapping) else None, UNITS)
        except PydanticCustomError:
            # no usable units, which stops the job in any case; its lengths are still checked for their form
            unit = "m"
        with bare_numbers_in(cast("Unit", unit)):
            return handler(data)

    def __repr__(self) -> str:
        return f"<Job {visible(self.name)!r}: {', '.join(self.asked)}, in {self.units}>"

    def __str__(self) -> str:
        return repr(self)

    def read_from(self, file: str, where: Positions) -> Job:
        """Note where this job was read from."""
        self._file, self._where = file, where
        return self

    def standing_in(self, folder: str) -> Job:
        """Note the folder that the files named in this job stand in."""
        self._folder = folder
        return self

    @property
    def folder(self) -> str | None:
        """The folder that the files named in this job stand in; None for a job of no file."""
        return self._folder

    def given_by(self, options: Mapping[Path, str]) -> Job:
        """Note which values came from an option, to name it in their faults."""
        self._given = options
        return self

    def located(self, problem: InputError, path: Path) -> InputError:
        """Point the faults that name no place at the lines of this job that caused them."""
        if path in self._given:
            option = self._given[path]
            return InputError(
                (fault if fault.file else replace(fault, file=option) for fault in problem.faults),
                problem.findings,
            )
        if self._where is None:
            return problem
        at, file = self._where.value(path), self._file
        located = (
            fault if fault.file else replace(fault, file=file, line=at.line, column=at.column)
            for fault in problem.faults
        )
        return InputError(located, problem.findings)

    @property
    def asked(self) -> tuple[str, ...]:
        """The foundations that the job has a table for, in a fixed order; the pad where it has none."""
        return tuple(name for name in FOUNDATIONS if name in self.model_fields_set) or ("pad",)

    @property
    def chosen(self) -> str:
        """The foundation that is ordered and set out: that of ``build``, else the first one asked for."""
        return self.build or self.asked[0]

    @property
    def unit(self) -> Unit:
        """The unit of bare numbers, in the job and in its notes."""
        return cast("Unit", self.units)

    @property
    def crew(self) -> Crew:
        """Who works, and when; the country is the one it names, the US in feet jobs."""
        return self.days.crew(self.site.country or ("US" if self.show.us else ""))

    @property
    def said(self) -> Form | None:
        """The form that the job asks to have lengths said in; None: as the notes were written."""
        return self.show.form if "show" in self.model_fields_set else None

    def saying(self, form: Form) -> Job:
        """The same job, said in another form."""
        return self.model_copy(update={"show": Display(self.unit, form)})
