"""A sheet of stakes is worked back before it is given out: each kind of slip stops the run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.errors import CheckError
from gradework.ground.surface import Surface
from gradework.sitework import setout
from gradework.sitework.setout import (
    SetOut,
    Stake,
    StakedPoint,
    StakeMark,
    batter_board_stakes,
    corner_stakes,
    rod_reading,
    set_out,
)
from gradework.sitework.staking import check_stakes, ground_around

Ground = Callable[..., Surface]

HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6), 10.0)
TOP, STRING, SIGHT = 101.0, 101.5, (100.4, 1.6)


def plane() -> np.ndarray:
    return np.array([(x, y, 100.0 + 0.06 * x) for x in (-3.0, 12.0) for y in (-3.0, 12.0)])


def sheet(surface: Surface) -> SetOut:
    levels = (("formation", TOP - 0.9), ("top of gravel", TOP))
    corners = [
        replace(stake, levels=levels) for stake in corner_stakes(surface, HUT, "pad corner", grade=TOP - 0.9)
    ]
    boards = batter_board_stakes(surface, HUT, grade=STRING, offset=1.0)
    return set_out([*corners, *boards], instrument=sum(SIGHT), string=STRING)


def checked(surface: Surface, points: tuple[StakedPoint, ...], **how: Any) -> None:
    check_stakes(points, surface, **{"finished": TOP, "sight": SIGHT, "string": STRING, **how})


def test_a_right_sheet_passes(ground: Ground) -> None:
    surface = ground(plane())
    points = sheet(surface).points
    assert {point.mark.kind for point in points if point.mark} == {"C", "F"}
    checked(surface, points)


@pytest.mark.parametrize(
    ("name", "slip", "says"),
    [
        (
            "stake_mark",
            lambda ground, level: StakeMark("F" if ground > level else "C", abs(ground - level)),
            "ground . fill - cut at stake pad 1 is not its formation",
        ),
        (
            "stake_mark",
            lambda ground, level: StakeMark("C" if ground > level else "F", abs(ground - level) + 0.002),
            "fill - cut",
        ),
        ("ground_at", lambda _s, x, _y: 100.002 + 0.06 * x, "fill - cut"),
        ("rod_reading", lambda w, v, i, rod: rod_reading(w, v, i + 1e-5, rod=rod), "rod at stake pad 1"),
        ("from_string", lambda level, string: string - level, "string at stake pad 1"),
    ],
)
def test_a_slip_in_any_way_from_yard_to_level_stops_the_run(
    ground: Ground, monkeypatch: pytest.MonkeyPatch, name: str, slip: Callable[..., Any], says: str
) -> None:
    surface = ground(plane())
    right = sheet(surface)
    monkeypatch.setattr(setout, name, slip)
    wrong = sheet(surface)
    assert wrong != right
    with pytest.raises(CheckError, match=says):
        checked(surface, wrong.points)


def test_the_mark_must_lead_to_a_level_and_the_last_level_be_the_finished_one(ground: Ground) -> None:
    surface = ground(plane())
    first = sheet(surface).points[0]
    astray = replace(first, stake=replace(first.stake, grade=TOP - 0.3))
    with pytest.raises(CheckError, match="leads to none of its levels"):
        checked(surface, (astray,))
    with pytest.raises(CheckError, match="does not end at the finished level"):
        checked(surface, (first,), finished=TOP + 0.001)
    with pytest.raises(CheckError, match="string"):
        checked(surface, (first,), string=None)


def test_a_mark_where_there_is_no_ground_stops_the_run(ground: Ground) -> None:
    stake = Stake("pad 9", "pad corner", 50.0, 50.0, 100.0, TOP, (("top of gravel", TOP),))
    (point,) = set_out([stake]).points
    with pytest.raises(CheckError, match="pad 9"):
        checked(ground(plane()), (point,))


def test_the_planes_give_the_ground_that_the_surface_finds(ground: Ground) -> None:
    """At random places, on sides of triangles, at stations, and a hair outside the hull."""
    rng = np.random.default_rng(7)
    turn = np.array([[np.cos(0.3), np.sin(0.3)], [-np.sin(0.3), np.cos(0.3)]])
    grid = np.array([(5.0 * i, 5.0 * j) for i in range(6) for j in range(5)]) @ turn
    for xy in (grid, rng.uniform(0.0, 30.0, (60, 2))):
        shots = np.column_stack([xy, 100.0 + rng.uniform(-1.0, 1.0, len(xy))])
        surface = ground(shots)
        corner = surface.vertices[surface.triangles][:, :, :2] + surface.origin
        hull = surface.hull_xy
        out = np.roll(hull, -1, axis=0) - hull
        out = np.column_stack([out[:, 1], -out[:, 0]]) / np.hypot(*out.T)[:, None]
        beside = (hull + np.roll(hull, -1, axis=0)) / 2 + out * 0.0009
        places = np.concatenate([corner.mean(axis=1), corner[:, :2].mean(axis=1), xy, beside])
        around, wanted = ground_around(surface, places), surface.elevation(places)
        assert np.isfinite(wanted).all()
        assert (around[:, 0] <= wanted + 1e-4).all()
        assert (wanted <= around[:, 1] + 1e-4).all()
        inner = around[: len(corner)]
        assert np.ptp(inner, axis=1).max() < 1e-9  # one plane only, no slack inside a triangle
        assert np.isnan(ground_around(surface, hull + 100.0)).all()
