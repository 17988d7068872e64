"""The options of readings and places: each of them alone makes notes more than plain spots."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gradework.command.survey_options import asks_of_survey, survey_options


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
