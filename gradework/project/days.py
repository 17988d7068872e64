"""The days of a job: who works, and the work of one foundation laid out over them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.foundations.buying.rates import DUG, middle
from gradework.project import specs
from gradework.project.buying import dug_as, machine_hours
from gradework.sitework.days import STRIP, SWALE, Days, plan_days
from gradework.sitework.hire import whole_days

if TYPE_CHECKING:
    from gradework.foundations.comparison import Option
    from gradework.project.job.model import Job
    from gradework.project.options import Foundations


def days_of(job: Job, found: Foundations) -> Days | None:
    """Lay out the work of the foundation that is chosen; None where it has no plan."""
    chosen, pad = found.chosen, found.pad
    option = found.options.get(chosen)
    if option is None or not option.planned:
        return None
    parts = {SWALE: option.beside}
    if chosen == "pad":
        parts[STRIP] = pad.spec.strip * pad.pieces.area
    elif chosen == "slab" and found.slab is not None:
        parts[STRIP] = found.slab.spec.strip * found.slab.area
    elif found.piers is not None and found.piers.cover is not None:
        parts[STRIP] = found.piers.cover.strip
    return plan_days(option.takes, option.rates, parts, specs.crew(job), option.hours)


def pays_from(job: Job, option: Option) -> float | None:
    """Give what an hour of work must be worth for a hired excavator to pay, in the job's money; None where
    the job does not price one, or nothing is dug."""
    day, rates = job.prices.excavator_day, option.rates
    saved = -machine_hours(option)
    for one in DUG:
        saved += dug_as(option, one) * middle(rates[one])
    if day is None or saved <= 0.0:
        return None
    return day * whole_days(machine_hours(option), specs.crew(job).day) / saved
