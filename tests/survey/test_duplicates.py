"""Shots in one place, and one name for two places."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.survey.duplicates import SAME_PLACE, same_places
from gradework.survey.from_spots import stations_from_spots

FOOT = 0.3048

YARD = [("A1", 0, 0, 100.0), ("A2", 10, 0, 100.5), ("B1", 0, 10, 101.0), ("B2", 10, 10, 101.7)]


def test_the_same_shot_twice_counts_once(spots):
    stations = stations_from_spots(spots([*YARD, ("A2", 10, 0, 100.5)]))
    assert list(stations.names) == ["A1", "A2", "B1", "B2"]
    assert stations.lines.tolist() == [2, 3, 4, 5]
    finding, unchecked = stations.findings
    assert unchecked.code == "survey-not-checked"  # the same row twice is a copy, not a check
    assert (finding.code, finding.severity, finding.where) == ("double-shot", "note", "A2")
    assert "Lines 3, 6" in finding.advice


@pytest.mark.parametrize(("times", "lines"), [(3, "Lines 3, 6, 7, 8 "), (4, "Lines 3, 6, 7, 8, ... ")])
def test_of_many_shots_of_one_place_four_lines_are_named(times, lines, spots):
    finding, _ = stations_from_spots(spots([*YARD, *[("A2", 10, 0, 100.5)] * times])).findings
    assert lines in f"{finding.advice} "


def test_points_a_millionth_of_a_millionth_apart_are_one_place(spots):
    stations = stations_from_spots(spots([*YARD, ("X", 10 + 1e-12, 1e-12, 100.5)]))
    assert len(stations) == 4
    assert stations.findings[0].code == "double-shot"


@pytest.mark.parametrize(("unit", "apart"), [("ft", 0.02), ("ft", 0.01), ("m", 0.006)])
def test_elevations_that_nearly_agree_are_averaged_with_a_warning(unit, apart, spots):
    stations = stations_from_spots(spots([*YARD, ("A2", 10, 0, 100.5 + apart)], unit))
    scale = 1 if unit == "m" else FOOT
    assert stations.xyz[1, 2] == pytest.approx((100.5 + apart / 2) * scale)
    finding, unchecked = stations.findings
    assert unchecked.code == "survey-not-checked"
    assert (finding.code, finding.severity) == ("double-shot-averaged", "warning")
    assert finding.value == pytest.approx(apart * scale)
    assert "Lines 3, 6" in finding.advice


def test_elevations_that_disagree_are_a_fault_naming_both_lines(faults_of):
    (fault,) = faults_of([*YARD, ("A2", 10, 0, 101.5)])
    assert (fault.code, fault.line) == ("same-place-two-elevations", 6)
    assert "A2 (line 3)" in fault.found
    assert "100.50 ft and 101.50 ft" in fault.found
    assert "1' 0\" apart" in fault.found
    assert fault.fix == "delete the wrong one"


def test_just_above_the_tolerance(faults_of):
    (fault,) = faults_of([*YARD, ("A2", 10, 0, 100.5201)])
    assert fault.code == "same-place-two-elevations"


def test_three_of_one_place(spots):
    stations = stations_from_spots(
        spots([("A2", 10, 0, 100.50), *YARD[::2], ("Q", 10, 0, 100.51), ("R", 10, 0, 100.52)])
    )
    assert list(stations.names) == ["A2", "A1", "B1"]
    assert stations.xyz[0, 2] == pytest.approx(100.51 * FOOT)


def test_one_name_in_two_places_is_a_fault_with_both(faults_of):
    (fault,) = faults_of([*YARD, ("A1", 5, 5, 100.9)])
    assert (fault.code, fault.line) == ("same-name-two-places", 6)
    assert "on line 2" in fault.found
    assert "x 5" in fault.found


def test_every_shot_twice(spots):
    rng = np.random.default_rng(3)
    x, y = (a.ravel() for a in np.meshgrid(np.arange(40.0), np.arange(40.0)))
    rows = [
        (f"P{i}", a, b, 100 + c) for i, (a, b, c) in enumerate(zip(x, y, rng.random(1600) / 9, strict=True))
    ]
    stations = stations_from_spots(spots([*rows, *rows]))
    assert len(stations) == 1600
    assert len(stations.findings) == 21
    assert "1580 more places" in stations.findings[-1].advice


@pytest.mark.parametrize("seed", range(5))
def test_the_same_groups_as_a_look_at_every_pair(seed):
    rng = np.random.default_rng(seed)
    centres = rng.random((30, 2)) * 5
    xy = np.concatenate(
        [centres, centres[:20] + rng.uniform(-1, 1, (20, 2)) * SAME_PLACE, rng.random((30, 2)) * 5]
    )
    group = same_places(xy)
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    naive = np.arange(len(xy))
    for _ in range(len(xy)):
        naive = np.array([naive[apart[i] <= SAME_PLACE].min() for i in range(len(xy))])
    assert group.tolist() == naive.tolist()
