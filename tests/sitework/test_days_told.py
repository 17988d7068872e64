"""The days in words: one day or two, with a start and without, for one person and for two, and the call."""

from __future__ import annotations

from datetime import date

from gradework.sitework.days import Days, Task
from gradework.sitework.days_told import call_words, crew_words, dated, numbered, span_of
from gradework.sitework.holidays import Call

# 2027-07-02 is a Friday.
ONE_DAY = Task("strip", (1.9, 3.6), "", 1, 1, (date(2027, 7, 2), date(2027, 7, 2)))
TWO_DAYS = Task("dig", (10.0, 14.4), "", 1, 2, (date(2027, 7, 2), date(2027, 7, 6)))
UNDATED = Task("lay", (2.0, 3.0), "", 2, 3)
CALL = Call("811", 3, "States ask 2 or 3", "Ask")


def test_a_task_of_one_day_names_it_once() -> None:
    assert [numbered(task) for task in (ONE_DAY, TWO_DAYS, UNDATED)] == ["1", "1-2", "2-3"]
    assert [dated(task) for task in (ONE_DAY, TWO_DAYS, UNDATED)] == [
        "Fri 07-02",
        "Fri 07-02 to Tue 07-06",
        "",
    ]


def test_hours_have_a_tenth_only_under_two() -> None:
    assert [span_of(hours) for hours in ((1.94, 2.5), (2.0, 3.4))] == ["1.9 to 2.5", "2 to 3"]


def test_the_crew_is_counted_and_the_hours_summed() -> None:
    tasks = (ONE_DAY, TWO_DAYS, UNDATED)  # 1.9 + 10 + 2 and 3.6 + 14.4 + 3 hours; the last on day 3
    alone, two = (crew_words(Days(people, 6.0, tasks, None, None)) for people in (1, 2))
    assert alone.startswith("14 to 21 hours for one person; one person, 6 hours a day: 3 working days")
    assert "; two people, 6 hours a day: 3 working days" in two


def test_the_call_says_whom_by_when_and_how_long_before() -> None:
    words = call_words(Days(1, 6.0, (ONE_DAY,), CALL, date(2027, 6, 28)))
    assert words.startswith("by Mon 2027-06-28: 811; 3 full working days between")
    assert call_words(Days(1, 6.0, (UNDATED,), CALL, None)).startswith("811; 3 full working days")
    assert call_words(Days(1, 6.0, (UNDATED,), None, None)).endswith("______")
