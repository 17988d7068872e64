"""Positions by tape that were published with their answers."""

from __future__ import annotations

import math

import pytest

from gradework.survey.placing.tape import level_distance
from gradework.survey.placing.tie_fit import circle_crossings, fit_ties


def test_pos_1_two_circles():
    # UMBC course output, circle_circle_c.out.
    left, right = circle_crossings((-0.1, -0.2), 2.0, (2.0, 1.0), 2.1)
    assert left == pytest.approx((0.055856, 1.793918), abs=1e-6)
    assert right == pytest.approx((1.696964, -1.078021), abs=1e-6)
    foot = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
    assert foot == pytest.approx((0.876410, 0.357949), abs=1e-6)
    assert math.dist(left, right) / 2 == pytest.approx(1.653879, abs=1e-6)
    assert math.dist((-0.1, -0.2), foot) == pytest.approx(1.124582, abs=1e-6)


def test_pos_3_three_distances():
    # Mikhail & Ackermann (1976) Ex. 9.1, pp. 219-221: inputs seen, answers recomputed.
    marks, taped = [(0, 5), (0, 0), (5, 0)], [5.10, 7.07, 4.90]
    fit = fit_ties(marks, taped, (5, 5))
    assert fit.xy == pytest.approx([5.0986149, 4.8986300], abs=1e-6)
    assert fit.residuals == pytest.approx([0.000377, -0.000534, 0.000377], abs=1e-6)


def test_pos_4_slope_tape():
    # curioustab.com 66738: slope 15 m, rise 1.8 m.
    level = level_distance(15.0, 1.8)
    assert level == pytest.approx(14.892, abs=0.0005)
    assert level - 15.0 == pytest.approx(-0.1083916, abs=1e-7)  # recomputed
    # NAVEDTRA 14069 ch. 12 (second term from memory): h²/2s + h⁴/8s³.
    assert 15.0 - level == pytest.approx(1.8**2 / 30 + 1.8**4 / (8 * 15**3), abs=5e-6)
    with pytest.raises(ValueError, match="not less than"):
        level_distance(1.8, 1.8)
