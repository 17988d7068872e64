"""The result record: everything a plan found, as one document, always SI, the unit at the end of each key.

Its shape is fixed by ``docs/result.schema.json``; keys may be added, never renamed or dropped within one
``record`` number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from gradework.errors import CheckError, Finding
from gradework.exchange.rain_record import airborne_record, rain_record
from gradework.exchange.work_record import access_record, days_record
from gradework.exchange.written import Table, known, rows, sure, written
from gradework.foundations.buying.money import money_for
from gradework.foundations.pad.quantities import BoxedEdge

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from gradework.earthwork.grading.led import Led
    from gradework.foundations.checks.gate import Measure
    from gradework.foundations.comparison import Option
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Piers
    from gradework.project.elsewhere import Elsewhere
    from gradework.project.options import Foundations
    from gradework.project.plan import Plan
    from gradework.sitework.past_walls import WallMeasure
    from gradework.sitework.soil import SoilPlan


BENCHMARK: Table = (
    ("name", "name"), ("elevation", "elevation_m"), ("basis", "basis"), ("source", "source"),
)  # fmt: skip
"""A mark of known elevation: ``basis`` given, assumed or levelled; ``source`` where it was written."""

FINDING: Table = (
    ("code", "code"), ("severity", "severity"), ("where", "where"), ("value?", "value"),
    ("limit?", "limit"), ("advice", "advice"),
)  # fmt: skip


def finding_records(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Write findings with figures in SI; a figure that is not known is null."""
    return rows(findings, FINDING)


# Piers and slab.

SUM = 1e-9
"""Sums over all piers agree within this part of themselves."""

SAME_LEVEL = 1e-5
"""Bottom, bed and stack of each pier add up to its top within 0.01 mm [m]."""

_GOAL: Table = (
    ("goal", "goal"), ("top", "top_m"), ("units", "units_total"), ("cost?", "cost_total"),
    ("dig", "dig_m3"), ("bed", "bed_m3"), ("tops_compared", "tops_compared"),
)  # fmt: skip
_STACK: Table = (("unit.name", "unit"), ("unit.thickness", "thickness_m"), ("count", "count"))
_OTHER_STACK: Table = (("words", "words"), ("pieces", "units"), ("money?", "cost"))
_PIER: Table = (
    ("name", "name"), ("x", "x_m"), ("y", "y_m"), ("hole_size.0", "hole_along_m"),
    ("hole_size.1", "hole_across_m"), ("ground_high", "ground_high_m"),
    ("ground_low", "ground_low_m"), ("bottom", "bottom_m"), ("dig", "dig_m3"), ("bed", "bed_m"),
    ("bed_volume", "bed_m3"), ("back", "back_m3"),
    ("stack", "stack", _STACK), ("pieces", "units"), ("top", "top_m"),
    ("cost?", "cost"), ("across", "across"), ("load", "load_kn"),
    ("alternatives", "alternatives", _OTHER_STACK),
)  # fmt: skip
_COVER: Table = (
    ("outline.area", "area_m2"), ("depth", "depth_m"), ("stone", "stone_m3"), ("strip", "strip_m3"),
    ("stripped", "stripped_m"), ("clear", "clear_m"), ("tight", "tight"),
)  # fmt: skip
_PULL: Table = (("side", "push_kn"), ("up", "lift_kn"), ("sliding", "sliding_kn"), ("lift", "uplift_kn"))
_ANCHORS: Table = (
    ("count", "count"), ("working", "working_kn"), ("wind.side", "wind_side_kpa"), ("wind.up", "wind_up_kpa"),
    ("wind.speed?", "wind_m_per_s"), ("wind.source", "source"), ("sides", "each_side"),
    ("pulls", "winds", lambda pull: written(pull, _PULL)),
    ("spots", "places", lambda xy: [sure(part) for part in xy]),
)  # fmt: skip
_CHECK: Table = (
    ("check", "check"), ("where", "where"), ("value?", "value"), ("limit?", "limit"), ("bound", "bound"),
    ("error", "error"), ("unit", "unit"), ("source", "source"), ("holds", "holds"),
)  # fmt: skip
_PIERS: Table = (
    ("goal", "goal"), ("top?", "top_m"), ("units_total", "units_total"),
    ("cost_total?", "cost_total"), ("prices.invented", "prices_invented"), ("cover", "cover", _COVER),
    ("anchors", "anchors", _ANCHORS),
    ("choices", "choices", _GOAL), ("checks", "checks", _CHECK), ("piers", "piers", _PIER),
)  # fmt: skip


