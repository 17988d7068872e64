"""The way in at a door: the published steps and ramps, and what must hold on any ground."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from gradework.sitework.access import LANDING, MOST_RISER, Access, Door, Use, get_in
from gradework.sitework.order_access import access_takes, access_words, framed
from gradework.units.display import FEET

FT, IN = 0.3048, 0.0254
Floats = NDArray[np.float64]
NORTH = Door("wall (corners 3-4)", 1.0, (0.0, 0.0), (-1.0, 0.0), (0.0, 1.0), 3.0 * FT)


def sloped(level: float, rise: float, across: float = 0.0) -> Callable[[Floats], Floats]:
    """Ground that rises by ``rise`` out from the wall and by ``across`` along x [-]."""
    return lambda places: level + rise * places[:, 1] + across * places[:, 0]


def test_a_guard_is_asked_for_over_30_inches() -> None:
    """R312 of the IRC asks for guards where the walking surface is more than 30 in above what is below."""
    asked = [Access(NORTH, 5.0, 5.0, rise * IN, 5, 1.0).guarded for rise in (29.9, 30.0, 30.1)]
    assert asked == [False, False, True]
    assert not Access(NORTH, 5.0, 5.0, 31.0 * IN).guarded  # nothing is built


def test_the_hours_of_steps_go_by_their_number_and_those_of_a_ramp_by_its_area() -> None:
    """18 in up: two steps and the floor; a ramp of 12 ft, as wide as the door, 3 ft: 36 sq ft."""
    steps, ramp = (
        access_takes(get_in(door, 18.0 * IN, sloped(0.0, 0.0)), us=True)
        for door in (NORTH, NORTH._replace(ramp="hand"))
    )
    assert (steps["steps"], "ramp" in steps) == (2.0, False)
    assert (ramp["ramp"], "steps" in ramp) == (pytest.approx(36.0 * FT**2), False)
    for takes in (steps, ramp):
        assert takes["digging"] == takes["gravel"] > 0.0


def test_the_way_in_is_said_with_what_is_built() -> None:
    """18 in: three risers of 6 in; a landing takes the place of one of its two treads of 10 in."""
    steps, one, ramp = (
        " ".join(access_words(get_in(door, rise * IN, sloped(0.0, 0.0)), FEET))
        for door, rise in ((NORTH, 18.0), (NORTH, 6.0), (NORTH._replace(ramp="hand"), 18.0))
    )
    assert "3 steps of 6 in up 18 in, 1 tread of 10 in and a landing 3' 0\" deep; the foot is" in steps
    assert "one step of 6 in up from the ground, nothing to build" in one
    assert "a ramp of 12' 0\" up 18 in; the foot is 12' 0\" out" in ramp


def test_on_level_ground_a_door_gets_that_flight_with_a_landing() -> None:
    found = get_in(NORTH, 18.0 * IN, sloped(0.0, 0.0))
    assert (found.risers, found.way) == (3, "steps")
    assert found.riser == pytest.approx(6.0 * IN)
    assert found.landing == LANDING
    assert found.out == pytest.approx(LANDING + 10.0 * IN)


def test_one_step_needs_nothing_built() -> None:
    found = get_in(NORTH, 7.0 * IN, sloped(0.0, 0.0))
    assert (found.way, found.risers, found.out, found.built) == ("level", 1, 0.0, False)
    assert framed(found, us=True) is None


def test_two_risers_ask_for_a_landing_only_where_the_door_swings_out() -> None:
    outward, inward = (
        get_in(NORTH._replace(inward=one), 12.0 * IN, sloped(0.0, 0.0)) for one in (False, True)
    )
    assert (outward.risers, outward.out) == (2, LANDING)
    assert (inward.risers, inward.out) == (2, pytest.approx(10.0 * IN))


@pytest.mark.parametrize("floor", [0.3, 0.7, 1.3])
@pytest.mark.parametrize("slope", [-0.4, -0.1, 0.0, 0.05])
@pytest.mark.parametrize("across", [-0.1, 0.0, 0.1])
def test_the_rise_is_that_at_the_foot_and_one_step_fewer_would_be_too_high(
    floor: float, slope: float, across: float
) -> None:
    ground = sloped(0.0, slope, across)
    found = get_in(NORTH, floor, ground)
    assert found.rise is not None
    low = -abs(across) * NORTH.width / 2.0
    assert found.rise == pytest.approx(floor - slope * found.out - low)
    assert found.riser is not None
    assert found.riser <= MOST_RISER + 1e-9
    if found.risers > 3:  # one tread less would end one going nearer
        shorter = floor - slope * (found.out - 10.0 * IN) - low
        assert shorter > (found.risers - 1) * MOST_RISER


@pytest.mark.parametrize(
    ("use", "floor", "railed"),
    [
        ("hand", 5.0, False),
        ("mower", 6.0, False),
        ("hand", 6.1, True),
        ("mower", 6.1, True),
        ("wheelchair", 5.0, False),
        ("wheelchair", 6.1, True),
    ],
)
def test_a_ramp_higher_than_6_in_has_handrails_a_lower_steep_one_is_told(
    use: Use, floor: float, railed: bool
) -> None:
    found = get_in(NORTH._replace(ramp=use), floor * IN, sloped(0.0, 0.0))
    assert (found.way, found.railed) == ("ramp", railed)
    assert found.low is (use != "wheelchair" and not railed)
    made = framed(found, us=True)
    assert made is not None
    assert any(stick.use == "handrails" for stick in made.sticks) is railed


def test_the_rise_is_read_beside_what_stands_level_up_to_the_wall() -> None:
    """A slab 5 in above the ground, as high as its floor: the foot is beside it, not on its edge."""

    def ground(places: Floats) -> Floats:
        return np.where(places[:, 1] <= 0.0, 5.0 * IN, 0.0)

    found = get_in(NORTH, 5.0 * IN, ground)
    assert (found.over, found.rise, found.risers) == (pytest.approx(5.0 * IN), pytest.approx(5.0 * IN), 1)


@pytest.mark.parametrize("use", ["hand", "mower", "wheelchair"])
@pytest.mark.parametrize("slope", [-0.05, 0.0, 0.05])
def test_a_ramp_keeps_its_slope_on_any_ground(use: str, slope: float) -> None:
    found = get_in(NORTH._replace(ramp=use), 0.5, sloped(0.0, slope))  # type: ignore[arg-type]
    assert found.rise is not None
    assert found.slope is not None
    assert found.out - found.landing == pytest.approx(found.slope * found.rise)
    assert found.rise == pytest.approx(0.5 - slope * found.out)
    assert found.landing == (LANDING if use == "wheelchair" else 0.0)


def test_ground_that_falls_as_steep_as_the_ramp_has_no_end() -> None:
    found = get_in(NORTH._replace(ramp="hand"), 0.5, sloped(0.0, -0.13))
    assert (found.way, found.rise) == ("none", None)


def test_a_floor_below_the_ground_at_the_door_fails() -> None:
    """Also where only the ground a landing away is higher: it runs to the door."""
    assert get_in(NORTH, -0.01, sloped(0.0, 0.0)).check.holds is False
    uphill = get_in(NORTH, 0.05, sloped(0.0, 0.1))
    assert (uphill.over, uphill.check.holds) == (pytest.approx(0.05 - 0.1 * LANDING), False)
    assert get_in(NORTH, 0.01, sloped(0.0, 0.0)).check.holds is True


def test_ground_that_was_not_surveyed_leaves_it_open() -> None:
    def ground(places: Floats) -> Floats:
        return np.where(places[:, 1] > 0.5, np.nan, 0.0)

    found = get_in(NORTH, 0.5, ground)
    assert (found.check.holds, found.way) == (None, "none")


def built(rise: float, width: float = 3.0 * FT, ramp: str | None = None) -> Access:
    return get_in(NORTH._replace(width=width, ramp=ramp), rise, sloped(0.0, 0.0))  # type: ignore[arg-type]


def test_steps_of_18_inches_by_hand() -> None:
    """3 ft wide, 3 risers: a landing 36 in deep (7 boards, 4 joists, 2 rims, 4 posts of 12 in), then one
    tread of two boards on 3 stringers; no rails."""
    made = framed(built(18.0 * IN), us=True)
    assert made is not None
    counts = {
        use: [s.length / IN for s in made.sticks if s.use == use] for use in {s.use for s in made.sticks}
    }
    assert {use: len(lengths) for use, lengths in counts.items()} == {
        "joists of the landing": 4, "rims of the landing": 2, "boards of the landing": 7,
        "posts of the landing": 4, "stringers": 3, "boards of treads": 2,
    }  # fmt: skip
    assert counts["posts of the landing"] == pytest.approx([12.0] * 4)
    assert counts["stringers"] == pytest.approx([math.hypot(10.0, 12.0) + 6.0] * 3)
    assert made.crossings == 4 * 7 + 3 * 2
    assert made.stone / (FT**2 * IN) == pytest.approx((46 + 6) / 12 * 4.0 * 4.0)


def test_one_tread_is_said_as_one() -> None:
    (told,) = access_words(built(18.0 * IN), FEET)
    assert "3 steps of 6 in up 18 in, 1 tread of 10 in and a landing 3' 0\" deep" in told
    (told,) = access_words(built(30.0 * IN), FEET)
    assert ", 2 treads of 10 in and " in told


def test_the_bed_is_100_mm_deep_in_metres() -> None:
    us, metric = framed(built(0.45), us=True), framed(built(0.45), us=False)
    assert us is not None
    assert metric is not None
    assert metric.bed[2] == 0.1
    assert us.bed[2] / IN == pytest.approx(4.0)
    assert metric.bed[1] - 3.0 * FT == pytest.approx(0.3)
    assert metric.stone == pytest.approx(math.prod(metric.bed))


def test_a_ramp_of_18_inches_by_hand() -> None:
    """12 ft out, 12.09 ft of joists in three spans, 27 boards of 5 1/2 in."""
    made = framed(built(18.0 * IN, ramp="hand"), us=True)
    assert made is not None
    uses = [stick.use for stick in made.sticks]
    assert (uses.count("boards of the ramp"), uses.count("joists of the ramp")) == (27, 3 * 4)
    assert uses.count("bearers of the ramp") == 4


def test_four_risers_ask_for_rails_and_the_order_has_them() -> None:
    four = built(4 * 7.0 * IN)
    assert (four.risers, four.railed) == (4, True)
    made = framed(four, us=True)
    assert made is not None
    assert sum(stick.use == "handrails" for stick in made.sticks) == 2
    assert not built(3 * 7.0 * IN).railed


@pytest.mark.parametrize("wider", [0.5, 0.9, 1.5, 2.4])
def test_a_wider_door_never_takes_less(wider: float) -> None:
    narrow, wide = (framed(built(0.9, width), us=False) for width in (0.5, wider))
    assert narrow is not None
    assert wide is not None
    total = [sum(s.length * s.section.area for s in one.sticks) for one in (narrow, wide)]
    assert total[1] >= total[0]
    assert wide.stone >= narrow.stone
