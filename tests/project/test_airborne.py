"""Airborne ground in a whole plan: water only, never more sure than it is, and clear about what it did."""

from __future__ import annotations

import itertools
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from air_files import EAST, NORTH, grid, las_bytes, tif_bytes

from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.plan import summary

JOB = """\
name = "Hill shed"
units = "m"
[survey]
notes = "yard.csv"
crs = "EPSG:26915"
[building]
size = [5, 4]
corner = [10, 8]
[pad]
edge = "boxed"
[site]
"""


def height(y: Any, ridge: float) -> Any:
    """Falls 6 % toward smaller y from a ridge, and the other way beyond it."""
    return 100.0 + 0.06 * np.minimum(y, 2.0 * ridge - y)


def notes(
    ridge: float, places: str = "easting,northing", start: tuple[float, float] = (EAST, NORTH)
) -> bytes:
    marks = np.arange(0.0, 25.0, 4.0)
    rows = [
        f"P{k},{start[0] + x:.3f},{start[1] + y:.3f},{height(y, ridge):.3f}"
        for k, (y, x) in enumerate(itertools.product(marks, marks), 1)
    ]
    return "\n".join([f"station,{places},elevation", *rows, ""]).encode()


def air(ridge: float, *, up: float = 37.2, rough: float = 0.0, far: float = 90.0) -> bytes:
    """The same hill from the air, on another datum, off by so much at random, ``far`` beyond the yard."""
    x, y = grid(-far, 24.0 + far, 2.0)
    z = height(y, ridge) + up + np.random.default_rng(5).normal(0.0, rough, x.shape)
    return las_bytes(np.column_stack((x.ravel() + EAST, y.ravel() + NORTH, z.ravel())), squeezed=True)


def planned(around: bytes | None, ridge: float, more: str = "") -> Plan:
    keys = "" if around is None else 'around = "air.laz"\n'
    return plan(read_job((JOB + keys + more).encode()), notes(ridge), around=around)


def carried(done: Plan) -> Any:
    """The check that what is dug carries its rain."""
    assert done.judged is not None
    [check] = [one for one in done.judged.checks if one.check == "water carried"]
    return check


def told(done: Plan, code: str) -> Any:
    [one] = [one for one in done.findings if one.code == code]
    return one


def codes(done: Plan) -> set[str]:
    return {one.code for one in done.findings}


@pytest.fixture(scope="module")
def alone() -> Plan:
    """The yard below a ridge 50 m up, nothing known beyond the survey."""
    return planned(None, 50.0)


@pytest.fixture(scope="module")
def joined() -> Plan:
    """The same with airborne ground, 5 cm rough."""
    return planned(air(50.0, rough=0.05), 50.0)


def test_what_comes_from_above_is_known_and_the_if_goes(alone: Plan, joined: Plan) -> None:
    assert carried(alone).holds is None
    assert "catchment-open" in codes(alone)
    check = carried(joined)
    assert check.holds is True
    assert check.source == "airborne ground beyond the survey, ± 100 mm"
    assert "catchment-open" not in codes(joined)
    assert told(joined, "catchment-airborne").severity == "note"
    assert alone.judged is not None
    assert joined.judged is not None
    assert [one.check for one in alone.judged.open] == [
        *(o.check for o in joined.judged.open),
        "water carried",
    ]


def test_levels_digging_order_and_stakes_are_those_of_the_survey(alone: Plan, joined: Plan) -> None:
    one, other = record(alone), record(joined)
    assert one.keys() == other.keys()
    assert [key for key in one if one[key] != other[key]] == ["options", "rain", "airborne", "findings"]
    for before, after in zip(one["options"], other["options"], strict=True):
        assert {key: value for key, value in before.items() if key != "checks"} == {
            key: value for key, value in after.items() if key != "checks"
        }
        changed = [a for a, b in zip(before["checks"], after["checks"], strict=True) if a != b]
        assert [check["check"] for check in changed] == ["water carried"]
    assert [line.item for line in alone.order.lines] == [line.item for line in joined.order.lines]


def test_the_area_of_a_wall_is_its_width_by_the_way_to_the_ridge() -> None:
    """5 m by 38 m, from the wall at 12 m to the ridge; the map is 1 in 2,500 small, as the points are 2 m."""
    done = planned(air(50.0), 50.0)
    [wall] = [one for one in done.catchments[0] if one.area > 1.0]
    assert wall.area == pytest.approx(5.0 * 38.0, rel=0.05)
    assert wall.surveyed == pytest.approx(5.0 * 12.0, rel=1e-3)
    assert not wall.least
    text = summary(done)
    assert "of it beyond your survey) as it is" in " ".join(text.split())
    assert "± 100 mm" in text


