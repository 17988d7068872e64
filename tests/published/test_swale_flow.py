"""Flows in swales and pipes against worked examples of the trade; each value stands beside its source."""

from __future__ import annotations

import pytest

from gradework.earthwork.grading.capacity import (
    MM_PER_HOUR,
    flow_in,
    pipe_flow,
    rational_flow,
    v_depth,
    v_flow,
)

FT, IN = 0.3048, 0.0254
CFS = FT**3
GPM = 0.003785411784 / 60.0

EXAMPLE = 0.08154 * CFS
"""Lawn of 2,400 sq ft on clay at 5 % (C 0.22) and a roof of 192 sq ft (0.95) under 5 in/h: derived by the
trade's Q = C i A with in/h, acres and cfs, which takes 1.008 as 1."""


def test_rain_on_a_lawn_and_a_roof() -> None:
    flow = rational_flow(5 * 25.4 * MM_PER_HOUR, (0.22, 2400 * FT**2), (0.95, 192 * FT**2))
    assert flow / CFS == pytest.approx(0.08154 * 1.00833, rel=1e-4)


@pytest.mark.parametrize(
    ("roughness", "fall", "depth", "speed"),
    [(0.05, 0.02, 1.95, 0.773), (0.15, 0.02, 2.94, 0.339), (0.05, 0.01, 2.22, None)],
)
def test_depth_and_speed_in_a_v_of_4_to_1(
    roughness: float, fall: float, depth: float, speed: float | None
) -> None:
    """Manning with 1.486 (derived): inches and feet a second."""
    deep = v_depth(EXAMPLE, fall, 4.0, roughness)
    assert deep / IN == pytest.approx(depth, abs=0.006)
    if speed is not None:
        assert EXAMPLE / (4.0 * deep**2) / FT == pytest.approx(speed, abs=0.002)


def test_what_a_v_of_6_inches_carries() -> None:
    """1.635 cfs at 2 % with n 0.05, 4:1 (derived)."""
    assert v_flow(6 * IN, 0.02, 4.0, 0.05) / CFS == pytest.approx(1.635, abs=0.002)


@pytest.mark.parametrize(
    ("fall", "roughness", "gallons"),
    [
        (0.01, 0.015, 74.0),
        (0.01, 0.017, 65.0),
        (0.01, 0.011, 101.0),
        (0.005, 0.015, 52.0),
        (0.02, 0.015, 105.0),
    ],
)
def test_a_4_inch_pipe_that_runs_full(fall: float, roughness: float, gallons: float) -> None:
    """Gallons a minute (derived by Manning)."""
    assert pipe_flow(4 * IN, fall, roughness) / GPM == pytest.approx(gallons, abs=0.6)


def test_depth_is_that_of_the_flatter_fall_and_speed_that_of_the_steeper() -> None:
    one = flow_in(EXAMPLE, near=0.02, far=0.01, side=4.0, deep=6 * IN)
    assert one.depth / IN == pytest.approx(2.22, abs=0.006)
    bare = v_depth(EXAMPLE, 0.02, 4.0, 0.025)
    assert one.speed == pytest.approx(EXAMPLE / (4.0 * bare**2))
    assert one.most == pytest.approx(v_flow(6 * IN, 0.01, 4.0, 0.05))
    assert flow_in(0.0, near=0.02, far=0.01, side=4.0, deep=6 * IN)[:3] == (0.0, 0.0, 0.0)
