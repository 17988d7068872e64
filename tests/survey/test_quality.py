"""Coverage, joining, the verdict, and the whole way from a level book to stations."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from gradework.errors import Finding, InputError
from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.joined import join, searched_stations, turned_on
from gradework.survey.levelling.heights import book_heights, make_heights
from gradework.survey.levelling.readings import read_once
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.placing.tape import make_places
from gradework.survey.quality import (
    AROUND,
    FAIR,
    POOR,
    REACH_AROUND,
    REACH_INSIDE,
    best_tapes,
    coverage_findings,
    judge,
    shoot_next,
)
from gradework.survey.stations import Stations

FOOT = 0.3048
HOUSE = np.array([[6.0, 6.0], [10.0, 6.0], [10.0, 9.0], [6.0, 9.0]])


def stations(xy, slope=(0.05, 0.0)):
    xy = np.asarray(xy, dtype=float)
    xyz = np.column_stack([xy, 30 + xy @ slope])
    n = len(xyz)
    return Stations([f"S{i}" for i in range(n)], xyz, np.full(n, np.nan), np.arange(n) + 2, "yard.csv", "m")


def grid(step, low=0.0, high=16.0):
    axis = np.arange(low, high + 1e-9, step)
    return np.column_stack([a.ravel() for a in np.meshgrid(axis, axis)])


def test_a_close_grid_over_everything_lacks_nothing():
    assert shoot_next(stations(grid(1.5)), HOUSE, margin=0.3) == ()
    assert coverage_findings(stations(grid(1.5)), HOUSE, margin=0.3) == []


def test_every_gap_is_closed_by_the_shots_asked_for():
    rng = np.random.default_rng(1)
    xy = rng.uniform(3, 13, (14, 2))
    for _ in range(10):
        wanted = shoot_next(stations(xy), HOUSE)
        if not wanted:
            break
        xy = np.vstack([xy, [w.xy for w in wanted]])
    assert wanted == ()
    # By an independent look: no place under the house or around it is farther from a shot than the reach.
    for p in rng.uniform(6 - AROUND, 10 + AROUND, (400, 2)):
        inside = 6 <= p[0] <= 10 and 6 <= p[1] <= 9
        off = math.hypot(max(6 - p[0], 0, p[0] - 10), max(6 - p[1], 0, p[1] - 9))
        nearest = np.hypot(*(xy - p).T).min()
        if inside:
            assert nearest < REACH_INSIDE + 0.5  # samples stand 0.6 m apart
        elif off < AROUND - 0.5:
            assert nearest < REACH_AROUND + 0.5


def test_corners_come_first_and_uphill_before_downhill():
    around = [(3, 3), (3, 12), (13, 3), (13, 12), (8, 7.5)]
    wanted = shoot_next(stations(around), HOUSE)
    assert [w.why for w in wanted[:2]] == ["corner of the building", "corner of the building"]
    assert {w.xy for w in wanted[:4]} <= {tuple(c) for c in HOUSE.tolist()} | {w.xy for w in wanted}
    outside = [w for w in wanted if w.why in ("uphill of the pad", "around the pad")]
    assert outside[0].why == "uphill of the pad"
    assert outside[0].xy[0] > 8  # the ground rises with x


def test_a_corner_outside_all_shots_is_asked_for_by_name_of_its_neighbour():
    wanted = shoot_next(stations([(0, 0), (9, 0), (0, 9), (9, 7)]), HOUSE)
    corner = next(w for w in wanted if w.xy == (10.0, 9.0))
    assert corner.why == "corner of the building, outside all shots"
    assert corner.where == "x 10.00 m, y 9.00 m, 2.24 m from S3 towards +x +y"
    (finding,) = coverage_findings(stations([(0, 0), (9, 0), (0, 9), (9, 7)]), HOUSE)
    assert finding.code == "shots-missing"
    assert finding.advice.startswith("Shoot these next. Corner of the building")
    assert all(w.where in finding.advice for w in wanted)


def lettered(rows, columns, step=1.5, turn=0.0):
    """A lettered grid of stations, A1 at (0, 0)."""
    names = [f"{chr(65 + r)}{c + 1}" for r in range(rows) for c in range(columns)]
    xy = np.array([(c * step, r * step) for r in range(rows) for c in range(columns)])
    c, s = math.cos(turn), math.sin(turn)
    xy = xy @ np.array([[c, s], [-s, c]])
    made = stations(xy)
    return dataclasses.replace(made, names=names)


@pytest.mark.parametrize("turn", [0.0, 0.4])
def test_a_missing_side_of_a_lettered_grid_is_asked_for_by_the_next_names(turn):
    # 8 rows A-H, 12 columns; the house reaches to 1 m from the last row, and 10 ft around it are wanted.
    house = np.array([[6.0, 6.0], [10.0, 6.0], [10.0, 9.5], [6.0, 9.5]])
    c, s = math.cos(turn), math.sin(turn)
    wanted = shoot_next(lettered(8, 12, turn=turn), house @ np.array([[c, s], [-s, c]]))
    assert 2 <= len(wanted) <= 6
    assert {w.where[0] for w in wanted} <= {"I", "J"}
    xy = np.array([w.xy for w in wanted])
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + 99 * np.eye(len(xy))
    assert apart.min() > 1.4  # a grid step
    again = dataclasses.replace(lettered(8, 12, turn=turn), names=[f"S{i}" for i in range(96)])
    assert not any(w.where.startswith(("I", "J")) for w in shoot_next(again, house))


def test_a_hole_in_a_coarse_grid_is_asked_for_midway_between_its_stations():
    house = np.array([[4.2, 4.2], [4.8, 4.2], [4.8, 4.8], [4.2, 4.8]])
    wanted = shoot_next(lettered(5, 5, step=3.0), house)
    assert [w.where.split(" (")[0] for w in wanted] == ["midway between B2 and C3"]


def test_a_place_is_asked_for_by_the_two_tapes_that_cross_best():
    """By hand: 3, 4 is 5 from both ends of a base of 6; tapes from a and c cross square, others not."""
    marks = {"a": (0.0, 0.0), "b": (6.0, 0.0), "c": (7.0, 1.0)}
    assert best_tapes((3.0, 4.0), marks) == ("a", "c")
    assert best_tapes((3.0, 4.0), {"a": (0.0, 0.0), "b": (6.0, 8.0)}) is None
    assert best_tapes((3.0, 4.0), {"a": (3.0, 4.0), "b": (6.0, 8.0)}) is None
    assert best_tapes((3.0, 4.0), {"a": (0.0, 0.0)}) is None


def test_a_yard_taped_from_marks_is_told_the_tapes_beside_the_coordinates():
    marks = {"barn A": (0.0, 0.0), "barn B": (20.0, 0.0)}
    yard = stations([(4.0, 4.0), (16.0, 4.0), (4.0, 16.0), (16.0, 16.0), (10.0, 10.0)])
    found = shoot_next(yard, [(6.0, 8.0), (12.0, 8.0), (12.0, 12.0), (6.0, 12.0)], marks=marks)
    assert found
    for shot in found:
        assert yard.show.place(*shot.xy) in shot.where
        for name, place in marks.items():
            assert f"{yard.show.length(math.dist(shot.xy, place))} from {name}" in shot.where


def test_an_outline_needs_three_corners():
    with pytest.raises(ValueError, match="at least three"):
        shoot_next(stations(grid(4.0)), HOUSE[:2])


def made_heights(names, levels=None, lines=None):
    levels = levels or [30.0 + 0.1 * i for i in range(len(names))]
    return make_heights(
        names, levels, [0.002] * len(names), lines or range(2, 2 + len(names)), file="h.csv", unit="m"
    )


def made_places(names, xy=None):
    xy = xy or [(float(i), float(i * i % 5)) for i in range(len(names))]
    return make_places(names, xy, [0.01] * len(names), range(2, 2 + len(names)), file="p.csv", unit="m")


def test_names_join_in_the_order_of_the_heights():
    joined = join(made_heights(["C", "a ", "B", "D"]), made_places(["A", "B", "c", "D"]))
    assert list(joined.names) == ["C", "a ", "B", "D"]
    assert joined.xyz[:, 0].tolist() == [2.0, 0.0, 1.0, 3.0]
    assert joined.sd.tolist() == [0.002] * 4
    assert joined.findings == ()


def test_missing_and_extra_stations_are_named_with_the_nearest_name():
    joined = join(
        made_heights(["A", "B", "C", "oak 1", "BM"]),
        made_places(["A", "B", "C", "oak1", "tie mark"]),
        marks=["BM", "tie mark"],
    )
    found = {f.code: f for f in joined.findings}
    assert found["station-without-place"].advice.startswith("No place for oak 1 (is it oak1?)")
    assert found["station-without-height"].advice.startswith("No height for oak1 (is it oak 1?)")
    assert len(joined) == 3


@pytest.mark.parametrize(
    ("heights", "places", "code"),
    [
        (made_heights(["A", "B", "C"]), made_places(["1", "2", "3"]), "stations-do-not-join"),
        (made_heights(["A", "a", "C"]), made_places(["A", "B", "C"]), "station-names-alike"),
        (made_heights(["A", "A", "C"]), made_places(["A", "B", "C"]), "same-name-two-elevations"),
        (made_heights(["A", "B", "C"]), made_places(["A", "B", "C", "C"]), "same-name-two-places"),
        (made_heights(["A", "B"]), made_places(["A", "B"]), "too-few-shots"),
        (
            made_heights(["A", "B", "C"]),
            made_places(["A", "B", "C"], [(0, 0), (1, 1), (2, 2)]),
            "shots-on-a-line",
        ),
        (
            made_heights(["A", "B", "C"]),
            made_places(["A", "B", "C"], [(0, 0), (0, 0), (2, 2)]),
            "same-place-two-elevations",
        ),
    ],
)
def test_what_cannot_be_joined_is_refused(heights, places, code):
    with pytest.raises(InputError) as caught:
        join(heights, places)
    assert code in [f.code for f in caught.value.faults]


def test_a_station_listed_twice_alike_counts_once():
    places = made_places(["A", "B", "C", "C"], [(0, 0), (4, 0), (0, 4), (0, 4)])
    joined = join(made_heights(["A", "B", "B", "C"], [30.0, 30.1, 30.1, 30.2]), places)
    assert list(joined.names) == ["A", "B", "C"]
    with pytest.raises(InputError) as caught:
        join(made_heights(["A", "B", "C"]), made_places(["A", "B", "C", "C"]))
    (fault,) = caught.value.faults
    assert (fault.file, fault.line) == ("p.csv", 5)
    assert fault.found.startswith("station C is at ")
    assert "on line 4" in fault.found


def finding(code, severity="warning"):
    return Finding(code, severity, "somewhere", None, None, "Words.")


def test_the_verdict_is_that_of_the_weightiest_finding():
    assert judge([]).grade == "good"
    assert judge([finding("misclosure", "note"), finding("benchmark-assumed", "note")]).grade == "good"
    assert judge([finding("levels-not-closed")]).grade == "fair"
    verdict = judge([finding("levels-not-closed"), finding("shot-misread")])
    assert verdict.grade == "poor"
    assert [r.code for r in verdict.reasons] == ["shot-misread", "levels-not-closed"]
    assert verdict.summary == "Survey check: poor. Shot misread (somewhere); levels not closed (somewhere)"


def test_every_code_that_counts_is_explained():
    import tomllib
    from pathlib import Path

    import gradework

    known = tomllib.loads((Path(gradework.__file__).parent / "messages.toml").read_text(encoding="utf-8"))
    assert set(known) >= POOR | FAIR


def yard_book(blunder=0.0):
    """A book of 30 shots over two set-ups with a turning point, and the places of the shots."""
    rng = np.random.default_rng(6)
    xy = grid(3.0, 0, 15)[:30]
    z = 30 + 0.06 * xy[:, 0] - 0.02 * xy[:, 1] + 0.03 * np.sin(xy[:, 0] / 3)
    names = [f"P{i}" for i in range(30)]
    rows = [LevelRow("BM", backsight=1.6, known=30.0, line=2)]
    height = 31.6
    for i in range(30):
        if i == 15:
            rows.append(LevelRow("TP", foresight=0.9, backsight=1.4, line=len(rows) + 2))
            height += 0.5
        reading = round(float(height - z[i] + rng.normal(0, 0.0015)), 3)
        rows.append(LevelRow(names[i], intermediate=reading, line=len(rows) + 2))
    rows.append(LevelRow("BM", foresight=2.102, line=len(rows) + 2))
    rows[9] = dataclasses.replace(rows[9], intermediate=rows[9].intermediate + blunder)
    places = make_places(names, xy, [0.01] * 30, range(2, 32), file="places.csv", unit="m")
    return LevelNotes(tuple(rows), "levels.csv", "m"), places, z


def surveyed(notes, places):
    """Stations of a level book and places, searched for misread rods; and the book."""
    book = reduce_levels(notes)
    heights = book_heights(book)
    return searched_stations(heights, places, read_once(heights.readings), marks=turned_on(notes)), book


def test_the_whole_way_on_sound_notes():
    notes, places, z = yard_book()
    found, book = surveyed(notes, places)
    assert judge(found.findings).grade == "good"
    assert not {"shot-misread", "shot-off-the-ground"} & {f.code for f in found.findings}
    assert found.xyz[:, 2] == pytest.approx(z, abs=0.008)
    assert book.misclosure == pytest.approx(-0.002)


def test_the_whole_way_with_a_misread_metre():
    notes, places, _ = yard_book(blunder=1.0)
    trust = judge(surveyed(notes, places)[0].findings)
    assert trust.grade == "poor"
    (reason,) = trust.reasons
    assert reason.code == "shot-misread"
    assert reason.where == "P8, line 11"
    assert "a whole metre" in reason.advice
