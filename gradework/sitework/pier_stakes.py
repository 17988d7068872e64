"""How piers are found in the yard: a string for each row, a running tape along it, stakes clear of the holes.

A stake in the middle of a pier is dug out with its hole. So each pier has its stake beside the hole, square
to its row; the ground there is what the hole is measured down from. The rows are strings between two stakes
that stand as far outside the building as the batter boards, and all piers of a row are marked from one hooked
tape, so that no slip adds up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.sides import sides_of
from gradework.foundations.piers.layout import Frame, building_frame
from gradework.sitework.setout import Aside, Stake, ground_at
from gradework.units.amounts import M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

CLEAR = 1.0 * M_PER_FT
"""A stake stands at least this far from the edge of a hole [m] (common practice, no source)."""

STEP, STEP_US = 0.1, 0.5 * M_PER_FT
"""Stakes stand a round distance from the middle of their pier [m], metric and in feet."""

ON_LINE = 0.002
"""Piers this far off one line [m] are no row that a string can show."""


@dataclass(frozen=True, slots=True)
class RowString:
    """The string of one row, from its first stake to its second [m].

    ``beside`` is the side of the building that it runs along, by its corners, and ``inside`` how far in [m],
    negative outside; "" where no side is parallel. ``line`` is where the tape passes the line of the building
    [m], ``places`` where it passes each pier, by name.
    """

    row: int
    first: str
    second: str
    start: tuple[float, float]
    end: tuple[float, float]
    beside: str
    inside: float
    line: float
    places: tuple[tuple[str, float], ...]

    @property
    def length(self) -> float:
        """How long the string is [m]."""
        return math.dist(self.start, self.end)


def row_strings(
    building: Outline, piers: Piers, *, offset: float, nearby: Nearby | None = None
) -> tuple[RowString, ...]:
    """Give the string of each row, ``offset`` [m] longer than the building at both ends, or as far as a wall
    ``nearby`` lets it; none for piers that do not stand in rows."""
    frame = building_frame(building, piers.spec.layout.along)
    ends = frame.to_local(building.rings[0])[:, 0]
    along, line = frame.along, np.array([float(ends.min()), float(ends.max())])
    strings = []
    for row in sorted({pier.row for pier in piers.piers if pier.row}):
        own = [pier for pier in piers.piers if pier.row == row]
        local = frame.to_local(np.array([(pier.x, pier.y) for pier in own]))
        if np.ptp(local[:, 1]) > ON_LINE:
            return ()
        across = float(local[:, 1].mean())
        sides = frame.to_site(np.column_stack([line, (across, across)]))
        away = [
            offset if nearby is None else nearby.room(side, way, offset)
            for side, way in zip(sides, (-along, along), strict=True)
        ]
        low = float(line[0]) - away[0]
        start, end = (sides + np.outer([-away[0], away[1]], along)).tolist()
        order = np.argsort(local[:, 0]).tolist()
        beside, inside = _beside(building, frame, across)
        strings.append(
            RowString(
                row,
                f"row {row} start",
                f"row {row} end",
                (start[0], start[1]),
                (end[0], end[1]),
                beside,
                inside,
                away[0],
                tuple((own[k].name, float(local[k, 0]) - low) for k in order),
            )
        )
    return tuple(strings)


def _sides(building: Outline) -> Iterator[tuple[str, Floats, Floats]]:
    """Give each side of the outside ring: its name by corners, its first corner, its outward normal."""
    sides = sides_of(building.rings[0])
    for number, side in enumerate(sides, start=1):
        yield f"{number}-{number % len(sides) + 1}", side.start, side.outward


def _beside(building: Outline, frame: Frame, across: float) -> tuple[str, float]:
    """Name the nearest side that a row runs along, and say how far inside it the row is [m]."""
    place = frame.to_site(np.array([(0.0, across)]))[0]
    found = [
        (float((corner - place) @ outward), name)
        for name, corner, outward in _sides(building)
        if abs(float(frame.along @ outward)) < 1e-6
    ]
    if not found:
        return "", 0.0
    inside, name = min(found, key=lambda one: abs(one[0]))
    return name, inside


def row_stakes(surface: Surface, strings: Sequence[RowString], *, grade: float | None) -> tuple[Stake, ...]:
    """Give both stakes of each row's string; ``grade`` [m] is the level of the strings."""
    return tuple(
        Stake(name, "row string", x, y, ground_at(surface, x, y), grade, ())
        for string in strings
        for name, (x, y) in ((string.first, string.start), (string.second, string.end))
    )


