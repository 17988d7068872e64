"""The whole order of work: figures that a person can work out, faults that point into the job."""

from __future__ import annotations

from pathlib import Path

import pytest

from gradework.errors import InputError
from gradework.project import plan, read_job
from gradework.project.work import pad_quantities

DATA = Path(__file__).parents[2] / "data"


def test_a_pad_on_a_plane(plane_job: bytes, plane_notes: bytes) -> None:
    found = plan(read_job(plane_job), plane_notes)
    # the pad runs from x = 3.5 to 8.5 and y = 3.5 to 7.5; the ground is 20 - x / 10
    assert found.pad.outline.area == pytest.approx(20)
    assert found.footprint.high == pytest.approx(19.6)
    assert found.footprint.fall == pytest.approx(0.4)
    assert found.footprint.slope == pytest.approx(0.1)
    assert found.footprint.downhill_degrees == pytest.approx(0)
    assert found.shape.relief == pytest.approx(1.4)
    # common practice, no source: the least-fill level follows the high side of the outline
    level = found.pad.chosen.level
    assert level == pytest.approx(19.65, abs=1e-4)
    # strip and gravel are equally thick: what lies between ground and level is filled, the strip is dug
    assert found.pad.chosen.excavation == pytest.approx(0.1 * 20, rel=1e-3)
    assert found.pad.chosen.gravel == pytest.approx(0.1 * 20 + 0.5 * 0.5 * 20, rel=1e-3)


def test_the_given_level_is_taken(plane_job: bytes, plane_notes: bytes) -> None:
    job = read_job(plane_job.replace(b'"least fill"', b"19.4"))
    found = plan(job, plane_notes)
    assert (found.pad.chosen.rule, found.pad.chosen.level) == ("given", 19.4)
    # ground from 19.65 to 19.15, level in the middle: two wedges of 0.25 m over half of 20 m² each
    assert found.pad.chosen.cut == pytest.approx(0.5 * 0.25 * 10)
    assert found.pad.chosen.fill == pytest.approx(0.5 * 0.25 * 10)


def test_the_units_do_not_change_the_yard(plane_job: bytes, plane_notes: bytes) -> None:
    metres = plan(read_job(plane_job), plane_notes)
    rows = plane_notes.decode().splitlines()
    in_feet = [rows[0]]
    for row in rows[1:]:
        station, *values = row.split(",")
        in_feet.append(",".join([station, *(repr(float(v) / 0.3048) for v in values)]))
    text = (
        plane_job.decode()
        .replace('"m"', '"ft"')
        .replace("[4, 3]", '["4 m", "3 m"]')
        .replace("[4, 4]", '["4 m", "4 m"]')
    )
    feet = plan(read_job(text.encode()), "\n".join(in_feet).encode())
    assert feet.pad.chosen.level == pytest.approx(metres.pad.chosen.level, abs=1e-6)
    assert feet.pad.chosen.gravel == pytest.approx(metres.pad.chosen.gravel, rel=1e-6)
    assert feet.job.show.us


def test_the_order_gets_every_board_and_all_soil_that_leaves(plane_job: bytes, plane_notes: bytes) -> None:
    found = plan(read_job(plane_job), plane_notes)
    handed = pad_quantities(found.pad)
    assert sum(side.length for side in handed.sides) == pytest.approx(sum(found.pad.edge.courses))  # type: ignore[union-attr]
    assert {side.courses for side in handed.sides} == {1}
    assert handed.reused.m3 == 0
    assert found.order.spoil is not None
    assert found.order.spoil.bank.m3 == found.pad.chosen.spoil
    assert {line.unit for line in found.order.lines} >= {"tonnes", "rolls", "boards"}


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("corner = [4, 4]", "corner = [4, 10.8]", "outline-outside-survey", 8),  # only the margin reaches out
        ("corner = [4, 4]", "corner = [12, 4]", "outline-outside-survey", 5),
        ("corner = [4, 4]", "corner = [400, 4]", "outline-far-from-survey", 5),
        ('level = "least fill"', "level = 2", "level-far-from-ground", 9),
        ('level = "least fill"', 'level = "least cost"', "pad-prices-missing", 9),
    ],
)
def test_faults_of_the_plan_point_into_the_job(
    plane_job: bytes, plane_notes: bytes, old: str, new: str, code: str, line: int
) -> None:
    job = read_job(plane_job.replace(old.encode(), new.encode()), "job.toml")
    with pytest.raises(InputError) as told:
        plan(job, plane_notes)
    fault = told.value.faults[0]
    assert (fault.code, fault.file, fault.line) == (code, "job.toml", line)


@pytest.mark.parametrize(
    ("notes", "code"),
    [
        (b"", "notes-no-shots"),
        (b"station,x,y,elevation\r\n", "notes-no-shots"),
        (b"station,x,y,elevation\nA,0,0,1\nB,9,0,1\n", "too-few-shots"),
        (b"station,x,y,elevation\nA,0,0,1\nB,9,0,nan\nC,9,9,1\n", "notes-cell"),
    ],
)
def test_faults_of_the_notes_name_the_notes(plane_job: bytes, notes: bytes, code: str) -> None:
    with pytest.raises(InputError) as told:
        plan(read_job(plane_job), notes)
    assert {f.file for f in told.value.faults} == {"yard.csv"}
    assert told.value.faults[0].code == code


@pytest.mark.parametrize("site", ["orchard-studio", "spring-pump-house"])
def test_the_demo_sites(site: str) -> None:
    job = read_job((DATA / site / "job.toml").read_bytes())
    found = plan(job, (DATA / site / job.survey.notes).read_bytes())
    assert found.pad.chosen.gravel > 0
    assert not [f for f in found.findings if f.severity == "stop"]
    assert len(found.cautions) >= 5


def test_each_finding_stands_once(plane_job: bytes, plane_notes: bytes) -> None:
    found = plan(read_job(plane_job), plane_notes)
    assert len(set(found.findings)) == len(found.findings)
