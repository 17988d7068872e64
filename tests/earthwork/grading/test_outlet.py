"""Whether the ground still falls where the survey ends, so that more shots may show a way out."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.earthwork.grading.outlet import OutletGround

AWAY = np.arange(0.0, 3.0, 0.1)


def ground_of(*ways: np.ndarray) -> OutletGround:
    """Ways out with this ground [m] at each tenth of a metre, as far as it goes."""
    land = np.full((len(ways), len(AWAY)), np.nan)
    for row, way in zip(land, ways, strict=True):
        row[: len(way)] = way
    return OutletGround((0.0, 0.0), np.zeros((*land.shape, 2)), land, AWAY)


@pytest.mark.parametrize(
    ("fall", "open_"), [(0.02, True), (0.0101, True), (0.0099, False), (0.0, False), (-0.02, False)]
)
def test_it_is_open_where_the_last_metre_falls_by_one_in_a_hundred(fall: float, open_: bool) -> None:
    assert ground_of(10.0 - fall * AWAY[:20]).open is open_


def test_only_the_last_metre_counts_and_any_way_will_do() -> None:
    falls_then_level = np.concatenate((10.0 - 0.1 * AWAY[:10], np.full(11, 9.0)))
    level_then_falls = np.concatenate((np.full(10, 10.0), 10.0 - 0.02 * AWAY[:11]))
    assert not ground_of(falls_then_level).open
    assert ground_of(level_then_falls).open
    assert ground_of(falls_then_level, level_then_falls).open
    assert not ground_of(10.0 - AWAY[:2]).open  # two shots of ground say nothing
