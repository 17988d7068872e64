"""A swale as built: its cross-section, its ends and corners, its volume, and the way that is chosen."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.sides import sides_of
from gradework.earthwork.grading.swale import Swale, design_swale, ways_past
from gradework.earthwork.outline import Outline
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

PAD = np.array([(12, 10), (18, 10), (18, 14), (12, 14)], dtype=float)
LEVEL = 10.0
UP = 0.12


def yard(ground: Ground, along: float = 0.0) -> Surface:
    """Rises ``UP`` toward +y: 0.3 m over the pad at the middle of its side 2, 0.18 m under it at side 0."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    return ground([(x, y, 10.3 + UP * (y - 14.0) + along * (x - 15.0)) for x, y in places])


def designed(surface: Surface, needed: tuple[int, int] = (2, 2), pad: np.ndarray = PAD) -> Swale:
    made = design_swale(surface, pad, LEVEL, needed, SwaleSpec())
    assert made is not None
    return made


def test_the_section_across_the_uphill_side(ground: Ground) -> None:
    """From the pad: 5 % down on the bench, 3:1 down to the invert, 3:1 up to the ground, which it meets."""
    made = designed(yard(ground))
    offset = made.route.line.offset
    x = 15.0
    invert = float(
        np.interp(made.route.line.zero[made.route.way.first] + 18.0 - x, made.route.at, made.route.invert)
    )
    toe = (LEVEL - invert - offset / 3.0) / (0.05 - 1.0 / 3.0)  # where bench and inner side meet
    bank = (10.3 + UP * offset - invert) / (1.0 / 3.0 - UP)  # where the back slope meets the ground
    assert toe >= SwaleSpec().bench
    for out, height in (
        (1e-6, LEVEL),
        (toe, LEVEL - 0.05 * toe),
        (0.5 * (toe + offset), invert + 0.5 * (offset - toe) / 3.0),
        (offset, invert),
        (offset + 0.5 * bank, invert + 0.5 * bank / 3.0),
        (offset + bank, 10.3 + UP * (offset + bank)),
        (offset + bank + 1.0, 10.3 + UP * (offset + bank + 1.0)),
    ):
        assert made.ground.surface.elevation(np.array([(x, 14.0 + out)]))[0] == pytest.approx(
            height, abs=1e-5
        )


def test_the_invert_is_below_the_bench_by_six_inches_or_5_percent(ground: Ground) -> None:
    made = designed(yard(ground))
    assert LEVEL - made.route.crest[1] == pytest.approx(max(0.1524, 0.05 * made.route.line.offset))


def test_its_line_is_dug_to_its_inverts_and_comes_out(ground: Ground) -> None:
    made = designed(yard(ground))
    assert made.daylights
    assert made.ground.surface.elevation(made.line[:, :2]) == pytest.approx(made.line[:, 2], abs=1e-6)
    assert np.hypot(*np.diff(made.line[:, :2], axis=0).T).max() <= 1.2 * 1.524 + 1e-9
    around = float(np.hypot(*np.diff(made.line[:, :2], axis=0).T).sum())
    assert made.length == pytest.approx(around, abs=1e-6)
    surface = yard(ground)
    for x, y, z in made.outlets:
        assert surface.elevation(np.array([(x, y)]))[0] == pytest.approx(z, abs=1e-6)


def test_volumes_lie_between_the_two_surfaces(ground: Ground, volume: Callable[[Surface], float]) -> None:
    """Cut less fill outside the pad, and the pad's own cut less fill, worked out by the plane under it."""
    surface = yard(ground)
    made = designed(surface)
    pad_net = 24.0 * (10.3 + UP * (12.0 - 14.0) - LEVEL)
    net = volume(surface) - volume(made.ground.surface)
    assert made.cut - made.fill + pad_net == pytest.approx(net, abs=1e-6)
    assert made.cut > 1.0


def test_boards_that_show_count_as_fall(ground: Ground) -> None:
    """A pad above all ground along that side: the bench begins at the highest ground beside it."""
    surface = yard(ground)
    made = design_swale(surface, PAD, 10.5, (2, 2), SwaleSpec())
    assert made is not None
    assert made.route.start == pytest.approx(10.3)
    assert made.fill == pytest.approx(0.0, abs=1e-9)


def test_its_own_side_slopes_are_not_counted_twice(ground: Ground) -> None:
    surface = yard(ground)
    boards = designed(surface)
    sloped = design_swale(surface, PAD, LEVEL, (2, 2), SwaleSpec(), batter=Batter(2.0, 0.5, 0.25))
    assert sloped is not None
    assert sloped.cut == pytest.approx(sloped.ground.cut - 0.5)
    assert sloped.fill == pytest.approx(sloped.ground.fill - 0.25)
    assert sloped.ground.fill > boards.ground.fill


