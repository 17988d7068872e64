"""The outline of a building, a pad or a dig: a simple polygon, also with holes, in the site frame.

It refuses what has no inside to speak of (sides that cross, spikes, no area) and says where; it never
repairs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gradework.earthwork.rings import (
    FARTHEST,
    NARROW,
    WIDEST,
    contains,
    crossings,
    is_thin,
    kept_corners,
    ring_area,
    ring_length,
    spikes,
)
from gradework.errors import Faults, InputError, fault
from gradework.units.display import METRIC, Display, counted
from gradework.units.lengths import in_metres

if TYPE_CHECKING:
    from gradework.units.lengths import Unit


# What makes a drawn outline unusable, all faults at once, each with its place; and growing by a margin.

Floats = NDArray[np.float64]

MOST_CORNERS = 5000
"""More corners are refused: no building has them, and the test for crossings grows with the square."""


def checked_rings(rings: Sequence[Floats], show: Display) -> tuple[list[Floats], list[str]]:
    """Return usable rings and the names of their corners, or raise InputError with every fault."""
    faults = Faults()
    if not rings:
        faults.halt("outline-too-few-corners", variant="none")
    count = sum(len(ring) for ring in rings)
    if count > MOST_CORNERS:
        faults.halt("outline-too-many-corners", count=count, most=MOST_CORNERS)
    usable: list[Floats] = []
    names: list[str] = []
    for number, ring in enumerate(rings):
        of = f" of hole {number}" if number else ""
        if _ring_faults(ring, of, faults, show):
            continue
        kept = kept_corners(ring)
        usable.append(ring[kept])
        names.extend(f"corner {corner + 1}{of}" for corner in kept.tolist())
    if len(usable) == len(rings):
        _crossing_faults(usable, names, faults, show)
    faults.raise_if_any()
    _hole_faults(usable, faults)
    faults.raise_if_any()
    _closeness_faults(usable, names, faults, show)
    _thread_faults(usable, faults)
    faults.raise_if_any()
    return usable, names


def _ring_faults(ring: Floats, of: str, faults: Faults, show: Display) -> bool:
    """Note what is wrong with one ring by itself; whether anything is."""
    before = len(faults.all)
    for corner in np.flatnonzero(~(np.abs(ring) < FARTHEST).all(axis=1)).tolist():
        way = "far" if np.isfinite(ring[corner]).all() else ""
        x, y = (f"{value:g}" for value in ring[corner])
        faults.note("outline-corner-unusable", variant=way, corner=f"corner {corner + 1}{of}", x=x, y=y)
    if len(faults.all) > before:
        return True
    kept = kept_corners(ring) if len(ring) else np.empty(0, dtype=np.intp)
    name = of.removeprefix(" of ") or "the outline"
    if len(kept) < 3:
        faults.note("outline-too-few-corners", ring=name, count=len(kept))
        return True
    corners = ring[kept]
    if is_thin(corners):
        faults.note("outline-no-area", ring=name)
        return True
    for corner in spikes(corners):
        place = show.place(*corners[corner].tolist())
        faults.note("outline-spike", corner=f"corner {kept[corner] + 1}{of}", place=place)
    return len(faults.all) > before


def _crossing_faults(rings: Sequence[Floats], names: Sequence[str], faults: Faults, show: Display) -> None:
    """Note every pair of sides that meet where they should not."""
    ends: list[int] = []
    for ring in rings:
        at = len(ends)
        ends.extend([*range(at + 1, at + len(ring)), at])
    for first, second, point in crossings(rings):
        faults.note(
            "outline-crosses-itself",
            one=names[first],
            one_end=names[ends[first]],
            other=names[second],
            other_end=names[ends[second]],
            place=show.place(*point),
        )


def _hole_faults(rings: Sequence[Floats], faults: Faults) -> None:
    """Note holes outside the outline or inside another hole; no sides cross any more."""
    for number, hole in enumerate(rings[1:], start=1):
        corner = hole[:1]
        if not contains(rings[0], corner)[0]:
            faults.note("outline-hole-outside", hole=number)
        for other, ring in enumerate(rings[1:], start=1):
            if other != number and contains(ring, corner)[0]:
                faults.note("outline-hole-outside", variant="inside", hole=number, other=other)


def _closeness_faults(rings: Sequence[Floats], names: Sequence[str], faults: Faults, show: Display) -> None:
    """Note rings that come within ``NARROW`` of each other, each pair at its narrowest place."""
    starts = np.cumsum([0, *(len(ring) for ring in rings)]).tolist()
    for one in range(len(rings)):
        for other in range(one + 1, len(rings)):
            gap, corner, side, at, beside = min(
                (*_nearest_side(rings[a], rings[b]), a, b) for a, b in ((one, other), (other, one))
            )
            if gap >= NARROW:
                continue
            sides = len(rings[beside])
            faults.note(
                "outline-too-close",
                corner=names[starts[at] + corner],
                gap=f"{gap * 1000.0:.2g}",
                start=names[starts[beside] + side],
                end=names[starts[beside] + (side + 1) % sides],
                place=show.place(*rings[at][corner].tolist()),
            )


def _nearest_side(ring: Floats, other: Floats) -> tuple[float, int, int]:
    """The least distance [m] from a corner of ``ring`` to a side of ``other``, and the numbers of the two."""
    best = (np.inf, 0, 0)
    step = np.roll(other, -1, axis=0) - other
    square = (step**2).sum(axis=1)
    low, high = other.min(axis=0) - NARROW, other.max(axis=0) + NARROW
    for corner in np.flatnonzero(((ring >= low) & (ring <= high)).all(axis=1)).tolist():
        arm = ring[corner] - other
        part = np.clip((arm * step).sum(axis=1) / square, 0.0, 1.0)
        away = np.hypot(*(arm - part[:, None] * step).T)
        side = int(away.argmin())
        best = min(best, (float(away[side]), corner, side))
    return best


def _thread_faults(rings: Sequence[Floats], faults: Faults) -> None:
    """Note an outline that is a thread: less than ``NARROW`` wide in the mean, its holes taken off."""
    area = abs(ring_area(rings[0])) - sum(abs(ring_area(hole)) for hole in rings[1:])
    length = sum(ring_length(ring) for ring in rings)
    if area < 0.5 * NARROW * length:
        faults.note("outline-no-area", variant="thread")


def grown_rings(
    rings: Sequence[Floats], names: Sequence[str], margin: float, show: Display, *, convex: bool
) -> tuple[list[Floats], list[str]]:
    """Move every side of an outline outward by the margin [m]; see ``Outline.grown``.

    The rings are those of an outline, ``names`` those of its corners; the sides of a ``convex`` one cannot
    come to cross, so that is not looked for.
    """
    faults = Faults()
    if not (np.isfinite(margin) and margin > 0):
        faults.halt("outline-margin", variant="length", margin=margin)
    grown: list[Floats] = []
    labels: list[str] = []
    at = 0
    for number, ring in enumerate(rings):
        own = names[at : at + len(ring)]
        at += len(ring)
        moved, kept = moved_ring(ring, margin)
        if number and not kept.any():
            continue  # the margin closes this hole
        if not kept.all():
            side = int(np.flatnonzero(~kept)[0])
            start, end = own[side], own[(side + 1) % len(own)]
            faults.note("outline-margin", margin=show.length(margin), start=start, end=end)
        grown.append(moved)
        labels.extend(own)
    faults.raise_if_any()
    if not convex:
        _crossing_faults(grown, labels, faults, show)
        faults.raise_if_any()
    return grown, labels


def moved_ring(ring: Floats, margin: float) -> tuple[Floats, NDArray[np.bool_]]:
    """The ring (k, 2) with each side moved right by ``margin`` [m] (left below 0), corners mitred.

    Also which sides keep their direction, (k,).
    """
    side = np.roll(ring, -1, axis=0) - ring
    normal = np.stack((side[:, 1], -side[:, 0]), axis=1) / np.hypot(side[:, 0], side[:, 1])[:, None]
    before = np.roll(normal, 1, axis=0)
    moved = ring + margin * (normal + before) / (1.0 + (normal * before).sum(axis=1))[:, None]
    new_side = np.roll(moved, -1, axis=0) - moved
    return moved, (new_side * side).sum(axis=1) > 0


STRAIGHT_SINE = 1e-12
"""A corner that turns by less than this (its sine) is straight; it does not make an outline hollow."""


@dataclass(frozen=True, eq=False)
class Outline:
    """A simple polygon with holes, site frame [m]. Make one with ``rectangle`` or ``polygon``.

    Attributes
    ----------
    rings
        Ring 0 is the outside and runs anticlockwise, the others are holes and run clockwise; each (k, 2) [m],
        read-only, not closed (the last corner is not the first).
    names
        One for each corner, ring after ring, for messages.
    title
        What messages call it; an outline that was grown says so.

    Examples
    --------
    >>> Outline.rectangle((0.0, 0.0), (4.0, 3.0))
    <Outline: 4 corners, 12.0 m²>
    >>> Outline.rectangle((0, 0), (16, 12), unit="ft").bounds           # in metres, like all that comes out
    (0.0, 0.0, 4.8768, 3.6576)
    >>> Outline.polygon([(0, 0), (5, 0), (5, 2), (2, 2), (2, 4), (0, 4)]).area
    14.0
    """

    rings: tuple[Floats, ...]
    names: tuple[str, ...]
    title: str = "outline"

    def __repr__(self) -> str:
        holes = f", {counted(len(self.rings) - 1, 'holes')}" if len(self.rings) > 1 else ""
        return f"<Outline: {len(self.names)} corners{holes}, {METRIC.area(self.area)}>"

    @classmethod
    def rectangle(
        cls,
        corner: Sequence[float],
        size: Sequence[float],
        turn: float = 0.0,
        *,
        unit: Unit = "m",
        show: Display = METRIC,
    ) -> Outline:
        """Return the rectangle of ``size`` (along, across) [unit] from its first corner, turned by ``turn``
        [degrees].

        The corner stays where it is; positive turns are anticlockwise, right angles exact. ``show`` is how
        messages write lengths. Raises InputError (``outline-size``, ``outline-corner-unusable``,
        ``array-shape``, ``array-unit``).
        """
        if unit != "m":
            show = Display(unit)
        turn = _pair((turn, 0.0), "the turn of the rectangle")[0]
        corner = [in_metres(value, unit) for value in _pair(corner, "the first corner of the rectangle")]
        size = [in_metres(value, unit) for value in _pair(size, "the size of the rectangle")]
        faults = Faults()
        if not (all(abs(value) < FARTHEST for value in corner) and math.isfinite(turn)):
            start = tuple(map(float, corner))
            faults.note("outline-corner-unusable", variant="rectangle", corner=start, turn=turn)
        for word, value in zip(("along", "across"), size, strict=True):
            if not NARROW < value < WIDEST:
                shown = show.distance(value) if abs(value) < FARTHEST else f"{value:g}"
                faults.note("outline-size", way=word, size=shown, most=show.distance(WIDEST))
        faults.raise_if_any()
        cosine, sine = _turned(turn)
        along, across = size
        steps = np.array([[0.0, 0.0], [along, 0.0], [along, across], [0.0, across]])
        corners = np.asarray(corner, dtype=np.float64) + steps @ np.array([[cosine, sine], [-sine, cosine]])
        return cls._frozen([corners], [f"corner {number}" for number in range(1, 5)])

    @classmethod
    def polygon(
        cls, rings: ArrayLike | Sequence[ArrayLike], *, unit: Unit = "m", show: Display = METRIC
    ) -> Outline:
        """Return the outline with these corners: one ring (k, 2), or the outside followed by holes [unit].

        Rings may be closed or open, clockwise or not; a corner given twice in a row counts once. Raises
        InputError with all faults: ``outline-corner-unusable``, ``outline-too-few-corners``,
        ``outline-too-many-corners``, ``outline-no-area``, ``outline-spike``, ``outline-crosses-itself``,
        ``outline-hole-outside``, ``outline-too-close``, and ``array-shape``, ``array-unit`` for what
        are no corners at all.
        """
        given = [in_metres(ring, unit) for ring in _as_rings(rings)]
        return cls._frozen(*checked_rings(given, show if unit == "m" else Display(unit)))

    @classmethod
    def _frozen(cls, rings: Sequence[Floats], names: Sequence[str], title: str = "outline") -> Outline:
        """Fix the directions (outside anticlockwise, holes clockwise), names with their corners, and lock."""
        fixed, labels, at = [], [], 0
        for number, ring in enumerate(rings):
            own = list(names[at : at + len(ring)])
            at += len(ring)
            locked = np.array(ring, dtype=np.float64)
            if (ring_area(ring) > 0) != (number == 0):  # turn it round, first corner stays first
                locked = np.roll(locked[::-1], 1, axis=0)
                own = [own[0], *own[:0:-1]]
            locked.setflags(write=False)
            fixed.append(locked)
            labels.extend(own)
        return cls(tuple(fixed), tuple(labels), title)

    @cached_property
    def area(self) -> float:
        """Area inside, holes taken off [m²]."""
        return math.fsum(ring_area(corners) for corners in self.rings)

    @cached_property
    def perimeter(self) -> float:
        """Length of all sides, those of holes too [m]."""
        return math.fsum(ring_length(ring) for ring in self.rings)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y [m]."""
        low, high = self.rings[0].min(axis=0), self.rings[0].max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def corners(self) -> Floats:
        """All corners, ring after ring, (n, 2) [m]; ``names`` runs along."""
        return self.rings[0] if len(self.rings) == 1 else np.concatenate(self.rings)

    @cached_property
    def is_convex(self) -> bool:
        """Whether the outline has no hole and never turns inward (straight corners allowed)."""
        if len(self.rings) > 1:
            return False
        ring = self.rings[0]
        side = np.roll(ring, -1, axis=0) - ring
        before = np.roll(side, 1, axis=0)
        cross = before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]
        return bool((cross >= -STRAIGHT_SINE * np.hypot(*side.T) * np.hypot(*before.T)).all())

    def contains(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Which points (n, 2) [m] lie inside; a point exactly on a side may come out either way."""
        where = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        inside = np.zeros(len(where), dtype=bool)
        for ring in self.rings:
            inside ^= contains(ring, where)
        return inside

    def grown(self, margin: float, *, show: Display = METRIC) -> Outline:
        """Return the outline moved outward by ``margin`` [m] all round, corners mitred (holes shrink).

        A hole that the margin closes is gone. A margin of 0 returns the outline itself. Raises InputError
        ``outline-margin`` where the margin is negative, not finite, or closes a notch.
        """
        if margin == 0:
            return self

        moved = grown_rings(self.rings, self.names, margin, show, convex=self.is_convex)
        return self._frozen(*moved, title=f"outline with its margin of {show.depth(margin)}")


def _turned(degrees: float) -> tuple[float, float]:
    """Cosine and sine, exact at right angles."""
    quarter, rest = divmod(degrees, 90.0)
    cosine, sine = (1.0, 0.0) if rest == 0 else (math.cos(math.radians(rest)), math.sin(math.radians(rest)))
    for _ in range(int(quarter) % 4):
        cosine, sine = -sine, cosine
    return cosine, sine


def _as_rings(rings: ArrayLike | Sequence[ArrayLike]) -> list[Floats]:
    """One ring or several, as arrays of corners."""
    try:
        single = np.asarray(rings, dtype=np.float64)
    except (ValueError, TypeError):
        single = np.empty(0)
    if single.ndim == 2 and single.shape[1] == 2:
        return [single]
    try:
        several = [np.asarray(ring, dtype=np.float64) for ring in rings]  # type: ignore[union-attr]
    except (ValueError, TypeError):
        several = [np.zeros(1)]
    if any(ring.size and (ring.ndim != 2 or ring.shape[1] != 2) for ring in several):
        raise InputError(
            [fault("array-shape", what="corners", wanted="x and y of each: n rows of 2 numbers")]
        )
    return [ring.reshape(-1, 2) for ring in several]


def _pair(values: Sequence[float], what: str) -> list[float]:
    """Two numbers, whatever they are; refuses what is not two of them."""
    try:
        pair = np.asarray(values, dtype=np.float64)
    except (ValueError, TypeError):
        pair = np.zeros(0)
    if pair.shape != (2,):
        raise InputError([fault("array-shape", what=what, wanted="two numbers")])
    return [float(value) for value in pair]
