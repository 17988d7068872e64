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
    keys = {RECEIVED_AS.get(key, key) for key in ReadingsTable.model_fields}
    assert keys <= set(options_added())
    assert set(options_added()) - keys == {"grid_corner"}  # it stands in the job's own table [survey.grid]


def test_the_commands_that_take_notes_share_every_option_about_them() -> None:
    both = [{p.name: p.to_info_dict() for p in command.params} for command in (reduce, cutfill)]
    shared = {*options_added(), "units", "grid", "decimal"}
    assert all(both[0][name] == both[1][name] for name in shared)
