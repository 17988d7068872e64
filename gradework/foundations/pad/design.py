"""The gravel pad: from the ground under a building to a level, its digging, gravel and edge, by every rule.

Ground g, topsoil strip s, least gravel t, outline P = building plus margin, finished level L; the
formation is min(g - s, L - t). It never orders and never draws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import sides
from gradework.earthwork.volumes import Amount, volume_in_doubt
from gradework.errors import Finding, Severity
from gradework.foundations.pad.quantities import (
    BatteredEdge,
    BoxedEdge,
    PadGround,
    boxed_edge,
    greatest_height,
)
from gradework.foundations.pad.rules import PadChoice, choose_levels, level_limits
from gradework.foundations.pad.spec import PadPrices, PadSpec, check_level, check_spec
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.rules import LevelLimit
    from gradework.foundations.pad.spec import Rule
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


# The gravel pad as planned: what the design hands on to its findings, the order, drawings and report.


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

    def __repr__(self) -> str:
        one = self.chosen
        dig, gravel = METRIC.volume(one.excavation), METRIC.volume(one.gravel)
        return f"<Pad at {METRIC.elevation(one.level)} ({one.rule}): dig {dig}, gravel {gravel}>"

    @property
    def unanswered(self) -> tuple[tuple[Rule, str], ...]:
        """The rules that have no choice here, and what each lacks, in plain words."""
        there = {choice.rule for choice in self.choices}
        lacks: dict[Rule, str] = {
            "least cost": f"no price for {', '.join(self.ground.prices.missing(self.spec.edge))}",
            "given": "no level of your own",
        }
        return tuple((rule, why) for rule, why in lacks.items() if rule not in there)


# What a builder should know about the pad he chose: limits, water, depth, lifts, the survey's end.

ENGINEER_HEIGHT = 1.2192
"""[m] 48 in of unbalanced fill: IRC R404.4 (from memory) asks for an engineer in any case."""

_ROUNDING = 1e-4
"""[m] Differences below 0.1 mm are no difference."""


def pad_findings(pad: Pad, show: Display) -> tuple[Finding, ...]:
    """All findings about the chosen level, in the order a builder meets them."""
    found = [
        _edge_below_ground(pad, show),
        _deep_cut(pad, show),
        _high_edge(pad, show),
        _deep_gravel(pad, show),
        _native_fill(pad, show),
        _limits_at_odds(pad, show),
        _slope_leaves_survey(pad, show),
        _lifts(pad, show),
    ]
    return tuple(one for one in found if one is not None)


def _edge_below_ground(pad: Pad, show: Display) -> Finding | None:
    """The pad's edge stands less than the freeboard above the ground just outside."""
    side = max(pad.ground.sides, key=lambda one: float(one.ground.max()))
    at = int(side.ground.argmax())
    over = pad.chosen.level - float(side.ground[at])
    if over >= pad.spec.freeboard - _ROUNDING:
        return None
    where = show.place(*side.point(float(side.along[at])))
    if over < 0.0:
        seen = (
            f"The ground outside stands {show.depth(-over)} above the pad at {where}, so water runs onto it."
        )
    else:
        seen = f"The pad stands only {show.depth(over)} above the ground outside at {where}."
    fix = (
        "Build the drain along this side before the gravel goes in."
        if pad.spec.drain
        else "Raise the pad, or plan a drain along this side."
    )
    severity: Severity = "note" if pad.spec.drain else "warning"
    return Finding("pad-edge-low", severity, where, over, pad.spec.freeboard, f"{seen} {fix}")


def _deep_cut(pad: Pad, show: Display) -> Finding | None:
    depth, limit = pad.chosen.deepest_cut, pad.spec.max_cut
    if depth <= limit + _ROUNDING:
        return None
    return Finding(
        "pad-cut-deep",
        "warning",
        "under the pad",
        depth,
        limit,
        f"The digging is {show.depth(depth)} deep at the highest ground, over {show.depth(limit)}. Slope "
        "the sides back, keep spoil and loads away from the edge, or raise the pad.",
    )


def _high_edge(pad: Pad, show: Display) -> Finding | None:
    height, limit = pad.edge.greatest, pad.spec.max_height
    if height <= limit + _ROUNDING:
        return None
    where = show.place(*pad.edge.greatest_at)
    boxed = pad.edge.kind == "boxed"
    severe = boxed and height > ENGINEER_HEIGHT
    part = "boards hold back" if boxed else "edge stands"
    return Finding(
        "pad-edge-high",
        "stop" if severe else "warning",
        where,
        height,
        ENGINEER_HEIGHT if severe else limit,
        f"The {part} {show.depth(height)} above the ground outside at {where}, over "
        f"{show.depth(ENGINEER_HEIGHT if severe else limit)}. A building on the pad pushes the edge "
        "outward: lower the pad, choose flatter ground, or have the edge designed by an engineer.",
    )


