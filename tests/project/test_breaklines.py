"""Breaklines through a whole job: the terrace of the demo, on the plan, in the record, on the screens."""

from __future__ import annotations

from pathlib import Path

import pytest

import gradework as gw
from gradework.drawings.lettering import Letters
from gradework.errors import InputError

ROOT = Path(__file__).parents[2]
YARD = ROOT / "data" / "terrace-yard"
LINES = ["top of bank", "foot of bank"]


@pytest.fixture(scope="module")
def terrace() -> gw.Plan:
    return gw.plan(YARD / "job.toml")


def test_the_terrace_is_told_in_the_record_and_on_the_screens(terrace: gw.Plan) -> None:
    told = terrace.record()["survey"]["breaklines"]
    assert [line["name"] for line in told] == LINES
    number = {name: k for k, name in enumerate(terrace.stations.names)}
    xyz = terrace.stations.xyz[[number[f"top{k}"] for k in range(1, 7)]]
    assert told[0]["line_m"] == [pytest.approx(row, abs=1e-12) for row in xyz.tolist()]
    assert "68 shots in yard.csv, 2 breaklines." in terrace.summary()
    assert "breaks along 2 breaklines: top of bank (6 points); foot of bank (6" in terrace.summary(full=True)
    assert not {"steep-pair", "shot-misread"} & {one.code for one in terrace.findings}


def test_the_ground_is_straight_along_the_foot_of_the_bank(terrace: gw.Plan) -> None:
    surface = terrace.surface
    for line in surface.breaklines:
        ends = surface.vertices[line.vertices]
        middle = (ends[1:] + ends[:-1]) / 2
        found = surface.elevation(middle[:, :2] + surface.origin)
        assert found == pytest.approx(middle[:, 2], abs=1e-9)


def test_the_plan_draws_each_line_heavy_with_its_name(terrace: gw.Plan) -> None:
    figure = terrace.figures()["plan"]
    drawn = {artist.get_gid() for axes in figure.axes for artist in axes.get_children()}
    assert {f"breakline {name}" for name in LINES} <= drawn
    letters = [one for axes in figure.axes for one in axes.get_children() if isinstance(one, Letters)]
    written = [line for one in letters for line in one.lines]
    assert [line.text for line in written if line.role == "breakline"] == LINES


def test_a_job_without_its_table_doubts_the_bank_and_a_wrong_name_is_told_by_its_row(
    terrace: gw.Plan,
) -> None:
    notes = (YARD / "yard.csv").read_bytes()
    bare = gw.read_spots(notes, unit="ft")
    assert "steep-pair" in {one.code for one in bare.findings}
    with pytest.raises(InputError) as caught:
        gw.plan(YARD / "job.toml", breaklines=b"line,station\ntop,top1\n,tip2\n")
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.code) == ("breaklines.csv", 3, "breakline-unknown-station")


def test_a_column_of_a_level_book_tells_lines_too() -> None:
    rows = ["station,BS,IS,FS,breakline,x,y", "BM,5.00,,,,,"]
    for c in range(1, 6):
        rows += [f"A{c},,{7.5 - 0.1 * c},,foot,{5 * c},0", f"B{c},,{5.0 - 0.1 * c},,top,{5 * c},9"]
    yard = gw.reduce_notes("\n".join([*rows, ""]).encode(), "ft").stations
    assert yard is not None
    assert [(line.name, len(line.stations)) for line in yard.breaklines] == [("foot", 5), ("top", 5)]
