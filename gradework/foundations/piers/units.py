"""The concrete units a builder can buy: true size, weight, price, and where in a pier each may stand.

Stacks are dry, so only the true thickness counts: a "nominal" size includes the mortar joint nobody makes.
The lists are defaults by the published nominal and actual rules; a supplier's own list replaces them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from gradework.earthwork.conditions import Status
from gradework.errors import Faults
from gradework.units.amounts import KG_PER_LB, M3_PER_FT3, M_PER_IN

MORTAR_JOINT = 0.375 * M_PER_IN
"""The joint that a nominal size includes [m] (ASTM C90 and NCMA TEK 2, quoted by several)."""

CONCRETE_DENSITY = 130.0 * KG_PER_LB / M3_PER_FT3
"""Normal-weight block concrete [kg/m³]: the middle of 125 to 135 lb/ft³ (ASTM C90: normal is 125 and up)."""

MEASURED = "measured on delivery"
"""The source of a block whose height was measured."""

HOLLOW_SOLID_PART = 0.515
"""Concrete in a two-core hollow block [-]: the middle of 50 to 53 %, common practice, no source."""

_THICKEST = 1.0
_LARGEST = 3.0

_Size = tuple[float, float, float]
"""Thickness, length, width."""


@dataclass(frozen=True, slots=True)
class BlockUnit:
    """One kind of block, brick or concrete pad as it is laid in a pier.

    ``thickness`` is the height it adds to a dry stack [m]; ``length`` and ``width`` its plan [m]; ``mass``
    [kg]; ``price`` each, in the user's money. ``hollow`` units have open cells: a stack that holds one must
    end in a unit that ``may_cap``. ``may_carry`` False keeps a unit for the top, one in each stack. A unit
    ``only_base`` lies at the bottom of the stack, one in each. ``most`` limits its courses in one stack.
    ``delivered`` is how many there are, None where they were not counted.
    Raises ``InputError`` with every impossible figure.
    """

    name: str
    thickness: float
    length: float
    width: float
    mass: float
    price: float
    hollow: bool = False
    may_carry: bool = True
    may_cap: bool = True
    only_base: bool = False
    most: int | None = None
    delivered: int | None = None
    source: str = "given by the user"
    status: Status = "judgement"

    def __post_init__(self) -> None:
        faults, name = Faults(), repr(self.name)
        for value, what, most in (
            (self.thickness, "thickness", _THICKEST),
            (self.length, "length", _LARGEST),
            (self.width, "width", _LARGEST),
            (self.mass, "weight", 1000.0),
        ):
            if not (math.isfinite(value) and 0.0 < value <= most):
                faults.note(
                    "block-unit-impossible",
                    variant="size",
                    unit=name,
                    what=what,
                    figure=f"{value:g}",
                    most=f"{most:g}",
                )
        if not (math.isfinite(self.price) and self.price >= 0.0):
            faults.note("block-unit-impossible", variant="price", unit=name, figure=f"{self.price:g}")
        if self.hollow and (self.may_cap or not self.may_carry):
            faults.note("block-unit-impossible", variant="hollow", unit=name)
        if not self.may_carry and not self.may_cap:
            faults.note("block-unit-impossible", variant="idle", unit=name)
        if self.only_base and not self.may_carry:
            faults.note("block-unit-impossible", variant="base", unit=name)
        if self.most is not None and self.most < 1:
            faults.note("block-unit-impossible", variant="most", unit=name, figure=self.most)
        faults.raise_if_any()

    @property
    def least_side(self) -> float:
        """Give the smaller plan dimension [m], the one that stack heights are limited by."""
        return min(self.length, self.width)

    @property
    def density(self) -> float:
        """Give the mass of a unit by its outer size [kg/m³], open cells and all."""
        return self.mass / (self.thickness * self.length * self.width)

    @property
    def most_in_stack(self) -> int | None:
        """Give how many courses of this unit one stack may hold; None is any number."""
        return 1 if self.only_base or not self.may_carry else self.most


def actual_size(nominal: float) -> float:
    """Give the true size [m] of a unit sold by its nominal size [m]: one 3/8 in joint less.

    >>> round(actual_size(8 * M_PER_IN) / M_PER_IN, 3)
    7.625
    """
    return nominal - MORTAR_JOINT


def solid_mass(thickness: float, length: float, width: float, solid_part: float = 1.0) -> float:
    """Give the calculated mass [kg] of a unit of normal-weight concrete from its true size [m]."""
    return thickness * length * width * solid_part * CONCRETE_DENSITY


def _unit(
    name: str, size: _Size, price: float, source: str, status: Status, *, hollow: bool = False, **places: bool
) -> BlockUnit:
    """A unit of normal-weight concrete by its true size [m]; open cells make no cap."""
    mass = solid_mass(*size, HOLLOW_SOLID_PART if hollow else 1.0)
    places = {"hollow": True, "may_cap": False} if hollow else places
    return BlockUnit(name, *size, mass, price, source=source, status=status, **places)


def _nominal(name: str, inches: _Size, price: float, **places: bool) -> BlockUnit:
    thickness, length, width = (actual_size(size * M_PER_IN) for size in inches)
    source = "ASTM C90 nominal less 3/8 in; plants differ, measure one; weight calculated"
    return _unit(name, (thickness, length, width), price, source, "quoted", **places)


def _metric(name: str, mm: _Size, price: float, **places: bool) -> BlockUnit:
    thickness, length, width = (size / 1000.0 for size in mm)
    source = "BS EN 771-3 or AS/NZS 4455 work size; weight calculated"
    return _unit(name, (thickness, length, width), price, source, "memory", **places)


_LISTS = {
    # A 2 in solid is too thin to cap open cells: the published cap is 4 in (24 CFR 3285.304(b), seen).
    "US": (
        _nominal("8 in hollow block", (8, 16, 8), 2.60, hollow=True),
        _nominal("4 in solid block", (4, 16, 8), 2.40),
        _nominal("2 in solid block", (2, 16, 8), 1.70, may_cap=False),
    ),
    "UK": (
        _metric("140 mm dense block", (140, 440, 215), 2.90),
        _metric("100 mm dense block", (100, 440, 215), 2.10),
        _metric("50 mm slab", (50, 450, 450), 4.20),
    ),
    "AU": (
        _metric("190 mm hollow block", (190, 390, 190), 4.10, hollow=True),
        _metric("90 mm solid block", (90, 390, 190), 3.60),
        _metric("40 mm paver", (40, 400, 200), 3.10, may_cap=False),
    ),
}

UNITS_ON_HAND: Mapping[str, tuple[BlockUnit, ...]] = MappingProxyType(_LISTS)
"""Default units by country. Sizes have sources; the prices are invented (January 2026)."""

BASE_PAD = _nominal("16 in concrete pad", (4, 16, 16), 11.50, only_base=True)
"""A 16 x 16 x 4 in pad under a stack; heavier than one person should lift (materials: 64 to 69 lb)."""

_PADS = {
    "US": (
        BASE_PAD,
        _nominal("20 in concrete pad", (4, 20, 20), 18.00, only_base=True),
        _nominal("24 in concrete pad", (4, 24, 24), 26.00, only_base=True),
    ),
    "UK": (
        _metric("450 mm base slab", (50, 450, 450), 4.20, only_base=True),
        _metric("600 mm base slab", (50, 600, 600), 8.90, only_base=True),
    ),
    "AU": (
        _metric("400 mm base paver", (40, 400, 400), 7.50, only_base=True),
        _metric("600 mm base paver", (50, 600, 600), 16.00, only_base=True),
    ),
}

BASE_PADS: Mapping[str, tuple[BlockUnit, ...]] = MappingProxyType(_PADS)
"""Pads that may lie under any stack, by country: 16, 20 and 24 in (24 CFR 3285.312, seen), paving slabs and
pavers as sold in metres (memory); the prices are invented (January 2026)."""
