"""What a slab's edge stands on, held against its limits: ground, or fill no deeper than needs no design."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.foundations.checks.check import COMMON, Check, cited
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.footprint import Side
    from gradework.foundations.slab.spec import SlabSpec

MOST_FILL = {"gravel": 24.0 * M_PER_IN, "earth": 8.0 * M_PER_IN}
"""Fill below a slab without engineering [m] (IRC R506.2.1; seen on a county's inspection page)."""

R506_2_1 = "IRC R506.2.1 (edition not seen)"

FLUSH = 0.125 * M_PER_IN
"""Nobody sets forms closer than this [m]: an edge that ends so little above the ground stands on it."""


def lowest_outside(sides: tuple[Side, ...]) -> float:
    """Give the lowest ground along the edge of the slab [m]."""
    return min(float(side.ground.min()) for side in sides)


def slab_checks(
    sides: tuple[Side, ...], level: float, fill_most: float, spec: SlabSpec, *, us: bool
) -> tuple[Check, ...]:
    """Check a slab at a level [m] whose deepest fill is ``fill_most`` [m].

    "slab edge bare": how far its edge ends above the ground outside. Nothing would hold the stone below it,
    whatever lies farther in, so none is allowed. "slab fill": the deepest fill that edge or slab stands on.
    """
    bare = level - spec.edge_depth - lowest_outside(sides)
    return (
        Check("slab edge bare", bare if bare > FLUSH else 0.0, 0.0, "m", COMMON),
        Check("slab fill", fill_most, MOST_FILL[spec.fill], "m", cited(R506_2_1, us=us)),
    )
