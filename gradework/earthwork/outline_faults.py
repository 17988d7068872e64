"""What makes a drawn outline unusable, all faults at once, each with its place; and growing by a margin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.ring import contains, crossings, is_thin, kept_corners, spikes
from gradework.errors import Faults

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.units import Display

Floats = NDArray[np.float64]

MOST_CORNERS = 5000
"""More corners are refused: no building has them, and the test for crossings grows with the square."""


def checked_rings(rings: Sequence[Floats], show: Display) -> tuple[list[Floats], list[str]]:
    """Return usable rings and the names of their corners, or raise InputError with every fault."""
    faults = Faults()
    if not rings:
        faults.stop(
            "outline-too-few-corners", "the outline has no corners", "at least 3", "give its corners in order"
        )
    if sum(len(ring) for ring in rings) > MOST_CORNERS:
        faults.stop(
            "outline-too-many-corners",
            f"the outline has {sum(len(ring) for ring in rings)} corners",
            f"at most {MOST_CORNERS}",
            "leave out corners that lie on a straight side or next to each other",
        )
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
    return usable, names


def _ring_faults(ring: Floats, of: str, faults: Faults, show: Display) -> bool:
    """Note what is wrong with one ring by itself; whether anything is."""
    before = len(faults.all)
    for corner in np.flatnonzero(~np.isfinite(ring).all(axis=1)).tolist():
        faults.add(
            "outline-corner-unusable",
            f"corner {corner + 1}{of} is at x {ring[corner, 0]}, y {ring[corner, 1]}",
            "finite numbers",
            "write both coordinates of the corner as plain numbers",
        )
    if len(faults.all) > before:
        return True
    kept = kept_corners(ring) if len(ring) else np.empty(0, dtype=np.intp)
    if len(kept) < 3:
        faults.add(
            "outline-too-few-corners",
            f"the outline{of} has {len(kept)} different corners",
            "at least 3",
            "give every corner once, in order around the outline",
        )
        return True
    corners = ring[kept]
    if is_thin(corners):
        faults.add(
            "outline-no-area",
            f"all corners{of or ' of the outline'} lie on one line",
            "an outline with an inside",
            "check the coordinates: two of them may be swapped or repeated",
        )
        return True
    for corner in spikes(corners):
        faults.add(
            "outline-spike",
            f"the outline turns straight back at corner {kept[corner] + 1}{of}, "
            f"{show.place(*corners[corner].tolist())}",
            "sides that enclose ground",
            "take this corner out, or correct it",
        )
    return len(faults.all) > before


def _crossing_faults(rings: Sequence[Floats], names: Sequence[str], faults: Faults, show: Display) -> None:
    """Note every pair of sides that meet where they should not."""
    ends: list[int] = []
    for ring in rings:
        at = len(ends)
        ends.extend([*range(at + 1, at + len(ring)), at])
    for first, second, point in crossings(rings):
        faults.add(
            "outline-crosses-itself",
            f"the side from {names[first]} to {names[ends[first]]} meets the side from {names[second]} to "
            f"{names[ends[second]]} at {show.place(*point)}",
            "sides that meet only at their common corners",
            "give the corners in order around the outline, each once",
        )


def _hole_faults(rings: Sequence[Floats], faults: Faults) -> None:
    """Note holes outside the outline or inside another hole; no sides cross any more."""
    for number, hole in enumerate(rings[1:], start=1):
        corner = hole[:1]
        if not contains(rings[0], corner)[0]:
            faults.add(
                "outline-hole-outside",
                f"hole {number} lies outside the outline",
                "holes inside the first ring",
                "give the outside ring first, then its holes",
            )
        for other, ring in enumerate(rings[1:], start=1):
            if other != number and contains(ring, corner)[0]:
                faults.add(
                    "outline-hole-outside",
                    f"hole {number} lies inside hole {other}",
                    "holes apart from each other",
                    "leave the inner hole out",
                )


def grown_rings(
    rings: Sequence[Floats], names: Sequence[str], margin: float, show: Display, *, convex: bool
) -> tuple[list[Floats], list[str]]:
    """Move every side of an outline outward by the margin [m]; see ``Outline.grown``.

    The rings are those of an outline, ``names`` those of its corners; the sides of a ``convex`` one cannot
    come to cross, so that is not looked for.
    """
    faults = Faults()
    if not (np.isfinite(margin) and margin > 0):
        faults.stop(
            "outline-margin",
            f"the margin is {margin}",
            "a length of zero or more",
            "give a margin like 12 in",
        )
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
            faults.add(
                "outline-margin",
                f"a margin of {show.length(margin)} swallows the side from {own[side]} to "
                f"{own[(side + 1) % len(own)]}",
                "a margin narrower than the notch it closes",
                "draw the outline without the notch, or use a smaller margin",
            )
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
