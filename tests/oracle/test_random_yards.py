"""Random yards, every check of every option made a second time, apart from the program.

``tests/bench/buildable.py`` takes any number of them.
"""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely
import yards
from ground_again import Ground, Swale
from second_look import second_look

import gradework

NUMBERS = (0, 3, 4, 6, 9, 16, 7021, 7025)
"""In 7021 a drain comes out near a house, in 7025 the ground beside one falls away faster than its bench."""


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


def test_water_below_an_outlet_that_meets_a_raised_pad_runs_round_it() -> None:
    """The pad's top is level: what runs to its side once went on to the corner where the top is left."""
    yard, record = planned(141)
    assert second_look(yard.job, yard.notes, record) == []


def test_piers_whose_holes_meet_are_no_option_and_the_others_are_answered() -> None:
    yard, record = planned(1564)
    every = {one["foundation"]: one for one in record["options"]}
    assert [one["check"] for one in every["piers"]["checks"] if one["holds"] is False] == ["holes apart"]
    assert all(len(every[kind]["checks"]) > 3 for kind in ("pad", "slab"))
    assert second_look(yard.job, yard.notes, record) == []
    head, _, rest = yard.job.partition("[pad]")
    job = gradework.read_job((head + rest[rest.index("[piers]") : rest.index("[slab]")]).encode())
    assert job.asked == ("piers",)
    with pytest.raises(gradework.InputError, match="holes of piers"):
        gradework.plan(job, yard.notes.encode())


def test_ground_that_is_hardly_shaped_closes_too() -> None:
    """Of 12 l of earth 5 ml are moved where corners of one place are joined: no lie."""
    yard, record = planned(1258)
    assert second_look(yard.job, yard.notes, record) == []


def test_a_pipe_that_ends_in_the_air_or_in_the_ground_is_seen() -> None:
    yard, record = planned(7025)
    for off in (-0.02, 0.02):
        other = copy.deepcopy(record)
        (drain,) = other["pad"]["measures"]
        assert drain["kind"] == "drain"
        drain["line_m"][-1][2] += off
        assert "drain comes out" in {one.check for one in second_look(yard.job, yard.notes, other)}


def test_four_shots_on_one_circle_are_folded_half_way_in_both() -> None:
    """No rectangle, and on one circle to within a millionth of a radian."""
    xy = np.array([(8.03, 7.48), (10.41, 7.51), (10.39, 9.88), (8.01, 9.87)])
    shots = np.column_stack((xy, (29.62, 29.754, 29.908, 29.774)))
    rows = [",".join(map(str, (k, *shot))) for k, shot in enumerate(shots.tolist(), 1)]
    ours = Ground("\n".join(["station,x,y,elevation", *rows]), 1.0)
    share = np.random.default_rng(5).dirichlet(np.ones(4), 200)
    places = share @ shots[:, :2]
    assert ours.at(places) == pytest.approx(gradework.build_surface(shots).elevation(places), abs=1e-9)
    middle = ours.bends(shapely.box(9.0, 8.0, 10.0, 9.0).exterior)
    assert len(middle) == 5 + 4  # a spoke to each corner leaves the box once


def test_a_look_meets_a_line_at_its_very_bend() -> None:
    """As in the middle of a wall, where a swale falls both ways from its crest."""
    bend = np.array([(0.1, 0.7, 1.0), (1.0 / 3.0, 1.0, 1.2), (0.8, 1.1, 1.0)])
    for turn in np.linspace(0.0, 6.0, 200):
        c, s = np.cos(turn), np.sin(turn)
        frame = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        start, out = np.array([1.0 / 3.0, 0.0]) @ frame[:2, :2], np.array([0.0, 1.0]) @ frame[:2, :2]
        assert Swale(bend @ frame, 2.0).met(start, out, 3.0) == pytest.approx((1.0, 1.2))


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
