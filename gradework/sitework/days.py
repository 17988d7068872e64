"""The work in its order, as days: what is done when, by one person or two, and what has to happen between.

The hours of all tasks are those of the comparison, parted: each kind of work belongs to one task.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

from gradework.errors import CheckError
from gradework.foundations.buying.rates import Range, middle
from gradework.sitework.holidays import CALLS, DAY, Call, call_by, working_day


class Work(NamedTuple):
    """One task: its name, the kinds of work in it (by the names of the rates), what must hold before the next
    one begins; ``cure``: whole days by the calendar that concrete hardens before anything else."""

    name: str
    kinds: tuple[str, ...]
    hold: str = ""
    cure: int = 0


CURE = 7
"""Concrete carries a building after so many days by the calendar (common practice; at 50 °F, 10 °C,
or warmer)."""

_DIG_HOLD = "check the dig with the rod before anything goes in (gradework asbuilt)"
_TOP_HOLD = "check tops and diagonals before the floor goes on (gradework asbuilt)"

_WET = "soft or wet spots are dug out now, and nothing is laid on frozen ground"
_COVERED = "ask for the inspection before you cover it, where one is asked for"
_POUR = "no concrete below 40 °F (5 °C) or before heavy rain; keep it wet while it hardens"

_EDGES = "read their tops, and both diagonals"

ORDER: tuple[Work, ...] = (
    Work("set the stakes and batter boards", ("layout",)),
    Work("strip the topsoil", ()),
    Work("dig beside it (swale, drain, beds)", ()),
    Work("dig", ("digging", "holes", "machine digging", "machine holes")),
    Work("wheel soil off the dig", ("soil carried",)),
    Work("trim the bottom level", ("trimming",), f"{_WET}; {_DIG_HOLD}"),
    Work("drains", ("drain pipe", "drain stone"), "look along each pipe: it falls all the way to its end"),
    Work("fabric", ("fabric",)),
    Work("edges and forms", ("form boards", "timber frame", "edge stakes", "edge timbers"), _EDGES),
    Work("stone in lifts, each compacted", ("gravel",), "read the top of the stone with the rod"),
    Work("vapor barrier and mesh", ("vapor barrier", "welded wire mesh"), _COVERED),
    Work("concrete", ("concrete from bags", "concrete from a truck"), _POUR, CURE),
    Work("piers, level", ("piers",), _TOP_HOLD),
    Work("ground anchors", ("ground anchors",)),
    Work("tamp soil back", ("earth fill",)),
    Work("fabric and stone under the floor", ("ground cover",)),
    Work("floor frame", ("floor frame",)),
    Work("steps or ramp", ("steps", "ramp")),
    Work("gutters", ("gutter",)),
    Work("spread soil and topsoil, seed", ("soil spread",)),
)
"""In the order of work; the two without kinds take their part of the digging."""

STRIP, SWALE, DIG = (ORDER[place].name for place in (1, 2, 3))


@dataclass(frozen=True, slots=True)
class Task:
    """One task: its ``hours`` for one person, the ``first`` and ``last`` day of it, counted from 1, and the
    dates of those where the job has a start."""

    name: str
    hours: Range
    hold: str
    first: int
    last: int
    dates: tuple[date, date] | None = None


@dataclass(frozen=True, slots=True)
class Days:
    """A plan of days: the tasks in their order, for ``people`` who work ``hours`` a day.

    ``call`` is whom to ask for the marks of pipes and cables, None where that is not known; ``by`` the last
    day for it, None without a start. ``count``: working days with those that concrete takes.
    """

    people: int
    day: float
    tasks: tuple[Task, ...]
    call: Call | None
    by: date | None

    @property
    def hours(self) -> Range:
        """Give the hours of all tasks, for one person."""
        return math.fsum(one.hours[0] for one in self.tasks), math.fsum(one.hours[1] for one in self.tasks)

    @property
    def count(self) -> int:
        """Give how many working days it takes."""
        return max((one.last for one in self.tasks), default=0)


class Crew(NamedTuple):
    """Who works: ``people`` (one or two), hours a ``day``, from when, in which ``country`` ("" unknown)."""

    people: int = 1
    day: float = 8.0
    start: date | None = None
    country: str = ""


Share = tuple[str, float, float]


def plan_days(
    takes: Mapping[str, float],
    rates: Mapping[str, Range],
    parts: Mapping[str, float],
    crew: Crew,
    whole: Range,
) -> Days:
    """Lay the work out over days.

    ``takes`` and ``rates`` as of an option; ``parts`` what of the digging [m³] is stripped and what is dug to
    lead water past, by the names of their tasks; ``whole`` the hours of the comparison. Two people take half
    as long. Each task begins when the one before it ends, at the middle of its range; concrete hardens over
    whole days by the calendar. Raises ``CheckError`` where the hours do not add up to ``whole``.
    """
    tasks, done, wait, calendar = [], 0.0, 0, _calendar(crew)
    for work, hours in _hours(takes, rates, parts):
        lasts = middle(hours) / crew.people / crew.day
        first, last = math.floor(done + _EDGE), math.ceil(done + lasts - _EDGE) - 1
        done += lasts
        tasks.append(Task(work.name, hours, work.hold, first + 1 + wait, max(first, last) + 1 + wait))
        if work.cure:
            wait += _waiting(calendar, tasks[-1].last, work.cure)
            done = float(math.ceil(done - _EDGE))
    dated = _dated(tasks, calendar)
    call = CALLS.get(crew.country)
    by = (
        None
        if call is None or crew.start is None or not dated
        else call_by(_first(dated), call.lead, crew.country)
    )
    made = Days(crew.people, crew.day, dated, call, by)
    for own, all_of_it in zip(made.hours, whole, strict=True):
        if abs(own - all_of_it) > 1e-9 * max(1.0, all_of_it):
            raise CheckError(f"the hours of the days are {own}, those of the comparison {all_of_it}")
    return made


_EDGE = 1e-9


def _hours(
    takes: Mapping[str, float], rates: Mapping[str, Range], parts: Mapping[str, float]
) -> Iterator[tuple[Work, Range]]:
    """Give each task that there is, with its hours: what is stripped or dug beside is part of the digging."""
    own = {name: amount for name, amount in parts.items() if amount > 0.0}
    kind = next((one for one in ("digging", "machine digging") if takes.get(one, 0.0) > 0.0), "")
    rate = rates.get(kind, (0.0, 0.0))
    left = takes.get(kind, 0.0)
    for work in ORDER:
        least = math.fsum(rates[one][0] * takes.get(one, 0.0) for one in work.kinds)
        most = math.fsum(rates[one][1] * takes.get(one, 0.0) for one in work.kinds)
        if work.name in (STRIP, SWALE):
            dug = min(own.get(work.name, 0.0), left)
            left -= dug
            least, most = rate[0] * dug, rate[1] * dug
        elif work.name == DIG:
            gone = takes.get(kind, 0.0) - left
            least, most = least - rate[0] * gone, most - rate[1] * gone
        if most > _EDGE:
            yield work, (least, most)


Calendar = Callable[[int], date]
"""The date of a working day, counted from 1."""

_WEEK, _WORKED = 7, 5


def _calendar(crew: Crew) -> Calendar | None:
    """Give the working days of the country from the start on; None without a start."""
    start = crew.start
    return None if start is None else lambda number: working_day(start, number - 1, crew.country)


def _waiting(calendar: Calendar | None, last: int, days: int) -> int:
    """Give how many working days there are in the ``days`` by the calendar that follow a working day.

    Without a calendar five of a week are.
    """
    if calendar is None:
        return math.ceil(days * _WORKED / _WEEK)
    over, count = calendar(last) + days * DAY, 0
    while calendar(last + count + 1) <= over:
        count += 1
    return count


def _dated(tasks: Sequence[Task], calendar: Calendar | None) -> tuple[Task, ...]:
    """Put dates to the days."""
    if calendar is None:
        return tuple(tasks)
    return tuple(replace(one, dates=(calendar(one.first), calendar(one.last))) for one in tasks)


def _first(tasks: Sequence[Task]) -> date:
    """The first day on which a stake or a spade goes into the ground."""
    assert tasks[0].dates is not None
    return tasks[0].dates[0]
