"""The result record: everything a plan found, as one document, always SI, the unit at the end of each key.

Its shape is fixed by ``docs/result.schema.json``; keys may be added, never renamed or dropped within one
``record`` number.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.comparison_record import comparison_record
from gradework.exchange.findings import finding_records, known, sure
from gradework.exchange.pier_record import piers_record, slab_record
from gradework.foundations.gravelpad_edge import BatteredEdge

if TYPE_CHECKING:
    from gradework.earthwork.footprint import Line
    from gradework.foundations.gravelpad import Pad, PadChoice
    from gradework.ground.shape import SiteShape, Spot
    from gradework.project.work import Plan
    from gradework.sitework.order import OrderLine
    from gradework.sitework.order_haul import Haul
    from gradework.survey import Stations
    from gradework.survey.trust import Trust

RECORD = 1


def record(plan: Plan) -> dict[str, Any]:
    """Write a plan as the result record. Pure data: strings, finite numbers, lists, dictionaries, null."""
    found = plan.foundations
    return {
        "record": RECORD,
        "job": {"name": plan.job.name},
        "survey": _survey(plan.stations, plan.shape, plan.trust),
        "footprint": _footprint(plan),
        "pad": _pad(plan) if "pad" in found.asked else {},
        "piers": {} if found.piers is None else piers_record(found.piers),
        "slab": {} if found.slab is None else slab_record(found.slab),
        "comparison": comparison_record(found),
        "chosen": found.chosen,
        "order": [_order_line(line) for line in plan.order.lines],
        "order_total": _order_total(plan.haul(found.chosen)),
        "findings": finding_records(plan.findings),
    }


def _survey(stations: Stations, shape: SiteShape, trust: Trust) -> dict[str, Any]:
    return {
        "stations": len(stations),
        "high": _spot(shape.high),
        "low": _spot(shape.low),
        "relief_m": sure(shape.relief),
        "trust": {"grade": trust.grade, "because": list(dict.fromkeys(f.code for f in trust.reasons))},
    }


def _spot(spot: Spot) -> dict[str, Any]:
    return {
        "station": spot.station,
        "x_m": sure(spot.x),
        "y_m": sure(spot.y),
        "elevation_m": sure(spot.elevation),
    }


def _footprint(plan: Plan) -> dict[str, Any]:
    footprint = plan.footprint
    return {
        "area_m2": sure(footprint.area),
        "high_m": sure(footprint.high),
        "low_m": sure(footprint.low),
        "fall_m": sure(footprint.fall),
        "slope_percent": sure(footprint.slope * 100.0),
        "downhill_degrees": known(footprint.downhill_degrees),
        "sides": [_line(line) for line in footprint.sides],
        "diagonals": [_line(line) for line in footprint.diagonals],
    }


def _line(line: Line) -> dict[str, Any]:
    """Write the fall from one corner to another; below zero it rises."""
    return {
        "from": line.start,
        "to": line.end,
        "length_m": sure(line.length),
        "fall_m": sure(line.fall),
    }


def _pad(plan: Plan) -> dict[str, Any]:
    pad: Pad = plan.pad
    chosen = pad.chosen
    return {
        "rule": chosen.rule,
        "level_m": sure(chosen.level),
        "area_m2": sure(pad.outline.area),
        "cut_m3": sure(chosen.cut),
        "fill_m3": sure(chosen.fill),
        "excavation_m3": sure(chosen.excavation),
        "gravel_m3": sure(chosen.gravel),
        "excavation_doubt_m3": sure(chosen.excavation_doubt),
        "gravel_doubt_m3": sure(chosen.gravel_doubt),
        "gravel_t": sure(chosen.gravel_mass / 1000.0),
        "edge": _edge(pad),
        "choices": [
            *(_choice(choice) for choice in pad.choices),
            *(_unanswered(rule, why) for rule, why in pad.unanswered),
        ],
    }


def _edge(pad: Pad) -> dict[str, Any]:
    """Write which edge the pad has, and for side slopes the line where they end on the ground."""
    edge = pad.edge
    if not isinstance(edge, BatteredEdge):
        return {"kind": edge.kind}
    outside, *others = [[[sure(x), sure(y)] for x, y in ring.tolist()] for ring in edge.slopes.daylight]
    return {"kind": edge.kind, "daylight_m": outside, "islands_m": others}


def _choice(choice: PadChoice) -> dict[str, Any]:
    return {
        "rule": choice.rule,
        "level_m": sure(choice.level),
        "cut_m3": sure(choice.cut),
        "fill_m3": sure(choice.fill),
        "excavation_m3": sure(choice.excavation),
        "gravel_m3": sure(choice.gravel),
        "excavation_doubt_m3": sure(choice.excavation_doubt),
        "gravel_doubt_m3": sure(choice.gravel_doubt),
        "cost": known(choice.cost),
    }


def _unanswered(rule: str, because: str) -> dict[str, Any]:
    """Write a rule that has no answer with the reason in place of figures."""
    nothing = dict.fromkeys(("level_m", "cut_m3", "fill_m3", "excavation_m3", "gravel_m3", "cost"))
    return {"rule": rule, **nothing, "because": because}


def _order_total(haul: Haul) -> dict[str, Any]:
    """Write what everything weighs, and the loads; ``load_kg`` is null where only volume limits a load."""
    return {
        "mass_kg": sure(haul.mass),
        "carried_kg": sure(haul.carried),
        "loads": haul.loads.count,
        "load_kg": known(haul.loads.carrier.payload),
        "by_itself": list(haul.by_itself),
    }


def _order_line(line: OrderLine) -> dict[str, Any]:
    return {
        "item": line.item,
        "quantity": sure(line.quantity),
        "unit": line.unit,
        "computed": sure(line.computed),
        "needed": sure(line.needed),
        "allowance": line.allowance,
        "mass_kg": sure(line.mass_kg),
    }
