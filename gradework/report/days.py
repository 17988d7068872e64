"""The plan of days in words: the call before digging, each task with its hours and days, what is checked."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from gradework.errors import words
from gradework.foundations.buying.rates import AMATEUR, CARRY, Range
from gradework.project.days import pays_from
from gradework.report.text import filled, named, text_table
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.sitework.days import Days, Task


def said(day: date) -> str:
    """Say a day.

    >>> said(date(2027, 4, 12))
    'Mon 2027-04-12'
    """
    return f"{_NAMES[day.weekday()]} {day.isoformat()}"


_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def span_of(hours: Range) -> str:
    """Say a range of hours.

    >>> span_of((3.0, 5.0)), span_of((0.3, 0.7))
    ('3 to 5', '0.3 to 0.7')
    """
    digits = 0 if hours[0] >= 2.0 else 1
    return f"{fixed(hours[0], digits)} to {fixed(hours[1], digits)}"


def days_lines(plan: Plan) -> list[str]:
    """Tell the days; nothing where nothing is built."""
    days = plan.days
    if days is None:
        return []
    people = "one person" if days.people == 1 else "two people"
    lines = named("Call", call_words(days))
    lines += text_table(
        ["day", "work", "hours", ""],
        [[when(task), task.name, span_of(task.hours), ""] for task in days.tasks],
    )
    total = f"{span_of(days.hours)} hours for one person; {people}, {fixed(days.day, 0)} hours a day: "
    lines += named("In all", f"{total}{counted(days.count, 'working days')} at the middle of each range")
    for task in days.tasks:
        lines += named("Hold", f"after '{task.name}': {task.hold}") if task.hold else []
    worth = pays_from(plan.job, plan.foundations.options[plan.foundations.chosen])
    if worth is not None:
        told = f"a mini-excavator pays where an hour of yours is worth more than {fixed(worth, 0)}"
        lines += named(words(plan.job.show.dialect)["rent"].capitalize(), told)
    return [*lines, *(line for text in _basis(plan) for line in filled(text))]


def when(task: Task) -> str:
    """Say on which days a task falls, by date where there is a start."""
    if task.dates is None:
        return str(task.first) if task.first == task.last else f"{task.first}-{task.last}"
    first, last = (f"{_NAMES[day.weekday()]} {day.month:02d}-{day.day:02d}" for day in task.dates)
    return first if first == last else f"{first} to {last}"


def call_words(days: Days) -> str:
    """Say whom to call before digging, and by when."""
    if days.call is None:
        return "before a stake or spade goes in, ask who marks pipes and cables where you build: ______"
    call = days.call
    lead = counted(call.lead, "full working days")
    by = f"by {said(days.by)}: " if days.by is not None else ""
    return f"{by}{call.whom}; {lead} between the call and the first stake. {call.source}. {call.expires}."


def _basis(plan: Plan) -> Iterator[str]:
    table, show = plan.job.days, plan.job.show
    carry = f"{show.distance(table.carry or CARRY)}{'' if table.carry else ', taken ([days] carry)'}"
    least, most = AMATEUR
    yield (
        f"Digging and trimming go by published rates, {least:g} to {most:g} of them for an amateur; the rest "
        f"is common practice. Stone and soil are wheeled {carry}. Rain and frost add days: do not dig, "
        "compact or build on wet clay."
    )
