"""The days of a job: hours of the comparison, crew and start from ``[days]``, hire that is priced."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache

import pytest

from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.foundations.buying.rates import middle
from gradework.project.days import pays_from
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.plan import summary

PAD = '[pad]\nlevel = 19.6\nmargin = "300 mm"\n[soil]\nground = "firm"\nkind = "clay"\n'
DAYS = '[days]\npeople = 2\nstart = 2027-04-12\nhours = 6\n[site]\ncountry = "US"\n'
HIRE = "[prices]\nhour = 20\nplate_day = 60\nexcavator_day = 200\n"


@cache
def planned(head: str, rest: str, notes: bytes) -> Plan:
    return plan(read_job((head + rest).encode()), notes, anyway=True)


@pytest.fixture
def plans(plane_job: bytes, plane_notes: bytes):  # type: ignore[no-untyped-def]
    head = plane_job.decode().partition("[pad]")[0]
    return lambda rest: planned(head, PAD + rest, plane_notes)


def test_the_hours_of_the_days_are_those_of_the_comparison(plans) -> None:  # type: ignore[no-untyped-def]
    done = plans(DAYS)
    option = done.foundations.options["pad"]
    assert done.days.hours == pytest.approx(option.hours)
    told = record(done)["days"]
    assert sum(task["hours_most"] for task in told["tasks"]) == pytest.approx(option.hours[1])
    assert (told["people"], told["hours_a_day"], told["call_by"]) == (2, 6.0, "2027-04-06")
    assert told["tasks"][0]["dates"] == ["2027-04-12", "2027-04-12"]
    assert "by Tue 2027-04-06" in summary(done)


def test_without_a_start_days_are_counted_and_a_metric_job_leaves_the_call_open(plans) -> None:  # type: ignore[no-untyped-def]
    done = plans("")
    assert done.days.by is None
    assert done.days.call is None
    assert record(done)["days"]["tasks"][0]["first_day"] == 1
    assert "ask who marks pipes and cables" in summary(done)


def test_hours_and_hire_are_money_only_where_they_are_priced(plans) -> None:  # type: ignore[no-untyped-def]
    free, priced = (plans(rest).foundations.options["pad"] for rest in ("", HIRE))
    assert not {"hour", "plate_day", "excavator_day"} & set(free.paid)
    assert priced.paid["hour"].money == pytest.approx(20.0 * middle(priced.hours))
    hired = {one.key: one.days for one in plans(HIRE).hired("pad")}
    assert {key for key in ("plate_day", "excavator_day") if key in priced.paid} == set(hired) - {"laser_day"}


def test_a_priced_excavator_digs_and_pays_from_the_hours_it_saves(plans) -> None:  # type: ignore[no-untyped-def]
    done = plans(HIRE)
    option = done.foundations.options["pad"]
    assert option.takes["machine digging"] == pytest.approx(option.digging)
    assert option.hours[0] < plans("").foundations.options["pad"].hours[0]
    worth = pays_from(done.job, option)
    by_hand, machine = (middle(option.rates[one]) for one in ("digging", "machine digging"))
    assert worth * option.digging * (by_hand - machine) == pytest.approx(200.0)
    assert pays_from(plans("").job, option) is None


def test_holes_pay_for_an_excavator_at_their_own_rate(plans) -> None:  # type: ignore[no-untyped-def]
    option = plans(HIRE).foundations.options["pad"]
    rates = option.rates
    by_hand = replace(option, takes={"digging": 1.0, "holes": 2.0})
    machine = replace(option, takes={"machine digging": 1.0, "machine holes": 2.0})
    saved = middle(rates["digging"]) + 2.0 * middle(rates["holes"]) - 3.0 * middle(rates["machine digging"])
    for one in (by_hand, machine):
        assert one.digging == 3.0
        assert pays_from(plans(HIRE).job, one) == pytest.approx(200.0 / saved)
    # a machine that digs for more than a day is paid by the day
    long = replace(option, takes={"digging": 30.0})
    assert 8.0 < 30.0 * middle(rates["machine digging"]) < 16.0
    saved = 30.0 * (middle(rates["digging"]) - middle(rates["machine digging"]))
    assert pays_from(plans(HIRE).job, long) == pytest.approx(400.0 / saved)


@pytest.mark.parametrize(
    "line",
    [
        "start = 9999-12-31",
        "people = 3",
        "people = true",
        'start = "soon"',
        "start = 5",
        "hours = 20",
        'hours = "8"',
    ],
)
def test_days_that_cannot_be_are_refused(plane_job: bytes, line: str) -> None:
    with pytest.raises(InputError) as caught:
        read_job(plane_job + f"[days]\n{line}\n".encode())
    assert caught.value.faults[0].line > 0


def test_a_day_is_taken_with_quotes_or_without(plane_job: bytes) -> None:
    for text in ("2027-04-12", '"2027-04-12"'):
        assert read_job(plane_job + f"[days]\nstart = {text}\n".encode()).days.start == date(2027, 4, 12)
