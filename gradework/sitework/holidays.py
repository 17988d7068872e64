"""Working days: weekends and the public holidays of a country by rule, and when to call before digging."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from functools import cache
from typing import NamedTuple

import numpy as np

DAY = timedelta(days=1)
_SATURDAY, _SUNDAY = 5, 6
_WORKED = 240
"""Fewer days than are worked in a year."""


class Call(NamedTuple):
    """Whom to ask for the marks, how many full working days before, and what is known of it.

    ``expires`` is how long marks or plans hold, where that is known.
    """

    whom: str
    lead: int
    source: str
    expires: str = "Ask how long the marks are good for"


CALLS: Mapping[str, Call] = {
    "US": Call(
        "811, or the web page of your state's one-call center",
        3,
        "States ask 2 or 3, the day of the call not counted (pipeline101.org, quoted); state rules decide",
        "Marks expire by state law: ask",
    ),
    "Canada": Call("the one-call center of your province", 5, "3 to 5 business days (memory)"),
    "UK": Call(
        "the free search service for buried assets, and owners that are no members",
        10,
        "Up to 10 days (memory)",
    ),
    "Ireland": Call(
        "each owner of pipes and cables in the road", 10, "No single service known here (memory)"
    ),
    "Australia": Call(
        "1100, or its web page", 2, "Plans generally within 2 business days (1100.com.au, quoted)"
    ),
    "New Zealand": Call(
        "0800 248 344, or its web page", 2, "Contact mostly within 2 days (beforeudig.co.nz, quoted)"
    ),
}
"""Outside of these the line is left to fill in."""


def easter(year: int) -> date:
    """Give Easter Sunday (Gregorian computus).

    >>> easter(2027).isoformat(), easter(2026).isoformat()
    ('2027-03-28', '2026-04-05')
    """
    golden, century = year % 19, year // 100
    epact = (century - century // 4 - (8 * century + 13) // 25 + 19 * golden + 15) % 30
    full = epact - (epact // 28) * (1 - (29 // (epact + 1)) * ((21 - golden) // 11))
    weekday = (year + year // 4 + full + 2 - century + century // 4) % 7
    ahead = full - weekday
    month = 3 + (ahead + 40) // 44
    return date(year, month, ahead + 28 - 31 * (month // 4))


def nth(year: int, month: int, weekday: int, count: int) -> date:
    """Give the ``count``-th of a weekday (Monday is 0) in a month; -1 the last.

    >>> nth(2027, 11, 3, 4).isoformat(), nth(2027, 5, 0, -1).isoformat()
    ('2027-11-25', '2027-05-31')
    """
    start = np.datetime64(f"{year}-{month:02}") + (count < 0)
    only = [weekday == day for day in range(7)]
    found: date = np.busday_offset(start, count - (count > 0), roll="forward", weekmask=only).astype(date)
    return found


# Fixed days (month, day); weekdays (month, weekday, which); days from Easter Sunday. National ones, from
# memory but for the US (5 U.S.C. 6103): states and provinces have more.
_FIXED: Mapping[str, tuple[tuple[int, int], ...]] = {
    "US": ((1, 1), (6, 19), (7, 4), (11, 11), (12, 25)),
    "Canada": ((1, 1), (7, 1), (12, 25)),
    "UK": ((1, 1), (12, 25), (12, 26)),
    "Ireland": ((1, 1), (3, 17), (12, 25), (12, 26)),
    "Australia": ((1, 1), (1, 26), (4, 25), (12, 25), (12, 26)),
    "New Zealand": ((1, 1), (1, 2), (2, 6), (4, 25), (12, 25), (12, 26)),
}
_WEEKDAYS: Mapping[str, tuple[tuple[int, int, int], ...]] = {
    "US": ((1, 0, 3), (2, 0, 3), (5, 0, -1), (9, 0, 1), (10, 0, 2), (11, 3, 4)),
    "Canada": ((9, 0, 1),),
    "UK": ((5, 0, 1), (5, 0, -1), (8, 0, -1)),
    "Ireland": ((2, 0, 1), (5, 0, 1), (6, 0, 1), (8, 0, 1), (10, 0, -1)),
    "Australia": (),
    "New Zealand": ((6, 0, 1), (10, 0, 4)),
}
_FROM_EASTER: Mapping[str, tuple[int, ...]] = {
    "US": (), "Canada": (-2,), "UK": (-2, 1), "Ireland": (1,), "Australia": (-2, 1), "New Zealand": (-2, 1),
}  # fmt: skip


@cache
def holidays(country: str, year: int) -> frozenset[date]:
    """Give the days of a year that are no working days there, weekends apart; none of a country not known.

    One that falls on a weekend is kept beside it: in the US a Saturday's on Friday, elsewhere on the next
    working day.
    """
    if country not in _FIXED:
        return frozenset()
    kept = {nth(year, *rule) for rule in _WEEKDAYS[country]}
    kept |= {easter(year) + days * DAY for days in _FROM_EASTER[country]}
    for one in _FIXED[country]:
        kept.add(_kept(date(year, *one), kept, country))
    if country == "US":  # the next new year may be kept on the last day of this one
        kept.add(_kept(date(year + 1, 1, 1), kept, country))
    return frozenset(kept)


def _kept(day: date, others: set[date], country: str) -> date:
    if country == "US":
        return {_SATURDAY: day - DAY, _SUNDAY: day + DAY}.get(day.weekday(), day)
    while day.weekday() >= _SATURDAY or day in others:
        day += DAY
    return day


def working_day(start: date, count: int, country: str) -> date:
    """Give the working day that is ``count`` of them after the first one from ``start`` on; before it where
    that is negative."""
    years = range(start.year - 1, start.year + 2 + abs(count) // _WORKED)
    off = [day for year in years for day in holidays(country, year)]
    found: date = np.busday_offset(start, count, roll="forward", holidays=off).astype(date)
    return found


def call_by(dig: date, lead: int, country: str) -> date:
    """Give the last day to call, so that ``lead`` full working days lie between it and the day of digging.

    >>> call_by(date(2027, 4, 12), 3, "US").isoformat()
    '2027-04-06'
    """
    return working_day(dig, -lead - 1, country)