def pier_levels(pier: Pier) -> tuple[tuple[str, float], ...]:
    """Give every level worked to on one pier, lowest first: hole, bed, and the top of each unit laid [m]."""
    levels = [("bottom of hole", pier.bottom), ("top of bed", pier.bottom + pier.bed)]
    height = pier.bottom + pier.bed
    for number, unit in enumerate(pier.laid, start=1):
        height += unit.thickness
        last = number == len(pier.laid)
        # the last top is the common one itself, free of the rounding of the sum
        levels.append((f"top of unit {number}, {unit.name}", pier.top if last else height))
    return tuple(levels)


def pier_stakes(
    surface: Surface, building: Outline, piers: Piers, *, step: float = STEP_US, nearby: Nearby | None = None
) -> tuple[Stake, ...]:
    """Give a stake beside each pier, clear of every hole, marked for the bottom of its own.

    It stands square to the row, away from the middle of the building, a whole number of ``step`` [m] from the
    middle of the pier; on another side where that would be in a hole, off the survey or beyond a wall.
    """
    frame = building_frame(building, piers.spec.layout.along)
    middle = float(np.ptp(frame.to_local(building.rings[0])[:, 1]) / 2.0)
    middle += float(frame.to_local(building.rings[0])[:, 1].min())
    stakes = []
    for pier in piers.piers:
        found = _asides(surface, building, piers, pier, frame, middle, step)
        barred = [0] * len(found)
        if nearby is not None:
            barred = nearby.beyond([_standing(aside) for aside, _, _ in found]).tolist()
        best = min(range(len(found)), key=lambda k: 4 * barred[k] + found[k][2])
        aside, ground, _ = found[best]
        x, y = _standing(aside)
        stakes.append(Stake(f"pier {pier.name}", "pier", x, y, ground, pier.bottom, pier_levels(pier), aside))
    return tuple(stakes)


def anchor_stakes(surface: Surface, piers: Piers) -> tuple[Stake, ...]:
    """Give a stake where each ground anchor is screwed in; it is marked for no level."""
    spots = () if piers.anchors is None else piers.anchors.spots
    return tuple(
        Stake(f"anchor {number}", "anchor", x, y, ground_at(surface, x, y), None, ())
        for number, (x, y) in enumerate(spots, start=1)
    )


def _standing(aside: Aside) -> tuple[float, float]:
    return aside.x + aside.distance * aside.way[0], aside.y + aside.distance * aside.way[1]


def _asides(
    surface: Surface, building: Outline, piers: Piers, pier: Pier, frame: Frame, middle: float, step: float
) -> list[tuple[Aside, float | None, int]]:
    """Where the stake of a pier may stand, the ground there [m], and what speaks against it."""
    own = frame.to_local(np.array([(pier.x, pier.y)]))[0]
    out = frame.across if own[1] >= middle else -frame.across
    found: list[tuple[Aside, float | None, int]] = []
    for way, side in ((out, 1), (-out, 1), (frame.along, 0), (-frame.along, 0)):
        least = 0.5 * pier.hole_size[side] + CLEAR
        distance = math.ceil(least / step - 1e-9) * step
        x, y = pier.x + distance * float(way[0]), pier.y + distance * float(way[1])
        ground = ground_at(surface, x, y)
        toward = max(_sides(building), key=lambda one: float(one[2] @ way))[0]
        aside = Aside(pier.x, pier.y, distance, (float(way[0]), float(way[1])), toward)
        worse = 2 * (clear_of_holes(piers, frame, x, y) < 0.5 * CLEAR) + (ground is None)
        found.append((aside, ground, worse))
    return found


def clear_of_holes(piers: Piers, frame: Frame, x: float, y: float) -> float:
    """Give how far a place is from the nearest edge of a hole [m]; negative in one."""
    here = frame.to_local(np.array([(x, y)]))[0]
    places = frame.to_local(np.array([(pier.x, pier.y) for pier in piers.piers]))
    half = 0.5 * np.array([pier.hole_size for pier in piers.piers])
    return float((np.abs(places - here) - half).max(axis=1).min())
