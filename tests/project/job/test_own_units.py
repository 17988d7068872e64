"""A job reads bare numbers in its own units, whoever makes it; a table without a job refuses them."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from gradework.errors import InputError
from gradework.project.job.market import CarrierTable, FabricTable
from gradework.project.job.model import BuildingTable, Job, SurveyTable
from gradework.project.job.read import read_job

FOOT = 0.3048


def tables(units: Any = "ft", size: Any = (16, 12)) -> dict[str, Any]:
    return {
        "name": "Studio",
        "units": units,
        "survey": {"notes": "yard.csv", "grid": {"spacing": (5, 4)}},
        "building": {"size": size, "corner": [20, 14]},
        "setout": {"marks": {"A": [0, 0], "B": {"A": 10, "C": 12}}, "benchmarks": {"BM": 100}},
    }


MAKERS = {
    "keywords": lambda data: Job(**data),
    "mapping": Job.model_validate,
    "json": lambda data: Job.model_validate_json(json.dumps(data)),
    "adapter": TypeAdapter(Job).validate_python,
    "another unit said beside it": lambda data: Job.model_validate(data, context={"unit": "m"}),
}


@pytest.mark.parametrize("make", MAKERS.values(), ids=MAKERS)
@pytest.mark.parametrize(
    ("units", "size"), [("ft", FOOT), ("in", FOOT / 12), ("m", 1.0), ("ftUS", 1200 / 3937)]
)
def test_bare_numbers_are_in_the_units_of_the_job(make: Any, units: str, size: float) -> None:
    job = make(tables(units, (64, 48)))
    assert job.building.size == pytest.approx((64 * size, 48 * size), rel=1e-12)
    assert job.building.corner == pytest.approx((20 * size, 14 * size), rel=1e-12)
    assert job.survey.grid.spacing == pytest.approx((5 * size, 4 * size), rel=1e-12)
    assert job.setout.benchmarks["BM"] == pytest.approx(100 * size, rel=1e-12)
    assert job.setout.marks["B"].ties["A"] == pytest.approx(10 * size, rel=1e-12)


@pytest.mark.parametrize("word", ["FT", "Ft", " ft "])
def test_units_in_capitals_are_the_same_units(word: str) -> None:
    text = f'name = "Studio"\nunits = "{word}"\nsurvey.notes = "yard.csv"\n'
    text += "building = { size = [16, 12], corner = [0, 0] }"
    job = read_job(text.encode())
    assert job.unit == "ft"
    assert job.building.size == pytest.approx((16 * FOOT, 12 * FOOT), rel=1e-12)


def test_one_job_leaves_no_unit_for_the_next() -> None:
    feet, metres = Job(**tables("ft")), Job(**tables("m"))
    assert feet.building.size == pytest.approx((16 * FOOT, 12 * FOOT))
    assert metres.building.size == (16, 12)
    with pytest.raises(ValidationError):
        BuildingTable.model_validate({"size": [16, 12]})


@pytest.mark.parametrize("units", [None, "yards", 3, ["ft"]])
def test_a_job_without_usable_units_is_refused(units: Any) -> None:
    data = tables(units)
    if units is None:
        del data["units"]
    with pytest.raises(ValidationError) as told:
        Job(**data)
    assert [error["loc"] for error in told.value.errors()] == [("units",)]


def test_a_table_by_itself_refuses_bare_numbers_and_bare_tons() -> None:
    with pytest.raises(ValidationError, match="has no unit"):
        BuildingTable(size=(16, 12))
    with pytest.raises(ValidationError, match="ton"):
        CarrierTable.model_validate({"volume": "5 yd3", "payload": "7 tons"})
    assert BuildingTable.model_validate({"size": ["16 ft", "12 ft"]}).size == pytest.approx(
        (16 * FOOT, 12 * FOOT)
    )
    assert FabricTable.model_validate({"width": "6 ft", "length": "50 ft"}).overlap is None


def test_tables_made_before_keep_their_metres() -> None:
    building = BuildingTable.model_validate({"size": ["16 ft", "12 ft"], "corner": ["0 ft", "0 ft"]})
    survey = SurveyTable(notes="yard.csv")
    job = Job(name="Studio", units="ft", survey=survey, building=building)
    assert job.building.size == pytest.approx((16 * FOOT, 12 * FOOT), rel=1e-12)


def test_numbers_of_numpy_are_numbers() -> None:
    job = Job(**tables(size=(np.float64(16.0), np.float64(12.5))))
    assert job.building.size == pytest.approx((16 * FOOT, 12.5 * FOOT), rel=1e-12)


def sized(written: str) -> bytes:
    """A job in feet with this size of the building, on its line 6."""
    head = 'name = "p"\nunits = "ft"\n[survey]\nnotes = "n.csv"\n'
    return f"{head}[building]\nsize = {written}\ncorner = [1, 1]\n".encode()


@pytest.mark.parametrize(
    ("written", "feet"),
    [
        ('"16x12"', (16.0, 12.0)),
        ('"16 x 12"', (16.0, 12.0)),
        ('"16,12"', (16.0, 12.0)),
        ("\"16' x 12'\"", (16.0, 12.0)),
        ('"192 x 144 in"', (16.0, 12.0)),
        ('["16 ft", 12]', (16.0, 12.0)),
    ],
)
def test_a_size_in_one_piece(written, feet) -> None:
    assert read_job(sized(written)).building.size == pytest.approx([side * 0.3048 for side in feet])


@pytest.mark.parametrize("written", ['"16"', '"16x12x8"', '"16 x wide"', '"0 x 12"', '"16 x 1200"'])
def test_a_size_in_one_piece_that_is_none(written) -> None:
    with pytest.raises(InputError) as told:
        read_job(sized(written))
    (fault,) = told.value.faults
    assert (fault.line, fault.column) == (6, 8)
    assert fault.found.startswith("size: ")
