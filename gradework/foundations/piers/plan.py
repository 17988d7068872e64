"""The piers as planned: what the design hands on to its findings, the order, drawings and report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import visible
from gradework.foundations.piers.cover import Cover, beside
from gradework.foundations.piers.stacks import course_plan, laid_order, pieces_in_course
from gradework.foundations.piers.units import BlockUnit
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.foundations.checks.check import Check
    from gradework.foundations.piers.anchors import Anchors
    from gradework.foundations.piers.carrying import Carried
    from gradework.foundations.piers.holes import PierGround
    from gradework.foundations.piers.spec import PierPrices, PierSpec
    from gradework.foundations.piers.top_problem import Goal
    from gradework.units.display import Display


# What else a pier could consist of, said as a builder would say it.

_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
THINGS = ("block", "brick", "pad", "paver", "slab", "unit", "stone")
"""What a unit can be at the end of its name; these words take an s."""
_SAME = 0.0016  # [m] less than a sixteenth of an inch is no difference in a bed or a hole


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another stack under the same top: ``words``, and how much more bed, depth [m], units and money."""

    words: str
    courses: tuple[int, ...]
    bed: float
    deeper: float
    pieces: int
    money: float


def count_of(number: int, name: str) -> str:
    """Say how many of a unit.

    >>> count_of(2, "2 in solid block"), count_of(1, "brick"), count_of(20, "tile cut to fit")
    ('two 2 in solid blocks', 'one brick', '20 of tile cut to fit')
    """
    word = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
    if number == 1:
        return f"{word} {name}"
    return f"{word} {name}s" if name.endswith(THINGS) else f"{word} of {name}"


def stack_words(laid: Sequence[BlockUnit], across: int, same: str = "") -> str:
    """Say what is laid from the bottom up, those alike together; the word ``same`` that ends every name is
    left out. ``across`` is 2 for a double stack.

    >>> from gradework.foundations.piers.units import UNITS_ON_HAND
    >>> hollow, thick, thin = UNITS_ON_HAND["US"]
    >>> stack_words([hollow, hollow, thick], 1)
    'two 8 in hollow blocks, 4 in solid block'
    >>> stack_words([hollow, hollow, thick], 2, "block")
    'double: two 8 in hollow, 4 in solid'
    """
    runs = [(len(list(group)), name) for name, group in groupby(unit.name for unit in laid)]
    # the number as a word: "2 x 8 in" would read as a size
    told = [count_of(count, visible(name, 40)) if count > 1 else visible(name, 40) for count, name in runs]
    if same:
        told = [text.removesuffix(f" {same}s").removesuffix(f" {same}") for text in told]
    return f"{'double: ' if across == 2 else ''}{', '.join(told)}"


def difference_in_words(
    units: Sequence[BlockUnit],
    laid: Sequence[int],
    other: Sequence[int],
    bed: float,
    deeper: float,
    show: Display,
    hole: tuple[float, float] | None = None,
) -> str:
    """Say what changes from ``laid`` courses to ``other``; ``bed``, ``deeper``: how much thicker, deeper [m].

    ``hole`` is the plan [m] of another hole, where one is needed.

    >>> from gradework.foundations.piers.units import UNITS_ON_HAND
    >>> from gradework.units.display import FEET
    >>> difference_in_words(UNITS_ON_HAND["US"], [1, 1, 2], [1, 2, 0], -0.009525, 0.0, FEET)
    'one 4 in solid block instead of two 2 in solid blocks: bed 3/8 in thinner'
    """
    changes = [b - a for a, b in zip(laid, other, strict=True)]
    more = [count_of(c, unit.name) for c, unit in zip(changes, units, strict=True) if c > 0]
    less = [count_of(-c, unit.name) for c, unit in zip(changes, units, strict=True) if c < 0]
    if more and less:
        swap = f"{' and '.join(more)} instead of {' and '.join(less)}"
    elif more:
        swap = f"add {' and '.join(more)}"
    else:
        swap = f"leave out {' and '.join(less)}"
    effects = []
    if abs(bed) > _SAME:
        effects.append(f"bed {show.depth(abs(bed))} {'thicker' if bed > 0 else 'thinner'}")
    if abs(deeper) > _SAME:
        effects.append(f"hole {show.depth(abs(deeper))} {'deeper' if deeper > 0 else 'shallower'}")
    if hole is not None:
        effects.append(f"hole {show.depth(hole[0])} by {show.depth(hole[1])}")
    return f"{swap}: {', '.join(effects) or 'nothing else changes'}"


@dataclass(frozen=True, slots=True)
class StackPart:
    """Courses of one unit in a stack; ``pieces`` units are laid for them."""

    unit: BlockUnit
    count: int
    pieces: int


def stack_of(units: Sequence[BlockUnit], courses: Sequence[int], across: int) -> tuple[StackPart, ...]:
    """Give the parts of a stack: so many ``courses`` of each of ``units``, ``across`` in a course."""
    return tuple(
        StackPart(unit, count, count * pieces_in_course(unit, across))
        for unit, count in zip(units, courses, strict=True)
        if count
    )


