"""Four drops: planes between the corners, carried out; piers on straight lines; walls not looked at."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.project.corners import Measured, Point, carried_out, most_out, plan_corners, stations_of

INCH, FOOT = 0.0254, 0.3048
SHED = Measured("ft", (12 * FOOT, 8 * FOOT), (0.0, 4.5 * INCH, 13 * INCH, 9 * INCH))

drops = st.floats(0.0, 0.6)


@settings(deadline=None, max_examples=40)
@given(st.tuples(drops, drops, drops, drops), st.tuples(st.floats(1.0, 9.0), st.floats(1.0, 9.0)))
def test_beyond_the_corners_the_four_planes_go_on(
    four: tuple[float, float, float, float], size: tuple[float, float]
) -> None:
    """The four planes meet in the middle at the mean of the drops; each is worked out from three points."""
    measured = Measured("m", size, four)
    ground = carried_out(stations_of(measured), size, 0.3)
    corners = stations_of(measured).xyz
    middle = np.array([size[0] / 2, size[1] / 2, corners[:, 2].mean()])
    for side in range(4):
        a, b = corners[side], corners[(side + 1) % 4]
        # on this plane: within the wedge from the middle through both corners
        for toward_b, out in ((0.1, 1.02), (0.5, 1.01), (0.9, 1.02), (0.3, 0.7)):
            place = middle + out * (a + toward_b * (b - a) - middle)
            assert ground.elevation(place[None, :2])[0] == pytest.approx(place[2], abs=1e-6)


def test_between_two_corners_the_ground_is_straight_and_the_strip_goes_no_farther() -> None:
    ground = carried_out(stations_of(SHED), SHED.size, most_out("ft"))
    along = np.array([[3 * FOOT, 0.0], [9 * FOOT, 0.0]])
    assert ground.elevation(along) == pytest.approx([SHED.line - 1.125 * INCH, SHED.line - 3.375 * INCH])
    out = most_out("ft")
    assert np.isfinite(ground.elevation(np.array([[-out + 1e-3, -out + 1e-3]]))).all()
    assert np.isnan(ground.elevation(np.array([[-out - 0.01, 0.0], [6 * FOOT, 8 * FOOT + out + 0.01]]))).all()


def test_every_pier_stands_under_one_top_on_its_own_ground() -> None:
    plan = plan_corners(SHED)
    piers = plan.foundations.piers
    assert piers is not None
    assert piers.top is not None
    assert len(piers.piers) == 10
    for pier in piers.piers:
        assert pier.bottom + pier.bed + pier.height == pytest.approx(piers.top, abs=2e-3)
    assert plan.job.name == "12 ft x 8 ft"
    assert (plan.drainage.findings, plan.drainage.after, plan.drainage.before) == ((), (), ())
    assert not any(f.code.startswith(("drainage", "shot", "gap", "coverage")) for f in plan.findings)


def test_a_point_between_the_corners_bends_the_ground() -> None:
    bent = Measured("ft", SHED.size, SHED.drops, (Point(6 * FOOT, 0.0, 10 * INCH),))
    ground = carried_out(stations_of(bent), bent.size, most_out("ft"))
    assert ground.elevation(np.array([[6 * FOOT, 0.0]])) == pytest.approx([bent.line - 10 * INCH])
    piers, straight = plan_corners(bent).foundations.piers, plan_corners(SHED).foundations.piers
    assert piers is not None
    assert straight is not None
    lower = {p.name: p.ground_low for p in piers.piers}
    assert lower["1-2"] < {p.name: p.ground_low for p in straight.piers}["1-2"] - 0.1


def test_blocks_of_which_only_the_thickness_is_known() -> None:
    plan = plan_corners(Measured("ft", SHED.size, SHED.drops, blocks=(2 * INCH, 4 * INCH)))
    piers = plan.foundations.piers
    assert piers is not None
    assert {unit.name for pier in piers.piers for unit in pier.laid} <= {"2 in block", "4 in block"}
    courses = [pier.height / (2 * INCH) for pier in piers.piers]
    assert courses == pytest.approx([round(count) for count in courses], abs=1e-6)
    assert [line.item for line in plan.order.lines][:2] == ["2 in block", "4 in block"]
