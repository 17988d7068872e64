"""The options of readings and places: each of them alone makes notes more than plain spots."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gradework.command.cutfill import cutfill
from gradework.command.reduce import reduce
from gradework.command.survey_options import asks_of_survey, survey_options
from gradework.project.job.survey import ReadingsTable

RECEIVED_AS = {"method": "heights", "string": "strings", "two_peg": "pegs"}
"""Keys of a job that a command receives under another name."""


def options_added() -> dict[str, bool]:
    """Names of the options that ``survey_options`` adds, and whether each may be repeated."""

    def command() -> None: ...

    wrapped: Callable[[], None] = survey_options(command)
    return {option.name: option.multiple for option in wrapped.__click_params__}  # type: ignore[attr-defined]


def unused() -> dict[str, object]:
    return {name: () if repeated else None for name, repeated in options_added().items()}


def test_without_any_of_the_options_nothing_is_asked() -> None:
    assert not asks_of_survey(unused())


@pytest.mark.parametrize("name", options_added())
def test_every_option_alone_asks_something(name: str) -> None:
    given = unused()
    given[name] = ("A=1",) if given[name] == () else "1"
    assert asks_of_survey(given)


def test_every_key_of_a_job_about_readings_and_places_is_an_option() -> None:
    own = {"breaklines"}  # a table of its own, or a column of the notes
    keys = {RECEIVED_AS.get(key, key) for key in ReadingsTable.model_fields} - own
    assert keys <= set(options_added())
    assert set(options_added()) - keys == {"grid_corner"}  # it stands in the job's own table [survey.grid]


def test_the_commands_that_take_notes_share_every_option_about_them() -> None:
    both = [{p.name: p.to_info_dict() for p in command.params} for command in (reduce, cutfill)]
    shared = {*options_added(), "units", "grid", "decimal"}
    assert all(both[0][name] == both[1][name] for name in shared)


SYSTEMS = [("EPSG:2230", "crs-unit-differs"), ("EPSG:4978", "crs-not-plane"), ("EPSG:3857", "crs-web-map")]


@pytest.mark.parametrize(("crs", "code"), SYSTEMS)
def test_a_system_of_no_use_points_at_its_option_and_at_its_key(run, tmp_path, crs, code):
    notes = tmp_path / "yard.csv"
    notes.write_text("station,east,north,elevation\nA,480000,4980000,30\nB,480010,4980000,31\n")
    told = run("reduce", notes, "--units", "m", "--crs", crs)
    assert told.status == 2
    assert told.err.startswith("--crs: error: ")
    assert f"[{code}]" in told.err
    job = tmp_path / "job.toml"
    job.write_text(
        f'name = "Shed"\nunits = "m"\n[survey]\nnotes = "yard.csv"\ncrs = "{crs}"\n'
        "[building]\nsize = [4, 3]\ncorner = [1, 1]\n"
    )
    told = run("plan", job, "--dry-run")
    assert told.err.startswith(f"{job}:5:7: error: ")
    assert f"[{code}]" in told.err


def test_lengths_are_raised_by_the_elevations_beside_the_coordinates(run, tmp_path):
    notes = tmp_path / "yard.csv"
    notes.write_text(
        "station,longitude,latitude,elevation\nA,-105,40,1609\nB,-104.999,40,1609\nC,-105,40.001,1610\n"
    )
    asked = (
        "reduce",
        notes,
        "--units",
        "m",
        "--crs",
        "EPSG:4326",
        "--origin",
        "A",
        "--receiver",
        "survey-grade",
        "--height-sd",
        "2cm",
    )
    told = run(*asked)
    assert told.status == 0, told.err
    assert "at the elevation 1609.000" in " ".join((told.out + told.err).split())
    notes.write_text(notes.read_text().replace("1609", "0").replace("1610", "1"))
    low = run(*asked, "--json").document
    notes.write_text(notes.read_text().replace(",0\n", ",1609\n").replace(",1\n", ",1610\n"))
    high = run(*asked, "--json").document
    east = [next(s for s in one["stations"] if s["station"] == "B")["x_m"] for one in (low, high)]
    assert east[1] / east[0] == pytest.approx(1 + 1609 / 6.378e6, abs=2e-7)
