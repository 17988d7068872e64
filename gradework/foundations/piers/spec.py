"""What the builder decides about his piers, with a default for everything that has a safe one."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from gradework.errors import Faults
from gradework.foundations.piers.layout import Along, RowLayout
from gradework.foundations.piers.stacks import course_plan
from gradework.foundations.piers.top_problem import GOALS, Goal
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND, BlockUnit
from gradework.foundations.timber.load_path import AreaLoads, Shell
from gradework.foundations.timber.wood import Section, Wood, section_of
from gradework.units.amounts import KPA_PER_PSF, M2_PER_FT2, M_PER_FT, M_PER_IN
from gradework.units.display import FEET

# Lengths in a fault about what was asked for, in both systems: whose job it is, is not known here.


def both_units(metres: float) -> str:
    """Write a length in metres, and in feet and inches.

    >>> both_units(0.1016)
    '0.1016 m (4")'
    """
    return f"{metres:g} m ({FEET.length(metres)})"


def note_beyond(faults: Faults, code: str, bounds: Iterable[tuple[float, str, float, float]]) -> None:
    """Note what is no length within its bounds: value, key of the job, least, most [m]."""
    for value, key, least, most in bounds:
        if not (math.isfinite(value) and least <= value <= most):
            faults.note(
                code,
                variant="range",
                about=(key,),
                key=key,
                value_given=both_units(value),
                least=both_units(least),
                most=both_units(most),
            )


def _even(length: float, step: float) -> float:
    """Give the next whole multiple of a step that is not below a length [m]."""
    return math.ceil(length / step - 1e-6) * step


SINGLE_STACK_LIMIT = 36.0 * M_PER_IN
"""A single stack stays below this [m] (24 CFR 3285.306(a), in the text of Maine Rule 890 D-VI; seen)."""

DOUBLE_STACK_LIMIT = 67.0 * M_PER_IN
"""A double stack reaches to this [m] (24 CFR 3285.306(b); seen; other sources say 48 or 80 in)."""


LEAST_FROST_DEPTH = 12.0 * M_PER_IN
"""Footings reach this far below undisturbed ground [m] (IRC R403.1.4; quoted)."""

FROST_ASKS, FROST_EXEMPTS = "IRC R403.1.4", "IRC R403.1.4.1 exception 1"
"""The clauses that ask for a depth and that excuse small buildings from it."""


@dataclass(frozen=True, slots=True)
class FloorBuildUp:
    """What lies on the piers, from the top of the stack up: skids, joists square to them, floor boards.

    ``boards`` [m]; joists ``joist_spacing`` apart [m] from middle to middle. ``wood`` is what both are made
    of. ``treated`` says that they are rated for ground contact (UC4A or better). Default sizes are
    4x4, 2x6 and 3/4 in boards (PS 20, partly from memory).
    """

    skid: Section = field(default_factory=lambda: section_of("4x4"))
    joist: Section = field(default_factory=lambda: section_of("2x6"))
    joist_spacing: float = 16.0 * M_PER_IN
    boards: float = 0.75 * M_PER_IN
    treated: bool = True
    wood: Wood = field(default_factory=Wood)

    @property
    def beam(self) -> float:
        """Give the depth of the skids [m]."""
        return self.skid.depth

    @property
    def joists(self) -> float:
        """Give the depth of the joists [m]."""
        return self.joist.depth

    @property
    def thickness(self) -> float:
        """Give the height from the top of the piers to the finished floor [m]."""
        return self.beam + self.joists + self.boards


@dataclass(frozen=True, slots=True)
class PierLoads:
    """What the building brings, per area [kPa], and what the ground may bear [kPa].

    Floor 40 psf (IRC Table R301.5, rooms; no class for sheds is published, stacked goods can exceed it), the
    least live load of a roof 20 psf (ASCE 7, IRC Table R301.6; memory). Dead loads, from table 3.2 of HUD's
    Residential Structural Design Guide (quoted): ``dead`` 10 psf of the floor, ``roof_dead`` 15 psf of a
    shingled roof with a ceiling, ``walls`` 8 psf of the face of a lined wall with lap siding. ``snow`` lies
    on the roof where the building stands: it differs from place to place, so none is taken until it is given;
    of roof and snow the larger counts. ``bearing`` 1 500 psf is the presumptive value for clay and silt, the
    default where nothing was tested (IRC Table R401.4.1, 24 CFR 3285.202; seen).
    """

    floor: float = 40.0 * KPA_PER_PSF
    roof: float = 20.0 * KPA_PER_PSF
    snow: float = 0.0
    dead: float = 10.0 * KPA_PER_PSF
    roof_dead: float = 15.0 * KPA_PER_PSF
    walls: float = 8.0 * KPA_PER_PSF
    bearing: float = 1500.0 * KPA_PER_PSF

    @property
    def areas(self) -> AreaLoads:
        """Give the loads as the load path takes them; roof and snow do not come together."""
        return AreaLoads(self.floor, self.dead, max(self.roof, self.snow), self.roof_dead, self.walls)


@dataclass(frozen=True, slots=True)
class FrostRule:
    """How deep frost goes [m], or None where it is not asked for, and whether small buildings are exempt.

    ``dig`` takes every hole down to that depth by choice, whether or not an exception would excuse it.
    Light-frame freestanding accessory buildings up to ``exempt_area`` with eaves up to ``exempt_eave`` need
    no frost protection (IRC R403.1.4.1 exception 1: 600 ft², 10 ft; quoted; local rules differ); one that
    leans on another building is not ``freestanding``.
    """

    depth: float | None = None
    dig: bool = False
    eave: float = 8.0 * M_PER_FT
    exempt_area: float = 600.0 * M2_PER_FT2
    exempt_eave: float = 10.0 * M_PER_FT
    freestanding: bool = True

    @property
    def asked(self) -> float:
        """Give the depth that is asked for [m]: that of frost, or the general rule where it is not given."""
        return LEAST_FROST_DEPTH if self.depth is None else self.depth

    def exempts(self, area: float) -> bool:
        """Say whether a building of ``area`` [m²] is small, low and by itself, as the exception asks."""
        return self.freestanding and area <= self.exempt_area and self.eave <= self.exempt_eave


@dataclass(frozen=True, slots=True)
class PierPrices:
    """Money for 1 m³ of compacted gravel in the bed, and for digging 1 m³ in place and getting rid of it.

    ``stone`` is 1 m³ of clean stone on the ground, ``fabric`` 1 m² under it, ``anchor`` one with its strap.

    The defaults are invented (January 2026) and say so wherever they are shown.
    """

    gravel: float = 60.0
    digging: float = 45.0
    invented: bool = True
    stone: float = 68.0
    fabric: float = 1.2
    anchor: float = 28.0


@dataclass(frozen=True, slots=True)
class PierSpec:
    """Everything the builder may decide about block piers on gravel beds.

    Attributes
    ----------
    units, pads
        The blocks on hand, with their sizes and prices; pads that may lie under a stack where it needs one.
    layout
        Rows and spacings of piers in rows.
    positions
        (name, x, y) [m] of each pier instead, in the site frame; empty: rows.
    goal
        "least money", "fewest units", "least digging" or "lowest floor": what the common top is best for.
    across
        2 for double piers all over; 1 doubles those that need it.
    margin
        Hole beyond the widest course all round [m].
    least_dig, deeper
        Bottom of a hole below its lowest ground [m] (the frost depth where ``frost`` says to dig to it and
        that is more), and how far below that a hole may go by choice [m].
    one_size
        Holes of one size for all piers, even where that costs more.
    hole_step
        The depth of a hole below its lowest ground is a whole multiple of this [m], its sides are of twice
        as much.
    bed_least, bed_most
        Thickness of the gravel bed [m].
    tallest
        Of a stack [m]; None takes the limit of plain stacks.
    clearance, top
        Top at least so far above the highest ground under the building [m] (2 in: air below the beams and
        room for shims; judgement, the published clearances are findings), or exactly at ``top`` [m].
    cheapest
        The top at which least is bought [m], once who knows what is sold has found it.
    floor, loads, shell, ridge, frost
        What lies on the piers, what it weighs [kPa], walls and roof over it, which way the ridge runs (as
        ``along`` of the layout), how deep frost goes [m].
    cover
        Fabric and clean stone on the ground under the floor.
    wind, anchor
        Design speed of the wind [m/s] and working load of one ground anchor with its strap [kN], each None
        where it is not known. Small shed augers hold 300 to 1 000 lb (memory).

    Raises
    ------
    InputError
        ``pier-spec-impossible``, with everything that is.

    Examples
    --------
    >>> spec = PierSpec(goal="fewest units", least_dig=0.2)
    >>> spec.goal, spec.least_dig, spec.across
    ('fewest units', 0.2, 1)
    """

    units: tuple[BlockUnit, ...] = UNITS_ON_HAND["US"]
    pads: tuple[BlockUnit, ...] = BASE_PADS["US"]
    layout: RowLayout = field(default_factory=lambda: RowLayout(draw_in=True))
    positions: tuple[tuple[str, float, float], ...] = ()
    goal: Goal = "least money"
    across: int = 1
    margin: float = 4.0 * M_PER_IN
    least_dig: float = 6.0 * M_PER_IN
    deeper: float = 6.0 * M_PER_IN
    one_size: bool = False
    hole_step: float = 0.5 * M_PER_IN
    bed_least: float = 4.0 * M_PER_IN
    bed_most: float = 6.0 * M_PER_IN
    tallest: float | None = None
    clearance: float = 2.0 * M_PER_IN
    top: float | None = None
    cheapest: float | None = None
    floor: FloorBuildUp = field(default_factory=FloorBuildUp)
    loads: PierLoads = field(default_factory=PierLoads)
    shell: Shell = field(default_factory=Shell)
    ridge: Along = "longer side"
    frost: FrostRule = field(default_factory=FrostRule)
    cover: bool = True
    wind: float | None = None
    anchor: float | None = None

    def __post_init__(self) -> None:
        faults = Faults()
        bounds = (
            (self.margin, "margin", 0.0, 2.0),
            (self.least_dig, "least_dig", 0.0, 3.0),
            (self.deeper, "deeper", 0.0, 3.0),
            (self.hole_step, "hole_step", 0.001, 0.1),
            (self.bed_least, "bed_least", 0.0, 2.0),
            (self.bed_most, "bed_most", min(self.bed_least, 2.0), 2.0),
            (self.stack_limit, "tallest", 0.01, 5.0),
            (self.clearance, "clearance", -1.0, 3.0),
        )
        note_beyond(faults, "pier-spec-impossible", bounds)
        if not (self.positions or faults.all):
            # so many piers as a spacing smaller than a hole asks for would take minutes to lay out
            for spacing, hole, key in (
                (self.layout.spacing, self.hole_size[0], "spacing"),
                (self.layout.row_spacing, self.hole_size[1], "row_spacing"),
            ):
                counted = key == "row_spacing" and self.layout.rows is not None
                if spacing is not None and 0.0 < spacing < hole and not counted:
                    faults.note(
                        "pier-spec-impossible",
                        variant="spacing",
                        about=(key,),
                        key=key,
                        value_given=both_units(spacing),
                        hole=both_units(hole),
                    )
        if self.across not in (1, 2):
            faults.note("pier-spec-impossible", variant="across", count=self.across)
        if self.goal not in GOALS:
            faults.note(
                "pier-spec-impossible",
                variant="goal",
                about=("goal",),
                goal=repr(self.goal),
                goals=", ".join(GOALS),
            )
        if self.top is not None and not math.isfinite(self.top):
            faults.note("pier-spec-impossible", variant="top", about=("top",), top=self.top)
        faults.raise_if_any()

    @property
    def stack_limit(self) -> float:
        """Give the tallest stack allowed of any pier [m]."""
        return self.limit_of(2) if self.tallest is None else self.tallest

    def limit_of(self, across: int) -> float:
        """Give the tallest stack [m] of single (1) or double (2) piers; ``tallest`` lifts no single one."""
        if across == 1:
            single = SINGLE_STACK_LIMIT - 0.1 * M_PER_IN
            return single if self.tallest is None else min(self.tallest, single)
        return DOUBLE_STACK_LIMIT if self.tallest is None else self.tallest

    @property
    def ways_across(self) -> tuple[int, ...]:
        """Give how wide a pier may be: single or double, or double only."""
        return (1, 2) if self.across == 1 else (2,)

    @property
    def on_hand(self) -> tuple[BlockUnit, ...]:
        """Give every unit a stack may hold: the blocks, and the pads that are not among them."""
        names = {unit.name for unit in self.units}
        return (*self.units, *(pad for pad in self.pads if pad.name not in names))

    @property
    def hole_depth(self) -> float:
        """Give how far every hole goes below its lowest ground at the least [m]."""
        least = max(self.least_dig, self.frost.asked) if self.frost.dig else self.least_dig
        return _even(least, self.hole_step)

    @property
    def hole_size(self) -> tuple[float, float]:
        """Give the plan of the smallest hole that one unit alone asks for, along and across the beams [m]."""
        plans = [course_plan(unit, self.across) for unit in self.units]
        return self.hole_of(min(plans, key=lambda plan: (plan[0] * plan[1], plan)))

    def hole_of(self, plan: tuple[float, float]) -> tuple[float, float]:
        """Give the plan of the hole for a stack of ``plan`` (along, across) [m]: the margin is all round."""
        step = 2.0 * self.hole_step
        return _even(plan[0] + 2.0 * self.margin, step), _even(plan[1] + 2.0 * self.margin, step)
