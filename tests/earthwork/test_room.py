"""Working room and laid-back face beside a dig, against closed forms and a second way of adding up."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.earthwork.room import room_ground
from gradework.ground.surface import Surface

FT = 0.3048
Ground = Callable[..., Surface]


def level_yard(ground: Ground, half: float = 12.0, z: float = 0.0) -> Surface:
    marks = np.linspace(-half, half, 7).tolist()
    return ground([(x, y, z) for x in marks for y in marks])


def test_even_ground_round_a_rectangle(ground: Ground) -> None:
    """w d + m d²/2 for each metre of side, w² d + w m d² + m² d³/3 at each corner."""
    surface, outline = level_yard(ground), Outline.rectangle((-2.0, -1.5), (4.0, 3.0))
    for room, slope, depth in ((0.3, 1.0, 0.4), (0.5, 1.5, 0.2), (0.3, 0.0, 0.4)):
        dug = room_ground(surface, outline, room=room, slope=slope).volumes(np.array([-depth]))
        side = room * depth + slope * depth**2 / 2
        corner = room**2 * depth + room * slope * depth**2 + slope**2 * depth**3 / 3
        assert dug == pytest.approx(14.0 * side + 4 * corner, rel=1e-9)


def test_no_room_no_dig_above_the_ground(ground: Ground) -> None:
    found = room_ground(level_yard(ground), Outline.rectangle((-2, -2), (4, 4)), room=0.3, slope=1.0)
    assert found.volumes(np.array([0.0, 0.5])) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert found.exact
    assert not found.ends(0.2)


def waves(ground: Ground, half: float) -> Surface:
    marks = np.linspace(-half, half, 13).tolist()
    return ground([(x, y, 0.05 * x + 0.1 * np.sin(x) * np.cos(y)) for x in marks for y in marks])


@pytest.mark.parametrize("slope", [0.75, 1.5])
def test_waves_by_cells(ground: Ground, slope: float) -> None:
    """The real ground, cell by cell: floor within the room, then d - w up at one over the slope."""
    surface, room, floor = waves(ground, 8.0), 0.4, -0.3
    outline = Outline.rectangle((-2.0, -1.5), (4.0, 3.0))
    [dug] = room_ground(surface, outline, room=room, slope=slope).volumes(np.array([floor]))
    step = 0.01
    x, y = (a.ravel() for a in np.meshgrid(*(np.arange(-5, 5, step) + step / 2,) * 2))
    away = np.maximum(np.abs(x) - 2.0, np.abs(y) - 1.5)
    outside = away > 0.0
    bottom = floor + np.maximum(away[outside] - room, 0.0) / slope
    land = surface.elevation(np.stack((x, y), axis=1)[outside])
    assert dug == pytest.approx(float(np.maximum(land - bottom, 0.0).sum()) * step**2, rel=2e-3)


def test_the_closed_form_where_the_survey_ends(ground: Ground) -> None:
    """The survey ends 0.1 m out: told from the ground at the sides, and that there is more."""
    surface, outline = level_yard(ground, half=2.1), Outline.rectangle((-2.0, -2.0), (4.0, 4.0))
    found = room_ground(surface, outline, room=0.3, slope=1.0)
    assert not found.exact
    assert found.ends(-0.4)
    assert not found.ends(0.1)
    far = room_ground(level_yard(ground), outline, room=0.3, slope=1.0)
    for floor in (-0.4, -0.1, 0.2):
        assert found.volumes(np.array([floor])) == pytest.approx(far.volumes(np.array([floor])), abs=1e-12)
        assert found.strip(np.array([floor])) == pytest.approx(far.strip(np.array([floor])), abs=1e-12)


@pytest.mark.parametrize(("room", "slope"), [(0.3, 0.5), (0.4, 1.5)])
def test_the_closed_form_over_ground_that_dips_below_the_floor(
    ground: Ground, room: float, slope: float
) -> None:
    """Along each side the sum of w d + m d²/2 where the ground stands d above the floor, in small steps."""
    edge = (-2.1, 2.1)
    surface = ground([(x, y, 0.1 * x + 0.05 * y) for x in edge for y in edge])
    found = room_ground(surface, Outline.rectangle((-2.0, -2.0), (4.0, 4.0)), room=room, slope=slope)
    assert found.wide is None
    middle = (np.arange(4000) + 0.5) / 1000.0 - 2.0
    total = 0.0
    for x, y in ((middle, -2.0), (middle, 2.0), (-2.0, middle), (2.0, middle)):
        deep = np.maximum(0.1 * np.asarray(x) + 0.05 * np.asarray(y) + 0.05, 0.0)
        total += float((room * deep + slope * deep**2 / 2).sum()) / 1000.0
    for x, y in ((-2, -2), (2, -2), (2, 2), (-2, 2)):
        deep = max(0.1 * x + 0.05 * y + 0.05, 0.0)
        total += room**2 * deep + room * slope * deep**2 + slope**2 * deep**3 / 3
    assert found.volumes(np.array([-0.05])) == pytest.approx(total, rel=1e-6)


def test_an_outline_that_turns_inward(ground: Ground) -> None:
    """An L: five corners out, one in; the room is cut, the face follows the ground of its sides."""
    ring = [(-3, -3), (3, -3), (3, 0), (0, 0), (0, 3), (-3, 3)]
    outline, room, slope, depth = Outline.polygon(ring), 0.3, 1.0, 0.4
    found = room_ground(level_yard(ground), outline, room=room, slope=slope)
    side = room * depth + slope * depth**2 / 2
    corner = room**2 * depth + room * slope * depth**2 + slope**2 * depth**3 / 3
    assert found.volumes(np.array([-depth])) == pytest.approx(24 * side + (5 - 1) * corner, rel=1e-9)
    assert not found.exact


def test_the_face_that_leaves_the_survey_is_told(ground: Ground) -> None:
    surface, outline = level_yard(ground, half=2.6), Outline.rectangle((-2.0, -2.0), (4.0, 4.0))
    found = room_ground(surface, outline, room=0.3, slope=1.0)
    assert found.exact
    assert found.ends(-0.5)
    assert not found.ends(-0.2)
