"""Which stations a field sheet lists: names, the grid that suits a job, what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.fieldnotes.lettered import LetteredGrid, row_and_column
from gradework.project.field_sheet import (
    MOST_STATIONS,
    REACH,
    SHOTS_FOR_A_JOB,
    FieldSheet,
    sheet_for_grid,
    sheet_for_job,
    station_name,
    to_grid,
)
from gradework.project.job.read import read_job
from gradework.units.display import FEET, METRIC

FOOT = 0.3048


def job_sheet(building: str, survey: str = "", units: str = "ft", **more: object) -> FieldSheet:
    text = (
        f'name = "Shed"\nunits = "{units}"\n[survey]\nnotes = "yard.csv"\n{survey}\n[building]\n{building}\n'
    )
    return sheet_for_job(read_job(text.encode(), "job.toml"), method="level", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("row", [0, 1, 25, 26, 27, 51, 52, 701])
def test_names_are_those_the_notes_read(row: int) -> None:
    assert row_and_column(station_name(row, 11)) == (row, 11)


def test_a_grid_as_asked_for() -> None:
    asked = sheet_for_grid(LetteredGrid((1.0, 1.0)), rows=2, columns=3, method="laser", show=METRIC)
    assert asked.names == (("A1", "A2", "A3"), ("B1", "B2", "B3"))
    assert asked.proposed


@pytest.mark.parametrize(("rows", "columns", "code"), [
    (1, 8, "sheet-grid-too-small"),
    (8, 1, "sheet-grid-too-small"),
    (40, 40, "sheet-grid-too-large"),
    (703, 2, "sheet-grid-too-large"),
])  # fmt: skip
def test_too_small_and_too_large(rows: int, columns: int, code: str) -> None:
    with pytest.raises(InputError) as caught:
        sheet_for_grid(LetteredGrid((1.0, 1.0)), rows=rows, columns=columns, method="level", show=METRIC)
    assert [fault.code for fault in caught.value.faults] == [code]
    assert str(MOST_STATIONS) in str(caught.value) or code.endswith("small")


def test_the_jobs_own_grid_is_kept_and_reaches_ten_feet_past_the_building() -> None:
    # 15 + 16 + 10 = 41 ft along x: the tenth station, at 45 ft; 12 + 12 + 10 = 34 ft along y: the eighth row
    found = job_sheet("size = [16, 12]\ncorner = [15, 12]", "grid = { spacing = 5 }")
    assert (found.columns, found.rows) == (10, 8)
    assert found.grid == LetteredGrid((5 * FOOT, 5 * FOOT))
    assert not found.proposed
    assert found.findings == ()


def test_a_building_near_the_first_station_is_told() -> None:
    found = job_sheet("size = [16, 12]\ncorner = [4, 12]", "grid = { spacing = 5 }")
    assert [f.code for f in found.findings] == ["sheet-stops-short"]
    assert found.findings[0].value == pytest.approx(4 * FOOT)
    found = job_sheet("size = [16, 12]\ncorner = [-3, 12]", "grid = { spacing = 5 }")
    assert [f.code for f in found.findings] == ["sheet-misses-building"]
    assert found.findings[0].value == pytest.approx(3 * FOOT)


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("turn", [0, 15, 45])
@pytest.mark.parametrize("size", [(3.0, 2.4), (16.0, 12.0), (60.0, 45.0)])
def test_a_job_without_a_grid_gets_a_round_one_that_covers_it(
    units: str, turn: int, size: tuple[float, float]
) -> None:
    found = job_sheet(f"size = [{size[0]}, {size[1]}]\ncorner = [5.2, 4.4]\nturn = {turn}", units=units)
    assert found.proposed
    assert found.findings == ()
    assert found.rows * found.columns <= SHOTS_FOR_A_JOB + found.rows + found.columns
    places = to_grid(found.grid, found.building[0])
    far = np.array([(found.columns - 1) * found.grid.spacing[1], (found.rows - 1) * found.grid.spacing[0]])
    assert (places - REACH > -1e-6).all()
    assert (places + REACH < far + 1e-6).all()
    step = found.show.in_units(found.grid.spacing[0])
    assert step * 4 == pytest.approx(round(step * 4))
    for start in found.grid.origin:
        assert start / found.grid.spacing[0] == pytest.approx(round(start / found.grid.spacing[0]), abs=1e-9)


def test_what_is_asked_for_wins_over_the_job() -> None:
    found = job_sheet(
        "size = [16, 12]\ncorner = [15, 12]",
        "grid = { spacing = 5 }",
        grid=LetteredGrid((FOOT, FOOT)),
        rows=30,
        columns=31,
    )
    assert (found.rows, found.columns, found.grid.spacing) == (30, 31, (FOOT, FOOT))
    assert found.proposed


def test_grid_frame_undoes_the_grids_own_placing() -> None:
    grid = LetteredGrid((2.0, 3.0), (10.0, -4.0), 33.0)
    places = np.array([grid.place(row, column) for row in range(3) for column in range(4)])
    wanted = np.array([(3.0 * column, 2.0 * row) for row in range(3) for column in range(4)])
    assert to_grid(grid, places) == pytest.approx(wanted, abs=1e-12)


def test_an_outline_with_holes_is_taken_as_it_is() -> None:
    found = job_sheet(
        "outline = [[20, 20], [40, 20], [40, 35], [20, 35]]\nholes = [[[25, 25], [30, 25], [30, 30]]]",
        "grid = { spacing = 5 }",
    )
    assert len(found.building) == 2


def test_a_job_taped_from_marks_gets_a_table_of_ties() -> None:
    yard = Path(__file__).parents[2] / "data" / "barn-yard" / "job.toml"
    sheet = sheet_for_job(read_job(yard.read_bytes(), "job.toml"), method="level")
    assert sheet.ties == ("barn A", "barn B")
    assert sheet_for_job(read_job(yard.read_bytes(), "job.toml"), method="level", ties=()).ties == ()


@pytest.mark.parametrize("ties", [("one",), ("a", "b", "c", "d", "e")])
def test_ties_from_one_mark_or_too_many_are_refused(ties: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as caught:
        sheet_for_grid(LetteredGrid((1.5, 1.5)), rows=3, columns=3, method="level", show=FEET, ties=ties)
    assert [fault.code for fault in caught.value.faults] == ["sheet-ties"]


def test_stations_behind_a_garage_are_to_be_struck_out() -> None:
    text = (Path(__file__).parents[2] / "data" / "tight-yard" / "job.toml").read_text("utf-8")
    made = sheet_for_job(read_job(text.encode()), method="rod")
    (told,) = [finding for finding in made.findings if finding.code == "sheet-behind-wall"]
    spacing, origin = made.grid.spacing, made.grid.origin
    beyond = [
        made.names[row][column]
        for row in range(made.rows)
        for column in range(made.columns)
        # of the garage, whose wall runs along x at 32 ft, only what lies straight behind it
        if origin[1] + row * spacing[0] > 32 * 0.3048
        and 4 * 0.3048 < origin[0] + column * spacing[1] < 34 * 0.3048
    ]
    # and beside those a few more, whose way leads through a corner of the garage
    named = told.where.removesuffix(" ...").split(", ")
    assert len(named) == 12
    assert 0 < len(beyond) <= told.value
    assert {name for name in beyond if name[0] == named[0][0]} <= set(named)
    rows = {row for row, _ in (row_and_column(name) or (-1, -1) for name in named)}
    assert min(origin[1] + row * spacing[0] for row in rows) > 32 * 0.3048
    free = read_job(text[: text.index("[[site.near]]")].encode())
    assert "sheet-behind-wall" not in [f.code for f in sheet_for_job(free, method="rod").findings]
