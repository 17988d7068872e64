"""The gravel pad: from the ground under a building to a level, its digging, gravel and edge, by every rule.

Ground g, topsoil strip s, least gravel t, outline P = building plus margin, finished level L; the
subgrade is min(g - s, L - t). It never orders and never draws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.batter import batter_ground
from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import sides
from gradework.earthwork.grading.outlet import outlet_ground
from gradework.earthwork.room import room_ground
from gradework.earthwork.volumes import Amount, volume_in_doubt
from gradework.errors import Finding, finding
from gradework.foundations.buying.pad_prices import PadPrices
from gradework.foundations.pad.basin import SHALLOW, TIGHT, Basin
from gradework.foundations.pad.edge_told import deep_stakes, high_edge
from gradework.foundations.pad.quantities import (
    BatteredEdge,
    BoxedEdge,
    PadGround,
    boxed_edge,
    greatest_height,
)
from gradework.foundations.pad.rules import PadChoice, choose_levels, level_limits
from gradework.foundations.pad.spec import PadSpec, check_level, check_spec
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.check import Check
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
        dig, gravel = METRIC.volume(one.dug), METRIC.volume(one.gravel)
        return f"<Pad at {METRIC.elevation(one.level)} ({one.rule}): dig {dig}, gravel {gravel}>"

    @property
    def basin(self) -> Basin | None:
        """Whether its stone holds water, in soil that lets none go; None in other soil."""
        return self.ground.basin(self.chosen.level)

    @property
    def checks(self) -> tuple[Check, ...]:
        """What the gate asks: that the edge holds, and that no water stands in the stone."""
        basin, edge = self.basin, self.edge
        held = edge.built.checks if isinstance(edge, BoxedEdge) else ()
        return held if basin is None else (*held, basin.check)

    @property
    def unanswered(self) -> tuple[tuple[Rule, str], ...]:
        """The rules that have no choice here, and what each lacks, in plain words."""
        there = {choice.rule for choice in self.choices}
        lacks: dict[Rule, str] = {
            "least cost": f"no price for {', '.join(self.ground.prices.missing(self.spec.edge))}",
            "given": "no level given",
        }
        return tuple((rule, why) for rule, why in lacks.items() if rule not in there)


# What a builder should know about the pad he chose: limits, water, depth, lifts, the survey's end.

_ROUNDING = 1e-4
"""[m] Differences below 0.1 mm are no difference."""

_READING = 0.125 * 0.0254
"""[m] 1/8 in: no rod tells such levels apart, so a limit of a surveyed depth is not broken by less."""


def pad_findings(pad: Pad, show: Display) -> tuple[Finding, ...]:
    """All findings about the chosen level, in the order a builder meets them."""
    found = [
        _edge_below_ground(pad, show),
        _deep_cut(pad, show),
        high_edge(pad.edge, pad.spec, show),
        deep_stakes(pad.edge, pad.spec, show),
        _deep_gravel(pad, show),
        _native_fill(pad, show),
        _limits_at_odds(pad, show),
        _slope_leaves_survey(pad, show),
        _room_leaves_survey(pad, show),
        _basin(pad, show),
        _lifts(pad, show),
    ]
    return tuple(one for one in found if one is not None)


def _edge_below_ground(pad: Pad, show: Display) -> Finding | None:
    """The pad's edge stands less than the height above grade asked for over the ground just outside."""
    side = max(pad.ground.sides, key=lambda one: float(one.ground.max()))
    at = int(side.ground.argmax())
    over, drain = pad.chosen.level - float(side.ground[at]), pad.spec.drain
    if over >= pad.spec.freeboard - _READING:
        return None
    place = show.place(*side.point(float(side.along[at])))
    below, low = ("below-drain", "low-drain") if drain else ("below", "low")
    return finding(
        "pad-edge-low",
        "note" if drain else "warning",
        place,
        over,
        pad.spec.freeboard,
        variant=below if over < 0.0 else low,
        depth=show.depth(abs(over)),
        place=place,
    )


def _deep_cut(pad: Pad, show: Display) -> Finding | None:
    depth, limit = pad.chosen.deepest_cut, pad.spec.max_cut
    if depth <= limit + _READING:
        return None
    return finding(
        "pad-cut-deep",
        "warning",
        "under the pad",
        depth,
        limit,
        depth=show.depth(depth),
        most=show.depth(limit),
    )


