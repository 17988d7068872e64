"""Many yards on one screen: how each came out and what stops it, then what comes from whom on which day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.answer import MOST
from gradework.report.text import columns, filled, text_table
from gradework.sitework.days_told import said
from gradework.units.display import FEET, METRIC, counted, fixed

if TYPE_CHECKING:
    from gradework.project.batch import Bought, Yard

_LONGEST_JOB, _LONGEST_MONEY = 34, 12


def batch_text(yards: Sequence[Yard], deliveries: Sequence[Bought], files: str) -> str:
    """Tell all yards in their order in at most 24 lines; ``files`` says where all of it is."""
    head = filled(verdict(yards), rest="  ", width=columns())
    tail = filled(files, rest="  ", width=columns())
    room = MOST - len(head) - len(tail)
    us = any(yard.us for yard in yards)
    for most in range(min(len(deliveries), room - 3), -1, -1):  # the yards come first
        orders = list(_orders(deliveries[:most], len(deliveries) - most, us=us))
        rows = room - len(orders)
        if most <= room // 3 or rows > len(yards):
            break
    return "\n".join([*head, *_table(yards, rows), *orders, *tail])


def stops_text(yards: Sequence[Yard]) -> str:
    """Tell the verdict, and what stops which yard; all of its errors."""
    stopped = [yard for yard in yards if yard.outcome == "not buildable"]
    lines = [f"{short_job(yard.job)}: {remark(yard)}" for yard in stopped]
    return "\n".join([verdict(yards), *lines, *(fault for yard in yards for fault in yard.faults)])


def verdict(yards: Sequence[Yard]) -> str:
    """Say in one sentence how many there are of each kind, and how many were planned now."""
    kept = sum(not yard.new and yard.outcome != "not done" for yard in yards)
    before = f"; {kept} as planned before" if kept else ""
    return f"{outcomes(yards)}{before}."


def outcomes(yards: Sequence[Yard]) -> str:
    """Say how many there are of each kind."""
    count = {kind: sum(yard.outcome == kind for yard in yards) for kind in _WORDS}
    told = [f"{count[kind]} {words}" for kind, words in _WORDS.items() if count[kind]]
    return f"{counted(len(yards), 'jobs')}: {', '.join(told)}"


_WORDS = {
    "buildable": "can be built as drawn",
    "not buildable": "cannot",
    "fault": "with errors",
    "not done": "not done yet",
}


def _table(yards: Sequence[Yard], room: int) -> list[str]:
    """One line for each yard, no more than ``room`` with the head and the count of what is left out."""
    shown = list(yards) if len(yards) < room else list(yards[: room - 2])
    header = ("job", "build", "cost", "weight", "")
    rows = [
        (short_job(yard.job), yard.foundation, _money(yard.cost, yard.currency), _weight(yard), "")
        for yard in shown
    ]
    wide = sum(
        max(map(len, column)) + 2 for column in zip(header[:-1], *(row[:-1] for row in rows), strict=True)
    )
    left = max(columns() - 2 - wide, 16)
    told = [(*row[:-1], visible(remark(yard), left)) for row, yard in zip(rows, shown, strict=True)]
    more = len(yards) - len(shown)
    return [*text_table(header, told), *([f"and {more} more"] if more else [])]


def short_job(job: str, longest: int = _LONGEST_JOB) -> str:
    """The end of a path, which tells jobs apart; the file itself is nearly always called the same.

    >>> short_job("yards/east/job.toml"), short_job("yards/east/shed.toml", 12)
    ('yards/east', '...shed.toml')
    """
    path = job.removesuffix("/job.toml").removesuffix("\\job.toml")
    return path if len(path) <= longest else f"...{path[3 - longest :]}"


def _money(cost: float | None, currency: str) -> str:
    return "" if cost is None else visible(f"{fixed(cost, 0)} {currency}".strip(), _LONGEST_MONEY)


def _weight(yard: Yard) -> str:
    return (FEET if yard.us else METRIC).mass(yard.mass) if yard.mass else ""


def remark(yard: Yard) -> str:
    """Say in short what stops a yard, else how many warnings there are."""
    if yard.outcome == "not buildable":
        return f"stop: {', '.join(yard.stops)}"
    if yard.faults:
        text = yard.faults[0].partition("error: ")[2]
        return text if len(yard.faults) == 1 else f"{len(yard.faults)} errors: {text}"
    if yard.outcome == "not done":
        return "not done yet"
    return counted(yard.warnings, "warnings") if yard.warnings else ""


def _orders(deliveries: Sequence[Bought], more: int, *, us: bool) -> Iterator[str]:
    """A line for each supplier and day; how many of them are left out is said last."""
    show = FEET if us else METRIC
    for one in deliveries:
        day = f"{said(date.fromisoformat(one.day))}: " if one.day else ""
        loads = f" in {counted(one.loads, 'loads')}" if one.loads else ""
        cost = "" if one.cost is None else f", {_money(one.cost, one.currency)}"
        jobs = counted(one.jobs, "jobs")
        line = f"{day}{one.shop or 'others'}, {show.mass(one.mass)}{loads}{cost}, for {jobs}"
        yield visible(line, columns())
    if more:
        yield f"and {counted(more, 'more deliveries')}"
