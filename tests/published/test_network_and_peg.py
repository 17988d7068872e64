"""A level network and two-peg tests that were published."""

from __future__ import annotations

import math

import pytest

from gradework.survey.levelling.given import PegSetup
from gradework.survey.levelling.network import Rise, adjust_network
from gradework.survey.levelling.peg_test import two_peg_test


def test_net_1_level_network():
    # Mikhail & Ackermann (1976), Observations and Least Squares, Table 7-1, Examples 7.4 and 7.11;
    # inputs seen, answers recomputed. Variance of a rise 0.1 per kilometre.
    table = [
        ("A", "B", 25.42, 18.1), ("B", "C", 10.34, 9.4), ("C", "A", -35.20, 14.2), ("B", "D", -15.54, 17.6),
        ("D", "E", 21.32, 13.5), ("E", "C", 4.82, 9.9), ("E", "A", -31.02, 13.8), ("C", "D", -26.11, 14.0),
    ]  # fmt: skip
    rises = [Rise(a, b, dh, math.sqrt(0.1 * km)) for a, b, dh, km in table]
    net = adjust_network(rises, {"A": 800.0})
    got = dict(zip(net.names, net.elevation, strict=True))
    assert got == pytest.approx({"B": 825.2206, "C": 835.5354, "D": 809.5339, "E": 830.8460}, abs=5e-5)
    assert net.residuals == pytest.approx(
        [-0.1994, -0.0252, -0.3354, -0.1467, -0.0079, -0.1306, 0.1740, 0.1085], abs=5.1e-5
    )
    assert net.reference_variance == pytest.approx(0.040428, abs=5e-6)
    assert net.surplus == 4
    sd = dict(zip(net.names, net.sd, strict=True))
    assert sd == pytest.approx({"B": 0.1805, "C": 0.1615, "D": 0.2010, "E": 0.1711}, abs=1e-4)


def test_peg_4_far_reading_of_a_sound_level():
    # NAVEDTRA 14070 ch. 6: stakes about 150 ft from midway, then c close to A; e = c + b - a. Formula only.
    mid, slope, c = (5.00, 6.20), 2e-4, 4.40
    expected = 5.60
    rising = two_peg_test(PegSetup(*mid, 150, 150), PegSetup(c, expected + slope * 300, 0, 300))
    assert rising == pytest.approx(slope)
    sound = two_peg_test(PegSetup(*mid, 150, 150), PegSetup(c, expected, 0, 300))
    assert sound == pytest.approx(0)
