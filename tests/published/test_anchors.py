"""Wind on a light shed, and the anchors that hold it: published rules and their worked examples."""

from __future__ import annotations

import math

import pytest

from gradework.foundations.piers.anchors import LISTED, USUAL_WIND, pull_of, velocity_pressure, wind_of
from gradework.units.amounts import KPA_PER_PSF, M2_PER_FT2, M_PER_FT, MPS_PER_MPH

POUND_FORCE = 4.4482216152605e-3  # kN


def test_a_16_by_12_ft_shed_in_zone_i() -> None:
    """24 CFR 3280.305(c)(1)(i) with 3280.306(a): dead 4 632 lb, roof 224 ft², long side 16 x 9 ft, its
    push at 5 ft: up 3 024 lb (it stays down by 1 608), sideways 3 240, 546 on the windward row, 2 597
    to slide."""
    dead = 4632 * POUND_FORCE
    roof, face = 224 * M2_PER_FT2, 16 * 9 * M2_PER_FT2
    pull = pull_of(USUAL_WIND, face, roof, 5 * M_PER_FT, 12 * M_PER_FT, dead)
    pounds = {name: value / POUND_FORCE for name, value in pull._asdict().items()}
    assert pounds["up"] == pytest.approx(3024, abs=0.5)
    assert pounds["up"] - pounds["dead"] == pytest.approx(-1608, abs=0.5)
    assert pounds["side"] == pytest.approx(3240, abs=0.5)
    assert pounds["lift"] == pytest.approx(546, abs=0.5)
    assert pounds["side"] - pounds["sliding"] == pytest.approx(643, abs=0.5)
    assert pounds["sliding"] == pytest.approx(2597, abs=0.5)


def test_two_listed_anchors_hold_one_side() -> None:
    """A 3 150 lb anchor pulled at 45 degrees holds 2 227 lb sideways: two on each long side, and of augers
    that hold 300 to 1 000 lb thirteen to four."""
    listed = LISTED
    assert listed / POUND_FORCE == pytest.approx(3150)
    assert listed * math.sqrt(0.5) / POUND_FORCE == pytest.approx(2227, abs=0.5)
    face, roof = 144 * M2_PER_FT2, 224 * M2_PER_FT2
    pull = pull_of(USUAL_WIND, face, roof, 5 * M_PER_FT, 12 * M_PER_FT, 4632 * POUND_FORCE)
    assert pull.anchors(listed) == 2
    assert pull.anchors(1000 * POUND_FORCE) == 4
    assert pull.anchors(300 * POUND_FORCE) == 13


def test_pressure_of_a_design_wind() -> None:
    """115 mph: 24.46 psf in open country (Kz 0.85), 20.14 among houses (0.70); Kd 0.85 (ASCE 7, memory)."""
    wind = 115 * MPS_PER_MPH
    assert velocity_pressure(wind) / KPA_PER_PSF == pytest.approx(24.46, abs=0.005)
    assert velocity_pressure(wind, 0.70) / KPA_PER_PSF == pytest.approx(20.14, abs=0.005)
    assert wind_of(None) is USUAL_WIND
    assert wind_of(wind).side == pytest.approx(0.6 * 1.3 * velocity_pressure(wind))
    assert wind_of(2.0 * wind).up == pytest.approx(4.0 * wind_of(wind).up)