def _layers(pad: Pad) -> str:
    """Which wording tells what lies between the subgrade and the finished level."""
    return "native" if pad.chosen.native > 0.0 else ""


def _deep_gravel(pad: Pad, show: Display) -> Finding | None:
    depth, limit = pad.chosen.deepest_gravel, pad.spec.most_gravel
    if depth <= limit + _READING:
        return None
    return finding(
        "pad-gravel-deep",
        "warning",
        "under the pad",
        depth,
        limit,
        variant=_layers(pad),
        depth=show.depth(depth),
        most=show.depth(limit),
    )


def _native_fill(pad: Pad, show: Display) -> Finding | None:
    """Balanced without leave to use the soil, or more earth fill than goes without an engineer."""
    if not pad.chosen.allowed:
        return finding("pad-native-not-allowed", "warning", "the pad")
    depth, limit = pad.chosen.deepest_gravel - pad.spec.gravel, pad.spec.most_native
    if pad.chosen.native <= 0.0 or depth <= limit + _READING:
        return None
    return finding(
        "pad-native-deep",
        "warning",
        "under the pad",
        depth,
        limit,
        depth=show.depth(depth),
        most=show.depth(limit),
    )


def _limits_at_odds(pad: Pad, show: Display) -> Finding | None:
    """No level keeps every limit: the lower limits ask for more than the upper ones allow."""

    def level(limit: LevelLimit) -> float:
        return limit.level

    lower = max((one for one in pad.limits if one.least), key=level, default=None)
    upper = min((one for one in pad.limits if not one.least), key=level, default=None)
    if lower is None or upper is None or lower.level <= upper.level + _ROUNDING:
        return None
    return finding(
        "pad-limits-at-odds",
        "warning",
        "the pad",
        lower.level,
        upper.level,
        low_limit=lower.name,
        least=show.elevation(lower.level),
        high_limit=upper.name,
        most=show.elevation(upper.level),
    )


def _slope_leaves_survey(pad: Pad, show: Display) -> Finding | None:
    """A side slope that has not met the ground where the survey ends."""
    if not isinstance(pad.edge, BatteredEdge) or not pad.edge.slopes.leaves:
        return None
    worst = pad.edge.slopes.leaves[0]
    place = show.place(worst.x, worst.y)
    return finding(
        "slope-leaves-survey",
        "stop",
        place,
        worst.height,
        0.0,
        variant=worst.way,
        height=show.depth(worst.height),
        place=place,
        reach=show.distance(worst.height * pad.spec.batter),
    )


def _basin(pad: Pad, show: Display) -> Finding | None:
    """In tight soil the stone below the ground holds water: a pipe leads it out, or nothing does."""
    basin = pad.basin
    if basin is None or basin.depth <= SHALLOW:
        return None
    outlet, corner = basin.outlet, show.place(*greatest_height(pad.ground.sides, 0.0)[1])
    return finding(
        "pad-basin",
        "note" if outlet else "warning" if basin.open else "stop",
        corner,
        basin.depth,
        SHALLOW,
        variant="led" if outlet else "open" if basin.open else "shut",
        water=show.volume(basin.water),
        depth=show.depth(basin.depth),
        corner=corner,
        length=show.distance(outlet.length) if outlet else "",
        end=show.place(*outlet.end) if outlet else "",
    )


def _room_leaves_survey(pad: Pad, show: Display) -> Finding | None:
    """The face laid back beside the pad has not met the ground where the survey ends."""
    room, floor = pad.ground.room, pad.chosen.level - pad.spec.gravel
    if room is None or not room.ends(floor):
        return None
    reach = pad.spec.room + pad.spec.face * max(0.0, pad.ground.edge_high - floor)
    return finding(
        "pad-room-short",
        "note",
        "beside the pad",
        reach,
        0.0,
        dug=show.volume(float(room.volumes(np.array([floor]))[0])),
        reach=show.distance(reach),
    )


