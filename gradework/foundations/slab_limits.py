"""What published rules say about the slab as planned. Each finding names its source."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gradework.errors import Finding
from gradework.foundations.pier_limits import LIFT_LIMIT
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork import Outline
    from gradework.foundations.slab_plan import Slab
    from gradework.units import Display

LEAST_THICKNESS = 3.5 * M_PER_IN
"""Slabs are at least this thick [m] (IBC 1910.1, IRC R506.1; quoted)."""

MOST_FILL = {"gravel": 24.0 * M_PER_IN, "earth": 8.0 * M_PER_IN}
"""Fill below a slab without engineering [m] (IRC R506.2.1; seen on a county's inspection page)."""


def slab_findings(slab: Slab, building: Outline, show: Display) -> tuple[Finding, ...]:
    """Give all findings on a slab under a building, worst first."""
    found = [
        *_thickness(slab, show),
        *_fill(slab, show),
        *_edge(slab, show),
        *_frost(slab, building, show),
        *_film(slab),
        *_bags(slab, show),
    ]
    return tuple(sorted(found, key=lambda finding: ("stop", "warning", "note").index(finding.severity)))


def _thickness(slab: Slab, show: Display) -> Iterator[Finding]:
    thickness = slab.spec.thickness
    if thickness < LEAST_THICKNESS - 1e-9:
        yield Finding(
            "slab-thin",
            "warning",
            "slab",
            thickness,
            LEAST_THICKNESS,
            f"The slab is {show.depth(thickness)} thick, codes ask for {show.depth(LEAST_THICKNESS)} "
            "(IBC 1910.1, IRC R506.1, quoted). Make it thicker.",
        )


def _fill(slab: Slab, show: Display) -> Iterator[Finding]:
    limit = MOST_FILL[slab.spec.fill]
    if slab.fill_most > limit + 1e-9:
        yield Finding(
            "slab-fill-deep",
            "stop",
            "low side",
            slab.fill_most,
            limit,
            f"The fill below the base course is {show.depth(slab.fill_most)} deep, more than the "
            f"{show.depth(limit)} of {slab.spec.fill} allowed without an engineer (IRC R506.2.1). Lower the "
            "slab into the slope, turn or move it, or choose piers.",
        )


def _edge(slab: Slab, show: Display) -> Iterator[Finding]:
    low = min(float(side.ground.min()) for side in slab.sides)
    bare = slab.level - slab.spec.edge_depth - low
    if bare > 1e-6:
        yield Finding(
            "slab-edge-bare",
            "warning",
            "low side",
            bare,
            0.0,
            f"On the low side the edge ends {show.depth(bare)} above the ground, and nothing holds the "
            "gravel below it. Deepen the edge, bank earth against it, or lower the slab.",
        )


def _frost(slab: Slab, building: Outline, show: Display) -> Iterator[Finding]:
    rule = slab.spec.frost
    low = min(float(side.ground.min()) for side in slab.sides)
    depth = max(0.0, low - (slab.level - slab.spec.edge_depth))
    limit = rule.asked
    if depth >= limit - 1e-9:
        return
    small = building.area <= rule.exempt_area and rule.eave <= rule.exempt_eave
    text = f"On the low side the edge reaches {show.depth(depth)} into the ground, frost rules ask for "
    if small:
        text += (
            f"{show.depth(limit)}. Freestanding light-frame buildings up to {show.area(rule.exempt_area)} "
            f"with eaves up to {show.length(rule.exempt_eave)} need none (IRC R403.1.4.1 exception 1, "
            "quoted). Ask locally."
        )
    else:
        text += (
            f"{show.depth(limit)} (IRC R403.1.4, quoted). The building is too large or too high for the "
            "exception: deepen the edge, or insulate it as designed."
        )
    yield Finding("slab-frost", "note" if small else "warning", "low side", depth, limit, text)


def _film(slab: Slab) -> Iterator[Finding]:
    if slab.film is None and slab.spec.heated:
        yield Finding(
            "slab-film-missing",
            "warning",
            "slab",
            None,
            None,
            "A heated room needs a film below the slab, lapped 6 in (IBC 1910.1, quoted). Add it.",
        )
    if slab.film is not None and not slab.spec.heated:
        yield Finding(
            "slab-film-optional",
            "note",
            "slab",
            None,
            None,
            "Unheated stores and detached garages may do without the film (IBC 1910.1 exception, quoted); "
            "goods that rust or mould are better off with it.",
        )


def _bags(slab: Slab, show: Display) -> Iterator[Finding]:
    bag = slab.prices.concrete.bag
    if slab.concrete.cheaper == "bags" and bag > LIFT_LIMIT:
        yield Finding(
            "bag-heavy",
            "note",
            "concrete",
            bag,
            LIFT_LIMIT,
            f"{slab.concrete.bags} bags of {show.mass(bag)} are {show.mass(slab.concrete.bags_mass)} to "
            f"carry and mix; one person should lift {show.mass(LIFT_LIMIT)} at most (NIOSH). Smaller bags "
            "make as much per weight.",
        )