@pytest.mark.parametrize("run", [1.5, 2.0, 3.0, 4.0, 6.0, 10.0])
@pytest.mark.parametrize("level", [10.0, 10.2, 10.5])
def test_a_pad_slope_ends_where_its_swale_begins(ground: Ground, level: float, run: float) -> None:
    """Flatter than the swale's own sides it would fill the swale again."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    surface = ground([(x, y, 10.3 + 0.06 * (y - 14.0)) for x, y in places])
    made = design_swale(surface, PAD, level, (2, 2), SwaleSpec(), batter=Batter(run, 0.0, 0.0))
    assert made is not None
    assert made.ground.surface.elevation(made.line[:, :2]) == pytest.approx(made.line[:, 2], abs=1e-6)
    halfway = np.array([(15.0, 14.0 + 0.5 * run * (level - made.route.start))])
    assert made.ground.surface.elevation(halfway)[0] == pytest.approx(0.5 * (level + made.route.start))
    out = run * (level - made.route.start) + 1.0  # where there is no swale it goes on to the ground
    below = 10.3 + 0.06 * (10.0 - out - 14.0)
    assert made.ground.surface.elevation(np.array([(15.0, 10.0 - out)]))[0] == pytest.approx(
        max(below, level - out / run), abs=1e-6
    )


def test_it_turns_an_inward_corner(ground: Ground) -> None:
    """An L whose notch looks uphill: the line runs along both sides of the notch, and water leaves by one."""
    ell = Outline.polygon([(10, 8), (20, 8), (20, 12), (14, 12), (14, 18), (10, 18)]).rings[0]
    places = [(x, y) for x in range(0, 31, 5) for y in range(0, 31, 5)]
    surface = ground([(x, y, 10.2 + 0.1 * (y - 12.0) + 0.08 * (x - 14.0)) for x, y in places])
    made = design_swale(surface, ell, LEVEL, (2, 3), SwaleSpec())
    assert made is not None
    assert made.ground.surface.elevation(made.line[:, :2]) == pytest.approx(made.line[:, 2], abs=1e-6)
    corner = np.array([14.0 + made.route.line.offset, 12.0 + made.route.line.offset])
    assert np.hypot(*(made.line[:, :2] - corner).T).min() < 1e-6


def test_what_is_filled_in_a_notch_ends_in_the_pad(ground: Ground) -> None:
    """Beyond the far side of each wing the ground lies lower than the bench would there, and stays."""
    ell = Outline.polygon([(10, 8), (20, 8), (20, 12), (14, 12), (14, 18), (10, 18)]).rings[0]
    places = [(x, y) for x in range(0, 31, 5) for y in range(0, 31, 5)]
    surface = ground([(x, y, 10.2 + 0.1 * (y - 12.0) + 0.12 * (x - 14.0)) for x, y in places])
    made = design_swale(surface, ell, LEVEL, (2, 3), SwaleSpec())
    assert made is not None
    beyond = np.array([(x, y) for x in (1.0, 5.0, 9.5) for y in (8.5, 11.0, 13.0)] + [(13.0, 6.0), (18.0, 5)])
    assert made.ground.surface.elevation(beyond) == pytest.approx(surface.elevation(beyond), abs=1e-9)


def test_a_side_a_hair_outside_the_survey_has_no_ground_beside_it(ground: Ground) -> None:
    """Its outer side lies half a millimetre off the survey, as an outline may."""
    places = [(x, y) for x in (0.0, 15.0, 30.0) for y in (0.0, 9.0, 13.9995)]
    surface = ground([(x, y, 10.3 + UP * (y - 14.0)) for x, y in places])
    assert design_swale(surface, PAD, LEVEL, (2, 2), SwaleSpec()) is None


def test_a_pad_of_many_sides_or_a_bench_as_steep_as_its_bank_has_none(ground: Ground) -> None:
    angles = np.linspace(0.0, 2.0 * np.pi, 20, endpoint=False)
    round_pad = np.column_stack((15.0 + 3.0 * np.cos(angles), 12.0 + 3.0 * np.sin(angles)))
    assert len(sides_of(round_pad)) == 20
    assert design_swale(yard(ground), round_pad, LEVEL, (2, 2), SwaleSpec()) is None
    assert design_swale(yard(ground), PAD, LEVEL, (2, 2), SwaleSpec(bench_fall=0.34)) is None


def test_a_hollow_pad_with_side_slopes_has_one_too(ground: Ground) -> None:
    """Its slopes meet in a valley in the hollow; the swale begins at their foot."""
    ell = np.array([(12, 10), (18, 10), (18, 12), (15, 12), (15, 14), (12, 14)], dtype=float)
    assert design_swale(yard(ground), ell, LEVEL, (4, 4), SwaleSpec()) is not None
    sloped = Batter(2.0, 0.0, 0.0)
    swale = design_swale(yard(ground), ell, LEVEL, (4, 4), SwaleSpec(), batter=sloped)
    assert swale is not None
    assert swale.ground.surface.elevation(swale.line[:, :2]) == pytest.approx(swale.line[:, 2], abs=1e-6)


def test_where_it_lacks_ground_it_names_shots_on_its_line(ground: Ground) -> None:
    """Three sides of four stand in the hill: the line runs off the survey at each end that it may fall to."""
    places = [(x, y) for x in (6.0, 15.0, 24.0) for y in (6.0, 12.0, 20.0)]
    surface = ground([(x, y, 10.6 + 0.03 * (y - 14.0)) for x, y in places])
    made = design_swale(surface, PAD, LEVEL, (1, 3), SwaleSpec())
    assert made is not None
    assert not made.daylights
    assert len(made.more_shots) in (3, 6)
    assert np.isnan(surface.elevation(made.more_shots)).all()


def test_the_ways_go_to_either_end_or_both_and_never_all_round() -> None:
    ways = ways_past(4, 2, 2)
    assert {(way.left, way.right) for way in ways} == {(True, False), (False, True), (True, True)}
    assert all(len(set(way.sides)) == len(way.sides) <= 3 for way in ways)
    assert all(way.sides[way.first] == 2 == way.sides[way.last] for way in ways)
    assert [way.sides for way in ways_past(4, 3, 4)][:2] == [(3, 0), (2, 3, 0)]
