"""The piers as planned: what the design hands on to its findings, the order, drawings and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.earthwork import Outline, Pieces
    from gradework.errors import Finding
    from gradework.foundations.pier_ground import PierGround
    from gradework.foundations.pier_spec import PierPrices, PierSpec
    from gradework.foundations.pier_tops import Goal
    from gradework.foundations.pier_words import Alternative
    from gradework.foundations.units_on_hand import BlockUnit


@dataclass(frozen=True, slots=True)
class StackPart:
    """Courses of one unit in a stack; ``pieces`` units are laid for them."""

    unit: BlockUnit
    count: int
    pieces: int


@dataclass(frozen=True)
class Pier:
    """One pier as it is to be built. Levels and lengths [m]; ``dig`` in place, ``bed_volume`` compacted [m³].

    ``stack`` counts courses by unit; ``laid`` names the units from the bottom up. ``mass`` [kg] is that of
    the stack, ``hole_size`` the plan of the hole along and across the beams, ``cost`` that of stack, bed and
    digging, ``tributary`` [m²] the part of the building it bears.
    """

    name: str
    row: int
    number: int
    x: float
    y: float
    hole: Outline
    hole_size: tuple[float, float]
    tributary: float
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
    """All piers of a building. Without a plan ``top`` is None, ``piers`` is empty and a finding says why."""

    spec: PierSpec
    prices: PierPrices
    ground: tuple[PierGround, ...]
    building: Pieces
    goal: Goal
    top: float | None
    piers: tuple[Pier, ...]
    choices: tuple[PierChoice, ...]
    findings: tuple[Finding, ...]

    @property
    def units_total(self) -> int:
        """Give how many units are laid."""
        return sum(pier.pieces for pier in self.piers)

    @property
    def cost_total(self) -> float:
        """Give the money for units, beds and digging."""
        return float(sum(pier.cost for pier in self.piers))

    @property
    def floor_level(self) -> float | None:
        """Give the level of the finished floor [m]."""
        return None if self.top is None else self.top + self.spec.floor.thickness

    def units_by_kind(self) -> dict[str, int]:
        """Give how many of each unit are laid, in the order of the units on hand; none that is not used."""
        counts = {unit.name: 0 for unit in self.spec.units}
        for pier in self.piers:
            for part in pier.stack:
                counts[part.unit.name] += part.pieces
        return {name: count for name, count in counts.items() if count}
