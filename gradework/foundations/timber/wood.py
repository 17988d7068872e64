"""Skids, beams and joists by size, species and grade: true sections, and what the wood may be asked to bear.

Stresses are allowable ones (working stress design) for a load duration factor of 1.0. The base values are
those of grade No 2 in the NDS Supplement: quoted for the three western species, from memory for southern
pine, for timbers and for 2x10 and 2x12; those of southern pine, and the formulas, give back published span
tables (``tests/published/test_timber_spans.py``). ``docs/loads.md`` has the figures with their sources.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce
from typing import NamedTuple

from gradework.units.amounts import KPA_PER_PSI, M_PER_IN
from gradework.units.numbers import QuantityError

# True inches by nominal inches, of dry dressed lumber (PS 20, partly from memory).
_TRUE = {2: 1.5, 4: 3.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25}

_ONE_PIECE = ("2x4", "2x6", "2x8", "2x10", "2x12", "4x4", "4x6", "4x8", "6x6")
"""Sizes whose strengths are known. Smaller in both sides counts as smaller."""

_WRITTEN = re.compile(
    r"(?:(?P<plies>[1-4])\s*-\s*)?(?P<wide>\d{1,3})\s*[x×]\s*(?P<deep>\d{1,3})(?P<mm>\s*mm)?"
)
_MM = 25  # a side above this many is millimetres: nobody sells a 2 mm board or a 30 in skid


@dataclass(frozen=True, slots=True)
class Section:
    """A member of ``plies`` boards side by side, each ``width`` by ``depth`` [m] (true sizes), on edge.

    ``name`` is how it is written; ``counted_as`` the size that its strengths are taken from.
    """

    name: str
    width: float
    depth: float
    plies: int = 1

    @property
    def breadth(self) -> float:
        """Give the width of all plies together [m]."""
        return self.width * self.plies

    @property
    def area(self) -> float:
        """Give the cross section [m²]."""
        return self.breadth * self.depth

    @property
    def modulus(self) -> float:
        """Give the section modulus [m³] about the axis across the depth."""
        return self.breadth * self.depth**2 / 6.0

    @property
    def inertia(self) -> float:
        """Give the second moment of area [m⁴]."""
        return self.breadth * self.depth**3 / 12.0

    def said(self, *, us: bool) -> str:
        """Say the size as the yard does: nominal inches, or true millimetres.

        >>> section_of("2-2x8").said(us=True), section_of("2-2x8").said(us=False)
        ('2-2x8', '2 x 38 x 184 mm')
        """
        if us:
            return self.name
        plies = f"{self.plies} x " if self.plies > 1 else ""
        return f"{plies}{self.width * 1000:.0f} x {self.depth * 1000:.0f} mm"

    @property
    def counted_as(self) -> Section:
        """Give the US size that this one is checked as: itself, or the stiffest one that it contains.

        Raises ``QuantityError`` where none of them fits into it.

        >>> section_of("100x100").counted_as.name, section_of("2-45x145").counted_as.name
        ('4x4', '2-2x6')
        """
        within = [
            one for one in US_SIZES if one.width <= self.width + 1e-6 and one.depth <= self.depth + 1e-6
        ]
        if not within:
            raise QuantityError(f"a section of {self.name}", _EXAMPLES, "give the strengths of the wood")
        best = max(within, key=lambda one: (one.modulus, one.depth))
        return best if self.plies == 1 else _us_size(best.name, self.plies)


def sized(width: float, depth: float) -> Section:
    """Give the section of a width and a depth [m], by its US name where it is one.

    >>> sized(0.0889, 0.1397).name, sized(0.089, 0.2).name
    ('4x6', '89x200')
    """
    for one in US_SIZES:
        if max(abs(one.width - width), abs(one.depth - depth)) < 1e-4:
            return one
    return Section(f"{width * 1000.0:.0f}x{depth * 1000.0:.0f}", width, depth)


_EXAMPLES = 'a size such as "4x4", "2-2x6" or "100x100"'


def _us_size(name: str, plies: int = 1) -> Section:
    wide, deep = (_TRUE[int(side)] * M_PER_IN for side in name.split("x"))
    return Section(f"{plies}-{name}" if plies > 1 else name, wide, deep, plies)


US_SIZES: tuple[Section, ...] = tuple(_us_size(name) for name in _ONE_PIECE)


def section_of(text: str) -> Section:
    """Read a size: US nominal inches ("4x4", "2-2x6": two plies) or true millimetres ("100x100").

    Raises ``QuantityError`` for anything else, and for US sizes whose strengths are not known.

    >>> round(section_of("4x4").modulus / M_PER_IN**3, 3)
    7.146
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise QuantityError(repr(text[:40]), _EXAMPLES, "write width x depth, as the board is sold")
    wide, deep, plies = int(match["wide"]), int(match["deep"]), int(match["plies"] or 1)
    if match["mm"] or max(wide, deep) > _MM:
        name = f"{plies}-{wide}x{deep}" if plies > 1 else f"{wide}x{deep}"
        if not (15 <= wide <= 300 and 40 <= deep <= 500):
            raise QuantityError(repr(text[:40]), _EXAMPLES, "write true millimetres, width first")
        return Section(name, wide / 1000.0, deep / 1000.0, plies)
    name = f"{wide}x{deep}"
    if name not in _ONE_PIECE or (plies > 1 and wide != 2):
        expected = f"one of {', '.join(_ONE_PIECE)}, or up to four plies of 2x"
        raise QuantityError(repr(text[:40]), expected, "write width x depth, on edge")
    return _us_size(name, plies)


