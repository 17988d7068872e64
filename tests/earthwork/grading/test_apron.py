"""An apron as built: its cross-section, how high it is heaped, what it takes, and where there is none."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.grading.apron import INTO, SHOWN
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.sides import room_shape
from gradework.earthwork.grading.swale import Swale, design_apron, design_swale
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.drainage_rules import IRC_2015
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

MARGIN = 0.3
BUILDING = Outline.rectangle((12.0, 10.0), (6.0, 4.0))
PAD = BUILDING.grown(MARGIN).rings[0]
EDGE = 14.3
"""The y of the uphill edge, side 2, along which the ground lies at 10.0."""

UP = 0.08
SPEC = SwaleSpec(margin=MARGIN)


def yard(ground: Ground, up: float = UP, along: float = 0.0) -> Surface:
    places = [(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)]
    return ground([(x, y, 10.0 + up * (y - EDGE) + along * (x - 15.0)) for x, y in places])


def shaped(surface: Surface, level: float, needed: tuple[int, int] = (2, 2)) -> Swale:
    made = design_apron(surface, PAD, level, needed, [2], SPEC)
    assert made is not None
    return made


def test_soil_is_heaped_to_where_an_apron_begins_and_not_beside_a_swale(ground: Ground) -> None:
    apron = shaped(yard(ground), 10.2)
    assert (apron.kind, apron.heaped_to) == ("apron", apron.route.start)
    assert 10.0 < apron.route.start < 10.2  # above the ground at the edge, below the top of the pad
    swale = design_swale(yard(ground), PAD, 10.2, (2, 2), SPEC)
    assert swale is not None
    assert (swale.kind, swale.heaped_to) == ("swale", None)


def test_the_section_across_the_uphill_side(ground: Ground) -> None:
    """From the pad: soil falls 5 %, then 3:1 to a shallow bottom, 3:1 up to the ground, which it meets."""
    surface = yard(ground)
    made = shaped(surface, 10.2)
    route, x = made.route, 15.0
    offset, start = route.line.offset, route.start
    along = float(route.line.zero[route.way.first]) + float(PAD[2, 0]) - x
    invert = float(np.interp(along, route.at, route.invert))
    toe = (start - invert - offset / 3.0) / (0.05 - 1.0 / 3.0)  # where bench and inner side meet
    bank = (10.0 + UP * offset - invert) / (1.0 / 3.0 - UP)
    assert toe >= SPEC.bench
    assert made.raised == pytest.approx(start - 10.0)
    for out, height in (
        (1e-6, start),
        (0.5 * toe, start - 0.025 * toe),
        (toe, start - 0.05 * toe),
        (offset, invert),
        (offset + bank, 10.0 + UP * (offset + bank)),
        (offset + bank + 1.0, 10.0 + UP * (offset + bank + 1.0)),
    ):
        found = made.ground.surface.elevation(np.array([(x, EDGE + out)]))[0]
        assert found == pytest.approx(height, abs=1e-5)


def test_its_bottom_is_shallow_but_in_the_ground(ground: Ground) -> None:
    """3 in at its crest, 6 in below where the soil begins; a swale cut in is far deeper and digs far more."""
    surface = yard(ground)
    made, swale = shaped(surface, 10.2), design_swale(surface, PAD, 10.2, (2, 2), SPEC)
    assert swale is not None
    line, route = made.route.line, made.route
    first = float(line.zero[route.way.first])
    before = np.linspace(first, first + 6.6, 50)
    assert np.interp(before, route.at, route.ground - route.invert).min() >= INTO - 1e-9
    assert route.start - route.crest[1] >= SPEC.depth
    assert made.cut < 0.25 * swale.cut
    assert made.fill > swale.fill
    assert made.cut + made.fill < 0.5 * swale.cut


@pytest.mark.parametrize("lift", [0.06, 0.1, 0.3, 0.6])
def test_it_is_heaped_no_higher_than_the_pad_nor_than_it_takes(ground: Ground, lift: float) -> None:
    """From some height on a higher pad gets the same apron, and more of its edge is left showing."""
    made = shaped(yard(ground), 10.0 + lift)
    assert made.raised <= lift - SHOWN + 1e-9
    if lift >= 0.2:
        assert made.raised == pytest.approx(shaped(yard(ground), 11.0).raised)
        assert made.raised < lift - SHOWN
    else:
        assert made.raised == pytest.approx(lift - SHOWN)


@pytest.mark.parametrize(("up", "along", "lift"), [(0.05, 0.0, 0.1), (0.08, 0.0, 0.3), (0.05, 0.03, 0.25)])
def test_every_wall_passes_on_the_finished_ground(
    ground: Ground, up: float, along: float, lift: float
) -> None:
    """The same check that fails before it, with the lines of its bottom told."""
    surface = yard(ground, up, along)
    top = PadTop(10.0 + lift, Outline.polygon(PAD))
    before = wall_falls(surface, BUILDING, IRC_2015, pad=top)
    uphill = [k for k, fall in enumerate(before) if fall.verdict == "toward"]
    short = [k for k, fall in enumerate(before) if fall.verdict != "away"]
    assert uphill
    assert short == list(range(short[0], short[-1] + 1))
    made = design_apron(surface, PAD, top.level, (short[0], short[-1]), uphill, SPEC)
    assert made is not None
    inverts = np.concatenate([np.stack((line[:-1, :2], line[1:, :2]), axis=1) for line in made.bends])
    after = wall_falls(made.ground.surface, BUILDING, IRC_2015, pad=top, inverts=inverts)
    assert [fall.verdict for fall in after] == ["away"] * 4


def test_one_with_side_slopes_or_working_room_is_shaped_too(ground: Ground) -> None:
    """Side slopes run down to where the soil begins; what is dug for the edge is not dug twice."""
    surface = yard(ground)
    boards = shaped(surface, 10.6)
    sloped = design_apron(surface, PAD, 10.6, (2, 2), [2], SPEC, batter=Batter(2.0, 0.0, 0.0))
    assert sloped is not None
    out = 2.0 * (10.6 - sloped.route.start)
    for t, height in ((0.5 * out, 10.6 - 0.25 * out), (out, sloped.route.start)):
        found = sloped.ground.surface.elevation(np.array([(15.0, EDGE + t)]))[0]
        assert found == pytest.approx(height, abs=1e-6)
    assert sloped.offset > boards.offset
    wide = Outline.polygon(PAD).grown(0.9).rings[0] - surface.origin
    room = room_shape(wide, 9.6, 1.0)
    dug = design_apron(surface, PAD, 10.2, (2, 2), [2], SPEC, room=room)
    assert dug is not None
    assert 0.0 <= dug.cut < 0.9 * shaped(surface, 10.2).cut


def test_there_is_none_where_nothing_is_raised_or_nothing_rises(ground: Ground) -> None:
    surface = yard(ground)
    for level, up in ((10.0, UP), (10.04, UP), (9.8, UP)):
        assert design_apron(yard(ground, up), PAD, level, (2, 2), [2], SPEC) is None
    assert design_apron(surface, PAD, 11.0, (0, 0), [0], SPEC) is None  # from side 0 the ground falls away


def test_no_survey_before_the_side_no_apron(ground: Ground) -> None:
    """A survey that ends at the edge of the pad."""
    places = [(x, y) for x in range(0, 31, 3) for y in (0.0, 5.0, 10.0, EDGE)]
    surface = ground([(x, y, 10.0 + UP * (y - EDGE)) for x, y in places])
    assert design_apron(surface, PAD, 10.3, (2, 2), [2], SPEC) is None


NOTCHED = [(10.0, 8.0), (17.0, 8.0), (17.0, 11.2), (13.4, 11.2), (13.4, 14.4), (10.0, 14.4)]


@pytest.mark.parametrize("turn", [0.0, 33.0, 205.0])
@pytest.mark.parametrize("design", [design_swale, None])
def test_an_l_whose_notch_looks_uphill_passes_on_all_its_walls(
    ground: Ground, turn: float, design: Callable[..., Swale | None] | None
) -> None:
    """Both shapes go round the inward corner; where the strips of its two walls meet, one takes over."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    ring = (np.array(NOTCHED) - (13.0, 11.0)) @ np.array([[c, s], [-s, c]]) + (15.0, 15.0)
    building = Outline.polygon([(x, y) for x, y in ring.tolist()])
    places = np.array([(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)], dtype=float)
    up = (places - 15.0) @ np.array([[c, s], [-s, c]]).T
    surface = ground(np.column_stack((places, 10.0 + 0.05 * up.sum(axis=1))))
    pad = building.grown(MARGIN)
    edge = pad.rings[0][[1, 2, 3, 4, 5]]
    level = float(surface.elevation(edge).max()) + 0.1
    top = PadTop(level, pad)
    before = wall_falls(surface, building, IRC_2015, pad=top)
    assert [fall.verdict for fall in before] == ["away", *["toward"] * 4, "away"]
    if design is None:
        made = design_apron(surface, pad.rings[0], level, (1, 4), range(1, 5), SPEC)
    else:
        made = design(surface, pad.rings[0], level, (1, 4), SPEC)
    assert made is not None
    after = wall_falls(made.ground.surface, building, IRC_2015, pad=top, inverts=made.catches)
    assert [fall.verdict for fall in after] == ["away"] * 6


def test_a_notch_that_is_left_level_does_not_pass(ground: Ground) -> None:
    """Its strips end at its middle line only because the ground falls to there from both its walls."""
    building = Outline.polygon(NOTCHED)
    places = [(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)]
    surface = ground([(x, y, 10.0) for x, y in places])
    led = np.array([[(13.0, 20.0), (14.0, 20.0)]])
    falls = wall_falls(surface, building, IRC_2015, inverts=led)
    assert {falls[k].ends_at for k in (2, 3)} <= {"corner", "reach"}
    assert [falls[k].verdict for k in (2, 3)] == ["too little"] * 2
