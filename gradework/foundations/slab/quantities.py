"""What a slab takes besides the earthwork: concrete, its thickened edge, joints, vapor barrier and mesh."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.earthwork.rings import half_turns
from gradework.foundations.buying.strips import Sold, angles_of, lay
from gradework.units.amounts import KG_PER_LB, M3_PER_FT3, M3_PER_YD3, M_PER_FT, M_PER_IN
from gradework.units.display import counted

# Concrete: bags by mass against ready-mix with its steps and short-load charge.

BAG_YIELD = 0.0075 * M3_PER_FT3 / KG_PER_LB
"""Concrete from 1 kg of dry bagged mix [m³/kg]: 0.0075 ft³ per lb, all sources agree (ASTM C387; quoted)."""

CONCRETE_DENSITY = 2400.0
"""Wet ready-mix concrete [kg/m³] (common practice, no source)."""

DEFAULT_WASTE = 0.10
"""Allowance on concrete [-]: published 3 to 10 %, small jobs on hand-graded ground at the high end."""


@dataclass(frozen=True, slots=True)
class ConcreteSale:
    """How concrete is sold: a bag of ``bag`` [kg] at ``bag_price``; ready-mix at ``mix_price`` per m³.

    Ready-mix comes in steps of ``mix_step`` [m³]; a load under ``short_load`` [m³] costs ``short_charge``
    more. Steps of 1/4 yd³ and a charge below 3 yd³ are suppliers' habits (memory). The prices are invented
    (January 2026).
    """

    bag: float = 80.0 * KG_PER_LB
    bag_price: float = 6.80
    mix_price: float = 235.0
    mix_step: float = 0.25 * M3_PER_YD3
    short_load: float = 3.0 * M3_PER_YD3
    short_charge: float = 120.0


@dataclass(frozen=True, slots=True)
class Concrete:
    """What to buy for a volume in place: ``needed`` [m³] with waste, and both ways to buy it."""

    volume: float
    needed: float
    bags: int
    bags_mass: float
    bags_cost: float
    mix: float
    mix_cost: float
    short: bool

    @property
    def cheaper(self) -> Literal["bags", "ready-mix"]:
        """Say which costs less; bags where both cost the same."""
        return "bags" if self.bags_cost <= self.mix_cost else "ready-mix"

    @property
    def cost(self) -> float:
        """Give the money for the cheaper way."""
        return min(self.bags_cost, self.mix_cost)


def bag_yield(mass: float) -> float:
    """Give the concrete that a bag of concrete mix makes [m³] from its mass [kg]; lightweight mixes differ.

    >>> round(bag_yield(36.287) * 1000, 1)
    17.0
    """
    return mass * BAG_YIELD


def bags_for(needed: float, bag: float) -> int:
    """Count the bags of ``bag`` [kg] for ``needed`` concrete [m³], always up.

    >>> bags_for(0.0, 36.287)
    0
    """
    return math.ceil(needed / bag_yield(bag) - 1e-9)


def buy_concrete(volume: float, waste: float, sale: ConcreteSale) -> Concrete:
    """Work out both ways to buy ``volume`` [m³] of concrete with an allowance ``waste`` [-]."""
    needed = volume * (1.0 + waste)
    bags = bags_for(needed, sale.bag)
    mix = math.ceil(needed / sale.mix_step - 1e-9) * sale.mix_step
    short = 0.0 < mix < sale.short_load - 1e-9
    mix_cost = mix * sale.mix_price + (sale.short_charge if short else 0.0)
    return Concrete(volume, needed, bags, bags * sale.bag, bags * sale.bag_price, mix, mix_cost, short)


# The thickened edge of a slab: its concrete by the formula of mitred strips.

Floats = NDArray[np.float64]


def rib_volume(outline: Outline, *, depth: float, width: float, slope: float = 1.0) -> float:
    """Give the concrete below the slab in its thickened edge [m³]: ``width`` [m] at the bottom, mitred
    corners.

    ``depth`` [m] is from the underside of the slab down; ``slope`` is run over rise of the inner face.
    Holes of the outline get an edge too. Exact for outlines whose corners do not meet: the area within a
    distance r of the sides is perimeter x r - k r², k being the sum of the tangents of half the turns.
    Raises ``ValueError`` where the edges of opposite sides would meet.
    """
    if depth <= 0.0:
        return 0.0
    perimeter, turns = outline.perimeter, sum(float(half_turns(ring).sum()) for ring in outline.rings)
    reach = width + slope * depth
    left = outline.area - perimeter * reach + turns * reach**2
    if left <= 0.0 or perimeter - 2.0 * turns * reach <= 0.0:
        raise ValueError(f"edges {reach:g} m wide would meet in the middle of the slab")
    spread = slope * depth
    bottom = perimeter * width - turns * width**2
    return depth * (bottom + spread * (0.5 * perimeter - turns * width) - turns * spread**2 / 3.0)


# Where a plain slab is cut, so that it cracks there and not elsewhere.

LEAST_FACTOR, MOST_FACTOR = 24.0, 36.0
"""Joint spacing over thickness of plain slabs [-] (ACI 302.1R-96 in a trade magazine; quoted)."""

MOST_SPACING = 18.0 * M_PER_FT
"""No spacing above this [m] (the same)."""

DEPTH_PART = 0.25
"""Depth of a joint over thickness [-] (ACI 302 and NRMCA CIP 6; the figure is from memory)."""


@dataclass(frozen=True, slots=True)
class Joints:
    """Panels along and across; joints ``depth`` deep, ``length`` on the slab in all, ``spacing`` the widest
    panel [m]; ``corners`` counts the inward corners, each of which has joints through it."""

    along: int
    across: int
    spacing: float
    depth: float
    length: float
    corners: int = 0


def spacing_range(thickness: float) -> tuple[float, float]:
    """Give the published range of joint spacing [m] for a thickness [m].

    >>> tuple(round(s / 0.3048, 6) for s in spacing_range(4 * 0.0254))
    (8.0, 12.0)
    """
    return min(LEAST_FACTOR * thickness, MOST_SPACING), min(MOST_FACTOR * thickness, MOST_SPACING)


def plan_joints(rings: Sequence[Floats], thickness: float) -> Joints:
    """Divide a slab, its rings (k, 2) in the frame of its first side [m], into panels no wider than the
    middle of the published range.

    Joints run through every inward corner both ways, since a slab cracks from there, and count only where
    they lie on the slab.
    """
    low, high = spacing_range(thickness)
    most, inward = 0.5 * (low + high), inward_corners(rings)
    slab = shapely.Polygon(rings[0], rings[1:]).buffer(-ROUNDING_SIDE)  # a side is no joint
    length, counts, widest = 0.0, [], 0.0
    for axis in (0, 1):
        marks = _marks(rings[0][:, axis], inward[:, axis], most)
        counts.append(len(marks) - 1)
        widest = max([widest, *(after - before for before, after in pairwise(marks))])
        across = float(rings[0][:, 1 - axis].min()) - 1.0, float(rings[0][:, 1 - axis].max()) + 1.0
        for at in marks[1:-1]:
            ends = [(at, far) if axis == 0 else (far, at) for far in across]
            length += slab.intersection(shapely.LineString(ends)).length
    return Joints(counts[0], counts[1], widest, DEPTH_PART * thickness, length, len(inward))


def inward_corners(rings: Sequence[Floats]) -> Floats:
    """Give the corners (n, 2) where the outside of an outline reaches into it; those of its holes all do."""
    ring = rings[0]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    x, y = ring[:, 0], ring[:, 1]
    turn = np.sign(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    bend = turn * (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    sharp = bend < -1e-6 * np.hypot(*before.T) * np.hypot(*after.T)
    return np.concatenate([ring[sharp], *rings[1:]])


def _marks(reach: Floats, inward: Floats, most: float) -> list[float]:
    """Where joints cross one axis, the ends included [m]: at inward corners, and evenly between them."""
    low, high = float(reach.min()), float(reach.max())
    fixed = [low]
    for at in sorted(inward.tolist()):
        if at - fixed[-1] > ROUNDING_SIDE and high - at > ROUNDING_SIDE:
            fixed.append(at)
    marks = [low]
    for start, end in pairwise([*fixed, high]):
        count = max(1, math.ceil((end - start) / most - 1e-9))
        marks += [start + (end - start) * number / count for number in range(1, count)] + [end]
    return marks


ROUNDING_SIDE = 1e-6
"""[m] A joint this near to a side is the side."""


# Sheets that cover a slab with laps: vapor barrier below it, mesh in it.


@dataclass(frozen=True, slots=True)
class SheetKind:
    """A sheet or roll [m]: ``width`` and ``length`` as sold, ``lap`` where two meet and its source."""

    name: str
    width: float
    length: float
    lap: float
    lap_source: str


FILM_US = SheetKind("10 mil poly", 10 * M_PER_FT, 100 * M_PER_FT, 6 * M_PER_IN, "6 in, IBC 1910.1 (quoted)")
MESH_US = SheetKind(
    "6x6 W1.4xW1.4 mesh",
    5 * M_PER_FT,
    10 * M_PER_FT,
    8 * M_PER_IN,
    "one mesh and 2 in, ACI 318 practice (memory)",
)


@dataclass(frozen=True, slots=True)
class Covering:
    """How a slab is covered: strips side by side, which follow its outline.

    ``runs`` are their lengths [m]; ``cuts`` gives for each the pieces it is laid of, in order, laps included
    [m]; ``pieces`` counts the sheets or rolls they are cut from, the fewest there can be with strips so.
    """

    kind: SheetKind
    runs: tuple[float, ...]
    cuts: tuple[tuple[float, ...], ...]
    pieces: int

    @property
    def strips(self) -> int:
        """Give the number of strips."""
        return len(self.cuts)

    @property
    def bought(self) -> float:
        """Give the area of whole sheets or rolls [m²]."""
        return self.pieces * self.kind.width * self.kind.length

    @property
    def area(self) -> float:
        """Give the area of all that is laid, with its laps [m²]."""
        return math.fsum(piece for cut in self.cuts for piece in cut) * self.kind.width


def cover(outline: Outline, kind: SheetKind, *, turn_up: float = 0.0, inset: float = 0.0) -> Covering:
    """Cover an outline along or square to a side of it, so that fewest sheets, then least length is laid.

    ``turn_up`` [m] is added at every edge, ``inset`` [m] left free there. Nothing left needs nothing.

    >>> cover(Outline.rectangle((0.0, 0.0), (3.6576, 3.048)), FILM_US).strips
    1
    """
    whole = shapely.Polygon(outline.rings[0], outline.rings[1:])
    plan = whole.buffer(turn_up - inset, join_style="mitre", mitre_limit=10.0)
    if plan.is_empty:
        return Covering(kind, (), (), 0)
    laid = lay(plan, Sold(kind.width, kind.length, kind.lap), angles_of(outline.rings[0]))
    return Covering(kind, laid.runs, laid.cuts, laid.pieces)


def strips_told(runs: Sequence[float], show: Callable[[float], str]) -> str:
    """Say strips by their lengths, longest first.

    >>> strips_told([2.0, 6.0, 2.0], "{:g} m".format)
    '1 strip of 6 m, 2 strips of 2 m'
    """
    counts = Counter(show(run) for run in sorted(runs, reverse=True))
    return ", ".join(f"{counted(count, 'strips')} of {length}" for length, count in counts.items())
