"""Profiles of swales and drains: the ground over the line, the bottom, and the stakes as they are set out."""

from __future__ import annotations

from dataclasses import replace

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


def test_where_nothing_leads_water_past_only_the_pipe_of_a_gutter_has_a_profile(boxed: Plan) -> None:
    """Its bottom falls by 1 in 100 at the least, from where it goes into the ground to where it comes out."""
    (one,) = profiles(boxed)
    assert one.kind == "gutter"
    roof = boxed.foundations.roof
    assert roof is not None
    (spout,) = roof.pipes
    assert one.bottom[:, 1] == pytest.approx(spout.rows[:, 2])
    assert (one.bottom[0, 1] - one.bottom[-1, 1]) / one.bottom[-1, 0] >= 0.01 - 1e-9
    assert len(draw_profiles(boxed)) == 1


def test_no_profile_where_no_line_is_dug(boxed: Plan) -> None:
    around = {kind: replace(one, roof=None) for kind, one in boxed.foundations.around.items()}
    bare = replace(boxed, foundations=replace(boxed.foundations, around=around))
    assert profiles(bare) == []
    assert draw_profiles(bare) == []
