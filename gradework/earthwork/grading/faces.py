"""The planes of a swale: bench, inner side and back slope along each side, what is filled, its closed end.

The route says where the inverts run and how they fall; here it becomes the shape that the ground is dug
down to, and the one that low ground beside the pad is filled up to.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.planes import Highest, Lowest, Plane, Shape, height_at
from gradework.earthwork.rings import half_turns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.earthwork.grading.route import Route, SwaleSpec
    from gradework.earthwork.grading.sides import Side

Floats = NDArray[np.float64]

AT_CREST = 1e-6
"""[m] A crest this close to a corner stands at it."""

HIGH = 5.0
"""[m] No ground stands higher over the invert at the closed end of a swale: deeper ones do not fit."""

WING = 10.0
"""[-] How steeply what is filled beside a notch ends behind the notch's other side: inside the pad, where no
ground is shaped."""


ON_INVERT = 1e-6
"""[m] The shape must pass through the inverts within this."""


class Shapes(NamedTuple):
    """What the ground is dug down to and filled up to, local; None where nothing is dug, or filled."""

    cut: Shape | None
    fill: Shape | None


def swale_shapes(route: Route, ring: Floats, spec: SwaleSpec) -> Shapes:
    """The planes of a swale along its route; ``ring`` (k, 2) is the pad, local [m]."""
    sides, turns = route.line.sides, np.roll(half_turns(ring), -1)
    inner, outer = (
        [_inverts(route, number, spec, out / spec.side) for number in range(len(sides))]
        for out in (-1.0, 1.0)
    )
    benches = [side.plane(0.0, 0.0, route.start, out=-spec.bench_fall) for side in sides]
    near = [_near_side(route, number, spec, inner[number]) for number in range(len(sides))]
    dug, back = near[0], outer[0]
    for number in range(1, len(sides)):
        outward = turns[route.way.sides[number - 1]] > 0.0
        dug = (Lowest if outward else Highest)((dug, near[number]))
        back = (Highest if outward else Lowest)((back, outer[number]))
    cut = Highest((dug, back, *_heads(route, ring, spec)))
    mounds = []
    for number in range(route.way.first, route.way.last + 1):
        mound = _mound(route, number, ring, spec, list(zip(benches, inner, strict=True)))
        if mound is not None:
            mounds.append(mound)
    return Shapes(cut, Highest(tuple(mounds)) if mounds else None)


def _inverts(route: Route, number: int, spec: SwaleSpec, out: float) -> Shape:
    """The planes through the inverts along one side that rise by ``out`` per metre outward."""
    line, (crest, top) = route.line, route.crest
    side, zero, last = line.sides[number], float(line.zero[number]), len(line.sides) - 1
    ways: list[Shape] = []
    # a crest at a corner, to within rounding, belongs to neither side
    for falls, reached, fall, end in (
        (route.way.right, line.joints[number + 1] > crest + AT_CREST, -1.0, number == last),
        (route.way.left, line.joints[number] < crest - AT_CREST, 1.0, number == 0),
    ):
        if not (falls and reached):
            continue
        plane = side.plane(crest - zero, line.offset, top, along=fall * spec.near, out=out)
        where = route.breaks[1] if fall < 0.0 else route.breaks[0]
        height = top - spec.near * abs(where - crest)
        flatter = side.plane(where - zero, line.offset, height, along=fall * spec.far, out=out)
        ways.append(Highest((plane, flatter)) if end else plane)
    return ways[0] if len(ways) == 1 else Lowest(tuple(ways))


def _near_side(route: Route, number: int, spec: SwaleSpec, inner: Shape) -> Shape:
    """Bench and inner side; the bench ends, in faces laid back, beside the pad and beyond the last corner."""
    side = route.line.sides[number]
    fall, rise = -spec.bench_fall, 1.0 / spec.side
    faces = [side.plane(0.0, 0.0, route.start, out=fall), side.plane(0.0, 0.0, route.start, out=-rise)]
    if number == 0:
        faces.append(side.plane(0.0, 0.0, route.start, along=-rise, out=fall))
    if number == len(route.line.sides) - 1:
        faces.append(side.plane(side.length, 0.0, route.start, along=rise, out=fall))
    return Lowest((Highest(tuple(faces)), inner))


def _heads(route: Route, ring: Floats, spec: SwaleSpec) -> list[Shape]:
    """The face at the closed end of a swale that falls to one end only; nothing behind the middle of the pad,
    where the other end of a swale that goes round it may run."""
    rise, top = 1.0 / spec.side, route.crest[1]
    if route.way.left and route.way.right:
        return []
    side = route.line.sides[-1 if route.way.left else 0]
    u, along = (side.length, rise) if route.way.left else (0.0, -rise)
    return [Lowest((side.plane(u, 0.0, top, along=along), behind(side, ring, top)))]


def behind(side: Side, ring: Floats, height: float) -> Plane:
    """At ``height`` behind the middle of the pad, or of the wing, that the side is of, far below it on its
    other side: ends there what is shaped before this one."""
    behind = 0.5 * _thickness(side, ring)
    return side.plane(0.0, -behind, height, out=HIGH / behind)


def _thickness(side: Side, ring: Floats) -> float:
    """How far it is from a side straight through the pad (k, 2) [m], to the middle of the nearest side."""
    arm = ring - side.start
    u, out = arm @ side.along, arm @ side.outward
    found = []
    for first, last, near, far in zip(u, np.roll(u, -1), out, np.roll(out, -1), strict=True):
        low, high = max(min(first, last), 0.0), min(max(first, last), side.length)
        if high - low > AT_CREST and min(near, far) < -AT_CREST:
            ends = near + (np.array([low, high]) - first) / (last - first) * (far - near)
            found.append(float(-ends.mean()))
    return min(found)


def _mound(
    route: Route, number: int, ring: Floats, spec: SwaleSpec, own: Sequence[tuple[Plane, Shape]]
) -> Shape | None:
    """Bench and inner side as filled where the ground lies lower, as far along as the swale is dug.

    At an inward corner it ends in the other wing, before the ground on the far side of that.
    """
    line, turns = route.line, np.roll(half_turns(ring), -1)
    side, zero = line.sides[number], float(line.zero[number])
    come, leave = line.joints[number], line.joints[number + 1]
    dug = [(max(a, come), min(b, leave)) for a, b in route.dug if min(b, leave) > max(a, come)]
    if not dug:
        return None
    first, last = dug[0][0], dug[-1][1]
    bench, inner = own[number]
    fall, rise = -spec.bench_fall, 1.0 / spec.side
    parts: list[Shape] = [
        bench, inner, side.plane(0.0, 0.0, route.start, out=rise), behind(side, ring, route.start)
    ]  # fmt: skip
    for at_joint, other, corner, end, along in (
        (first <= come, number - 1, number - 1, max(first - zero, 0.0), rise),
        (last >= leave, number + 1, number, min(last - zero, side.length), -rise),
    ):
        if not (at_joint and 0 <= other < len(own)):
            parts.append(side.plane(end, 0.0, route.start, along=along, out=fall))
        elif turns[route.way.sides[corner]] > 0.0:
            parts += own[other]
        else:
            parts.append(line.sides[other].plane(0.0, 0.0, route.start, out=WING))
    return Lowest(tuple(parts))


def stations(route: Route, first: float, last: float) -> Floats:
    """The s between two others at which the line bends in plan or in fall."""
    bends = np.array([first, last, route.crest[0], *route.breaks, *route.line.joints[1:-1]])
    kept = np.unique(bends[(bends >= first) & (bends <= last)])
    apart = np.diff(kept) > ON_INVERT  # a crest at a corner may differ from it by rounding
    every: Floats = kept[np.concatenate(([True], apart))]
    return every


def segments(route: Route, first: float, last: float) -> Floats:
    """The stretches of the line between two s (k, 2, 2), local."""
    places = route.line.places(stations(route, first, last))
    segments: Floats = np.stack((places[:-1], places[1:]), axis=1)
    return segments


def holds(route: Route, cut: Shape) -> bool:
    """Whether the planes pass through the inverts they were made for: not where a face of one side cuts
    another's off, at a notch narrower than the swale."""
    at = np.concatenate([route.at, *(stations(route, *stretch) for stretch in route.dug)])
    at = np.unique(at[(at >= route.dug[0][0]) & (at <= route.dug[-1][1])])
    off = height_at(cut, route.line.places(at)) - np.interp(at, route.at, route.invert)
    return float(np.abs(off).max()) <= ON_INVERT
