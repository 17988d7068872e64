"""The median against numpy's own."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.survey.stations import median

LENGTHS = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=12)


@given(LENGTHS)
@settings(deadline=None, max_examples=60)
def test_median_is_that_of_numpy(values: list[float]) -> None:
    assert median(np.array(values)) == np.median(values)


def test_one_unknown_value_makes_the_median_unknown() -> None:
    assert np.isnan(median(np.array([1.0, np.nan, 2.0])))