@dataclass(frozen=True)
class Pier:
    """One pier as it is to be built. Levels and lengths [m]; ``dig`` in place, ``bed_volume`` compacted [m³].

    ``stack`` counts courses by unit; ``laid`` names the units from the bottom up. ``mass`` [kg] is that of
    the stack, ``hole_size`` the plan of the hole along and across the beams, ``cost`` that of stack, bed and
    digging. ``tributary`` [m²] is the floor it bears, ``load`` [kN] all that comes down on it; ``across`` is
    2 for a double pier, ``corner`` says that it stands at one.
    """

    name: str
    row: int
    number: int
    x: float
    y: float
    hole: Outline
    hole_size: tuple[float, float]
    tributary: float
    load: float
    corner: bool
    across: int
    ground_high: float
    ground_low: float
    bottom: float
    deeper: float
    dig: float
    bed: float
    bed_volume: float
    stack: tuple[StackPart, ...]
    laid: tuple[BlockUnit, ...]
    height: float
    top: float
    mass: float
    pieces: int
    cost: float
    alternatives: tuple[Alternative, ...]

    @property
    def depth(self) -> float:
        """Give how deep its hole is [m] where the ground in it is lowest."""
        return self.ground_low - self.bottom

    def courses(self, units: Sequence[BlockUnit]) -> tuple[int, ...]:
        """Count the courses of each of ``units`` in its stack."""
        laid = {part.unit.name: part.count for part in self.stack}
        return tuple(laid.get(unit.name, 0) for unit in units)

    @property
    def back(self) -> float:
        """Give the soil that goes back beside the blocks [m³, as firm as it lay].

        Course by course up to the mean depth of the hole: hollow blocks count as full, so this is a little
        too little rather than too much.
        """
        room, depth = 0.0, self.dig / self.hole.area - self.bed
        for unit in self.laid:
            along, across = course_plan(unit, self.across)
            room += beside(self.hole.area, along * across, min(depth, unit.thickness))
            depth -= unit.thickness
        return min(room + self.hole.area * max(0.0, depth), max(0.0, self.dig - self.bed_volume))

    def restacked(self, units: Sequence[BlockUnit], courses: Sequence[int]) -> Pier:
        """Give the pier with another stack on the same bed: ``courses`` of each of ``units``."""
        stack = stack_of(units, courses, self.across)
        return replace(
            self,
            stack=stack,
            laid=tuple(units[kind] for kind in laid_order(units, courses)),
            height=sum(part.unit.thickness * part.count for part in stack),
            mass=sum(part.unit.mass * part.pieces for part in stack),
            pieces=sum(part.pieces for part in stack),
        )


class OneSize(NamedTuple):
    """What holes of one ``size`` (along, across) [m] for all piers would take, where the best have several.

    ``more`` is the money beyond that for the best; ``size`` is None where no size suits all piers. ``taken``:
    they are planned so.
    """

    size: tuple[float, float] | None
    more: float
    taken: bool


@dataclass(frozen=True, slots=True)
class PierChoice:
    """What one goal gives for all piers: top [m], units, money, digging in place, beds compacted [m³]."""

    goal: Goal
    top: float
    units: int
    cost: float
    dig: float
    bed: float
    tops_compared: int


@dataclass(frozen=True)
class Piers:
    """All piers of a building. Without a plan ``top`` is None, ``piers`` is empty and a finding says why.

    ``carried`` tells where they stand and what comes down on each; ``checks`` hold wood, blocks and ground
    against their limits; ``cover`` lies under the floor where one is asked for;
    ``anchors`` hold the building against wind. ``one_size`` tells of one size for all holes, None where they
    have one anyway.
    """

    spec: PierSpec
    prices: PierPrices
    carried: Carried
    ground: tuple[PierGround, ...]
    building: Pieces
    goal: Goal
    top: float | None
    piers: tuple[Pier, ...]
    choices: tuple[PierChoice, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    cover: Cover | None = None
    anchors: Anchors | None = None
    one_size: OneSize | None = None

    def __repr__(self) -> str:
        if self.top is None:
            return "<Piers: no common top>"
        return f"<Piers: {len(self.piers)}, tops at {METRIC.elevation(self.top)}, {self.units_total} units>"

    @property
    def units_total(self) -> int:
        """Give how many units are laid."""
        return sum(pier.pieces for pier in self.piers)

    @property
    def cost_total(self) -> float:
        """Give the money for units, beds, digging, the cover under the floor and the anchors."""
        anchors = 0 if self.anchors is None else self.anchors.count
        return float(sum(pier.cost for pier in self.piers)) + self.cover_cost + anchors * self.prices.anchor

    @property
    def dug(self) -> float:
        """Give all the digging [m³ in place]: the holes, and the sod stripped for the cover."""
        return sum(pier.dig for pier in self.piers) + (self.cover.strip if self.cover else 0.0)

    @property
    def back(self) -> float:
        """Give the soil that goes back beside all the blocks [m³, as firm as it lay]."""
        return sum(pier.back for pier in self.piers)

    @property
    def left(self) -> float:
        """Give the soil left over [m³ in place]: what beds and stacks take up, and stripped sod."""
        return self.dug - self.back

    @property
    def widest(self) -> tuple[float, float]:
        """Give how far the longest hole reaches along the beams and the widest across [m]."""
        along, across = zip(*(pier.hole_size for pier in self.piers), strict=True)
        return max(along), max(across)

    @property
    def cover_cost(self) -> float:
        """Give the money for fabric, stone and stripped sod under the floor."""
        if self.cover is None:
            return 0.0
        prices, cover = self.prices, self.cover
        laid = prices.stone * cover.stone + prices.fabric * cover.outline.area
        return laid + prices.digging * cover.strip

    @property
    def floor_level(self) -> float | None:
        """Give the level of the finished floor [m]."""
        return None if self.top is None else self.top + self.spec.floor.thickness

    def units_by_kind(self) -> dict[str, int]:
        """Give how many of each unit are laid, in the order of the units on hand; none that is not used."""
        counts = {unit.name: 0 for unit in self.spec.on_hand}
        for pier in self.piers:
            for part in pier.stack:
                counts[part.unit.name] += part.pieces
        return {name: count for name, count in counts.items() if count}