def piers_record(piers: Piers) -> dict[str, Any]:
    """Write the piers; without a common top the list is empty and the top is null.

    Raises ``CheckError`` where the figures as written do not add up.
    """
    made = written(piers, _PIERS)
    for pier in made["piers"]:
        height = sum(part["thickness_m"] * part["count"] for part in pier["stack"])
        if abs(pier["bottom_m"] + pier["bed_m"] + height - pier["top_m"]) > SAME_LEVEL:
            raise CheckError(f"pier {pier['name']} as written does not add up to its top")
    for goal in made["choices"]:
        if goal["goal"] != made["goal"]:
            continue
        for key in ("dig_m3", "bed_m3"):
            if abs(math.fsum(pier[key] for pier in made["piers"]) - goal[key]) > SUM * goal[key]:
                raise CheckError(f"{key} of the piers as written does not add up to {goal[key]}")
        if sum(pier["units"] for pier in made["piers"]) != goal["units_total"]:
            raise CheckError(f"the units of the piers do not add up to {goal['units_total']}")
    return made


_FORM: Table = (
    ("height", "height_m"), ("length", "length_m"), ("courses", "courses"), ("boards", "boards_m"),
)  # fmt: skip
SLAB: Table = (
    ("level", "level_m"), ("area", "area_m2"), ("spec.thickness", "thickness_m"),
    ("spec.edge_depth", "edge_depth_m"), ("dig", "excavation_m3"), ("gravel", "gravel_m3"),
    ("fill", "fill_m3"), ("spec.fill", "fill"), ("reused", "earth_reused_m3"),
    ("earth_loose", "earth_brought_loose_m3"), ("fill_most", "deepest_fill_m"),
    ("concrete.volume", "concrete_m3"), ("concrete.needed", "concrete_with_waste_m3"),
    ("concrete.bags", "bags"), ("prices.concrete.bag", "bag_kg"), ("concrete.mix", "ready_mix_m3"),
    ("concrete.cheaper", "cheaper"), ("forms", "forms", _FORM),
    ("joints.spacing?", "joint_spacing_m"), ("joints.depth?", "joint_depth_m"),
    ("cost_total?", "cost_total"), ("prices.invented", "prices_invented"),
)  # fmt: skip

# What stands near.

_DISTANCE: Table = (("0", "from"), ("1", "distance_m"))
_NEAR: Table = (
    ("neighbour.name", "name"), ("neighbour.kind", "kind"), ("neighbour.setback?", "setback_m"),
    ("distances", "distances", _DISTANCE), ("checks", "checks", _CHECK),
)  # fmt: skip

# What can be built, and the comparison of foundations.


def _points(line: NDArray[np.float64]) -> list[list[float]]:
    return [[sure(value) for value in row] for row in line.tolist()]


def _measure(measure: Measure) -> dict[str, Any]:
    """Write what is built beside a foundation; stone in tonnes."""
    return {
        "kind": measure.kind,
        "line_m": _points(measure.line),
        "cut_m3": sure(measure.cut),
        "fill_m3": sure(measure.fill),
        "stone_t": sure(measure.stone / 1000.0),
        "pipe_m": sure(measure.pipe),
        "cost": sure(measure.cost),
    }


_JUDGED: Table = (
    ("foundation", "foundation"), ("buildable", "buildable"), ("level?", "level_m"), ("floor?", "floor_m"),
    ("cost?", "cost"), ("checks", "checks", _CHECK), ("measures", "measures", _measure),
)  # fmt: skip
"""A foundation and its checks: not buildable where one of them fails; null ones are ifs."""

_SIDE: Table = (("side", "side"), ("least?", "least_m"), ("most?", "most_m"))
_TAKES: Table = (
    ("digging?", "dig_m3"), ("mass?", "carry_kg"), ("at_yard?", "yard_cost"), ("money?", "cost"),
    ("hours.0?", "hours_least"), ("hours.1?", "hours_most"),
)  # fmt: skip
_OPTION: Table = (
    ("name", "name"), ("level?", "level_m"), ("floor?", "floor_m"), *_TAKES, ("buy", "buy"),
    ("floor_heights", "floor_above_ground", _SIDE), ("failing", "blocked_by"),
    ("findings", "findings", FINDING),
)  # fmt: skip


def _option(option: Option) -> dict[str, Any]:
    """Write one option; what has no plan takes nothing that is known, so its figures are null."""
    unknown = {} if option.planned else dict.fromkeys(key for _, key in _TAKES)
    return {**written(option, _OPTION), **unknown}


