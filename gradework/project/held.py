"""What a plan says of its ground and of what it buys, held against a second road before anybody sees it.

Heights are asked of the surface again, triangle by triangle; volumes are taken by slices
(``earthwork.scan``), what is ordered is counted up from what is built. Whatever does not agree stops the
run: a wrong figure is not printed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.materials import find_gravel
from gradework.earthwork.outline import Outline, moved_ring
from gradework.earthwork.rings import ring_length
from gradework.earthwork.scan import hold_against, scan
from gradework.errors import CheckError
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.quantities import BoxedEdge
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.stacks import pieces_in_course
from gradework.foundations.slab.underside import sides_remain
from gradework.sitework.past_walls import led

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.footprint import Footprint
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.materials import Gravel
    from gradework.foundations.slab.design import Slab
    from gradework.ground.surface import Surface
    from gradework.project.designed import Foundation
    from gradework.project.options import Foundations
    from gradework.sitework.order import Order

Floats = NDArray[np.float64]

SAME_HEIGHT = 1e-6
"""[m] Two ways to the height of one place agree within this."""

SAME_PART = 1e-8
"""[-] Two ways to a volume or a mass agree within this part of it."""

_TONS = ("short tons", "tons", "tonnes")


def hold_plan(
    surface: Surface,
    building: Outline,
    footprint: Footprint,
    found: Foundations,
    stone: Callable[[str], Gravel] = find_gravel,
) -> None:
    """Hold the ground under the building, what is built and what is ordered against the second road.

    ``stone``: each kind as the supplier has it. Raises ``CheckError``.
    """
    under = clip(surface, building)
    _hold_heights(surface, under, "the ground under the building")
    ends = footprint.low, footprint.high
    if np.abs(np.array(ends) - (under.lowest, under.highest)).max() > SAME_HEIGHT:
        raise CheckError(f"the ground under the building is said to go from {ends[0]!r} to {ends[1]!r} m")
    seen = scan(surface, building, under.mean)
    hold_against(seen, "the ground under the building", area=under.area, ground=0.0)
    if "pad" in found.asked:
        _hold_pad(surface, found.pad)
    if found.piers is not None:
        _hold_piers(surface, found.piers)
    if found.slab is not None:
        hold_slab(surface, found.slab)
    for kind, order in found.orders.items():
        built = found.built.get(kind, found.pad)
        hold_order(order, built, led(found.measures_of(kind)), stone)


def _hold_heights(surface: Surface, pieces: Pieces, what: str) -> None:
    places = pieces.corners.reshape(-1, 3)
    again = surface.elevation(places[:, :2] + pieces.origin)
    if not (np.abs(again - places[:, 2]) <= SAME_HEIGHT)[np.isfinite(again)].all():
        raise CheckError(f"{what} does not lie as high as the surface there")


def _hold_pad(surface: Surface, pad: Pad) -> None:
    """The pad's own ground, cut and fill, digging and gravel inside its outline."""
    chosen, spec, area = pad.chosen, pad.spec, pad.pieces.area
    _hold_heights(surface, pad.pieces, "the ground under the pad")
    moved = chosen.cut + chosen.fill
    plain = scan(surface, pad.outline, chosen.level)
    hold_against(plain, "the pad", moved, area=area, cut=chosen.cut, fill=chosen.fill)
    # the level is dug and filled like a plain one that lies higher by the strip and lower by the gravel
    again = scan(surface, pad.outline, chosen.level + spec.strip - spec.gravel)
    dug = chosen.excavation - chosen.edge_excavation - spec.strip * area
    placed = chosen.gravel + chosen.native - chosen.edge_gravel - spec.gravel * area
    hold_against(again, "digging and gravel of the pad", dug + placed, cut=dug, fill=placed)


def _hold_piers(surface: Surface, piers: Piers) -> None:
    """The digging of each hole, the ground in it, and what its bed takes."""
    for pier in piers.piers:
        what = f"the hole of pier {pier.name}"
        along, across = pier.hole_size
        _same(f"the area of {what}", along * across, pier.hole.area, pier.hole.area)
        found = scan(surface, pier.hole, pier.bottom)
        if found is not None and found.area < pier.hole.area - SAME_HEIGHT * pier.hole.perimeter:
            continue  # by a millimetre at most it reaches over the rim of the survey
        hold_against(found, what, pier.dig, area=pier.hole.area, cut=pier.dig, fill=0.0)
        if abs(pier.bed_volume - along * across * pier.bed) > SAME_HEIGHT:
            raise CheckError(f"{what} is said to take {pier.bed_volume!r} m³ of gravel")
        ring = surface.elevation(pier.hole.rings[0])
        if not pier.ground_low - SAME_HEIGHT <= float(np.nanmin(ring)) <= pier.ground_high + SAME_HEIGHT:
            raise CheckError(f"{what} has no ground where its corners are")


