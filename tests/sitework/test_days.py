"""The days: calls and holidays by rule, tasks in their order, and hours that add up to the comparison's."""

from __future__ import annotations

import re
from datetime import date

import pytest

from gradework.errors import CheckError
from gradework.foundations.buying.rates import (
    LABOUR,
    Conditions,
    labour,
)
from gradework.sitework.days import CURE, DIG, ORDER, STRIP, SWALE, Crew, Days, plan_days
from gradework.sitework.holidays import CALLS, call_by, easter, holidays, working_day

FT, YD3 = 0.3048, 0.764554857984
RATES = labour(Conditions("clay", 30.0, 1.25))


ALONE = Crew()


def is_working(day: date, country: str) -> bool:
    return day.weekday() < 5 and day not in holidays(country, day.year)


def days_of(takes: dict[str, float], crew: Crew = ALONE, parts: dict[str, float] | None = None) -> Days:
    whole = [sum(RATES[name][k] * amount for name, amount in takes.items()) for k in (0, 1)]
    return plan_days(takes, RATES, parts or {}, crew, (whole[0], whole[1]))


# Holidays, by the calendar.

US_2027 = (
    (1, 1), (1, 18), (2, 15), (5, 31), (6, 18), (7, 5), (9, 6), (10, 11), (11, 11), (11, 25), (12, 24),
    (12, 31),
)  # fmt: skip


def test_the_federal_holidays_of_2027() -> None:
    """As kept: Juneteenth, Christmas and the next new year fall on Saturdays, July 4 on a Sunday."""
    assert holidays("US", 2027) == {date(2027, month, day) for month, day in US_2027}


@pytest.mark.parametrize(
    ("year", "month", "day"),
    [(2024, 3, 31), (2025, 4, 20), (2026, 4, 5), (2027, 3, 28), (2038, 4, 25), (2285, 3, 22)],
)
def test_easter(year: int, month: int, day: int) -> None:
    assert easter(year) == date(year, month, day)


def test_bank_holidays_of_2027_in_england() -> None:
    """Christmas falls on a Saturday: both days are kept on Monday and Tuesday."""
    days = ((1, 1), (3, 26), (3, 29), (5, 3), (5, 31), (8, 30), (12, 27), (12, 28))
    assert holidays("UK", 2027) == {date(2027, month, day) for month, day in days}


@pytest.mark.parametrize(
    ("country", "year", "days"),
    [
        # by the calendars of these years, from memory; where a day falls on a weekend, the next working day
        ("Canada", 2026, "01-01 04-03 07-01 09-07 12-25"),
        ("Ireland", 2026, "01-01 02-02 03-17 04-06 05-04 06-01 08-03 10-26 12-25 12-28"),
        ("Australia", 2026, "01-01 01-26 04-03 04-06 04-27 12-25 12-28"),
        ("New Zealand", 2026, "01-01 01-02 02-06 04-03 04-06 04-27 06-01 10-26 12-25 12-28"),
        ("Australia", 2028, "01-03 01-26 04-14 04-17 04-25 12-25 12-26"),
        ("UK", 2028, "01-03 04-14 04-17 05-01 05-29 08-28 12-25 12-26"),
    ],
)
def test_holidays_elsewhere_by_the_calendar(country: str, year: int, days: str) -> None:
    assert holidays(country, year) == {date.fromisoformat(f"{year}-{day}") for day in days.split()}


def test_the_lead_of_a_call_is_the_longest_that_its_source_asks() -> None:
    asked = {
        country: [int(number) for number in re.findall(r"\b\d+\b", call.source.split("(")[0])]
        for country, call in CALLS.items()
    }
    assert asked.pop("Ireland") == []  # no single service: as long as across the water
    assert CALLS["Ireland"].lead == CALLS["UK"].lead
    assert {country: CALLS[country].lead for country in asked} == {c: max(days) for c, days in asked.items()}


def test_a_country_that_is_not_known_has_weekends_only() -> None:
    assert holidays("", 2027) == frozenset()
    assert working_day(date(2027, 4, 10), 0, "") == date(2027, 4, 12)
    assert working_day(date(2027, 12, 27), 0, "") == date(2027, 12, 27)
    assert working_day(date(2027, 12, 27), 0, "UK") == date(2027, 12, 29)


@pytest.mark.parametrize("lead", [0, 2, 3, 10])
@pytest.mark.parametrize("dig", [date(2027, 4, 12), date(2027, 7, 6), date(2028, 1, 4)])
def test_so_many_full_working_days_lie_between(lead: int, dig: date) -> None:
    call = call_by(dig, lead, "US")
    between = [date.fromordinal(n) for n in range(call.toordinal() + 1, dig.toordinal())]
    assert sum(is_working(day, "US") for day in between) == lead
    assert is_working(call, "US")


# Days.

PIERS = {
    "layout": 1.0,
    "holes": 1.2,
    "digging": 0.3,
    "soil carried": 1.5,
    "trimming": 2.0,
    "gravel": 0.5,
    "piers": 8.0,
}
SLAB = {"layout": 1.0, "digging": 3.0, "gravel": 2.0, "concrete from bags": 2.0, "gutter": 2.0}


