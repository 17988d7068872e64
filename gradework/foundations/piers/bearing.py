"""What a pier may carry on its base, and how tall a stack each pier may have: the limits its load sets.

The ground bears what lies on it at most ``bearing``. The area is that of the base itself, as in the published
table of footings (24 CFR 3285.312): the gravel bed spreads the load farther, but no rule gives it credit. A
pad that reaches beyond the blocks is bent by the ground, so it helps only as far as it is thick. Blocks by
themselves carry no more than a published load.

All of it hangs on the height of a stack, its base and its plan alone, never on what is laid inside, so that
the best stack of each height is all that the search for the best top needs to know. A stack counts with the
weight of its densest unit throughout.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.piers.stacks import StackTable, course_plan, nanometres, pieces_in_course
from gradework.units.amounts import KN_PER_LB, KPA_PER_PSI, M_PER_IN

Floats = NDArray[np.float64]

GRAVITY = 9.80665
"""Standard gravity [m/s²]."""

PAD_STRESS = 113.0 * KPA_PER_PSI
"""Bending stress that a concrete pad may have from the ground below [kPa]. Derived: the 5 300 lb that a 20 in
pad, 4 in thick, may carry under an 8 x 16 pier at 2 000 psf (24 CFR 3285.312 table, note 2) bend it so."""

BLOCK_CAPACITY = {1: 8_000.0 * KN_PER_LB, 2: 16_000.0 * KN_PER_LB}
"""Most that single and double block piers carry [kN] (24 CFR 3285.312 table, note 4; seen)."""

CORNER_LIMIT = (3 * 7.625 + 3.625) * M_PER_IN
"""A single corner pier is at most so tall above its base pad [m]: three 8 in blocks and a 4 in cap as laid
(corner piers over three blocks high are double, 24 CFR 3285.306(b); seen)."""


BEARING_SOURCE = "IRC Table R401.4.1 (2000 to 2021, from memory), 24 CFR 3285.202 and .312 (2015)"
"""Where presumed bearing and what footings carry stand."""


class Demand(NamedTuple):
    """What each pier (n,) has to bear: ``load`` [kN] from the building, and whether it stands at a corner."""

    load: Floats
    corner: NDArray[np.bool_]


def base_area(table: StackTable) -> float:
    """Give the area on which the stacks of a table press on the gravel [m²]: pad or foot."""
    along, across = table.foot if table.base is None else course_plan(table.base, table.across)
    return along * across


def base_capacity(table: StackTable, bearing: float) -> float:
    """Give what stacks of a table may put on the ground [kN], with their own weight, at ``bearing`` [kPa].

    A pad of thickness t that reaches p beyond the blocks is bent by 3 q p²/t² where the ground presses q.
    """
    pressure = bearing
    if table.base is not None:
        plan = course_plan(table.base, table.across)
        beyond = max(0.5 * (whole - part) for whole, part in zip(plan, table.foot, strict=True))
        if beyond > 1e-6:
            pressure = min(bearing, PAD_STRESS * table.base.thickness**2 / (3.0 * beyond**2))
    return base_area(table) * pressure


def counted_weight(table: StackTable) -> tuple[float, float]:
    """Give the weight of the base [kN], all pieces of its course, and of each metre of stack above it [kN/m].

    Every course counts as wide as the widest and as dense as the densest unit in the stack.
    """
    pieces = 0 if table.base is None else pieces_in_course(table.base, table.across)
    base = 0.0 if table.base is None else pieces * table.base.mass * GRAVITY / 1000.0
    return base, table.density * table.widest[0] * table.widest[1] * GRAVITY / 1000.0


def pier_force(load: Floats, height: Floats, table: StackTable) -> Floats:
    """Give what piers put on the ground [kN]: the building's ``load`` [kN] and a stack ``height`` [m]."""
    base, metre = counted_weight(table)
    thick = 0.0 if table.base is None else table.base.thickness
    return load + base + metre * np.maximum(height - thick, 0.0)


def tallest_allowed(table: StackTable, demand: Demand, bearing: float) -> NDArray[np.int64]:
    """Give the tallest stack of a table that each pier (n,) may have [nm]; below 0 where none may be.

    Ground and blocks limit it by weight, corners of single piers by height.
    """
    base, metre = counted_weight(table)
    thick = 0.0 if table.base is None else table.base.thickness
    room = base_capacity(table, bearing) - base - demand.load
    most = np.full(len(demand.load), np.inf) if metre <= 0.0 else thick + room / metre
    most = np.where(demand.load > BLOCK_CAPACITY[table.across], -1.0, np.where(room < 0.0, -1.0, most))
    if table.across == 1:
        most = np.where(demand.corner, np.minimum(most, thick + CORNER_LIMIT + 1e-9), most)
    return np.array([nanometres(min(height, 1e3)) for height in most.tolist()], np.int64)


def most_carried(tables: Sequence[StackTable], bearing: float) -> float:
    """Give the largest load of a building [kN] that some pier made of these tables carries."""
    most = []
    for table in tables:
        least = np.array([table.heights[0] / 1e9])
        own = float(pier_force(np.zeros(1), least, table)[0])
        most.append(min(base_capacity(table, bearing) - own, BLOCK_CAPACITY[table.across]))
    return max(most, default=0.0)
