"""What is told of the edge of a pad: too high to be held without a design, stakes that go deep."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

from gradework.errors import Finding, Severity, finding
from gradework.foundations.checks.check import ONE_READING as READING
from gradework.foundations.checks.check import cited
from gradework.foundations.pad.edge import DESIGNED_NEAR, LONG_STAKES, stakes_of
from gradework.foundations.pad.quantities import BatteredEdge, BoxedEdge
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.pad.spec import PadSpec
    from gradework.units.display import Display

    Edge: TypeAlias = BatteredEdge | BoxedEdge


def high_edge(edge: Edge, spec: PadSpec, show: Display) -> Finding | None:
    """The edge is higher than may be held without a design, or than the job allows."""
    height, limit = edge.greatest, spec.max_height
    severity: Severity = "warning"
    variant, source = "battered" if isinstance(edge, BatteredEdge) else "own", ""
    if isinstance(edge, BoxedEdge) and edge.built.kind != "none":
        check, *others = edge.built.checks
        if check.holds is False and check.limit is not None:
            severity, limit, source = "stop", check.limit, check.source
            variant = "near" if edge.built.near else "high"
        elif any(other.holds is None for other in others):
            limit, variant, source = DESIGNED_NEAR, "designed", others[-1].source
    if height <= limit + READING:
        return None
    place = show.place(*edge.greatest_at)
    return finding(
        "pad-edge-high",
        severity,
        place,
        height,
        limit,
        variant=variant,
        height=show.depth(height),
        place=place,
        most=show.depth(limit),
        margin=show.depth(spec.margin),
        source=cited(source, us=show.us) if source else "",
    )


def deep_stakes(edge: Edge, spec: PadSpec, show: Display) -> Finding | None:
    """The stakes go deeper than one likes to drive them: a wider margin or timbers spare that."""
    if not isinstance(edge, BoxedEdge) or not edge.built.stakes:
        return None
    row = max(edge.built.stakes, key=lambda one: one.depth)
    if row.depth <= LONG_STAKES + READING:
        return None
    wide, whole = edge.greatest, M_PER_IN if show.us else 0.01
    less = whole * math.ceil(stakes_of(wide, replace(spec, margin=wide)).depth / whole - 1e-6)
    wide = whole * math.ceil(wide / whole - 1e-6)
    return finding(
        "pad-stakes-deep", "note", "the pad's edge", row.depth, LONG_STAKES,
        variant="near" if less < row.depth - READING else "",
        depth=show.depth(row.depth), margin=show.depth(spec.margin), less=show.depth(less),
        wide=f"{wide / M_PER_IN:.0f} in" if show.us else f"{wide * 1000.0:.0f} mm",
    )  # fmt: skip
