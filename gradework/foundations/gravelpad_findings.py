"""What a builder should know about the pad he chose: limits, water, depth, lifts, the survey's end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import Finding, Severity

if TYPE_CHECKING:
    from gradework.foundations.gravelpad_plan import Pad
    from gradework.foundations.gravelpad_rules import LevelLimit
    from gradework.units import Display

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
    mend = (
        "Build the drain along this side before the gravel goes in."
        if pad.spec.drain
        else "Raise the pad, or plan a drain along this side."
    )
    severity: Severity = "note" if pad.spec.drain else "warning"
    return Finding("pad-edge-low", severity, where, over, pad.spec.freeboard, f"{seen} {mend}")


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
    from gradework.foundations.gravelpad_edge import BatteredEdge

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