class Strength(NamedTuple):
    """Allowable stresses [kPa]: ``bending``, ``shear``, ``bearing`` across the grain, and ``stiffness`` E."""

    bending: float
    shear: float
    bearing: float
    stiffness: float


LEAST = "least"
"""The weakest of the treated western species, each figure by itself: what is taken where none is told."""

GRADES = ("No 2",)

# Fb, Fv, Fc-perp, E [psi], grade No 2.
_WESTERN: Mapping[str, Strength] = {
    "douglas fir-larch": Strength(900, 180, 625, 1.6e6),
    "hem-fir": Strength(850, 150, 405, 1.3e6),
    "spruce-pine-fir": Strength(875, 135, 425, 1.4e6),
}
_TIMBER: Mapping[str, Strength] = {
    "douglas fir-larch": Strength(750, 170, 625, 1.3e6),
    "southern pine": Strength(850, 165, 375, 1.2e6),
    "hem-fir": Strength(575, 140, 405, 1.1e6),
    "spruce-pine-fir": Strength(500, 125, 425, 1.0e6),
}
_PINE = Strength(0, 175, 565, 1.4e6)
_PINE_BENDING = {4: 1100, 6: 1000, 8: 925, 10: 800, 12: 750}  # by nominal depth, size factor inside
_SIZE = {"2x4": 1.5, "2x6": 1.3, "2x8": 1.2, "2x10": 1.1, "2x12": 1.0, "4x4": 1.5, "4x6": 1.3, "4x8": 1.3}

SPECIES = (LEAST, "southern pine", *_WESTERN)

REPETITIVE = 1.15
"""Three or more members at most 24 in apart share what one cannot bear [-] (NDS 4.3.9, quoted)."""

_DRY_ENOUGH = 1150.0  # [psi] wet wood bends as dry wood does where Fb times the size factor is below this
_WET = Strength(0.85, 0.97, 0.67, 0.90)
_INCISED = Strength(0.80, 0.80, 1.0, 0.95)


def strength_of(
    section: Section, species: str = LEAST, *, wet: bool = True, incised: bool = True, shared: bool = False
) -> Strength:
    """Give the allowable stresses of a US size of grade No 2 [kPa].

    ``wet``: it may hold more than 19 % of water, as under an open floor. ``incised``: cut by the treatment,
    as the western species are (never southern pine, never 6x6). ``shared``: one of three or more joists.
    Raises ``KeyError`` for a size or a species that is not known.

    >>> pine = strength_of(section_of("4x4"), "southern pine")
    >>> round(pine.bending / KPA_PER_PSI), round(pine.bearing / KPA_PER_PSI, 1)
    (1100, 378.6)
    """
    if species == LEAST:
        each = [strength_of(section, one, wet=wet, incised=incised, shared=shared) for one in _WESTERN]
        return reduce(lambda a, b: Strength(*map(min, a, b)), each)
    size = section.name.rpartition("-")[2]
    psi = _timber(species, wet=wet) if size == "6x6" else _lumber(size, species, wet=wet, incised=incised)
    psi = psi._replace(bending=psi.bending * (REPETITIVE if shared else 1.0))
    return Strength(*(KPA_PER_PSI * stress for stress in psi))


def _timber(species: str, *, wet: bool) -> Strength:
    """Wet timbers bend and shear as dry ones; those of southern pine are listed wet (375 is 565 x 0.67)."""
    base = _TIMBER[species]
    softer = wet and species != "southern pine"
    return base._replace(bearing=base.bearing * (_WET.bearing if softer else 1.0))


def _lumber(size: str, species: str, *, wet: bool, incised: bool) -> Strength:
    if species == "southern pine":
        psi = _PINE._replace(bending=float(_PINE_BENDING[int(size.split("x")[1])]))
    else:
        base = _WESTERN[species]
        psi = base._replace(bending=base.bending * _SIZE[size])
    factors = [_INCISED] if incised and species != "southern pine" else []
    if wet:
        factors.append(_WET._replace(bending=1.0) if psi.bending <= _DRY_ENOUGH else _WET)
    return reduce(lambda stress, by: Strength(*map(math.prod, zip(stress, by, strict=True))), factors, psi)


class Wood(NamedTuple):
    """What a member is made of: a ``species`` of grade No 2, or its own allowable stresses (``own``)."""

    species: str = LEAST
    own: Strength | None = None

    def sized(self, section: Section, *, shared: bool = False) -> tuple[Section, Strength]:
        """Give the section that is reckoned with, and its strength; one with its own strengths is itself."""
        if self.own is not None:
            return section, self.own
        counted = section.counted_as
        return counted, strength_of(counted, self.species, shared=shared)
