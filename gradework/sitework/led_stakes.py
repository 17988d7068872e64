"""How the bottom of a swale or pipe is found in the yard: stakes beside it, out of the dig, marked for it.

A stake in the line is dug out with the swale. So each stands on the far side from the pad, past the top of
the bank, a round distance from the line.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np
import shapely

from gradework.sitework.pier_stakes import CLEAR, STEP, STEP_US
from gradework.sitework.setout import Aside, Stake, StakeKind, ground_at

if TYPE_CHECKING:
    from typing import Any

    from gradework.earthwork.grading.led import Staked
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

ALONG, ALONG_US = 1.5, 1.524
"""[m] Stakes along it stand no farther apart: 5 ft, in metric jobs a round step."""

BOTTOMS: Mapping[StakeKind, str] = {
    "swale": "swale bottom",
    "apron": "foot of the apron",
    "drain": "pipe bottom",
    "gutter pipe": "pipe bottom",
    "outlet pipe": "pipe bottom",
}
"""What a stake is marked for."""

STAKED: Mapping[str, StakeKind] = {
    "swale": "swale",
    "apron": "swale",
    "plain_apron": "apron",
    "drain": "drain",
    "gutter": "gutter pipe",
    "outlet": "outlet pipe",
}
"""What is staked of each kind: of an apron the swale along its foot, of a plain one the foot itself, of a
gutter the pipe from it, of a pad whose stone holds water the pipe out of it."""

FARTHEST = 6.096
"""[m] No stake stands farther from the line than 20 ft: then it stands in it."""


def led_stakes(
    surface: Surface,
    building: Outline,
    laid: Iterable[Staked],
    *,
    us: bool = False,
    nearby: Nearby | None = None,
    of: str = "pad",
) -> tuple[Stake, ...]:
    """Give a stake for each bend and end of what leads water away and every 5 ft from there, counted through.

    They stand a round distance from the line, at least a foot clear of what is dug; in the line itself where
    that would be off the survey, or beyond a wall, fence or lot line ``nearby``, or where nothing is dug;
    nowhere where the line is.
    ``of``: what it leads past.
    """
    stakes: list[Stake] = []
    lines = tuple(laid)
    bottoms = np.concatenate([np.empty((0, 3, 3)), *(made.bottoms for made in lines if made.bends)])
    dug: Any = shapely.union_all(shapely.polygons(bottoms[:, :, :2]))
    shapely.prepare(dug)
    for made in lines:
        for (x, y, bottom), way, beside in made.stations(ALONG_US if us else ALONG):
            past = "building" if made.kind == "gutter" else of
            away, aside = _away(beside, len(building.rings[0]), past), None
            if made.bends:
                aside = _aside(surface, dug, (x, y), way, away, STEP_US if us else STEP)
            place = _beside((x, y), aside)
            if nearby is not None and nearby.beyond([place])[0]:
                aside, place = None, (x, y)
                if nearby.beyond([place])[0]:
                    continue
            kind = STAKED[made.kind]
            ground, levels = ground_at(surface, *place), ((BOTTOMS[kind], bottom),)
            name = f"{kind} {sum(one.kind == kind for one in stakes) + 1}"
            stakes.append(Stake(name, kind, *place, ground, bottom, levels, aside))
    return tuple(stakes)


def _away(beside: tuple[int, ...], count: int, of: str) -> str:
    """What the stakes stand away from; sides are numbered by the corner that they begin at."""
    if not beside:
        return f"the {of}"
    corner = beside[-1] + 1
    return f"side {corner}-{corner % count + 1}" if len(beside) == 1 else f"corner {corner}"


def _beside(middle: tuple[float, float], aside: Aside | None) -> tuple[float, float]:
    if aside is None:
        return middle
    return middle[0] + aside.distance * aside.way[0], middle[1] + aside.distance * aside.way[1]


def _aside(
    surface: Surface, dug: Any, place: tuple[float, float], way: tuple[float, float], away: str, step: float
) -> Aside | None:
    """The nearest place along ``way`` that is clear of what is dug and filled; None off the survey."""
    distances = step * np.arange(1.0, np.floor(FARTHEST / step) + 1.0)
    places = np.array(place) + distances[:, None] * np.array(way)
    clear = np.flatnonzero(shapely.distance(shapely.points(places), dug) >= CLEAR - 1e-9)
    if not len(clear) or ground_at(surface, *places[clear[0]].tolist()) is None:
        return None
    return Aside(*place, float(distances[clear[0]]), way, "", away)
