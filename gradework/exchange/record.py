"""The result record: everything a plan found, as one document, always SI, the unit at the end of each key.

Its shape is fixed by ``docs/result.schema.json``; keys may be added, never renamed or dropped within one
``record`` number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from gradework.errors import CheckError, Finding
from gradework.foundations.pad.quantities import BatteredEdge

if TYPE_CHECKING:
    from gradework.earthwork.footprint import Line
    from gradework.foundations.comparison import Option
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.rules import PadChoice
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.foundations.slab.design import Slab
    from gradework.ground.contours import SiteShape, Spot
    from gradework.project.plan import Foundations, Plan
    from gradework.sitework.order import Haul, OrderLine
    from gradework.survey.quality import Trust
    from gradework.survey.stations import Stations


# Findings as plain dictionaries, the same in every JSON document.


def finding_records(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Write findings with figures in SI; a figure that is not known is null."""
    return [
        {
            "code": finding.code,
            "severity": finding.severity,
            "where": finding.where,
            "value": known(finding.value),
            "limit": known(finding.limit),
            "advice": finding.advice,
        }
        for finding in findings
    ]


def sure(value: float) -> float:
    """Give a figure that every plan has as a plain float; raise ``CheckError`` unless it is finite.

    >>> sure(-0.0)
    0.0
    """
    if not math.isfinite(value):
        raise CheckError(f"a figure of the record is {value}")
    return float(value) + 0.0


def known(value: float | None) -> float | None:
    """Give a finite number as a plain float, anything else as None.

    >>> known(-0.0), known(float("nan")), known(None)
    (0.0, None, None)
    """
    if value is None or not math.isfinite(value):
        return None
    return float(value) + 0.0


# Piers and slab in the result record: always SI, the unit at the end of each key.

SUM = 1e-9
"""Sums over all piers agree within this part of themselves."""

SAME_LEVEL = 1e-5
"""Bottom, bed and stack of each pier add up to its top within 0.01 mm [m]."""


def piers_record(piers: Piers) -> dict[str, Any]:
    """Write the piers; without a common top the list is empty and the top is null.

    Raises ``CheckError`` where the figures as written do not add up.
    """
    written = {
        "goal": piers.goal,
        "top_m": known(piers.top),
        "units_total": piers.units_total,
        "cost_total": known(piers.cost_total),
        "prices_invented": piers.prices.invented,
        "choices": [
            {
                "goal": choice.goal,
                "top_m": sure(choice.top),
                "units_total": choice.units,
                "cost_total": known(choice.cost),
                "dig_m3": sure(choice.dig),
                "bed_m3": sure(choice.bed),
                "tops_compared": choice.tops_compared,
            }
            for choice in piers.choices
        ],
        "piers": [_pier(pier) for pier in piers.piers],
    }
    _check_sums(written)
    return written


def _check_sums(written: dict[str, Any]) -> None:
    """Check that the piers as written add up to what their goal says of all of them."""
    piers = written["piers"]
    for choice in written["choices"]:
        if choice["goal"] == written["goal"]:
            for key in ("dig_m3", "bed_m3"):
                if abs(math.fsum(pier[key] for pier in piers) - choice[key]) > SUM * choice[key]:
                    raise CheckError(f"{key} of the piers as written does not add up to {choice[key]}")
            if sum(pier["units"] for pier in piers) != choice["units_total"]:
                raise CheckError(f"the units of the piers do not add up to {choice['units_total']}")


def _pier(pier: Pier) -> dict[str, Any]:
    stack = [
        {"unit": part.unit.name, "thickness_m": sure(part.unit.thickness), "count": part.count}
        for part in pier.stack
    ]
    height = sum(part.unit.thickness * part.count for part in pier.stack)
    if abs(pier.bottom + pier.bed + height - pier.top) > SAME_LEVEL:
        raise CheckError(f"pier {pier.name} as written does not add up to its top")
    return {
        "name": pier.name,
        "x_m": sure(pier.x),
        "y_m": sure(pier.y),
        "hole_along_m": sure(pier.hole_size[0]),
        "hole_across_m": sure(pier.hole_size[1]),
        "ground_high_m": sure(pier.ground_high),
        "ground_low_m": sure(pier.ground_low),
        "bottom_m": sure(pier.bottom),
        "dig_m3": sure(pier.dig),
        "bed_m": sure(pier.bed),
        "bed_m3": sure(pier.bed_volume),
        "stack": stack,
        "units": pier.pieces,
        "top_m": sure(pier.top),
        "cost": known(pier.cost),
        "alternatives": [
            {"words": other.words, "units": other.pieces, "cost": known(other.money)}
            for other in pier.alternatives
        ],
    }


def slab_record(slab: Slab) -> dict[str, Any]:
    """Write the slab."""
    return {
        "level_m": sure(slab.level),
        "area_m2": sure(slab.area),
        "thickness_m": sure(slab.spec.thickness),
        "edge_depth_m": sure(slab.spec.edge_depth),
        "excavation_m3": sure(slab.dig),
        "gravel_m3": sure(slab.gravel),
        "fill_m3": sure(slab.fill),
        "fill": slab.spec.fill,
        "earth_reused_m3": sure(slab.reused),
        "earth_brought_loose_m3": sure(slab.earth_loose),
        "deepest_fill_m": sure(slab.fill_most),
        "concrete_m3": sure(slab.concrete.volume),
        "concrete_with_waste_m3": sure(slab.concrete.needed),
        "bags": slab.concrete.bags,
        "bag_kg": sure(slab.prices.concrete.bag),
        "ready_mix_m3": sure(slab.concrete.mix),
        "cheaper": slab.concrete.cheaper,
        "forms": [
            {
                "height_m": sure(f.height),
                "length_m": sure(f.length),
                "courses": f.courses,
                "boards_m": [sure(board) for board in f.boards],
            }
            for f in slab.forms
        ],
        "joint_spacing_m": known(slab.joints.spacing),
        "joint_depth_m": known(slab.joints.depth),
        "cost_total": known(slab.cost_total),
        "prices_invented": slab.prices.invented,
    }


# The comparison of foundations in the result record: always SI, the unit at the end of each key.


def comparison_record(found: Foundations) -> dict[str, Any]:
    """Write the options side by side, cheapest first; empty where only one foundation was asked for."""
    comparison = found.comparison
    if comparison is None:
        return {}
    return {
        "winner": None if comparison.winner is None else comparison.winner.name,
        "prices_date": found.prices.date,
        "prices_invented": list(found.invented),
        "options": [_option(option) for option in comparison.options],
        "changes": [switch.words for switch in comparison.switches],
    }


def _option(option: Option) -> dict[str, Any]:
    """Write one option; what has no plan takes nothing that is known, so its figures are null."""
    least, most = option.hours if option.planned else (None, None)
    return {
        "name": option.name,
        "level_m": known(option.level),
        "floor_m": known(option.floor),
        "dig_m3": known(option.digging if option.planned else None),
        "carry_kg": known(option.mass if option.planned else None),
        "cost": known(option.money if option.planned else None),
        "hours_least": known(least),
        "hours_most": known(most),
        "buy": list(option.buy),
        "floor_above_ground": [
            {"side": side.side, "least_m": known(side.least), "most_m": known(side.most)}
            for side in option.floor_heights
        ],
        "blocked_by": [finding.code for finding in option.blockers],
        "findings": finding_records(option.findings),
    }


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