def comparison_record(found: Foundations) -> dict[str, Any]:
    """Write the options side by side, cheapest first; empty where only one foundation was asked for."""
    comparison = found.comparison
    if comparison is None:
        return {}
    return {
        "winner": None if comparison.winner is None else comparison.winner.name,
        "prices_date": found.prices.date,
        "prices_invented": list(found.invented),
        "options": rows(comparison.options, _option),
        "changes": rows(comparison.switches, attrgetter("words")),
    }


# The whole plan.

RECORD = 1

_SPOT: Table = (("station", "station"), ("x", "x_m"), ("y", "y_m"), ("elevation", "elevation_m"))
_SHAPE: Table = (("high", "high", _SPOT), ("low", "low", _SPOT), ("relief", "relief_m"))
_LINE: Table = (("start", "from"), ("end", "to"), ("length", "length_m"), ("fall", "fall_m"))
_FOOTPRINT: Table = (
    ("area", "area_m2"), ("high", "high_m"), ("low", "low_m"), ("fall", "fall_m"),
    ("slope", "slope_percent"), ("downhill_degrees?", "downhill_degrees"),
    ("sides", "sides", _LINE), ("diagonals", "diagonals", _LINE),
)  # fmt: skip
_CHOICE: Table = (
    ("rule", "rule"), ("level", "level_m"), ("cut", "cut_m3"), ("fill", "fill_m3"),
    ("excavation", "excavation_m3"), ("beside", "beside_m3"), ("gravel", "gravel_m3"),
    ("excavation_doubt", "excavation_doubt_m3"), ("gravel_doubt", "gravel_doubt_m3"),
    ("cost?", "cost"),
)  # fmt: skip
_PAD: Table = (
    ("chosen.rule", "rule"), ("chosen.level", "level_m"), ("outline.area", "area_m2"),
    ("chosen.cut", "cut_m3"), ("chosen.fill", "fill_m3"), ("chosen.excavation", "excavation_m3"),
    ("chosen.beside", "beside_m3"),
    ("chosen.gravel", "gravel_m3"), ("chosen.excavation_doubt", "excavation_doubt_m3"),
    ("chosen.gravel_doubt", "gravel_doubt_m3"), ("chosen.gravel_mass", "gravel_t"),
    ("edge.kind", "edge"), ("choices", "choices", _CHOICE),
)  # fmt: skip
_STAKES: Table = (
    ("count", "count"), ("apart", "apart_m"), ("depth", "depth_m"), ("length", "length_m"),
    ("boards", "boards"),
)  # fmt: skip
EDGE: Table = (
    ("kind", "held_by"), ("greatest", "height_m"), ("courses", "courses"), ("runs", "runs_m"),
    ("stakes", "stakes", _STAKES), ("screws", "screws"), ("pins", "pins"), ("pins_apart", "pins_apart_m"),
    ("timber_screws", "timber_screws"), ("deadmen", "deadmen"), ("buried", "buried_m"),
    ("parts.trench", "trench_m3"), ("parts.clean", "clean_stone_m3"), ("near", "building_near"),
)  # fmt: skip
_LOAD: Table = (
    ("what", "what"), ("mass", "mass_kg"), ("loads.carrier.name", "vehicle"), ("loads.count", "loads"),
    ("loads.carrier.payload?", "load_kg"), ("each", "each_kg"),
)  # fmt: skip
_HIRE: Table = (("item", "item"), ("why", "why"), ("days", "days"))
_ORDER_LINE: Table = (
    ("item", "item"), ("quantity", "quantity"), ("unit", "unit"), ("computed", "computed"),
    ("needed", "needed"), ("allowance", "allowance"), ("mass_kg", "mass_kg"), ("shop", "from"),
    ("kind", "kind"), ("place", "place"), ("chance?", "chance"),
    ("parts", "parts", (
        ("place", "place"), ("computed", "computed"), ("needed", "needed"), ("compacted", "compacted_m3"),
    )),
)  # fmt: skip


BAND: Table = (("p10", "p10"), ("p50", "p50"), ("p90", "p90"))
PLAIN_SPREAD: Table = (("cut", "cut_m3", BAND), ("fill", "fill_m3", BAND), ("net", "net_m3", BAND))
_SPREAD: Table = (
    *PLAIN_SPREAD, ("excavation", "excavation_m3", BAND), ("gravel", "gravel_m3", BAND),
    ("gravel_tonnes", "gravel_t", BAND), ("boards", "boards_m2", BAND),
    ("shots", "next_shots", (("x", "x_m"), ("y", "y_m"), ("saves", "saves_m3"))),
)  # fmt: skip


