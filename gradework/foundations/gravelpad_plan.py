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
    from gradework.foundations.gravelpad_spec import PadSpec


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
