"""What holds the edge of a pad, against worked figures of the trade; each value stands beside its source."""

from __future__ import annotations

import pytest

from gradework.foundations.pad.edge import LATERAL, SURCHARGE, push, stake_depth

IN, FT, LB = 0.0254, 0.3048, 4.4482216152605e-3  # m, m, kN

BOARDS = [
    # boards [in], stakes apart [ft], push P [lb], its arm [ft], depth at 100 and at 200 psf/ft [in]
    (5.5, 4.0, 12.6, 0.153, 21.8, 15.7),
    (11.0, 3.0, 37.8, 0.306, 38.1, 27.4),
    (16.5, 2.0, 56.7, 0.458, 47.1, 34.0),
]
"""Derived: 30 psf per ft of clean stone, the pole formula of IBC 1807.3 (memory), stakes 3.5 in wide."""


@pytest.mark.parametrize(("board", "apart", "force", "arm", "firm", "isolated"), BOARDS)
def test_stakes_by_the_pole_formula(
    board: float, apart: float, force: float, arm: float, firm: float, isolated: float
) -> None:
    a_metre, at = push(board * IN)
    on_stake = a_metre * apart * FT
    assert on_stake / LB == pytest.approx(force, abs=0.05)
    assert at / FT == pytest.approx(arm, abs=0.0006)
    assert stake_depth(on_stake, at) / IN == pytest.approx(firm, abs=0.06)
    assert stake_depth(on_stake, at, lateral=2 * LATERAL) / IN == pytest.approx(isolated, abs=0.06)


@pytest.mark.parametrize(
    ("board", "stone", "building"), [(5.5, 3.15, 6.88), (11.0, 12.6, 13.75), (16.5, 28.36, 20.63)]
)
def test_a_load_of_50_psf_beside_the_edge(board: float, stone: float, building: float) -> None:
    """Ka q H with Ka 0.3 (derived): on one board the push rises from 3.15 to 10.03 lb/ft, 3.2 times."""
    bare, _ = push(board * IN)
    loaded, arm = push(board * IN, SURCHARGE)
    assert bare / (LB / FT) == pytest.approx(stone, abs=0.006)
    assert (loaded - bare) / (LB / FT) == pytest.approx(building, abs=0.006)
    assert arm == pytest.approx((bare * board * IN / 3 + (loaded - bare) * board * IN / 2) / loaded)
