"""The days in words, for the report as for the page to print: the call, the crew, when a task falls."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.foundations.buying.rates import Range
    from gradework.sitework.days import Days, Task

_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def said(day: date) -> str:
    """Say a day.

    >>> said(date(2027, 4, 12))
    'Mon 2027-04-12'
    """
    return f"{_NAMES[day.weekday()]} {day.isoformat()}"


def span_of(hours: Range) -> str:
    """Say a range of hours.

    >>> span_of((3.0, 5.0)), span_of((0.3, 0.7))
    ('3 to 5', '0.3 to 0.7')
    """
    digits = 0 if hours[0] >= 2.0 else 1
    return f"{fixed(hours[0], digits)} to {fixed(hours[1], digits)}"


def numbered(task: Task) -> str:
    """Say on which days a task falls, counted from the first."""
    return str(task.first) if task.first == task.last else f"{task.first}-{task.last}"


def dated(task: Task) -> str:
    """Say on which dates a task falls; nothing without a start."""
    if task.dates is None:
        return ""
    first, last = (f"{_NAMES[day.weekday()]} {day.month:02d}-{day.day:02d}" for day in task.dates)
    return first if first == last else f"{first} to {last}"


def crew_words(days: Days) -> str:
    """Say how long it takes whom."""
    people = "one person" if days.people == 1 else "two people"
    each = f"{people}, {fixed(days.day, 0)} hours a day"
    count = counted(days.count, "working days")
    return f"{span_of(days.hours)} hours for one person; {each}: {count} at the middle of each range"


def call_words(days: Days) -> str:
    """Say whom to call before digging, and by when."""
    if days.call is None:
        return "before a stake or spade goes in, ask who marks pipes and cables where you build: ______"
    call = days.call
    lead = counted(call.lead, "full working days")
    by = f"by {said(days.by)}: " if days.by is not None else ""
    return f"{by}{call.whom}; {lead} between the call and the first stake. {call.source}. {call.expires}."
