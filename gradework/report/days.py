"""The plan of days in words: the call before digging, each task with its hours and days, what is checked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gradework.errors import words
from gradework.foundations.buying.rates import AMATEUR
from gradework.project.days import pays_from
from gradework.report.text import filled, named, text_table
from gradework.sitework.days_told import call_words, crew_words, dated, numbered, span_of
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.project.plan import Plan


def days_lines(plan: Plan) -> list[str]:
    """Tell the days; nothing where nothing is built."""
    days = plan.days
    if days is None:
        return []
    lines = named("Call", call_words(days))
    lines += text_table(
        ["day", "work", "hours", ""],
        [[dated(task) or numbered(task), task.name, span_of(task.hours), ""] for task in days.tasks],
    )
    lines += named("In all", crew_words(days))
    for task in days.tasks:
        lines += named("Hold", f"after '{task.name}': {task.hold}") if task.hold else []
    worth = pays_from(plan.job, plan.foundations.options[plan.foundations.chosen])
    if worth is not None:
        told = f"a mini-excavator pays where an hour of yours is worth more than {fixed(worth, 0)}"
        lines += named(words(plan.job.show.dialect)["rent"].capitalize(), told)
    return [*lines, *(line for text in _basis(plan) for line in filled(text))]


def _basis(plan: Plan) -> Iterator[str]:
    way, taken = plan.job.show.distance(plan.job.days.way(us=plan.job.show.us)), plan.job.days.carry is None
    carry = f"{way}{', taken ([days] carry)' if taken else ''}"
    least, most = AMATEUR
    yield (
        f"Digging and trimming go by published rates, {least:g} to {most:g} of them for an amateur; the rest "
        f"is common practice. Stone and soil are wheeled {carry}. Rain and frost add days: do not dig, "
        "compact or build on wet clay."
    )
