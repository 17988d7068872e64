"""The roof of a job over one foundation: its eaves, what drops fall on there, and where its rain is led."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, cast

import shapely

from gradework.earthwork.nearby import polygon_of
from gradework.foundations.checks.eaves import eaves_of, roof_over
from gradework.foundations.piers.layout import building_frame
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.foundations.timber.load_path import Shell
from gradework.project.job.foundations import METRIC_SHELL
from gradework.sitework.roof_pipes import Beside
from gradework.sitework.roof_water import lead_roof

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.design import Pad
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.sitework.roof_water import RoofWater, Wish


def overhang_of(job: Job) -> float:
    """How far the eaves stand out [m]."""
    usual = Shell() if job.show.us else METRIC_SHELL
    return usual.overhang if job.building.overhang is None else job.building.overhang


def roof_area(job: Job, building: Outline) -> float:
    """The roof in plan, eaves and all [m²]: so much of the rain is its own."""
    return float(roof_over(building, overhang_of(job)).area)


def roof_water_of(
    job: Job, surface: Surface, nearby: Nearby, planned: Pad | Piers | Slab, finished: Callable[[], Surface]
) -> RoofWater:
    """Say where the rain of the roof goes over one foundation; ``finished``: the ground once it is built."""
    ridge = building_frame(nearby.building, job.building.ridge or "longer side").along
    eaves = eaves_of(nearby.building, ridge, overhang_of(job))
    beside = _beside(planned, finished)
    wish = cast("Wish | None", job.drainage.roof_water)
    return lead_roof(surface, nearby, eaves, beside, wish, us=job.show.us)


def _beside(planned: Pad | Piers | Slab, finished: Callable[[], Surface]) -> Beside:
    nothing = shapely.Polygon()
    if isinstance(planned, Piers):
        cover = nothing if planned.cover is None else polygon_of(planned.cover.outline)
        return Beside(nothing, cover, None, finished)
    built = polygon_of(planned.outline)
    if isinstance(planned, Slab):
        return Beside(built, nothing, planned.level, finished)
    return Beside(built, built, planned.chosen.level, finished)
