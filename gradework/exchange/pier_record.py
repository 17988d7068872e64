"""Piers and slab in the result record: always SI, the unit at the end of each key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.errors import CheckError
from gradework.exchange.findings import known

if TYPE_CHECKING:
    from gradework.foundations.piers import Pier, Piers
    from gradework.foundations.slab import Slab

SAME_LEVEL = 1e-5
"""Bottom, bed and stack of each pier add up to its top within 0.01 mm [m]."""


def piers_record(piers: Piers) -> dict[str, Any]:
    """Write the piers; without a common top the list is empty and the top is null.

    Raises ``CheckError`` where the figures as written do not add up.
    """
    return {
        "goal": piers.goal,
        "top_m": known(piers.top),
        "units_total": piers.units_total,
        "cost_total": known(piers.cost_total),
        "prices_invented": piers.prices.invented,
        "choices": [
            {
                "goal": choice.goal,
                "top_m": known(choice.top),
                "units_total": choice.units,
                "cost_total": known(choice.cost),
                "dig_m3": known(choice.dig),
                "bed_m3": known(choice.bed),
                "tops_compared": choice.tops_compared,
            }
            for choice in piers.choices
        ],
        "piers": [_pier(pier) for pier in piers.piers],
    }


def _pier(pier: Pier) -> dict[str, Any]:
    stack = [
        {"unit": part.unit.name, "thickness_m": known(part.unit.thickness), "count": part.count}
        for part in pier.stack
    ]
    height = sum(part.unit.thickness * part.count for part in pier.stack)
    if abs(pier.bottom + pier.bed + height - pier.top) > SAME_LEVEL:
        raise CheckError(f"pier {pier.name} as written does not add up to its top")
    return {
        "name": pier.name,
        "x_m": known(pier.x),
        "y_m": known(pier.y),
        "ground_high_m": known(pier.ground_high),
        "ground_low_m": known(pier.ground_low),
        "bottom_m": known(pier.bottom),
        "dig_m3": known(pier.dig),
        "bed_m": known(pier.bed),
        "bed_m3": known(pier.bed_volume),
        "stack": stack,
        "units": pier.pieces,
        "top_m": known(pier.top),
        "cost": known(pier.cost),
        "alternatives": [
            {"words": other.words, "units": other.pieces, "cost": known(other.money)}
            for other in pier.alternatives
        ],
    }


def slab_record(slab: Slab) -> dict[str, Any]:
    """Write the slab."""
    return {
        "level_m": known(slab.level),
        "area_m2": known(slab.area),
        "thickness_m": known(slab.spec.thickness),
        "edge_depth_m": known(slab.spec.edge_depth),
        "excavation_m3": known(slab.dig),
        "gravel_m3": known(slab.gravel),
        "fill_m3": known(slab.fill),
        "deepest_fill_m": known(slab.fill_most),
        "concrete_m3": known(slab.concrete.volume),
        "concrete_with_waste_m3": known(slab.concrete.needed),
        "bags": slab.concrete.bags,
        "bag_kg": known(slab.prices.concrete.bag),
        "ready_mix_m3": known(slab.concrete.mix),
        "cheaper": slab.concrete.cheaper,
        "forms": [
            {"height_m": known(f.height), "length_m": known(f.length), "courses": f.courses}
            for f in slab.forms
        ],
        "joint_spacing_m": known(slab.joints.spacing),
        "joint_depth_m": known(slab.joints.depth),
        "cost_total": known(slab.cost_total),
        "prices_invented": slab.prices.invented,
    }
