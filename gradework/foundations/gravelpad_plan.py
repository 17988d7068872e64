"""The gravel pad as planned: what the design hands on to its findings, the order, drawings and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.foundations.gravelpad_edge import BatteredEdge, BoxedEdge
    from gradework.foundations.gravelpad_quantities import PadGround
    from gradework.foundations.gravelpad_rules import LevelLimit, PadChoice
    from gradework.foundations.gravelpad_spec import PadSpec, Rule


@dataclass(frozen=True, eq=False)
class Pad:
    """A designed pad: outline, ground, limits, what each rule gives, and the one chosen with its edge."""

    spec: PadSpec
    outline: Outline
    pieces: Pieces
    limits: tuple[LevelLimit, ...]
    choices: tuple[PadChoice, ...]
    chosen: PadChoice
    edge: BoxedEdge | BatteredEdge
    findings: tuple[Finding, ...]
    ground: PadGround

    @property
    def unanswered(self) -> tuple[tuple[Rule, str], ...]:
        """The rules that have no choice here, and what each lacks, in plain words."""
        there = {choice.rule for choice in self.choices}
        lacks: dict[Rule, str] = {
            "least cost": f"no price for {', '.join(self.ground.prices.missing(self.spec.edge))}",
            "given": "no level of your own",
        }
        return tuple((rule, why) for rule, why in lacks.items() if rule not in there)
