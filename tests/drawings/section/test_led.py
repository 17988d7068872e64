"""Profiles of swales and drains: the ground over the line, the bottom, and the stakes as they are set out."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.drawings.section.led import draw_profiles, profiles
from gradework.project.plan import Plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.sitework.past_walls import led


@pytest.mark.parametrize(("name", "kind"), [("swaled", "swale"), ("drained", "drain")])
def test_a_profile_shows_the_ground_and_the_stakes_of_its_line(
    name: str, kind: str, request: pytest.FixtureRequest
) -> None:
    plan = request.getfixturevalue(name)
    (made,) = led(plan.measures)
    every = profiles(plan)
    assert len(every) == len(made.bends)
    for one, bends in zip(every, made.bends, strict=True):
        assert one.kind == kind
        legs = np.hypot(*np.diff(bends[:, :2], axis=0).T)
        assert one.bottom[-1, 0] == pytest.approx(legs.sum())
        along = np.linspace(0.0, one.bottom[-1, 0], 201)
        places = np.column_stack([np.interp(along, one.bottom[:, 0], bends[:, axis]) for axis in (0, 1)])
        assert np.interp(along, *one.ground.T) == pytest.approx(plan.surface.elevation(places), abs=1e-7)
    staked = {
        point.stake.name: point.stake.grade
        for point in set_out_plan(plan, Wanted(kind="pad")).sheet.points
        if point.stake.kind == kind
    }
    posts = {post.name: post for one in every for post in one.posts}
    assert {name: post.bottom for name, post in posts.items()} == pytest.approx(staked)
    for one in every:
        for post in one.posts:
            assert np.interp(post.u, *one.bottom.T) == pytest.approx(post.bottom, abs=1e-6)
            assert np.interp(post.u, *one.ground.T) == pytest.approx(post.ground, abs=1e-7)


def test_no_profile_where_nothing_is_dug(boxed: Plan) -> None:
    assert profiles(boxed) == []
    assert draw_profiles(boxed) == []
