"""A drain at a straight grade between control stakes, from a book of 1867; and a missing stake."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.placing.tape import straight_grade

FOOT = 0.3048
PRINTED = 0.006  # feet: the book prints hundredths

# G. E. Waring (1867), Draining for Profit and Draining for Health, main drain C (Project Gutenberg 19465),
# with the misprints of the book mended (depth at 1 and 2, level at 11, depth at 16). Feet below a level
# plane.
DISTANCE = [0, 82, 39, 65, 51, 43, 47, 32]
SURFACE = [18.20, 15.44, 14.36, 12.85, 12.18, 11.79, 11.69, 11.55]
DRAIN = [20.7, 19.06, 18.28, 16.98, 16.7, 16.46, 16.2, 16.02]
DEPTH = [2.5, 3.62, 3.92, 4.13, 4.52, 4.67, 4.51, 4.47]
UPPER_SURFACE = [8.94, 8.52, 7.86, 7.70, 7.39, 7.06, 6.73, 5.90]
UPPER_DRAIN = [13.53, 12.71, 12.27, 11.83, 11.39, 10.95, 10.51, 10.07]
UPPER_DEPTH = [4.59, 4.19, 4.41, 4.13, 4.0, 3.89, 3.78, 4.17]


def test_stk_2_the_lower_drain():
    line = straight_grade(np.cumsum(DISTANCE), -np.array(SURFACE), {0: 2.50, 3: 4.13, 7: 4.47})
    assert -line.grade == pytest.approx(DRAIN, abs=PRINTED)
    assert line.cut == pytest.approx(DEPTH, abs=PRINTED)
    assert -100 * line.falls == pytest.approx([2.00, 0.555], abs=0.005)  # the drain rises inland


def test_stk_2_the_upper_drain():
    # Stakes 10 to 17; 8 and 9 are left out, for a distance before 10 is misprinted.
    line = straight_grade(np.arange(8) * 41.0, -np.array(UPPER_SURFACE), {0: 4.59, 1: 4.19, 7: 4.17})
    assert -line.grade == pytest.approx(UPPER_DRAIN, abs=PRINTED)
    assert line.cut == pytest.approx(UPPER_DEPTH, abs=PRINTED)
    assert -100 * line.falls == pytest.approx([2.00, 1.073], abs=0.005)


def test_stk_1_b_the_missing_stake():
    # NAVEDTRA 14081 pp. 15-29/15-30: subgrade 240.0 at 4+00 with fill 7.0, so ground 233.0; BS 4.0, HI 237.0;
    # FS 4.5 at 4+50, ground 232.5; subgrade 239.0 there, so fill 6.5.
    ground = (240.0 - 7.0) * FOOT
    rows = (LevelRow("4+00", backsight=4.0 * FOOT, known=ground), LevelRow("4+50", foresight=4.5 * FOOT))
    book = reduce_levels(LevelNotes(rows, unit="ft"))
    assert book.lines[0].height_of_instrument / FOOT == pytest.approx(237.0)
    assert book.lines[1].elevation / FOOT == pytest.approx(232.5)
    line = straight_grade([0, 50], [233.0, book.lines[1].elevation / FOOT], {0: -7.0, 1: -6.5})
    assert line.grade[1] == pytest.approx(239.0)


def test_a_line_without_its_ends_is_refused():
    with pytest.raises(ValueError, match="first and the last"):
        straight_grade([0, 1, 2], [0, 0, 0], {0: 1.0})
    with pytest.raises(ValueError, match="must rise"):
        straight_grade([0, 0, 2], [0, 0, 0], {0: 1.0, 2: 1.0})
