"""Where the soil goes that is dug: back, under aprons, topsoil onto what was shaped, spread, hauled away.

Topsoil, what lies below it and what comes out of swales and drains are kept apart, each in the pile that it
is used from. All amounts are in place, as they lay in the ground; what is spread or hauled is loose and
takes up more room.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, NamedTuple

from gradework.errors import CheckError
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.foundations.piers.plan import Piers
from gradework.sitework.heaped import heaped
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.grading.spread import Patch
    from gradework.earthwork.materials import Soil
    from gradework.foundations.slab.design import Slab
    from gradework.sitework.roof_water import RoofWater
    from gradework.units.display import Display

Kind = Literal["topsoil", "subsoil", "swale"]

Held = Literal[
    "", "not asked", "no room", "falls", "water", "uphill",
    "off the survey", "at what is built", "near others", "leads water",
]  # fmt: skip
"""Why soil is not spread: the job says so; there is no room for it; with it the ground would no longer fall
from a wall, or would hold water back; the area that is given lies where nothing may, or too high."""

RELAID, RELAID_METRIC = 3.0 * M_PER_IN, 0.075
"""[m] Topsoil goes back so deep, loose, over what was cut or shaped (common practice: 3 in over bare ground
that is seeded, 4 to 6 in under a new lawn)."""


_LEFT: tuple[Literal["spread"], Literal["hauled"], Literal["heap"]] = ("spread", "hauled", "heap")

CLOSES = 1e-9
"""[-] What was dug and what became of it agree to this part."""


@dataclass(frozen=True, slots=True)
class Pile:
    """One kind of soil [m³ in place]: what was ``dug``; of it what goes ``back`` where it came from or makes
    fill, is ``heaped`` as an apron, ``relaid`` on shaped ground, ``spread``, ``hauled`` away, or stays in a
    ``heap`` since nothing is hauled."""

    kind: Kind
    dug: float
    back: float = 0.0
    heaped: float = 0.0
    relaid: float = 0.0
    spread: float = 0.0
    hauled: float = 0.0
    heap: float = 0.0

    @property
    def placed(self) -> float:
        """What finds a place for good on the site."""
        return self.back + self.heaped + self.relaid + self.spread

    @property
    def left(self) -> float:
        """What is still to be spread, hauled or heaped; next to nothing is nothing."""
        left = self.dug - self.placed - self.hauled - self.heap
        return left if left > CLOSES * max(self.dug, CLOSES) else 0.0

    def closed(self) -> Pile:
        """The pile once all of it has a place. Raises ``CheckError`` where it has not."""
        amounts = (self.back, self.heaped, self.relaid, self.spread, self.hauled, self.heap)
        off = self.dug - math.fsum(amounts)
        if min(amounts) < -CLOSES or not abs(off) <= CLOSES * max(1.0, self.dug):
            raise CheckError(f"{self.dug!r} m³ of {self.kind} dug, {math.fsum(amounts)!r} m³ found a place")
        return self


class Dug(NamedTuple):
    """What a foundation digs [m³ in place] and what of it goes back: ``topsoil`` and ``subsoil`` below it,
    ``back`` of the subsoil, ``beside`` for swales, drains and roof water and ``beside_back`` of that;
    ``to_heap`` what ``heap_own`` and ``heap_pad`` take of the soil beside it and of the rest; ``cut`` and
    ``filled`` [m²] the ground that was dug down or heaped up and lies bare."""

    topsoil: float
    subsoil: float
    back: float
    beside: float = 0.0
    beside_back: float = 0.0
    heap_own: float = 0.0
    heap_pad: float = 0.0
    cut: float = 0.0
    filled: float = 0.0


def dug_for(
    built: Pad | Piers | Slab, measures: Sequence[Led], roof: RoofWater | None, bed: float = 0.0
) -> Dug:
    """Give what is dug for a foundation, with what is dug beside it (``measures``), for its ``roof``, and for
    the stone ``bed`` of steps [m³]."""
    cut, back = (bed, 0.0) if roof is None else (roof.cut + bed, roof.back)
    if isinstance(built, Piers):
        sod = built.cover.strip if built.cover else 0.0
        return Dug(sod, built.dug - sod, built.back, cut, back)
    slopes = None
    if isinstance(built, Pad):
        own, edge, area, compaction = built.chosen, built.edge, built.pieces.area, built.spec.compaction
        slopes = edge.slopes if isinstance(edge, BatteredEdge) else None
        strip = built.spec.strip * (area + (slopes.fill_area if slopes else 0.0))
        strip, dug, left = min(strip, own.dug), own.dug, own.hauled
    else:
        strip, dug, left = built.dig - built.subsoil, built.dig, built.hauled
        compaction = built.spec.soil.compaction.value
    heap = heaped(measures, compaction, left)
    shaped = [(one.bare, _cut_share(one)) for one in measures]
    return Dug(
        strip,
        dug - strip,
        dug - left,
        sum(one.cut for one in measures) + cut,
        back,
        heap.own,
        heap.pad,
        sum(bare * share for bare, share in shaped) + (slopes.cut_area if slopes else 0.0),
        sum(bare * (1.0 - share) for bare, share in shaped),
    )


def _cut_share(made: Led) -> float:
    """Which part of the ground that it shapes is dug down."""
    ground = made.ground
    whole = ground.cut_area + ground.fill_area
    return ground.cut_area / whole if whole > 0.0 else 1.0


@dataclass(frozen=True, slots=True)
class Placed:
    """The piles before anything is spread, and the ground [m²] on which topsoil is ``relaid``; ``deeper``
    [m³ in place] is dug below what is drawn, to make room for it; ``shaped`` [m²] lies bare then."""

    piles: tuple[Pile, Pile, Pile]
    relaid: float = 0.0
    deeper: float = 0.0
    shaped: float = 0.0

    @property
    def left(self) -> float:
        """All that is left over [m³ in place]."""
        return math.fsum(one.left for one in self.piles)


def placed(dug: Dug, soil: Soil, *, us: bool) -> Placed:
    """Put soil where it is needed first: back, under aprons, topsoil onto bare ground.

    Topsoil caps what is heaped, and is laid on what is cut down; there it is dug deeper by as much, so that
    the ground comes out as drawn. Raises ``CheckError`` where more goes back than was dug.

    A strip of 18 by 14 ft, 4 in deep, is 3.11 yd³ in place and covers 420 sq ft of cut ground again, 3 in
    deep, which is dug deeper by those 3 in:

    >>> from gradework.earthwork.materials import DEFAULT_SOIL
    >>> ft, yd3 = 0.3048, 0.9144**3
    >>> done = placed(Dug(18 * 14 / 3 * ft**3, 0.0, 0.0, cut=1e3), DEFAULT_SOIL, us=True)
    >>> round(done.piles[0].relaid / yd3, 2), round(done.relaid / ft**2), round(done.deeper / yd3, 2)
    (3.11, 420, 3.89)
    """
    deep, swell = (RELAID if us else RELAID_METRIC), soil.swell.value
    # the cap of what is heaped is topsoil, as far as it takes soil from elsewhere at all
    cap = min(dug.filled * deep / swell, dug.heap_pad, dug.topsoil)
    of_subsoil = min(dug.heap_pad - cap, max(dug.subsoil - dug.back, 0.0))
    from_top = dug.heap_pad - of_subsoil
    relaid = min(dug.cut * deep / swell, max(dug.topsoil - from_top, 0.0))
    area = relaid * swell / deep
    deeper = area * deep
    topsoil = Pile("topsoil", dug.topsoil, heaped=from_top, relaid=relaid)
    subsoil = Pile("subsoil", dug.subsoil, back=dug.back, heaped=of_subsoil)
    swale = Pile("swale", dug.beside + deeper, back=dug.beside_back, heaped=dug.heap_own)
    for one in (topsoil, subsoil, swale):
        if one.placed > one.dug + CLOSES * max(1.0, one.dug):
            raise CheckError(f"{one.placed!r} m³ of {one.kind} are placed, {one.dug!r} m³ were dug")
    return Placed((topsoil, subsoil, swale), area, deeper, dug.cut + dug.filled)


_FATES = (
    ("dug", "dug"), ("goes back", "back"), ("under aprons", "heaped"), ("topsoil on top", "relaid"),
    ("spread", "spread"), ("hauled", "hauled"), ("in a heap", "heap"),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class SoilPlan:
    """Where the soil of one foundation goes.

    ``piles`` hold it by kind, closed; ``patches`` where it is spread, ``thick`` at the most; ``relaid`` [m²]
    the ground that topsoil goes back on, for which ``deeper`` [m³ in place] is dug; ``shaped`` [m²] all that
    is dug or heaped bare; ``held``: why nothing, or less than there is, is spread ("" where all of it is).
    """

    soil: Soil
    piles: tuple[Pile, ...]
    patches: tuple[Patch, ...] = ()
    relaid: float = 0.0
    deeper: float = 0.0
    shaped: float = 0.0
    held: Held = ""

    def __repr__(self) -> str:
        words = ", ".join(f"{one.kind} {one.dug:.2f} m³" for one in self.piles if one.dug)
        return f"<SoilPlan: {words or 'nothing dug'}; {self.hauled:.2f} m³ hauled>"

    def sum_of(self, what: Literal["dug", "back", "heaped", "relaid", "spread", "hauled", "heap"]) -> float:
        """Give an amount of all piles together [m³ in place]."""
        return math.fsum(getattr(one, what) for one in self.piles)

    @property
    def hauled(self) -> float:
        """What is hauled away [m³ in place]."""
        return self.sum_of("hauled")

    def check_left(self, known: float) -> None:
        """Raise ``CheckError`` unless as much is left over as is ``known`` otherwise [m³ in place], where no
        topsoil goes back and nothing is dug deeper for it."""
        left = math.fsum(self.sum_of(what) for what in _LEFT)
        known += self.deeper - self.sum_of("relaid")
        if not abs(left - known) <= CLOSES * max(1.0, self.sum_of("dug")):
            raise CheckError(f"{left!r} m³ of soil are left over, the order knew of {known!r} m³")

    @property
    def deep(self) -> float:
        """How deep topsoil goes back, and so much is dug below what is drawn there [m]; 0 where none does."""
        return self.deeper / self.relaid if self.relaid > 0.0 else 0.0

    @property
    def hauled_loose(self) -> float:
        """What is hauled away as it lies on the truck [m³]."""
        return self.hauled * self.soil.swell.value

    @property
    def by_fate(self) -> tuple[tuple[str, tuple[float, ...]], ...]:
        """What becomes of soil, in words, and how much of each pile does [m³ in place]."""
        return tuple((word, tuple(float(getattr(one, key)) for one in self.piles)) for word, key in _FATES)

    @property
    def told(self) -> tuple[tuple[str, float, float], ...]:
        """The same in single amounts, "topsoil, spread", in place and loose [m³]; none of nothing."""
        return tuple(
            (f"{one.kind}, {word}", amount, amount * self.soil.swell.value)
            for word, amounts in self.by_fate
            for one, amount in zip(self.piles, amounts, strict=True)
            if amount > CLOSES
        )

    @property
    def bare(self) -> float:
        """The ground that is to be seeded [m²]: what is shaped, and what soil is spread on."""
        return self.shaped + math.fsum(one.area for one in self.patches)


_FIRST: tuple[Kind, ...] = ("topsoil", "swale", "subsoil")
"""What is spread first, if there is not room for all: what grass grows in."""


def spread_and_hauled(
    done: Placed, soil: Soil, patches: Sequence[Patch], *, haul: bool = True, held: Held = ""
) -> SoilPlan:
    """Fill the ``patches`` with what is left, topsoil first; the rest is hauled, or stays in a heap where
    nothing is. Raises ``CheckError`` where the patches hold more than is left."""
    room = math.fsum(one.volume for one in patches) / soil.swell.value
    by_kind = {one.kind: one for one in done.piles}
    for kind in _FIRST:
        own = by_kind[kind]
        rest = own.left - min(room, own.left)
        rest = rest if rest > CLOSES * max(1.0, own.dug) else 0.0
        spread = own.left - rest
        room = max(room - spread, 0.0)
        by_kind[kind] = replace(own, spread=spread, hauled=rest if haul else 0.0, heap=0.0 if haul else rest)
    if room > CLOSES * max(1.0, done.left):
        raise CheckError(f"{room!r} m³ of what is spread was not dug")
    piles = tuple(one.closed() for one in by_kind.values())
    return SoilPlan(soil, piles, tuple(patches), done.relaid, done.deeper, done.shaped, held)


def deeper_steps(soil: SoilPlan, show: Display) -> Iterator[str]:
    """Say before anything is dug where it is dug deeper, to make room for topsoil."""
    if soil.relaid > 0.0:
        yield (
            f"Where a swale, a bank or a side slope is cut, dig {show.depth(soil.deep)} deeper than the "
            "levels here, but not under stone or a pipe: topsoil goes back on it."
        )


def soil_steps(soil: SoilPlan, show: Display) -> Iterator[str]:
    """Say at the end of the work where topsoil goes back, and where the rest is spread."""
    if soil.relaid > 0.0:
        deep = show.depth(soil.deep)
        yield f"Lay {deep} of loose topsoil back where you dug deeper: then it has the levels here. Seed it."
    for thick in dict.fromkeys(show.depth(one.thick) for one in soil.patches):
        yield f"Spread soil {thick} deep where the plan shows it, topsoil last. Rake its edges out; seed it."