def test_the_full_text_tells_how_much_comes_in_all(joined: Plan) -> None:
    text = " ".join(summary(joined).split())
    assert "more may come from beyond the survey" not in text
    assert re.search(r"by airborne ground, ± 100 mm, 1\d\.\d l/s in all", text)


def test_where_the_slope_goes_on_beyond_the_file_the_if_stays() -> None:
    done = planned(air(300.0), 300.0)
    assert carried(done).holds is None
    assert "at least" in told(done, "catchment-airborne").advice
    assert any(one.least for one in done.catchments[0])


def test_too_much_water_from_above_is_a_warning_and_stops_no_order() -> None:
    """Above the yard a valley begins whose sides, 1 in 4, lead their water together."""
    x, y = grid(-70.0, 94.0, 2.0)
    z = height(y, 80.0) + 0.25 * np.maximum(np.abs(x - 12.5) - 4.0, 0.0) * np.clip((y - 24.0) / 4.0, 0.0, 1.0)
    data = las_bytes(np.column_stack((x.ravel() + EAST, y.ravel() + NORTH, z.ravel() + 37.2)))
    before, done = planned(None, 80.0), planned(data, 80.0)
    check, warning = carried(done), told(done, "catchment-airborne")
    assert check.holds is None
    assert warning.severity == "warning"
    assert warning.value > warning.limit
    assert not done.held_back
    assert record(done)["order"] == record(before)["order"]


def test_ground_that_does_not_fit_the_shots_is_not_used(alone: Plan) -> None:
    """Off by a metre at random; in feet that are taken for metres."""
    x, y = grid(-90.0, 114.0, 2.0)
    feet = np.column_stack((x.ravel() + EAST, y.ravel() + NORTH, height(y, 50.0).ravel() / 0.3048))
    for data in (air(50.0, rough=1.0), las_bytes(feet, "EPSG:26915")):
        done = planned(data, 50.0)
        assert told(done, "around-unused").severity == "warning"
        assert done.airborne is not None
        assert done.airborne.beyond is None
        assert record(done)["rain"] == record(alone)["rain"]
        assert carried(done).holds is None
    assert "around-used" in codes(planned(las_bytes(feet, "EPSG:26915"), 50.0, 'around_unit = "ft"\n'))
    assert "around-used" in codes(planned(air(50.0, rough=1.0), 50.0, 'around_sd = "0.5 m"\n'))


def test_ground_beside_too_few_shots_is_not_used() -> None:
    x, y = grid(40.0, 90.0, 2.0)
    data = las_bytes(np.column_stack((x.ravel() + EAST, y.ravel() + NORTH, height(y, 50.0).ravel())))
    done = planned(data, 50.0)
    assert "0 of your shots" in told(done, "around-unused").advice


def test_the_datum_is_told(joined: Plan) -> None:
    one = told(joined, "around-used")
    assert one.value == pytest.approx(0.05, rel=0.5)
    written = record(joined)["airborne"]
    assert written["shift_m"] == pytest.approx(-37.2, abs=0.02)
    assert written["at_shots"] == 49
    assert written["used"] is True
    assert "down to your datum" in one.advice


def test_the_record_keeps_its_schema(joined: Plan) -> None:
    schema = json.loads((Path(__file__).parents[2] / "docs" / "result.schema.json").read_text("utf-8"))
    for done in (joined, planned(air(50.0, rough=1.0), 50.0)):
        jsonschema.Draft202012Validator(schema).validate(
            json.loads(json.dumps(record(done), allow_nan=False))
        )


def test_a_survey_in_no_system_is_a_fault_at_the_key() -> None:
    job = (JOB + 'around = "air.tif"\n').replace('crs = "EPSG:26915"\n', "").encode()
    with pytest.raises(InputError) as caught:
        plan(
            read_job(job, "job.toml"),
            notes(50.0, "x,y", (0.0, 0.0)),
            around=tif_bytes(np.ones((3, 3)), (0.0, 0.0)),
        )
    (fault,) = caught.value.faults
    assert (fault.code, fault.file, fault.line) == ("around-no-system", "job.toml", 11)


@pytest.mark.parametrize(
    "wrong",
    [
        'around_sd = "2 m"',
        'around_sd = "0 m"',
        "around_sd = 0.1",
        'around_unit = "yd"',
        "around_at = { A1 = [1] }",
        "around_at = { A1 = [1, 1e9] }",
        'around_at = { A1 = ["1 ft", 2] }',
    ],
)
def test_keys_that_do_not_fit_are_faults(wrong: str) -> None:
    with pytest.raises(InputError):
        read_job((JOB + wrong + "\n").encode())