def test_every_kind_of_work_belongs_to_one_task() -> None:
    named = [kind for work in ORDER for kind in work.kinds]
    assert sorted(named) == sorted(set(named))
    assert set(named) == set(RATES) >= set(LABOUR)


@pytest.mark.parametrize("takes", [PIERS, SLAB])
@pytest.mark.parametrize("parts", [{}, {STRIP: 0.1}, {SWALE: 0.2, STRIP: 0.05}, {SWALE: 99.0}])
def test_the_hours_of_the_days_are_those_of_all_the_work(
    takes: dict[str, float], parts: dict[str, float]
) -> None:
    made = days_of(takes, parts=parts)
    for k in (0, 1):
        assert made.hours[k] == pytest.approx(sum(RATES[name][k] * amount for name, amount in takes.items()))


def test_hours_that_do_not_add_up_are_refused() -> None:
    with pytest.raises(CheckError):
        plan_days(PIERS, RATES, {}, Crew(), (1.0, 2.0))


def test_stripping_and_swale_take_their_part_of_the_digging() -> None:
    made = {one.name: one.hours[0] for one in days_of(SLAB, parts={STRIP: 1.0, SWALE: 0.5}).tasks}
    each = RATES["digging"][0]
    assert (made[STRIP], made[SWALE], made[DIG]) == pytest.approx((each, 0.5 * each, 1.5 * each))


def test_tasks_follow_one_another_and_concrete_hardens() -> None:
    made = days_of(SLAB)
    assert [one.name for one in made.tasks] == [
        work.name for work in ORDER if work.name in {t.name for t in made.tasks}
    ]
    for before, after in zip(made.tasks, made.tasks[1:], strict=False):
        assert before.first <= before.last <= after.last
        assert after.first >= before.last
    concrete, gutters = made.tasks[-2:]
    assert gutters.first - concrete.last == 5 + 1  # of seven days by the calendar five are worked


@pytest.mark.parametrize(("people", "day", "count"), [(1, 8.0, 3), (1, 6.0, 4), (2, 6.0, 2), (2, 4.0, 3)])
def test_the_days_of_24_hours_of_digging(people: int, day: float, count: int) -> None:
    """The middle of the range counts; two people take half as long: 24 hours in days of 8, 6, 12 and 8."""
    made = days_of({"digging": 24.0 / (0.5 * sum(RATES["digging"]))}, Crew(people, day))
    assert (made.count, made.tasks[-1].first) == (count, 1)


@pytest.mark.parametrize("start", [date(2027, 4, 12), date(2027, 6, 29), date(2027, 12, 20)])
def test_concrete_hardens_by_the_calendar(start: date) -> None:
    """Work goes on on the first working day after seven whole days, however many of them are worked."""
    concrete, gutters = days_of(SLAB, Crew(start=start, country="US")).tasks[-2:]
    assert concrete.dates is not None
    assert gutters.dates is not None
    between = [
        date.fromordinal(day)
        for day in range(concrete.dates[1].toordinal() + 1, gutters.dates[0].toordinal())
    ]
    assert len(between) >= CURE
    assert not any(is_working(day, "US") for day in between[CURE:])


def test_days_past_the_turn_of_two_years_are_worked_days() -> None:
    made = days_of({"layout": 1.0, "digging": 900.0}, Crew(day=4.0, start=date(2027, 12, 20), country="US"))
    last = made.tasks[-1]
    assert last.dates is not None
    count, day = 0, date(2027, 12, 19)
    while count < last.last:
        day = date.fromordinal(day.toordinal() + 1)
        count += is_working(day, "US")
    assert last.dates[1] == day
    assert last.dates[1].year > 2029


def test_two_people_never_take_longer_than_one() -> None:
    for takes in (PIERS, SLAB):
        assert days_of(takes, Crew(people=2)).count <= days_of(takes).count
        assert days_of(takes, Crew(people=2)).hours == pytest.approx(days_of(takes).hours)


def test_dates_are_working_days_from_the_start_on() -> None:
    made = days_of(SLAB, Crew(start=date(2027, 7, 2), country="US"))
    dates = [day for task in made.tasks if task.dates for day in task.dates]
    assert dates[0] == date(2027, 7, 2)
    assert dates == sorted(dates)
    assert all(is_working(day, "US") for day in dates)
    assert made.by == call_by(date(2027, 7, 2), 3, "US")
    assert days_of(SLAB, Crew(country="US")).by is None
    assert days_of(SLAB).call is None


@pytest.mark.parametrize("soil", ["sand", "loam", "clay", "sand-and-gravel", "rock"])
def test_a_longer_way_never_takes_less(soil: str) -> None:
    near, far = (labour(Conditions(soil, carry)) for carry in (5.0, 60.0))
    assert all(far[name][k] >= near[name][k] for name in near for k in (0, 1))
    assert far["soil carried"] > near["soil carried"]
    assert all(least <= most for least, most in near.values())