_PLAN_SPREAD: Table = (
    *((f"spread.{name}", key, *inner) for name, key, *inner in _SPREAD),
    ("beside_spread?", "beside_m3", BAND),
)
_SLAB_SPREAD: Table = (("excavation", "excavation_m3", BAND), ("gravel", "gravel_m3", BAND))
_PIERS_SPREAD: Table = (
    *_SLAB_SPREAD,
    ("piers", "piers", (("name", "name"), ("dig", "dig_m3", BAND), ("bed", "bed_m", BAND),
                        ("taller", "stack_short_chance"))),
)  # fmt: skip


def record(plan: Plan) -> dict[str, Any]:
    """Write a plan as the result record. Pure data: strings, finite numbers, lists, dictionaries, null."""
    found, trust, ground = plan.foundations, plan.trust, plan.surface
    footprint = written(plan.footprint, _FOOTPRINT)
    footprint["slope_percent"] *= 100.0
    ordered = "nothing" if plan.held_back else "as drawn" if not plan.stamp() else "anyway"
    because = list(dict.fromkeys(finding.code for finding in trust.reasons))
    return {
        "record": RECORD,
        "job": {"name": plan.job.name},
        "survey": {
            "stations": len(plan.stations),
            **written(plan.shape, _SHAPE),
            "trust": {"grade": trust.grade, "because": because},
            "benchmarks": rows(plan.benchmarks, BENCHMARK),
            "breaklines": [{"name": a.name, "line_m": _points(ground.along(a))} for a in ground.breaklines],
        },
        "footprint": footprint,
        "pad": _pad(plan.pad, found) if "pad" in found.asked else {},
        "spread": written(plan, _PLAN_SPREAD) if "pad" in found.asked and found.around else {},
        "piers": {}
        if found.piers is None
        else {
            **piers_record(found.piers),
            **_paid(found, "piers"),
            "spread": rows((plan.piers_spread,), _PIERS_SPREAD)[0] if plan.piers_spread else {},
        },
        "slab": {}
        if found.slab is None
        else {
            **written(found.slab, SLAB),
            **_paid(found, "slab"),
            "spread": rows((plan.slab_spread,), _SLAB_SPREAD)[0] if plan.slab_spread else {},
        },
        "options": rows(found.judged, _JUDGED),
        "winner": None if found.winner is None else found.winner.foundation,
        "binds": _binds(found),
        "elsewhere": rows(found.elsewhere, _elsewhere),
        "neighbours": rows(plan.near[found.chosen], _NEAR),
        "rain": rain_record(plan.rain, plan.catchments),
        "airborne": airborne_record(plan.airborne),
        "access": access_record(found.access),
        "comparison": comparison_record(found),
        "chosen": found.chosen,
        "ordered": ordered,
        "blocked_by": [] if plan.judged is None else list(plan.judged.failing),
        "order": [
            {**written(line, _ORDER_LINE), "cost": sure(money_for(line.paid, found.prices))}
            for line in plan.order.lines
        ],
        "order_total": _trip(plan, found.chosen),
        "days": days_record(plan.days),
        "soil": {} if plan.soil is None else _soil(plan.soil),
        "findings": finding_records(plan.findings),
    }


_PILE: Table = (
    ("kind", "kind"), ("dug", "dug_m3"), ("back", "back_m3"), ("heaped", "heaped_m3"),
    ("relaid", "relaid_m3"), ("spread", "spread_m3"), ("hauled", "hauled_m3"), ("heap", "heap_m3"),
)  # fmt: skip
_PATCH: Table = (("thick", "thick_m"), ("area", "area_m2"), ("volume", "loose_m3"))
_SOIL: Table = (
    ("soil.name", "soil"), ("soil.swell.value", "swell"), ("piles", "piles", _PILE), ("relaid", "relaid_m2"),
    ("deeper", "deeper_m3"), ("hauled_loose", "hauled_loose_m3"), ("held", "held"),
)  # fmt: skip


def _soil(soil: SoilPlan) -> dict[str, Any]:
    """Write where the soil goes: each pile in place, and where it is spread."""
    patches = [
        {
            "outline_m": [[sure(x), sure(y)] for x, y in one.ring.tolist()],
            **written(one, _PATCH),
            "edges_m": [sure(run) for run in one.runs.tolist()],
        }
        for one in soil.patches
    ]
    return {**written(soil, _SOIL), "patches": patches}


