"""How airborne ground lies beside the shots of a survey: how far its datum is off, how rough it is, what of
it is used."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.errors import InputError
from gradework.ground.surface import Surface, build_surface
from gradework.ground.water.beyond import Beyond
from gradework.survey.stations import Stations, median

Floats = NDArray[np.float64]

FEWEST = 3
"""So few shots tell how the two datums differ, and whether one of them is off (judgement)."""

APART = 2.0
"""[m] Points nearer to the survey are left out: over so much the two grounds, each with its own error, meet
(judgement)."""

BESIDE = 25.0
"""[m] Points so far out from the survey are joined to look up the ground at its shots."""


class Beside(NamedTuple):
    """What the shots tell of airborne ground.

    ``shift`` [m]: the survey's heights less those from the air, in the middle; ``rough`` [m]: the root mean
    square of what is left; ``met``: at how many shots there is airborne ground; without any both are NaN.
    """

    shift: float
    rough: float
    met: int


def beside_shots(surface: Surface, points: Floats) -> Beside:
    """Hold airborne points (n, 3) [m], site, against the shots: straight between three that are joined."""
    shots = surface.stations.xyz
    low, high = shots[:, :2].min(axis=0) - BESIDE, shots[:, :2].max(axis=0) + BESIDE
    near = points[((points[:, :2] >= low) & (points[:, :2] <= high)).all(axis=1)]
    try:
        air = build_surface(_stations(near))
    except InputError:  # too few, or all in a line
        return Beside(np.nan, np.nan, 0)
    off = shots[:, 2] - air.elevation(shots[:, :2])
    off = off[np.isfinite(off)]
    shift = median(off)
    rough = float(np.sqrt(np.mean((off - shift) ** 2))) if len(off) else np.nan
    return Beside(shift, rough, len(off))


def _stations(points: Floats) -> Stations:
    count = len(points)
    names = [f"{number}" for number in range(1, count + 1)]
    return Stations(names, points, np.full(count, np.nan), np.zeros(count, dtype=np.int64), "", "m")


def beyond_survey(surface: Surface, points: Floats, shift: float, sd: float) -> Beyond:
    """The points (n, 3) [m], site, that lie well beyond a survey, on its datum; each known to ``sd`` [m]."""
    known = shapely.Polygon(surface.hull_xy)
    out = points[shapely.distance(known, shapely.points(points[:, :2])) >= APART]
    local: Floats = out + np.array([*-surface.origin, shift])
    return Beyond(local, sd)