def hold_slab(surface: Surface, slab: Slab) -> None:
    """Concrete, digging, stone and fill of a slab, side by side. Raises ``CheckError``.

    The underside is level before each side, slopes up from there and is level inside. Nothing is said where
    a short side ends within the edge, where the slab reaches over the rim of the survey (by 1 mm at most), or
    where the ground has too many triangles.
    """
    spec, area = slab.spec, slab.area
    rings = [ring - surface.origin for ring in slab.outline.rings]  # far from nought digits are lost
    deep = max(spec.edge_depth - spec.thickness, 0.0)
    ends = (spec.edge_width, spec.edge_width + max(deep - spec.base, 0.0), spec.edge_width + deep)
    over = abs(slab.outline.area - slab.ground.area) > SAME_PART * area
    if over or not all(sides_remain(rings, end) for end in ends):
        return
    under = slab.level - spec.thickness + spec.strip
    zones: list[tuple[list[Floats], float | Floats]] = [
        ([moved_ring(ring, -ends[1])[0] for ring in rings], under - spec.base)
    ]
    for ring in rings:
        lines = [ring, *(moved_ring(ring, -end)[0] for end in ends[:2])]
        for number, inward in enumerate(_inward(ring)):
            own = [line[[number, (number + 1) % len(ring)]] for line in lines]
            flat, sloping = (np.concatenate((one, two[::-1])) for one, two in pairwise(own))
            away = float(inward @ ring[number])
            zones.append(([flat], under - max(deep, spec.base)))
            zones.append(([sloping], np.array([*inward, under - deep - spec.edge_width - away])))
    # not ``polygon``: a zone may be as narrow as it likes
    made = ((Outline(tuple(ring + surface.origin for ring in one), ()), plane) for one, plane in zones)
    parts = [scan(surface, outline, plane) for outline, plane in made]
    seen = [one for one in parts if one is not None]
    if len(seen) < len(parts):
        return
    dug = spec.strip * area + sum(one.cut for one in seen)
    fill = sum(one.fill for one in seen)
    least = min(deep, spec.base)
    taken = _along(rings, (0.0, ends[1]), (least, least)) + _along(rings, ends[1:], (least, 0.0))
    stone = spec.base * area - taken + (fill if spec.fill == "gravel" else 0.0)
    rib = _along(rings, (0.0, ends[0]), (deep, deep)) + _along(rings, ends[::2], (deep, 0.0))
    _same("the ground it covers", area, sum(one.area for one in seen), area)
    _same("the digging of the slab", slab.dig, dug, dug + fill)
    _same("its digging below the topsoil", slab.subsoil, dug - spec.strip * area, dug + fill)
    _same("the fill under the slab", slab.fill, fill, dug + fill)
    _same("the stone under the slab", slab.gravel, stone, stone + area * spec.thickness)
    _same("the concrete", slab.concrete.volume, area * spec.thickness + rib, area * spec.thickness)


def _inward(ring: Floats) -> Floats:
    """The ways (k, 2) square to the sides of a ring, to its left."""
    step = np.roll(ring, -1, axis=0) - ring
    step /= np.hypot(*step.T)[:, None]
    return np.stack((-step[:, 1], step[:, 0]), axis=1)


def _along(rings: Sequence[Floats], ends: Sequence[float], depths: tuple[float, float]) -> float:
    """What stands [m³] on the bands between two distances inward, as deep at each as given: depth times how
    long all sides are there is of the second degree, so three places tell it."""
    middle = 0.5 * (ends[0] + ends[1])
    lengths = [
        sum(ring_length(moved_ring(ring, -far)[0]) for ring in rings) for far in (ends[0], middle, ends[1])
    ]
    weights = depths[0], 2.0 * (depths[0] + depths[1]), depths[1]
    return (ends[1] - ends[0]) / 6.0 * sum(w * length for w, length in zip(weights, lengths, strict=True))


def _same(what: str, told: float, found: float, size: float) -> None:
    """Refuse a figure that the other road does not give."""
    if not abs(told - found) <= SAME_PART * (abs(found) + abs(size)):
        raise CheckError(f"{what} is said to be {told!r}, counted up it is {found!r}")


def hold_order(
    order: Order, built: Foundation, measures: Sequence[Led], kinds: Callable[[str], Gravel]
) -> None:
    """Stone and blocks that are ordered, counted up from what is built; ``kinds``: each stone as the
    supplier has it. Raises ``CheckError``.

    Orders that are held back have no lines.
    """
    if not order.lines:
        return
    stone: dict[str, float] = defaultdict(float)
    for line in order.lines:
        for part in line.parts or (line,):
            stone[part.place] += part.compacted
        if line.compacted > 0.0 and line.unit in _TONS:  # bags hold what the plant fills them with
            dry = line.computed * line.in_si[0] / line.quantity
            _same(f"the {line.item}", dry, line.compacted * kinds(line.kind).compacted.value, dry)
            _same(f"the weight of the {line.item}", line.mass_kg, line.in_si[0], dry)
    laid = " and ".join(dict.fromkeys(one.kind for one in measures if one.stone > 0.0))
    _same(f"the stone ordered for the {laid}", stone[laid], sum(one.stone for one in measures), 1.0)
    if isinstance(built, Piers):
        _same("the stone for beds", stone["beds"], sum(one.bed_volume for one in built.piers), 1.0)
        _hold_blocks(order, built)
        return
    base = built.chosen.gravel if isinstance(built, Pad) else built.gravel
    if isinstance(built, Pad) and isinstance(built.edge, BoxedEdge):
        base += built.edge.built.parts.brought  # stone under the timbers; what is behind them is pad, too
    _same("the stone for the base", stone["base"] + stone["behind the timbers"], base, 1.0)


def _hold_blocks(order: Order, piers: Piers) -> None:
    """Blocks are counted by name over all stacks."""
    laid = ((unit, pieces_in_course(unit, pier.across)) for pier in piers.piers for unit in pier.laid)
    wanted = Counter(unit.name for unit, pieces in laid for _ in range(pieces))
    ordered = {line.item: line.computed for line in order.lines}
    for name, count in wanted.items():
        if ordered.get(name, 0.0) != count:
            raise CheckError(f"{count} of {name} are laid, {ordered.get(name, 0.0)!r} counted in the order")
