"""The error of one reading, as a level book tells it: each set-up's height counts as an unknown."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.heights import book_heights
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.repeat_findings import TOLD_FROM, repeat_findings
from gradework.survey.repeats import RepeatReadings

OFF = (0.003, -0.002, 0.001, 0.004, -0.003, 0.002)
"""How far the second look at each of six points is off the first [m]: no slip, just reading."""


def walk(turns: int, *, looks: int = 0, closed: bool = False) -> LevelNotes:
    """A line of levels over ``turns`` turning points; ``looks`` points are read twice, spread over it."""
    rng = np.random.default_rng(turns)
    rows = [LevelRow("BM", backsight=1.5, known=30.0)]
    for setup in range(turns + 1):
        mine = range(setup, looks, turns + 1)
        rows += [LevelRow(f"P{k}", intermediate=1.2 + 0.1 * k) for k in mine]
        rows += [LevelRow(f"P{k}", intermediate=1.2 + 0.1 * k + OFF[k]) for k in mine]
        if setup < turns:
            fore, back = (round(float(value), 3) for value in rng.uniform(0.5, 2.5, 2))
            rows.append(LevelRow(f"TP{setup}", foresight=fore, backsight=back))
    if closed:
        rise = sum((r.backsight or 0.0) - (r.foresight or 0.0) for r in rows)
        rows.append(LevelRow("BM", foresight=round(rise + 0.002, 3)))
    else:
        rows.append(LevelRow("end", foresight=1.4))
    return LevelNotes(tuple(rows), unit="m")


def by_plain_least_squares(notes: LevelNotes) -> tuple[float, int]:
    """The error of a reading and its degrees of freedom, from the notes alone: each reading is the height of
    its set-up less the level of its station."""
    setup, seen = -1, []
    for row in notes.rows:
        seen += [(row.station, setup, x) for x in (row.intermediate, row.foresight) if x is not None]
        if row.backsight is not None:
            setup += 1
            seen.append((row.station, setup, row.backsight))
    stations = {name: k for k, name in enumerate(dict.fromkeys(name for name, _, _ in seen))}
    design = np.zeros((len(seen), len(stations) + setup + 1))
    for k, (name, number, _) in enumerate(seen):
        design[k, stations[name]], design[k, len(stations) + number] = -1.0, 1.0
    read = np.array([reading for _, _, reading in seen])
    found, _, rank, _ = np.linalg.lstsq(design, read, rcond=None)
    freedom = len(seen) - int(rank)
    left = read - design @ found
    return (float(np.sqrt(left @ left / freedom)) if freedom else np.nan), freedom


def of_book(notes: LevelNotes) -> RepeatReadings:
    return RepeatReadings(book_heights(reduce_levels(notes)).readings, notes.unit, 0.003)


def codes(notes: LevelNotes) -> list[str]:
    book = reduce_levels(notes)
    found, _ = repeat_findings(book_heights(book).readings, notes.unit, 0.003)
    return [finding.code for finding in (*book.findings, *found)]


@pytest.mark.parametrize("turns", [0, 1, 3, 4, 12, 40])
def test_an_open_line_never_tells_an_error_of_reading(turns: int) -> None:
    told = codes(walk(turns))
    assert "reading-error" not in told
    assert "levels-not-closed" in told
    assert of_book(walk(turns)).to_spare == 0


@pytest.mark.parametrize("turns", [3, 4, 12])
def test_one_loop_is_one_check_however_many_turning_points_it_has(turns: int) -> None:
    notes = walk(turns, closed=True)
    assert of_book(notes).to_spare == 1 < TOLD_FROM
    assert "reading-error" not in codes(notes)


def test_six_second_looks_tell_the_same_with_no_four_and_twelve_turning_points() -> None:
    found = [of_book(walk(turns, looks=6)) for turns in (0, 4, 12)]
    assert [one.to_spare for one in found] == [6, 6, 6]
    expected = np.sqrt(sum(off**2 / 2 for off in OFF) / 6)
    assert [one.spread for one in found] == pytest.approx([expected] * 3, abs=1e-12)
    for turns in (0, 4, 12):
        assert codes(walk(turns, looks=6)).count("reading-error") == 1


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("looks", [3, 6])
@pytest.mark.parametrize("turns", [0, 2, 4, 12])
def test_the_error_is_that_of_plain_least_squares(turns: int, looks: int, closed: bool) -> None:
    notes = walk(turns, looks=looks, closed=closed)
    error, freedom = by_plain_least_squares(notes)
    second = of_book(notes)
    assert second.to_spare == freedom == looks + (closed and turns > 0) + (closed and turns == 0)
    assert second.spread == pytest.approx(error, abs=1e-9)


def test_points_seen_from_several_set_ups_check_each_other_less_the_set_ups() -> None:
    rows = [LevelRow("BM", backsight=1.5, known=30.0)]
    rows += [LevelRow(f"P{k}", intermediate=1.2 + 0.1 * k) for k in range(6)]
    rows.append(LevelRow("TP", foresight=1.1, backsight=1.9))
    rows += [LevelRow(f"P{k}", intermediate=2.0 + 0.1 * k + off) for k, off in enumerate(OFF)]
    notes = LevelNotes((*rows, LevelRow("end", foresight=1.0)), unit="m")
    error, freedom = by_plain_least_squares(notes)
    second = of_book(notes)
    assert second.to_spare == freedom == 6
    assert second.spread == pytest.approx(error, abs=1e-9)


def test_looks_that_agree_to_the_last_place_are_as_good_as_that_place() -> None:
    rows = [LevelRow("BM", backsight=1.5, known=30.0)]
    rows += [LevelRow(f"P{k // 2}", intermediate=1.2 + 0.1 * (k // 2)) for k in range(8)]
    second = of_book(LevelNotes(tuple(rows), unit="m"))
    assert second.to_spare == 4
    assert second.spread == pytest.approx(0.001 / 12**0.5)