def _deep_gravel(pad: Pad, show: Display) -> Finding | None:
    depth, limit = pad.chosen.deepest_gravel, pad.spec.most_gravel
    if depth <= limit + _ROUNDING:
        return None
    return Finding(
        "pad-gravel-deep",
        "warning",
        "under the pad",
        depth,
        limit,
        f"The {_layers(pad)} {show.depth(depth)} deep at the lowest ground, over {show.depth(limit)}, "
        "the most that may go under a slab without an engineer. Lower the pad or ask one.",
    )


def _native_fill(pad: Pad, show: Display) -> Finding | None:
    """Balanced without leave to use the soil, or more earth fill than goes without an engineer."""
    if not pad.chosen.allowed:
        return Finding(
            "pad-native-not-allowed",
            "warning",
            "the pad",
            None,
            None,
            "The level balances digging against fill, but the dug soil may not be used as fill here, so all "
            "of it is hauled away and all fill is bought as gravel. Allow native fill if the subsoil is firm "
            'and clean, or choose "least fill".',
        )
    depth, limit = pad.chosen.deepest_gravel - pad.spec.gravel, pad.spec.most_native
    if pad.chosen.native <= 0.0 or depth <= limit + _ROUNDING:
        return None
    return Finding(
        "pad-native-deep",
        "warning",
        "under the pad",
        depth,
        limit,
        f"Earth fill would be up to {show.depth(depth)} deep, over {show.depth(limit)}. Fill the deep part "
        "with gravel, or have the fill tested.",
    )


def _limits_at_odds(pad: Pad, show: Display) -> Finding | None:
    """No level keeps every limit: the lower limits ask for more than the upper ones allow."""
    lower = max((one for one in pad.limits if one.least), key=_level, default=None)
    upper = min((one for one in pad.limits if not one.least), key=_level, default=None)
    if lower is None or upper is None or lower.level <= upper.level + _ROUNDING:
        return None
    return Finding(
        "pad-limits-at-odds",
        "warning",
        "the pad",
        lower.level,
        upper.level,
        f"No level keeps every limit here: the {lower.name} asks for at least "
        f"{show.elevation(lower.level)}, the {upper.name} for at most {show.elevation(upper.level)}. Choose "
        "flatter ground, a smaller pad, a drain, or piers.",
    )


def _level(limit: LevelLimit) -> float:
    return limit.level


def _slope_leaves_survey(pad: Pad, show: Display) -> Finding | None:
    """A side slope that has not met the ground where the survey ends."""
    from gradework.foundations.pad.quantities import BatteredEdge

    if not isinstance(pad.edge, BatteredEdge) or not pad.edge.slopes.leaves:
        return None
    worst = pad.edge.slopes.leaves[0]
    where = show.place(worst.x, worst.y)
    if worst.way == "fill":
        seen = f"The side slope still stands {show.depth(worst.height)} above the ground at {where}"
    else:
        seen = f"The ground still stands {show.depth(worst.height)} above the dug slope at {where}"
    reach = show.distance(worst.height * pad.spec.batter)
    return Finding(
        "slope-leaves-survey",
        "stop",
        where,
        worst.height,
        0.0,
        f"{seen}, where the survey ends, so gravel and digging are not complete. Shoot the ground farther "
        f"out there (on level ground {reach} more), or use a boxed edge.",
    )


def _layers(pad: Pad) -> str:
    """What lies between the formation and the finished level: gravel, or dug soil with gravel on it."""
    return "gravel is" if pad.chosen.native <= 0.0 else "soil filled in and the gravel on it are"


def _lifts(pad: Pad, show: Display) -> Finding | None:
    depth, lift = pad.chosen.deepest_gravel, pad.spec.lift
    count = math.ceil((depth - _ROUNDING) / lift)
    if count <= 1:
        return None
    return Finding(
        "pad-lifts",
        "note",
        "under the pad",
        depth,
        lift,
        f"The {_layers(pad)} up to {show.depth(depth)} deep: place and compact it in {count} lifts of "
        f"at most {show.depth(lift)} each.",
    )


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
