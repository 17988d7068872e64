"""Spot elevations to stations: what is refused, what is merged, what is only remarked on."""

from __future__ import annotations

from array import array
from dataclasses import replace

import numpy as np
import pytest

from gradework.errors import Finding
from gradework.fieldnotes.spots import SpotNotes
from gradework.survey.from_spots import stations_from_spots

FOOT = 0.3048

SQUARE = [("A1", 0, 0, 100.0), ("A2", 10, 0, 100.5), ("B1", 0, 10, 101.0), ("B2", 10, 10, 101.7)]


def test_stations_keep_the_order_of_the_file(spots):
    stations = stations_from_spots(spots(SQUARE))
    assert list(stations.names) == ["A1", "A2", "B1", "B2"]
    assert stations.xyz == pytest.approx(np.array([row[1:] for row in SQUARE]) * FOOT)
    assert stations.lines.tolist() == [2, 3, 4, 5]
    assert np.isnan(stations.sd).all()
    assert (stations.file, stations.unit, len(stations)) == ("yard.csv", "ft", 4)
    assert [f.code for f in stations.findings] == ["survey-not-checked"]  # four shots check nothing
    assert stations.show.elevation(stations.xyz[1, 2]) == "100.50 ft"
    for values in (stations.xyz, stations.sd, stations.lines):
        assert not values.flags.writeable


def test_no_shots(faults_of):
    (fault,) = faults_of([])
    assert fault.code == "too-few-shots"
    assert "no shots" in fault.found
    assert "one row per shot" in fault.fix


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_shots_cannot_make_a_surface(count, faults_of):
    (fault,) = faults_of(SQUARE[:count])
    assert fault.code == "too-few-shots"
    assert str(fault).startswith(f"yard.csv: error: only {count} shot")
    assert "the corners and the middle" in fault.fix


def test_doubles_do_not_count_as_more_shots(faults_of):
    (fault,) = faults_of([SQUARE[0], SQUARE[1], ("A2", 10, 0, 100.5)])
    assert fault.code == "too-few-shots"
    assert "2 shots in different places" in fault.found


def test_three_shots_are_a_plane_and_a_warning(spots):
    stations = stations_from_spots(spots(SQUARE[:3]))
    (finding,) = stations.findings
    assert (finding.code, finding.severity) == ("only-three-shots", "warning")
    assert "one flat plane" in finding.advice


def test_all_on_a_line_names_its_end_stations(faults_of):
    (fault,) = faults_of([("P1", 4, 8, 100), ("P2", 1, 2, 100.3), ("P3", 5, 10, 100.2), ("P4", 2, 4, 101)])
    assert fault.code == "shots-on-a-line"
    assert "from P2 to P3" in fault.found
    assert "to one side of the line" in fault.fix


def test_a_line_that_is_straight_only_on_paper(faults_of):
    """Steps of 0.1 and 0.3: eleven slivers of 2e-16 to a triangulation, one line to a builder."""
    (fault,) = faults_of([(f"P{i}", 0.1 * i, 0.3 * i, 100 + i % 3) for i in range(10)])
    assert fault.code == "shots-on-a-line"
    assert "from P0 to P9" in fault.found


def test_two_millimetres_wide_is_not_a_line(spots):
    stations = stations_from_spots(spots([(f"P{i}", i, 0.002 * (i % 2), 100) for i in range(6)], "m"))
    assert len(stations) == 6


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
@pytest.mark.parametrize("column", [1, 2, 3])
def test_not_a_number_is_refused_at_its_line(bad, column, faults_of):
    row = ["B2", 10, 10, 101.7]
    row[column] = bad
    (fault,) = faults_of([*SQUARE[:3], tuple(row)])
    assert (fault.code, fault.line) == ("shot-not-a-number", 5)
    assert "B2" in fault.found


@pytest.mark.parametrize("far", [60_000.0, 1e9, 1e300, 1.7e308])
def test_wider_than_any_site(far, faults_of):
    (fault,) = faults_of([*SQUARE, ("C9", far, 0, 100), ("C8", -far, 0, 100)], "m")
    assert fault.code == "site-too-wide"
    assert (fault.line, fault.fix[-11:]) in {(6, "start at C9"), (7, "start at C8")}


def test_the_widest_site_is_taken(spots):
    assert len(stations_from_spots(spots([*SQUARE, ("C9", 49_990, 0, 100)]))) == 5


def test_all_faults_at_once_each_with_its_line(faults_of):
    faults = faults_of([
        *SQUARE,
        ("A1", 5, 5, 100.9),
        ("C1", 10, 0, 107.0),
        ("B2", 3, 3, 100.8),
    ])  # fmt: skip
    assert [(f.code, f.line) for f in faults] == [
        ("same-name-two-places", 6),
        ("same-place-two-elevations", 7),
        ("same-name-two-places", 8),
    ]


def test_findings_of_the_notes_are_kept(spots):
    said = Finding("text-not-utf8", "note", "yard.csv", None, None, "Invented for this test.")
    told = stations_from_spots(replace(spots([*SQUARE, SQUARE[0]]), findings=(said,))).findings
    assert told[0] == said
    assert [finding.code for finding in told[1:]] == ["double-shot", "survey-not-checked"]


def test_names_are_made_safe_for_a_terminal(faults_of):
    nasty = "\x1b[2J" + "x" * 5000
    (fault,) = faults_of([*SQUARE, (nasty, 0, 0, 90.0)])
    assert "\x1b" not in str(fault)
    assert len(str(fault)) < 400


def test_a_million_shots_pass():
    rng = np.random.default_rng(1)
    n = 1_000_000
    x, y, z = (array("d", (rng.random(n) * width).tobytes()) for width in (3000, 3000, 5))
    names, lines = [f"P{i}" for i in range(n)], range(2, n + 2)
    notes = SpotNotes(names, x, y, z, lines, None, "m", "scan.csv", ())
    stations = stations_from_spots(notes)
    # some few of a million random places fall together by chance
    assert n - 20 <= len(stations) <= n
    assert "blunder-check-left-out" in {finding.code for finding in stations.findings}