def _lifts(pad: Pad, show: Display) -> Finding | None:
    depth, lift = pad.chosen.deepest_gravel, pad.spec.lift
    count = math.ceil((depth - _ROUNDING) / lift)
    if count <= 1:
        return None
    return finding(
        "pad-lifts",
        "note",
        "under the pad",
        depth,
        lift,
        variant=_layers(pad),
        depth=show.depth(depth),
        count=count,
        lift=show.depth(lift),
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
    *,
    in_full: bool = True,
    like: Pad | None = None,
) -> Pad:
    """Design the pad under a building by every rule, and take the one the spec names.

    Without ``in_full`` only that rule is worked out, and not what the folds of the survey leave in doubt.
    ``like``: a pad of the same job at another level: on the same ground.

    Raises InputError with all faults: what ``clip`` raises where the pad reaches outside the survey, and
    ``pad-size``, ``pad-level-missing``, ``pad-prices-missing``, ``level-far-from-ground``, ``batter-hollow``.
    """
    prices = PadPrices() if prices is None else prices
    check_spec(spec, prices, building, show)
    if like is None:
        outline = building.grown(spec.margin, show=show)
        ground = _ground(surface, outline, spec, prices)
    else:
        outline, ground = like.outline, _at_another(like.ground, spec)
    if in_full and not ground.refolded:
        ground = _either_way(surface, outline, ground)
    check_level(spec, ground.pieces, show)
    limits, choices = level_limits(ground), choose_levels(ground, None if in_full else spec.rule)
    chosen = next(choice for choice in choices if choice.rule == spec.rule)
    edge = _edge(ground, chosen, us=show.us)
    pad = Pad(spec, outline, ground.pieces, limits, choices, chosen, edge, (), ground)
    doubt = _in_doubt(surface, pad, show) if in_full else ()
    return replace(pad, findings=(*pad_findings(pad, show), *doubt))


def _ground(surface: Surface, outline: Outline, spec: PadSpec, prices: PadPrices) -> PadGround:
    """The ground under a pad and beside it."""
    ground = _folded(surface, outline, spec, prices)
    if spec.edge == "boxed":
        ground = replace(ground, room=room_ground(surface, outline, room=spec.room, slope=spec.face))
    if spec.soil.key in TIGHT:
        corner = greatest_height(ground.sides, 0.0)[1]
        ground = replace(ground, outlets=outlet_ground(surface, outline, corner))
    return ground


def _either_way(surface: Surface, outline: Outline, ground: PadGround) -> PadGround:
    """The same with every square of the survey folded either way."""
    if ground.pieces.doubt > 0.0 or (ground.batter is not None and len(surface.folds)):
        folded = (surface.refolded(share) for share in (0.5, -0.5))
        ways = (_folded(one, outline, ground.spec, ground.prices) for one in folded)
        return replace(ground, refolded=tuple(ways))
    return ground


def _at_another(ground: PadGround, spec: PadSpec) -> PadGround:
    """The same ground for another level; nothing else of the spec may differ."""
    return replace(ground, spec=spec, refolded=tuple(replace(one, spec=spec) for one in ground.refolded))


def _folded(surface: Surface, outline: Outline, spec: PadSpec, prices: PadPrices) -> PadGround:
    """The ground under the pad and, for a battered edge, round it, as the surface is folded."""
    pieces = clip(surface, outline)
    batter = batter_ground(surface, outline, spec.batter) if spec.edge == "battered" else None
    return PadGround(spec, prices, pieces, sides(outline, pieces), batter)


def _in_doubt(surface: Surface, pad: Pad, show: Display) -> tuple[Finding, ...]:
    """Digging or gravel that hangs on how the squares of the survey fold; the worse of the two is told."""
    chosen = pad.chosen
    dig, gravel = (
        Amount("the digging", chosen.excavation, chosen.excavation_doubt),
        Amount("the gravel", chosen.gravel, chosen.gravel_doubt),
    )
    return volume_in_doubt(surface, pad.pieces, (dig, gravel), show)


def _edge(ground: PadGround, chosen: PadChoice, *, us: bool) -> BoxedEdge | BatteredEdge:
    """The edge at the chosen level."""
    if ground.batter is None:
        return boxed_edge(ground.sides, chosen.level, ground.spec, us=us)
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
    """Gravel, digging and cost over ``n`` even levels past all choices and the relief, and at each choice."""
    ground = pad.ground
    levels = [choice.level for choice in pad.choices]
    low = min([*levels, ground.pieces.lowest - ground.shift])
    high = max([*levels, ground.pieces.highest - ground.shift])
    reach = 0.05 * (high - low) + 0.01
    # the choices themselves too: the least cost often lies where the edge changes and the cost jumps
    found = ground.at(np.union1d(np.linspace(low - reach, high + reach, n), levels))
    return PadCurve(found.levels, found.gravel, found.excavation + found.beside, found.cost)
