"""Published setting out: stake and rod readings of a Navy manual, a drain of 1867, right angles."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gradework.sitework.asbuilt import LEVEL_TOLERANCE
from gradework.sitework.setout import (
    BATTER_BOARD_OFFSET,
    height_of_instrument,
    rod_reading,
    stake_mark,
)
from gradework.sitework.setout_ties import sides_and_diagonals
from gradework.units.amounts import M_PER_FT, M_PER_IN
from gradework.units.display import FEET


def test_height_of_instrument_and_foresight() -> None:
    """NAVEDTRA 14081 pp. 15-29/30 (seen): BM 100.0, BS 5.5, HI 105.5, FS 2.3, elevation 103.2."""
    instrument = height_of_instrument(100.0, 5.5)
    assert instrument == pytest.approx(105.5)
    assert rod_reading("stake", 103.2, instrument).reading == pytest.approx(2.3)


def test_a_missing_stake_is_worked_back() -> None:
    """The same, missing-stake example (seen): subgrade 240.0 and F 7.0 give ground 233.0; BS 4.0, HI 237.0;
    FS 4.5 at 4+50, ground 232.5; subgrade 239.0; stake F 6.5."""
    ground = 240.0 - 7.0
    instrument = height_of_instrument(ground, 4.0)
    assert (ground, instrument) == (233.0, 237.0)
    next_ground = instrument - 4.5
    assert next_ground == pytest.approx(232.5)
    assert rod_reading("ground", next_ground, instrument).reading == pytest.approx(4.5)
    mark = stake_mark(next_ground * M_PER_FT, 239.0 * M_PER_FT)
    assert mark.text(FEET) == "F 6.50"
    assert stake_mark(233.0 * M_PER_FT, 240.0 * M_PER_FT).text(FEET) == "F 7.00"


# G. E. Waring, Draining for Profit and Draining for Health (1867), drain C (seen; misprints corrected from
# the
# book's own text): distance from the stake before, surface, drain level, all feet below a level plane.
DRAIN = [(0, 18.20, 20.7), (82, 15.44, 19.06), (39, 14.36, 18.28), (65, 12.85, 16.98), (51, 12.18, 16.7),
         (43, 11.79, 16.46), (47, 11.69, 16.2), (32, 11.55, 16.02)]  # fmt: skip
LOWER = [(0, 8.94, 13.53), (41, 8.52, 12.71), (41, 7.86, 12.27), (41, 7.70, 11.83), (41, 7.39, 11.39),
         (41, 7.06, 10.95), (41, 6.73, 10.51), (41, 5.90, 10.07)]  # fmt: skip
CUTS = [2.5, 3.62, 3.92, 4.13, 4.52, 4.67, 4.51, 4.47]
LOWER_CUTS = [4.59, 4.19, 4.41, 4.13, 4.0, 3.89, 3.78, 4.17]


@pytest.mark.parametrize(
    ("stakes", "controls", "cuts"), [(DRAIN, (0, 3, 7), CUTS), (LOWER, (0, 1, 7), LOWER_CUTS)]
)
def test_a_drain_is_graded_straight_between_control_stakes(
    stakes: list[tuple[float, float, float]], controls: tuple[int, ...], cuts: list[float]
) -> None:
    along = np.cumsum([distance for distance, _, _ in stakes])
    grades = np.interp(along, along[list(controls)], [-(stakes[k][1] + cuts[k]) for k in controls])
    for (_, surface, level), grade, cut in zip(stakes, grades.tolist(), cuts, strict=True):
        assert -grade == pytest.approx(level, abs=0.006)
        mark = stake_mark(-surface * M_PER_FT, grade * M_PER_FT)
        assert mark.kind == "C"
        assert mark.amount / M_PER_FT == pytest.approx(cut, abs=0.006)


# Right-angle checks (recomputed): legs and the diagonal between them.
@pytest.mark.parametrize(
    ("long", "wide", "diagonal"),
    [(3, 4, 5), (6, 8, 10), (9, 12, 15), (5, 12, 13), (12, 20, 23.3238076), (24, 36, 43.2666153)],
)
def test_diagonals(long: float, wide: float, diagonal: float) -> None:
    checks = sides_and_diagonals([("1", 0, 0), ("2", long, 0), ("3", long, wide), ("4", 0, wide)])
    assert [m.length for m in checks if m.kind == "diagonal"] == pytest.approx([diagonal] * 2, abs=5e-8)
    assert math.hypot(long, wide) == pytest.approx(diagonal, abs=5e-8)


def test_tolerances() -> None:
    """24 CFR 3285.6 (seen): neighbours within 1/4 in; CMHC (seen): batter boards 4 ft (1.2 m) back."""
    assert pytest.approx(0.25 * M_PER_IN) == LEVEL_TOLERANCE
    assert pytest.approx(1.2, abs=0.02) == BATTER_BOARD_OFFSET
