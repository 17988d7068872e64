"""The way in and the days as parts of the result record, always SI, the unit at the end of each key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.written import Table, sure, written

if TYPE_CHECKING:
    from gradework.sitework.access import Access
    from gradework.sitework.days import Days

_ACCESS: Table = (
    ("door.wall", "wall"), ("door.at", "at_m"), ("door.width", "width_m"), ("door.middle", "door_m"),
    ("way", "way"), ("floor", "floor_m"), ("over?", "over_ground_m"), ("rise?", "rise_m"),
    ("risers", "risers"), ("riser?", "riser_m"), ("going?", "going_m"), ("landing", "landing_m"),
    ("slope?", "run_per_rise"), ("out", "out_m"), ("railed", "handrail"), ("guarded", "guard"),
)  # fmt: skip


def access_record(access: Access | None) -> dict[str, Any]:
    """Write how one gets in at the door; empty where the job names none."""
    return {} if access is None else written(access, _ACCESS)


_TASK: Table = (
    ("name", "work"), ("hours.0", "hours_least"), ("hours.1", "hours_most"), ("first", "first_day"),
    ("last", "last_day"), ("hold", "hold"),
)  # fmt: skip


def days_record(days: Days | None) -> dict[str, Any]:
    """Write the plan of days; empty where nothing is ordered."""
    if days is None:
        return {}
    dates = [[day.isoformat() for day in one.dates or ()] for one in days.tasks]
    return {
        "people": days.people,
        "hours_a_day": sure(days.day),
        "working_days": days.count,
        "hours_least": sure(days.hours[0]),
        "hours_most": sure(days.hours[1]),
        "call": None if days.call is None else days.call.whom,
        "call_lead_days": None if days.call is None else days.call.lead,
        "call_by": None if days.by is None else days.by.isoformat(),
        "tasks": [{**written(one, _TASK), "dates": own} for one, own in zip(days.tasks, dates, strict=True)],
    }
