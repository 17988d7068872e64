"""The median against numpy's own."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.survey.stations import Stations, median

LENGTHS = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=12)


@given(LENGTHS)
@settings(deadline=None, max_examples=60)
def test_median_is_that_of_numpy(values: list[float]) -> None:
    assert median(np.array(values)) == np.median(values)


def test_one_unknown_value_makes_the_median_unknown() -> None:
    assert np.isnan(median(np.array([1.0, np.nan, 2.0])))


@pytest.mark.parametrize(
    ("heights", "told"),
    [([], "<Stations: none>"), ([30.5, 29.0, 31.25], "<Stations: 3, elevations 29.000 m to 31.250 m>")],
)
def test_stations_say_how_many_and_how_high(
    stations_at: Callable[..., Stations], heights: list[float], told: str
) -> None:
    assert repr(stations_at([(0.0, float(k), z) for k, z in enumerate(heights)])) == told