def _trip(plan: Plan, kind: str) -> dict[str, Any]:
    stops = plan.stops(kind)
    mass, apart = math.fsum(stop.mass for stop in stops), [line for stop in stops for line in stop.delivered]
    loads = [load.loads for stop in stops for load in stop.loads]
    largest = max((one.carrier.payload for one in loads if one.carrier.payload), default=None)
    return {
        "mass_kg": mass,
        "carried_kg": mass - math.fsum(line.mass_kg for line in apart),
        "loads": sum(one.count for one in loads),
        "load_kg": largest,
        "by_itself": [line.item for line in apart],
        "hire": rows(plan.hired(kind), _HIRE),
        "not_ordered": list(plan.not_ordered(kind)),
        "stops": [
            {
                "from": stop.shop,
                "mass_kg": stop.mass,
                "loads": rows(stop.loads, _LOAD),
                "delivered": [line.item for line in stop.delivered],
            }
            for stop in stops
        ],
    }


def _binds(found: Foundations) -> dict[str, Any] | None:
    """Write the check that the nearest foundation fails, where nothing can be built where it stands."""
    bound = found.binds
    return None if bound is None else {"foundation": bound[0].foundation, "check": written(bound[1], _CHECK)}


def _elsewhere(one: Elsewhere) -> dict[str, Any]:
    """Write a place at which it can be built, and what is still open there."""
    return {
        "way": one.way,
        "shift_m": [sure(by) for by in one.shift],
        "turn_degrees": sure(one.turn),
        "corners_m": _points(one.corners),
        "foundation": one.judged.foundation,
        "level_m": known(one.judged.level),
        "open": rows(one.judged.open, _CHECK),
    }


def _paid(found: Foundations, kind: str) -> dict[str, Any]:
    """Put what is paid for piers or slab in place of the money for their net amounts; and what leads past."""
    option = found.options[kind]
    paid = {"cost_total": sure(option.money) if option.planned else None}
    return paid if kind == "piers" else {**paid, "measures": _beside(found, kind)}


_LED: Table = (
    ("kind", "kind"), ("daylights", "daylights"), ("length", "length_m"), ("deepest", "deepest_m"),
    ("offset", "offset_m"), ("cut", "cut_m3"), ("fill", "fill_m3"), ("stone", "stone_m3"), ("pipe", "pipe_m"),
    ("solid", "solid_pipe_m"), ("fabric", "fabric_m2"), ("heaped_to?", "heaped_to_m"),
)  # fmt: skip


def _led(measure: WallMeasure, led: Led) -> dict[str, Any]:
    """Write what leads water past: what it is for, its inverts along the line, and what it takes."""
    lines = (("line_m", led.line), ("outlets_m", led.outlets), ("more_shots_m", measure.shots))
    flow = measure.flow
    return {
        "walls": list(measure.walls),
        "cures": list(measure.cured),
        **written(led, _LED),
        "flow_m3_per_s": None if flow is None else sure(flow.flow),
        "carries_m3_per_s": None if flow is None else sure(flow.most),
        **{key: _points(line) for key, line in lines},
    }


def _beside(found: Foundations, kind: str) -> list[dict[str, Any]]:
    """Write all that leads water past a pad or slab."""
    return [_led(one, one.made) for one in found.measures_of(kind) if one.made is not None]


def _pad(pad: Pad, found: Foundations) -> dict[str, Any]:
    """Write the pad; a rule that has no answer has the reason in place of figures."""
    made, edge = written(pad, _PAD), pad.edge
    made["gravel_t"] /= 1000.0  # the attribute is in kilograms
    made["edge"] = {"kind": edge.kind}
    if isinstance(edge, BoxedEdge):
        made["edge"] |= written(edge.built, EDGE)
    else:  # and the line where its side slopes end on the ground
        rings = [[[sure(x), sure(y)] for x, y in ring.tolist()] for ring in edge.slopes.daylight]
        made["edge"] |= {"daylight_m": rings[0], "islands_m": rings[1:]}
    nothing = dict.fromkeys(("level_m", "cut_m3", "fill_m3", "excavation_m3", "gravel_m3", "cost"))
    made["choices"] += [{"rule": rule, **nothing, "because": why} for rule, why in pad.unanswered]
    made["measures"] = _beside(found, "pad")
    return made
