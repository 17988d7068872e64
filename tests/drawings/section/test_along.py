"""The drawing of a profile: on its side, tidy, true to its scale, areas that close with the figures."""

from __future__ import annotations

import numpy as np
import pytest
from tidy_page import assert_tidy, lines_of, strokes_of

from gradework.drawings.section.along import draw_profile, matched
from gradework.project.plan import Plan
from gradework.project.profile import End, Profile, profile_on


def along(plan: Plan, *, planned: bool = True) -> Profile:
    """The yard from its lower left to its upper right."""
    low, high = plan.surface.hull_xy.min(axis=0), plan.surface.hull_xy.max(axis=0)
    first, last = (End("", *(low + share * (high - low)).tolist()) for share in (0.02, 0.97))
    return profile_on(plan.surface, first, last, plan.job.show, plan=plan if planned else None)


@pytest.mark.parametrize("name", ["swaled", "boxed"])
def test_it_lies_on_its_side_and_nothing_overlaps(name: str, request: pytest.FixtureRequest) -> None:
    plan = request.getfixturevalue(name)
    profile = along(plan)
    figure = draw_profile(profile, plan.job.name, plan.stations, plan.job.show, stamp=plan.stamp())
    wide, high = figure.get_size_inches()
    assert wide > high
    assert_tidy(figure)
    said = [line.text for line in lines_of(figure)]
    assert ("building" in said) is (name == "swaled")  # the other line passes under a corner only
    assert profile.walls
    assert {"Ground as surveyed", "Finished ground"} <= set(said)
    assert any(text.startswith("high ") for text in said)
    assert any(text.startswith("low ") for text in said)


def test_both_grounds_are_drawn_at_the_scale_that_is_said(swaled: Plan) -> None:
    profile = along(swaled)
    figure = draw_profile(profile, "Shed", swaled.stations, swaled.job.show)
    [scale] = [line.text for line in lines_of(figure, "scale")]
    assert scale.startswith("Scale ")
    for gid, found in (("existing", profile.ground), ("finished", profile.finished)):
        assert found is not None
        drawn = np.vstack(strokes_of(figure, gid))
        per = np.ptp(drawn[:, 0]) / np.ptp(found[:, :, 0])
        taller = np.ptp(drawn[:, 1]) / np.ptp(found[:, :, 1]) / per
        assert taller == pytest.approx(round(taller), rel=1e-6)
    subtitle = lines_of(figure, "subtitle")[0].text
    assert (round(taller) == 1) is ("same scale" in subtitle)


def test_what_is_dug_and_filled_closes_with_the_grounds(swaled: Plan) -> None:
    """The stretches between both grounds, signed, are the one integral less the other."""
    profile = along(swaled)
    ground, finished = matched(profile)

    def area(pieces):  # type: ignore[no-untyped-def]
        each = np.array(pieces)
        return float((np.diff(each[:, :, 0])[:, 0] * each[:, :, 1].mean(axis=1)).sum())

    assert profile.finished is not None
    assert area(finished) == pytest.approx(area(profile.finished), rel=1e-6)
    assert area(ground) == pytest.approx(area(profile.ground), rel=1e-6)
    off = np.array(finished)[:, :, 1] - np.array(ground)[:, :, 1]
    assert ((off >= -1e-9).all(axis=1) | (off <= 1e-9).all(axis=1)).all()  # parted where they cross


def test_surveyed_ground_alone_has_no_other_line(swaled: Plan) -> None:
    figure = draw_profile(along(swaled, planned=False), "Shed", swaled.stations, swaled.job.show)
    assert strokes_of(figure, "existing")
    assert not strokes_of(figure, "finished")
    assert not strokes_of(figure, "wall")
