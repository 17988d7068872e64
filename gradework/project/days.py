"""The days of a job: who works, and the work of one foundation laid out over them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.foundations.buying.rates import DUG, dug_as, machine_hours, middle
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
    return plan_days(option.takes, option.rates, parts, job.crew, option.hours)


def pays_from(job: Job, option: Option) -> float | None:
    """Give what an hour of work must be worth for a hired excavator to pay, in the job's money; None where
    the job does not price one, or nothing is dug.

    It is hired by the day, and saves the hours by hand but for those that somebody drives it.
    """
    price, rates = job.prices.excavator_day, option.rates
    driven = machine_hours(option.takes, rates)
    by_hand = sum(dug_as(option.takes, kind) * middle(rates[kind]) for kind in DUG)
    if price is None or by_hand <= driven:
        return None
    return price * whole_days(driven, job.crew.day) / (by_hand - driven)
