"""The days on paper: the call before digging, then each task with its days and hours, and what must hold."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

from gradework.drawings.checklist import Block, Head, heading, list_pages, row
from gradework.drawings.frame import draw_title
from gradework.drawings.lettering import name
from gradework.drawings.page import Page
from gradework.sitework.days_told import call_words, crew_words, dated, numbered, span_of
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.drawings.engine import matplotlib
    from gradework.project.plan import Plan
    from gradework.sitework.days import Days


def draw_days(plan: Plan) -> list[matplotlib.figure.Figure]:
    """Draw the pages of the days for the foundation that is chosen; none where nothing is ordered."""
    days = plan.days
    if days is None or not plan.order.lines:
        return []
    return list_pages(list(_blocks(days, Page().width)), partial(_start, plan, days))


def _start(plan: Plan, days: Days) -> Page:
    page, chosen = Page(), plan.foundations.options[plan.foundations.chosen].name
    draw_title(
        page,
        title=name(plan.job.name),
        subtitle=f"The days of the {chosen}, in the order of work",
        right=(counted(days.count, "working days"), "hours are those of one person"),
        stamp=plan.stamp(),
    )
    return page


def _blocks(days: Days, width: float) -> Iterator[Head | Block]:
    yield heading("Before you dig", [f"Call {call_words(days)}"], width)
    yield heading("The work", [f"{crew_words(days)}. Rain and frost add days."], width)
    for task in days.tasks:
        small = "; ".join(part for part in (dated(task), task.hold and f"then: {task.hold}") if part)
        yield row(f"day {numbered(task)}", task.name, f"{span_of(task.hours)} h", small, width)
