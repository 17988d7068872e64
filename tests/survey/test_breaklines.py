"""What told breaklines do in the survey: shots of their own, silence about banks, slips that show."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.fieldnotes.columns import BreaklinePoint
from gradework.fieldnotes.spots import read_spots
from gradework.survey.breaklines import creases, told_steep, with_breaklines
from gradework.survey.from_spots import stations_from_spots
from gradework.survey.outliers import cross_validate, misread_findings
from gradework.survey.stations import Breakline, Stations
from gradework.survey.steepness import steep_findings

FOOT = 0.3048


def banked(rise: float = 0.9, run: float = 0.7, seed: int = 0) -> Stations:
    """A lawn of 6 by 8 shots 5 ft apart with a bank across it, shot along foot and top, read to 2 mm."""
    rng = np.random.default_rng(seed)
    x, y = (a.ravel() for a in np.meshgrid(np.arange(8.0) * 5 * FOOT, np.arange(6.0) * 5 * FOOT))
    edge = np.linspace(0, 35 * FOOT, 6)
    places = np.vstack([
        np.column_stack([x, y]),
        np.column_stack([edge, 3.2 + 0.05 * edge]),
        np.column_stack([edge, 3.2 + run + 0.05 * edge]),
    ])  # fmt: skip
    along = np.clip((places[:, 1] - 3.2 - 0.05 * places[:, 0]) / run, 0, 1)
    z = 30 + 0.03 * places[:, 0] - 0.01 * places[:, 1] + rise * along + rng.normal(0, 0.002, len(places))
    names = [f"S{k}" for k in range(48)] + [f"{edge}{k}" for edge in ("foot", "top") for k in range(6)]
    none = np.full(len(places), np.nan)
    lines = tuple(Breakline(edge, tuple(f"{edge}{k}" for k in range(6))) for edge in ("foot", "top"))
    xyz = np.column_stack([places, z])
    return Stations(names, xyz, none, np.arange(60) + 2, "yard.csv", "ft", breaklines=lines)


def untold(stations: Stations) -> Stations:
    return Stations(*(getattr(stations, name) for name in ("names", "xyz", "sd", "lines", "file", "unit")))


def test_a_bank_that_was_told_is_no_steep_pair() -> None:
    yard = banked()
    assert [one.code for one in steep_findings(untold(yard), column="elevation")][:1] == ["steep-pair"]
    assert steep_findings(yard, column="elevation") == ()
    # a step elsewhere is named as before
    yard.xyz[0, 2] += 2.0
    (told,) = steep_findings(yard, column="elevation")
    assert "S0, line 2" in told.advice


def test_pairs_on_lines_and_across_one_are_accounted_for() -> None:
    yard = banked()
    number = {name: k for k, name in enumerate(yard.names)}
    pairs = [
        ("top0", "top1"),
        ("foot2", "top2"),
        ("S16", "S24"),
        ("S0", "S1"),
        ("S8", "S16"),
        ("S0", "foot0"),
    ]
    found = told_steep(yard, np.array([[number[a], number[b]] for a, b in pairs]))
    assert found.tolist() == [True, True, True, False, False, False]


def test_a_slip_shows_beside_a_bank_that_was_told_and_no_sound_shot_is_doubted() -> None:
    for seed in range(4):
        yard = banked(seed=seed)
        assert misread_findings(yard) == []
        at = (3, 19, 26, 44)[seed]
        yard.xyz[at, 2] += FOOT
        (told,) = misread_findings(yard)
        assert told.where.startswith(f"S{at},")
        assert "a whole foot" in told.advice
        assert misread_findings(untold(yard)) == []  # what the bank hides where nobody told it


def test_a_crease_is_how_far_a_shot_is_from_the_line_and_how_far_inside_a_ring() -> None:
    ring = [(2, 2), (6, 2), (6, 6), (2, 6)]
    xy = np.array([*ring, (4, 4), (0, 0), (8, 8), (8, 0), (0, 8)], dtype=float)
    names = [f"P{k}" for k in range(len(xy))]
    none, rows = np.full(len(xy), np.nan), np.zeros(len(xy), dtype=np.int64)
    lines = (Breakline("ring", ("P0", "P1", "P2", "P3", "P0")), Breakline("side", ("P5", "P7")))
    yard = Stations(names, np.column_stack([xy, none]), none, rows, "", "m", breaklines=lines)
    straight, rounded, side = creases(yard).T
    assert straight.tolist() == [0, 0, 0, 0, 2, 0, 0, 0, 0]
    assert 2.0 < rounded[4] < 2 * np.sqrt(2)
    assert side == pytest.approx(xy[:, 1])


def test_the_only_shot_inside_a_ring_is_judged_by_nobody() -> None:
    yard = banked()
    names = [yard.names[k] for k in (9, 10, 18, 17, 9)]
    ring = Stations(
        yard.names,
        yard.xyz,
        yard.sd,
        yard.lines,
        "yard.csv",
        "ft",
        breaklines=(Breakline("pit", tuple(names)),),
    )
    ring.xyz[0, :2] = yard.xyz[[9, 18], :2].mean(axis=0)
    out = cross_validate(ring.xyz, creases(ring)[:, :1])
    assert np.isnan(out.residual[0])
    assert np.isfinite(out.residual[1:]).all()


def test_shots_of_the_table_itself_join_those_of_the_notes() -> None:
    rows = "station,x,y,elevation\nA,0,0,1\nB,4,0,1\nC,4,4,2\nD,0,4,2\n"
    notes = read_spots(rows.encode(), "yard.csv", unit="m")
    told = [BreaklinePoint("path", "A", None, 2), BreaklinePoint("Path", "path 2", (2.0, 2.0, 1.6), 3)]
    stations = stations_from_spots(notes, told, "breaklines.csv")
    assert list(stations.names) == ["A", "B", "C", "D", "path 2"]
    assert stations.breaklines == (Breakline("path", ("A", "path 2")),)
    wrong = [BreaklinePoint("path", "E", None, 2), BreaklinePoint("path", "B", (4.0, 1.0, 1.0), 3)]
    with pytest.raises(InputError) as caught:
        stations_from_spots(notes, wrong, "breaklines.csv")
    assert [(one.file, one.line) for one in caught.value.faults] == [
        ("breaklines.csv", 2),
        ("breaklines.csv", 3),
    ]
    assert "B at another place" in caught.value.faults[1].found


def test_a_line_of_one_station_is_told_and_a_doubled_shot_closes_a_ring() -> None:
    yard = banked()
    (told,) = with_breaklines(untold(yard), [BreaklinePoint("ridge", "S1")]).findings
    assert told.code == "breakline-short"
    rows = ["station,x,y,elevation,chain"]
    rows += [f"P{k},{x},{y},1,ring" for k, (x, y) in enumerate([(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)])]
    notes = read_spots("\n".join([*rows, ""]).encode(), "yard.csv", unit="m")
    assert stations_from_spots(notes).breaklines[0].stations == ("P0", "P1", "P2", "P3", "P0")


def test_a_line_all_of_whose_points_stand_in_one_place_changes_nothing() -> None:
    yard = untold(banked())
    points = [BreaklinePoint("stone", name, (1.0, 1.1, 30.1), row) for row, name in enumerate("ab", 2)]
    told = with_breaklines(yard, points, "lines.csv")
    assert "breakline-short" in [one.code for one in told.findings]
    assert creases(told).shape == (len(told), 0)
    misread_findings(told)


def test_a_shot_of_its_own_where_a_station_stands_is_that_station() -> None:
    yard = untold(banked())
    x, y, z = yard.xyz[9].tolist()
    points = [
        BreaklinePoint("stone", "stone 1", (x, y + 1e-4, z + 0.002), 2),
        BreaklinePoint("stone", "S12", None, 3),
    ]
    told = with_breaklines(yard, points, "lines.csv")
    assert len(told) == len(yard)
    assert told.breaklines == (Breakline("stone", ("S9", "S12")),)
    higher = [points[0]._replace(at=(x, y, z + 0.5)), points[1]]
    with pytest.raises(InputError) as caught:
        with_breaklines(yard, higher, "lines.csv")
    (only,) = caught.value.faults
    assert (only.file, only.line, "another place or elevation" in only.found) == ("lines.csv", 2, True)


def test_a_shot_that_was_merged_is_found_by_its_name_however_it_is_spelled() -> None:
    rows = [
        "station,x,y,elevation",
        *(f"A{i}{j},{5 * i},{5 * j},{0.1 * i}" for i in range(4) for j in range(4)),
    ]
    spots = read_spots("\n".join([*rows, "P9,5,5,0.1", ""]).encode(), "yard.csv", unit="m")
    points = [BreaklinePoint("top", "p9", None, 2), BreaklinePoint("top", "A22", None, 3)]
    told = stations_from_spots(spots, points)
    assert told.breaklines == (Breakline("top", ("A11", "A22")),)
