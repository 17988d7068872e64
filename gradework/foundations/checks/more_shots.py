"""Where to shoot so that the survey covers the strips before all walls: the fewest places for all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.foundations.checks.wall_strips import Wall
from gradework.ground.locate import TOUCH

if TYPE_CHECKING:
    from gradework.foundations.checks.wall_falls import WallFall
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

BEYOND = 0.1524
"""[m] Shots are asked for this far beyond the strips, 6 in: places are told and found in the yard rounded."""

MOST = 4
"""No more shots are asked for: four corners take in all round a building."""

_MOST_PLACES = 14
"""Of more places than this (a round building) those of a box round them are taken."""


def more_shots(surface: Surface, walls: Sequence[Wall], falls: Sequence[WallFall]) -> Floats:
    """Give the fewest places (n, 2), site [m], that bring all that strips lack inside the survey; n is at
    most ``MOST``. (0, 2) where nothing is lacking. Of as many places those nearest together are taken.
    """
    of = {wall.name: wall for wall in walls}
    short = [(of[fall.wall], np.array(fall.missing)) for fall in falls if fall.missing]
    if not short:
        return np.empty((0, 2))
    wanted = np.concatenate([ends.reshape(-1, 2) for _, ends in short])
    hull = surface.hull_xy
    places = np.array([*_beyond(short), *_mitres(short)])
    if len(places) > _MOST_PLACES:
        places = _box(short[0][0], wanted)
    for count in range(1, min(MOST, len(places)) + 1):
        fits = [
            chosen
            for chosen in (places[list(some)] for some in combinations(range(len(places)), count))
            if _covers(np.concatenate((hull, chosen)), wanted)
        ]
        if fits:
            return min(fits, key=lambda chosen: float(np.hypot(*(chosen - chosen.mean(axis=0)).T).sum()))
    return _box(short[0][0], wanted)


def _covers(points: Floats, wanted: Floats) -> bool:
    round_them = shapely.MultiPoint(points).convex_hull.buffer(TOUCH)
    return bool(shapely.covers(round_them, shapely.MultiPoint(wanted)))


def _beyond(short: Sequence[tuple[Wall, Floats]]) -> Iterator[Floats]:
    """The ends of what each strip lacks, farther out; at the end of a wall farther along it as well."""
    for wall, ends in short:
        for u, t in wall.frame(ends.reshape(-1, 2)).tolist():
            past = BEYOND * ((u >= wall.length - TOUCH) - (u <= TOUCH))
            yield np.array(wall.place(u + past, t + BEYOND))


def _mitres(short: Sequence[tuple[Wall, Floats]]) -> Iterator[Floats]:
    """Where the ends of the strips of two walls meet beyond an outward corner: one shot serves both."""
    for (one, ends), (other, more) in combinations(short, 2):
        if not (_follows(one, other) or _follows(other, one)):
            continue
        out = np.stack((one.outward, other.outward))
        if abs(float(np.linalg.det(out))) > 0.1:
            far = [
                float(wall.frame(some.reshape(-1, 2))[:, 1].max() + wall.outward @ wall.start + BEYOND)
                for wall, some in ((one, ends), (other, more))
            ]
            yield np.linalg.solve(out, np.array(far))


def _follows(one: Wall, other: Wall) -> bool:
    """Whether the second wall begins where the first ends, and turns outward there."""
    corner = one.start + one.length * one.along
    meets = float(np.hypot(*(other.start - corner))) <= TOUCH
    return meets and float(one.along @ other.outward) > 0.0


def _box(wall: Wall, wanted: Floats) -> Floats:
    """The corners of a box, square to a wall, round all that is wanted."""
    framed = wall.frame(wanted)
    (u, t), (u1, t1) = framed.min(axis=0) - BEYOND, framed.max(axis=0) + BEYOND
    return np.array([wall.place(*place) for place in ((u, t), (u1, t), (u1, t1), (u, t1))])
