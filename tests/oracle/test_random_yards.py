"""Random yards, every check of every option made a second time, apart from the program.

``tests/bench/buildable.py`` takes any number of them.
"""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

import pytest
import yards
from second_look import second_look

NUMBERS = (0, 3, 4, 6, 9, 16)


@cache
def planned(number: int) -> tuple[yards.Yard, dict[str, Any]]:
    yard = yards.yard(number)
    return yard, yards.record_of(yard)


@pytest.mark.parametrize("number", NUMBERS)
def test_every_check_comes_out_the_same_a_second_time(number: int) -> None:
    yard, record = planned(number)
    assert second_look(yard.job, yard.notes, record) == []


def test_a_sliver_at_the_edge_of_the_survey_stops_no_plan() -> None:
    """Shots 3 cm off the edge make triangles so thin that heights on a grid of 10 nm differ by 0.02 mm."""
    yard, record = planned(126)
    assert second_look(yard.job, yard.notes, record) == []


def test_the_yards_differ_and_each_is_always_the_same() -> None:
    drawn = [yards.yard(number) for number in range(60)]
    assert drawn[7] == yards.yard(7)
    assert {yard.steepness for yard in drawn} == {"0% to 4%", "4% to 8%", "8% to 12%", "12% to 15%"}
    for word in (
        'units = "ft"',
        'units = "m"',
        "battered",
        'kind = "house"',
        'kind = "fence"',
        "snow",
        "clay",
    ):
        assert any(word in yard.job for yard in drawn), word


def option_of(record: dict[str, Any], kind: str) -> dict[str, Any]:
    (found,) = [one for one in record["options"] if one["foundation"] == kind]
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize(
    ("kind", "check"), [("pad", "gravel depth"), ("piers", "siding"), ("slab", "floor above ground")]
)
def test_a_level_that_is_not_the_one_judged_is_seen(kind: str, check: str) -> None:
    yard, record = planned(0)
    other = copy.deepcopy(record)
    option_of(other, kind)["level_m"] += 0.02
    assert check in {one.check for one in second_look(yard.job, yard.notes, other)}


def test_verdicts_turned_round_are_seen() -> None:
    yard, record = planned(0)
    other = copy.deepcopy(record)
    turned = []
    for option in other["options"]:
        for check in option["checks"]:
            if check["holds"] is not None:
                check["holds"] = not check["holds"]
                turned.append((option["foundation"], check["check"], check["where"]))
    seen = {(one.foundation, one.check, one.where) for one in second_look(yard.job, yard.notes, other)}
    assert set(turned) <= seen


def test_a_pier_that_carries_more_than_told_is_seen() -> None:
    yard, record = planned(0)
    other = copy.deepcopy(record)
    other["piers"]["piers"][0]["load_kn"] *= 0.99
    assert [one.check for one in second_look(yard.job, yard.notes, other)] == ["load told"]
