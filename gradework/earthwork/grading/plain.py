"""A plain apron: soil heaped against a raised pad, falling away from it as the rule asks to the flat ground.

Where the ground is too flat for a swale to come out anywhere, the pad is raised and soil is shaped away from
it: one plane before each side, as far out as the rule looks, above all ground there, and from there a short
bank down to the ground. Nothing is dug. Water of the yard comes to its foot, runs on round it as it did over
the flat ground before, and stands nowhere noticeably deeper than it did.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import cut_region, half_planes, near, signed_areas
from gradework.earthwork.grading.apron import LEAST_RAISED, SHOWN, highest_beside
from gradework.earthwork.grading.faces import Shapes, behind
from gradework.earthwork.grading.foot import Batter, Beside, DugBeside, pad_foot, with_slopes
from gradework.earthwork.grading.led import Kind, Station, shaped_bottoms
from gradework.earthwork.grading.planes import Highest, Lowest, Shape
from gradework.earthwork.grading.ponded import SOAKS, stands_deeper
from gradework.earthwork.grading.route import Edges
from gradework.earthwork.grading.sides import Side, is_hollow, sides_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gradework.earthwork.grading.finished import CutOff, Finished
    from gradework.earthwork.grading.foot import Foot
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

COVERED = 1e-6
"""[-] The survey covers a strip but for this part of it."""

FAR = 15.0
"""[m] The foot of the bank is looked for so far out."""

APART = 2.0
"""[-] Its foot is straight between corners: stakes stand about so many steps apart."""


class PlainSpec(NamedTuple):
    """What a plain apron keeps: ``fall`` [-] over ``reach`` [m] from the walls, the rule's; ``margin`` [m] of
    the pad beyond them; ``shown`` [m] of its edge at the least; ``bank``: its end, run per rise [-]."""

    fall: float
    reach: float
    margin: float
    shown: float = 0.0
    bank: float = 3.0


@dataclass(frozen=True, eq=False)
class PlainApron(DugBeside):
    """A plain apron as designed, site frame [m]; ``Led`` says what all kinds tell.

    ``line`` (n, 3) is its foot, where it meets the ground: x, y and that ground; ``feet`` the same with the
    way out from the pad; ``slope`` [-] it falls by over ``offset`` from the edge of the pad, ``raised``: how
    high it stands there above the highest ground.
    """

    feet: tuple[Station, ...]
    offset: float
    slope: float
    raised: float
    beside: Beside
    stone: float = 0.0
    pipe: float = 0.0
    solid: float = 0.0
    fabric: float = 0.0
    deepest: float = 0.0
    cut: float = 0.0

    @property
    def kind(self) -> Kind:
        """What it is."""
        return "plain_apron"

    @property
    def line(self) -> Floats:
        """Its foot (n, 3)."""
        return np.array([one.place for one in self.feet])

    @property
    def bends(self) -> tuple[Floats, ...]:
        """Nothing is dug."""
        return ()

    @property
    def length(self) -> float:
        """Of its foot."""
        return float(np.hypot(*np.diff(self.line[:, :2], axis=0).T).sum())

    @property
    def catches(self) -> Floats:
        """It takes no water up: each wall is judged over all that the rule looks at."""
        return np.empty((0, 2, 2))

    @property
    def outlets(self) -> Floats:
        """Water runs off all along it."""
        return np.empty((0, 3))

    @property
    def more_shots(self) -> Floats:
        """None: one that does not end on surveyed ground is not designed."""
        return np.empty((0, 2))

    @property
    def daylights(self) -> bool:
        """It ends on surveyed ground."""
        return True

    @property
    def bank_leaves(self) -> CutOff | None:
        """Nothing is dug."""
        return None

    @property
    def ground(self) -> Finished:
        """The finished ground with it alone."""
        return self.beside.ground

    @property
    def bottoms(self) -> Floats:
        """What the ground is filled up to (k, 3, 3)."""
        return shaped_bottoms(self.ground)

    @property
    def fill(self) -> float:
        """Besides the side slopes of the pad [m³], exact."""
        return self.beside.fill

    @property
    def bare(self) -> float:
        """The ground that it covers [m²]."""
        return self.beside.bare

    @property
    def heaped_to(self) -> float:
        """The height at the pad to which soil is heaped."""
        return self.start

    def stations(self, step: float) -> Iterator[Station]:
        """Where its foot is staked: at the ends and corners, and between about every two steps."""
        last = self.feet[0]
        yield last
        for one in self.feet[1:]:
            away = math.dist(one.place[:2], last.place[:2])
            if len(one.sides) > 1 or one is self.feet[-1] or away >= APART * step:
                yield one
                last = one


def design_plain_apron(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    spec: PlainSpec,
    *,
    batter: Batter | None = None,
) -> PlainApron | None:
    """Heap soil against a raised pad, to fall away from it over the flat ground.

    pad : its ring (k, 2), anticlockwise, site frame [m];  level : of the pad [m];  needed : the first and the
    last of the sides that it is heaped against, counted on past 0;  batter : the pad's own side slopes.
    It begins as high as it takes to stand above all ground before those sides, out to where the rule ends.
    None of a pad with inward corners; where it would begin higher than the pad may be heaped against, or no
    higher than the ground; where the survey ends before it does; and where water would stand deeper behind it
    than it did.
    """
    ring, out = pad - surface.origin, spec.reach - spec.margin
    if is_hollow(ring) or out <= 0.0:
        return None
    slope = spec.fall * spec.reach / out
    beside = highest_beside(Edges.of(surface), ring, needed)
    wanted = [_start(surface, side, out, slope) for side in _own(ring, needed)]
    start = max([beside, *wanted])
    if slope >= 1.0 / spec.bank or not LEAST_RAISED <= start - beside < np.inf:
        return None
    if start > level - max(SHOWN, spec.shown):
        return None
    foot = pad_foot(surface, pad, level, needed, batter, start=start)
    if foot is None:
        return None
    fill = _fill(foot, needed, out - foot.toe, slope, 1.0 / spec.bank)
    shapes = with_slopes(Shapes(None, fill), foot, spec.bank)
    made = Beside(surface, pad, level, foot, shapes, np.empty((0, 2, 2)), None)
    feet = tuple(_feet(surface, foot, needed, out - foot.toe, slope, 1.0 / spec.bank))
    if len(feet) < 2 or made.ground.spills or _stands(surface, made) > SOAKS:
        return None
    return PlainApron(feet, out, slope, start - beside, made)


def _own(ring: Floats, needed: tuple[int, int]) -> list[Side]:
    """The sides that it is heaped against, in their order."""
    sides = sides_of(ring)
    return [sides[number % len(sides)] for number in range(needed[0], needed[1] + 1)]


def _start(surface: Surface, side: Side, out: float, slope: float) -> float:
    """How high the plane before a side begins to stand above all ground there [m], exact; inf where the
    survey does not cover that."""
    corners = ((0.0, 0.0), (0.0, out), (side.length, out), (side.length, 0.0))
    strip = np.array([side.point(u, t) for u, t in corners])
    _, triangles = near(surface, strip)
    pieces, _ = cut_region(triangles, half_planes(strip))
    if not len(pieces) or signed_areas(pieces).sum() < side.length * out * (1.0 - COVERED):
        return np.inf
    away = (pieces[:, :, :2] - side.start) @ side.outward
    return float((pieces[:, :, 2] + slope * away).max())


def _fill(foot: Foot, needed: tuple[int, int], out: float, slope: float, rise: float) -> Shape:
    """The ground that it makes: a plane before each side and a bank, both laid back at their ends."""
    sides, count = _own(foot.ring, needed), len(foot.ring)
    low = foot.start - slope * out
    own = [
        Lowest((side.plane(0.0, 0.0, foot.start, out=-slope), side.plane(0.0, out, low, out=-rise)))
        for side in sides
    ]
    mounds = []
    for number, side in enumerate(sides):
        parts: list[Shape] = [
            own[number], side.plane(0.0, 0.0, foot.start, out=rise), behind(side, foot.ring, foot.start)
        ]  # fmt: skip
        for other, end, along in ((number - 1, 0.0, rise), (number + 1, side.length, -rise)):
            if 0 <= other < len(sides) or len(sides) == count:
                parts.append(own[other % len(sides)])
            else:
                parts.append(side.plane(end, 0.0, foot.start, along=along, out=-slope))
        mounds.append(Lowest(tuple(parts)))
    return Highest(tuple(mounds))


def _feet(
    surface: Surface, foot: Foot, needed: tuple[int, int], out: float, slope: float, rise: float
) -> Iterator[Station]:
    """Where it meets the ground: before both ends of each side and about every metre between, at a corner
    between two sides on the line half way between them; nothing where the survey ends before."""
    sides, edges = sides_of(foot.ring), Edges.of(surface)
    for corner, beside in _rays(sides, needed):
        way = np.sum([sides[number].outward for number in beside], axis=0)
        way = way / (way @ sides[beside[0]].outward)  # as far out from each of them
        at, ground = edges.profile(corner, corner + (out + FAR) * way)
        away = at / float(np.hypot(*way))
        cuts = np.unique(np.append(away, out))
        filled = foot.start - slope * np.minimum(cuts, out) - rise * np.maximum(cuts - out, 0.0)
        over = np.interp(cuts, away, ground) - filled if len(at) else np.empty(0)
        # beside a side it covers all ground out to there, whatever touches it on the way
        met = np.flatnonzero((over[1:] >= 0.0) & ((cuts[1:] > out) | (len(beside) > 1)))
        if not len(met):
            continue
        k = int(met[0])
        share = over[k] / (over[k] - over[k + 1]) if over[k] < 0.0 else 0.0
        t = float(cuts[k] + share * (cuts[k + 1] - cuts[k]))
        x, y = (corner + t * way + surface.origin).tolist()
        east, north = (way / np.hypot(*way)).tolist()
        yield Station((x, y, float(np.interp(t, away, ground))), (east, north), beside)


def _rays(sides: Sequence[Side], needed: tuple[int, int]) -> Iterator[tuple[Floats, tuple[int, ...]]]:
    """Where looks out from the pad begin, and the numbers of the sides that each lies beside: all round the
    first one comes again."""
    count, (first, last) = len(sides), needed
    whole = last - first + 1 == count
    for number in range(first, last + 1):
        own, side = number % count, sides[number % count]
        for u in np.linspace(0.0, side.length, 1 + max(round(side.length), 1))[:-1].tolist():
            joined = u == 0.0 and (whole or number > first)
            yield side.point(u, 0.0), ((number - 1) % count, own) if joined else (own,)
    side, own = sides[last % count], last % count
    yield side.point(side.length, 0.0), (own, first % count) if whole else (own,)


def _stands(surface: Surface, made: Beside) -> float:
    """How much deeper water stands round it than it did without it [m], the pad standing there."""
    after = made.ground.surface
    places = after.vertices[:, :2]
    before = surface.elevation(places + surface.origin)
    kept = np.isnan(before) | (after.vertices[:, 2] >= made.level - SHOWN / 2.0)
    return stands_deeper(
        after, np.where(kept, after.vertices[:, 2], before), places.min(axis=0), places.max(axis=0)
    )
