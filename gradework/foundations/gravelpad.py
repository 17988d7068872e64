"""The gravel pad: from the ground under a building to a level, its digging, gravel and edge, by every rule.

Ground g, topsoil strip s, least gravel t, outline P = building plus margin, finished level L; the
formation is min(g - s, L - t). It never orders and never draws.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.folding import Amount, volume_in_doubt
from gradework.earthwork.perimeter import sides
from gradework.foundations.gravelpad_checks import check_level, check_spec
from gradework.foundations.gravelpad_edge import BatteredEdge, BoxedEdge, boxed_edge, greatest_height
from gradework.foundations.gravelpad_findings import pad_findings
from gradework.foundations.gravelpad_plan import Pad
from gradework.foundations.gravelpad_quantities import PadGround
from gradework.foundations.gravelpad_rules import PadChoice, choose_levels, level_limits
from gradework.foundations.gravelpad_spec import PadPrices, PadSpec
from gradework.units import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.ground import Surface
    from gradework.units import Display

__all__ = [
    "BatteredEdge",
    "BoxedEdge",
    "Pad",
    "PadChoice",
    "PadCurve",
    "PadPrices",
    "PadSpec",
    "design_pad",
    "pad_curve",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PadCurve:
    """What each finished level takes, (n,) each: level [m], gravel compacted [m³], digging in place [m³],
    cost.

    cost is NaN all along where a price is not known.
    """

    levels: Floats
    gravel: Floats
    excavation: Floats
    cost: Floats


def design_pad(
    surface: Surface,
    building: Outline,
    spec: PadSpec,
    prices: PadPrices | None = None,
    show: Display = METRIC,
) -> Pad:
    """Design the pad under a building by every rule, and take the one the spec names.

    Raises InputError with all faults: what ``clip`` raises where the pad reaches outside the survey, and
    ``pad-size``, ``pad-level-missing``, ``pad-prices-missing``, ``level-far-from-ground``, ``batter-hollow``.
    """
    prices = PadPrices() if prices is None else prices
    check_spec(spec, prices, building, show)
    outline = building.grown(spec.margin, show=show)
    ground = _ground(surface, outline, spec, prices)
    check_level(spec, ground.pieces, show)
    if ground.pieces.doubt > 0.0 or (ground.batter is not None and len(surface.folds)):
        ways = tuple(_ground(surface.refolded(share), outline, spec, prices) for share in (0.5, -0.5))
        ground = replace(ground, refolded=ways)
    limits, choices = level_limits(ground), choose_levels(ground)
    chosen = next(choice for choice in choices if choice.rule == spec.rule)
    pad = Pad(spec, outline, ground.pieces, limits, choices, chosen, _edge(ground, chosen), (), ground)
    return replace(pad, findings=(*pad_findings(pad, show), *_in_doubt(surface, pad, show)))


def _ground(surface: Surface, outline: Outline, spec: PadSpec, prices: PadPrices) -> PadGround:
    """The ground under the pad and, for a battered edge, round it."""
    pieces = clip(surface, outline)
    batter = None
    if spec.edge == "battered":
        from gradework.earthwork.batter import batter_ground  # only a battered edge needs it

        batter = batter_ground(surface, outline, spec.batter)
    return PadGround(spec, prices, pieces, sides(outline, pieces), batter)


def _in_doubt(surface: Surface, pad: Pad, show: Display) -> tuple[Finding, ...]:
    """Digging or gravel that hangs on how the squares of the survey fold; the worse of the two is told."""
    chosen = pad.chosen
    dig, gravel = (
        Amount("The digging", chosen.excavation, chosen.excavation_doubt),
        Amount("The gravel", chosen.gravel, chosen.gravel_doubt),
    )
    return volume_in_doubt(surface, pad.pieces, (dig, gravel), show)


def _edge(ground: PadGround, chosen: PadChoice) -> BoxedEdge | BatteredEdge:
    """The edge at the chosen level."""
    if ground.batter is None:
        return boxed_edge(ground.sides, chosen.level, ground.spec.board)
    slopes = ground.batter.slopes(chosen.level)
    height, place = greatest_height(ground.sides, chosen.level)
    return BatteredEdge(
        slopes=slopes,
        excavation=chosen.edge_excavation,
        gravel=chosen.edge_gravel,
        area=ground.pieces.area + slopes.cut_area + slopes.fill_area,
        greatest=height,
        greatest_at=place,
    )


def pad_curve(pad: Pad, n: int = 200) -> PadCurve:
    """Gravel, digging and cost over ``n`` levels that take in every choice and the relief under the pad."""
    ground = pad.ground
    levels = [choice.level for choice in pad.choices]
    low = min([*levels, ground.pieces.lowest - ground.shift])
    high = max([*levels, ground.pieces.highest - ground.shift])
    reach = 0.05 * (high - low) + 0.01
    found = ground.at(np.linspace(low - reach, high + reach, n))
    return PadCurve(found.levels, found.gravel, found.excavation, found.cost)
