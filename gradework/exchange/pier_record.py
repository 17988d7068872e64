"""Piers and slab in the result record: always SI, the unit at the end of each key."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from gradework.errors import CheckError
from gradework.exchange.findings import known, sure

if TYPE_CHECKING:
    from gradework.foundations.piers import Pier, Piers
    from gradework.foundations.slab import Slab

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
