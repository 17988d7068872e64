"""The days of a job: who works, in which ground, and the work of one foundation laid out over them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.earthwork.conditions import CompactedVolume
from gradework.foundations.buying.rates import CARRY, Conditions, Range, labour
from gradework.project import specs
from gradework.sitework.days import STRIP, SWALE, Crew, Days, plan_days

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gradework.project.job.model import Job
    from gradework.project.plan import Plan


def rates_of(job: Job) -> Mapping[str, Range]:
    """Give the hours for one of each thing that is worked, in the soil of the job."""
    stone = specs.stone(job, job.pad.material)
    loose = stone.to_loose(CompactedVolume(1.0)).m3
    return labour(Conditions(specs.soil(job).key, job.days.carry or CARRY, loose))


def crew_of(job: Job) -> Crew:
    """Say who works; the country is that of the job, the US in feet jobs."""
    table, usual = job.days, Crew()
    country = job.site.country or ("US" if job.show.us else "")
    return Crew(table.people or usual.people, table.hours or usual.day, table.start, country)


def days_of(plan: Plan) -> Days | None:
    """Lay out the work of the foundation that is chosen; None where nothing is ordered or has no plan."""
    found, chosen = plan.foundations, plan.foundations.chosen
    option = found.options.get(chosen)
    if option is None or not option.planned or plan.held_back:
        return None
    pad = found.pad
    parts = {SWALE: option.beside}
    if chosen == "pad":
        parts[STRIP] = pad.spec.strip * pad.pieces.area
    elif chosen == "slab" and found.slab is not None:
        parts[STRIP] = found.slab.spec.strip * found.slab.area
    elif found.piers is not None and found.piers.cover is not None:
        parts[STRIP] = found.piers.cover.strip
    return plan_days(option.takes, option.rates, parts, crew_of(plan.job), option.hours)
