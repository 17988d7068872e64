"""Many yards as plain data: a row of each from the record of its plan, the table, and one document of all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from gradework.exchange.tables import table_bytes
from gradework.exchange.written import Table, rows
from gradework.project.batch import Bought, Yard, added_up

if TYPE_CHECKING:
    from gradework.project.job.model import Job

PLANT, POUR = "concrete plant", "concrete"
"""Who brings what cannot wait, and the work that it is brought for; all else comes on the first day."""


def yard_of(name: str, job: Job, record: Mapping[str, Any], *, new: bool) -> Yard:
    """Read the row of a job, called ``name``, out of the record of its plan."""
    chosen = record["chosen"]
    own: Mapping[str, Any] = next((one for one in record["options"] if one["foundation"] == chosen), {})
    stopping = [one["code"] for one in record["findings"] if one["severity"] == "stop"]
    total, days = record["order_total"], record["days"]
    first, pour = _days(days)
    yard = Yard(
        name,
        record["job"]["name"],
        "not buildable" if stopping or record["blocked_by"] else "buildable",
        foundation=chosen,
        level=own.get("level_m"),
        cost=own.get("cost"),
        currency=job.prices.currency or "",
        mass=total["mass_kg"],
        loads=total["loads"],
        stops=tuple(dict.fromkeys(record["blocked_by"] or stopping)),
        warnings=sum(one["severity"] == "warning" for one in record["findings"]),
        first=first,
        call=days.get("call_by") or "",
        days=days.get("working_days"),
        us=job.show.us,
        new=new,
    )
    when = {PLANT: pour}
    lines = [
        Bought(
            line["from"],
            when.get(line["from"], first),
            line["item"],
            line["unit"],
            line["quantity"],
            line["mass_kg"],
            None if yard.cost is None else line["cost"],
            yard.currency,
        )
        for line in record["order"]
    ]
    return replace(yard, lines=tuple(_once(lines)), deliveries=tuple(_deliveries(total["stops"], lines)))


def _days(days: Mapping[str, Any]) -> tuple[str, str]:
    """Give the first day of work and the day of the concrete; "" without a start."""
    tasks = days.get("tasks", ())
    dates = [(one["work"], one["dates"][0]) for one in tasks if one["dates"]]
    first = dates[0][1] if dates else ""
    return first, next((day for work, day in dates if work == POUR), first)


def _once(lines: Sequence[Bought]) -> list[Bought]:
    """Let a job that buys a thing in two lines count once."""
    return [replace(one, jobs=1) for one in added_up(lines)]


def _deliveries(stops: Sequence[Mapping[str, Any]], lines: Sequence[Bought]) -> list[Bought]:
    """Give what one job has from each supplier, as a whole with its loads."""
    loads = {stop["from"]: sum(load["loads"] for load in stop["loads"]) for stop in stops}
    whole = _once([replace(one, item="", unit="", quantity=0.0) for one in lines])
    return [replace(one, loads=loads.get(one.shop, 0)) for one in whole]


_YARD: Table = (
    ("job", "job"), ("name", "name"), ("outcome", "outcome"), ("foundation", "foundation"),
    ("level?", "level_m"), ("cost?", "cost"), ("currency", "currency"), ("mass", "mass_kg"),
    ("loads", "loads"), ("stops", "stopped_by"), ("warnings", "warnings"), ("call", "call_by"),
    ("first", "first_day"), ("days", "working_days"), ("faults", "faults"),
)  # fmt: skip
_DELIVERY: Table = (
    ("day", "day"), ("shop", "from"), ("mass", "mass_kg"), ("loads", "loads"), ("cost?", "cost"),
    ("currency", "currency"), ("jobs", "jobs"),
)  # fmt: skip
_BOUGHT: Table = (
    ("day", "day"), ("shop", "from"), ("item", "item"), ("quantity", "quantity"), ("unit", "unit"),
    ("mass", "mass_kg"), ("cost?", "cost"), ("currency", "currency"), ("jobs", "jobs"),
)  # fmt: skip


def deliveries_of(yards: Sequence[Yard]) -> list[Bought]:
    """Add up what comes from each supplier on each day."""
    return added_up(one for yard in yards for one in yard.deliveries)


def batch_record(yards: Sequence[Yard], *, stopped: bool = False) -> dict[str, Any]:
    """Write all yards in their order, and the orders added up; ``stopped``: it was ended before all."""
    return {
        "record": 1,
        "jobs": rows(yards, _YARD),
        "deliveries": rows(deliveries_of(yards), _DELIVERY),
        "order": rows(added_up(one for yard in yards for one in yard.lines), _BOUGHT),
        "stopped": stopped,
    }


def batch_tables(record: Mapping[str, Any]) -> dict[str, bytes]:
    """Write the rows of the document as tables: ``batch.csv`` the jobs, ``batch-order.csv`` the orders."""
    jobs = [[_cell(one[key]) for _, key in _YARD] for one in record["jobs"]]
    order = [[_cell(one[key]) for _, key in _BOUGHT] for one in record["order"]]
    return {
        "batch.csv": table_bytes([key for _, key in _YARD], jobs),
        "batch-order.csv": table_bytes([key for _, key in _BOUGHT], order),
    }


def _cell(value: Any) -> str | float | int | None:
    if isinstance(value, list):
        return "; ".join(value)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    cell: str | float | int | None = value
    return cell
