"""A plain apron as built: its planes and volume by hand, where its foot lies, and where there is none."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.plain import PlainApron, PlainSpec, design_plain_apron
from gradework.earthwork.grading.ponded import SOAKS
from gradework.earthwork.grading.sides import batter_shapes
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.drainage_rules import IRC_2015
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

MARGIN = 0.3
BUILDING = Outline.rectangle((12.0, 10.0), (6.0, 4.0))
PAD = BUILDING.grown(MARGIN).rings[0]
SPEC = PlainSpec(0.05, 3.048, MARGIN)
OUT, NEEDED = 3.048 - MARGIN, 0.1524
"""[m] From the edge of the pad to where the rule ends, and the fall that it asks for until there: 6 in."""


def yard(ground: Ground, up: float = 0.0, size: float = 30.0, hump: float = 0.0) -> Surface:
    """Rises toward +y, at 10.0 along the pad's upper edge, y = 14.3; a hump before it at (15, 16)."""
    marks = np.arange(0.0, size + 0.1, 2.0) if size == 30.0 else np.linspace(15.0 - size, 15.0 + size, 9)
    places = [(x, y - (3.0 if size < 30.0 else 0.0)) for x in marks for y in marks]
    shots = [(x, y, 10.0 + up * (y - 14.3)) for x, y in places]
    return ground([*shots, (15.0, 16.1, 10.0 + up * 1.8 + hump)])


def shaped(
    surface: Surface, level: float, needed: tuple[int, int] = (2, 2), batter: Batter | None = None
) -> PlainApron:
    made = design_plain_apron(surface, PAD, level, needed, SPEC, batter=batter)
    assert made is not None
    return made


def test_all_round_on_level_ground_it_is_a_pyramid_cut_off_at_the_pad(ground: Ground) -> None:
    """By hand: along each side a wedge 6 in high, at each corner a third of the box between both."""
    made = shaped(yard(ground), 10.3, (0, 3))
    round_it = 2.0 * (6.6 + 4.6)
    by_hand = 0.5 * NEEDED * OUT * round_it + 4.0 * NEEDED * OUT**2 / 3.0
    assert made.fill == pytest.approx(by_hand, rel=1e-7)
    assert made.cut == 0.0
    assert made.start == pytest.approx(10.0 + NEEDED)
    assert made.bare == pytest.approx(round_it * OUT + 4.0 * OUT**2, rel=1e-7)


def test_the_section_across_a_side_that_the_ground_rises_from(ground: Ground) -> None:
    """As high as it takes for the whole strip to fall: 6 in above the ground where the rule ends. There it
    meets the ground; where the ground lies lower, a bank of 3:1 does."""
    up = 0.01
    made = shaped(yard(ground, up), 10.4)
    start, slope = 10.0 + up * OUT + NEEDED, NEEDED / OUT
    assert made.start == pytest.approx(start)
    assert made.slope == pytest.approx(slope)
    assert made.raised == pytest.approx(start - 10.0)
    for out in (1e-6, 0.5 * OUT, OUT, OUT + 0.5):
        height = max(start - slope * out, 10.0 + up * out)
        found = made.ground.surface.elevation(np.array([(15.0, 14.3 + out)]))[0]
        assert found == pytest.approx(height, abs=1e-6)
    low = design_plain_apron(yard(ground), PAD, 10.4, (2, 2), SPEC._replace(fall=0.1))
    assert low is not None
    assert low.start == pytest.approx(10.0 + 2.0 * NEEDED)


def test_the_walls_that_it_is_for_pass_on_the_finished_ground(ground: Ground) -> None:
    surface, level = yard(ground, 0.012, hump=0.04), 10.4
    top = PadTop(level, BUILDING.grown(MARGIN))
    before = wall_falls(surface, BUILDING, IRC_2015, pad=top)
    assert before[2].verdict == "toward"
    made = shaped(surface, level)
    after = wall_falls(made.ground.surface, BUILDING, IRC_2015, pad=top)
    assert after[2].verdict == "away"
    assert after[2].fall >= after[2].needed - 1e-5


def test_a_hump_before_the_wall_is_covered(ground: Ground) -> None:
    """8 in high, 6 ft out: soil begins so much higher that nothing stands out of it."""
    level, hump = 10.7, 0.2
    made = shaped(yard(ground, hump=hump), level)
    assert made.start == pytest.approx(10.0 + hump + 1.8 * made.slope)
    t = np.linspace(0.01, OUT - 0.01, 50)
    heights = made.ground.surface.elevation(np.column_stack((np.full(50, 15.0), 14.3 + t)))
    assert np.allclose(heights, made.start - made.slope * t, atol=1e-6)


def test_its_foot_is_told_where_it_meets_the_ground(ground: Ground) -> None:
    """All round: the corners half way between both sides, between them a stake about every two steps."""
    surface = yard(ground, 0.005)
    made = shaped(surface, 10.4, (0, 3))
    x, y, z = made.line.T
    assert np.allclose(surface.elevation(made.line[:, :2]), z)
    assert np.allclose(made.ground.surface.elevation(made.line[:, :2]), z, atol=1e-6)
    assert (shapely.distance(shapely.points(x, y), shapely.Polygon(PAD)) >= OUT - 1e-6).all()
    stakes = list(made.stations(1.5))
    assert sum(len(one.sides) == 2 for one in stakes) == 5  # the first corner comes again
    gaps = np.hypot(*np.diff([one.place[:2] for one in stakes], axis=0).T)
    assert gaps.max() < 3.0 + 1.0 + OUT
    one = shaped(surface, 10.4, (2, 2))
    assert {station.sides for station in one.stations(1.5)} == {(2,)}
    assert one.line[0, 0] == pytest.approx(PAD[2, 0])
    assert one.line[-1, 0] == pytest.approx(PAD[3, 0])


def test_beside_side_slopes_it_begins_at_their_foot(ground: Ground) -> None:
    """What the slopes take is not counted again."""
    surface, level = yard(ground, 0.01), 10.4
    up, down = batter_shapes(PAD - surface.origin, level, 2.0)
    alone = finished_ground(surface, PAD, level, cut=up, fill=down)
    batter = Batter(2.0, alone.cut, alone.fill, alone.cut_area + alone.fill_area)
    made = shaped(surface, level, batter=batter)
    assert made.beside.foot.toe == pytest.approx(2.0 * (level - made.start))
    assert made.cut == 0.0
    assert made.fill == pytest.approx(made.ground.fill - alone.fill)
    assert 0.0 < made.fill < shaped(surface, level).fill
    top = PadTop(level, BUILDING.grown(MARGIN), ground=alone.surface)
    assert wall_falls(made.ground.surface, BUILDING, IRC_2015, pad=top)[2].verdict == "away"


def test_none_where_the_pad_is_too_low_or_shows_too_little(ground: Ground) -> None:
    """An inch of gravel stays free, 6 in below siding on a slab."""
    surface, start = yard(ground), 10.0 + NEEDED
    for shown, clear in ((0.0, 0.0254), (0.1524, 0.1524)):
        spec = SPEC._replace(shown=shown)
        assert design_plain_apron(surface, PAD, start + clear - 1e-4, (2, 2), spec) is None
        assert design_plain_apron(surface, PAD, start + clear + 1e-4, (2, 2), spec) is not None


def test_none_where_the_survey_ends_before_it_does(ground: Ground) -> None:
    """Ground to 2.7 m beyond the edge of the pad does not hold 10 ft beyond the long side."""
    level = 10.4
    assert design_plain_apron(yard(ground, size=5.0), PAD, level, (2, 2), SPEC) is None
    assert design_plain_apron(yard(ground), PAD, level, (2, 2), SPEC) is not None


def test_none_beside_inward_corners_nor_where_the_pad_covers_the_strip(ground: Ground) -> None:
    surface = yard(ground)
    ell = np.array([(12, 10), (18, 10), (18, 12), (15, 12), (15, 14), (12, 14)], dtype=float)
    assert design_plain_apron(surface, ell, 10.4, (0, 0), SPEC) is None
    assert design_plain_apron(surface, PAD, 10.4, (2, 2), SPEC._replace(margin=3.1)) is None
    assert design_plain_apron(surface, PAD, 10.4, (2, 2), SPEC._replace(margin=2.9)) is None  # over 3:1


def test_none_where_it_would_dam_water_up(ground: Ground) -> None:
    """A trough runs down past the pad, 2 m from its edge, along it: filled, water stands behind the soil. The
    same trough so shallow that what stands there soaks away does not matter."""

    def trough(deep: float) -> Surface:
        marks = np.arange(0.0, 30.1, 1.0)
        return ground(
            [
                (x, y, 10.0 + 0.01 * (x - 15.0) - deep * max(0.0, 1.0 - abs(y - 16.3) / 2.0))
                for x in marks
                for y in marks
            ]
        )

    assert design_plain_apron(trough(0.12), PAD, 10.5, (2, 2), SPEC) is None
    assert design_plain_apron(trough(0.5 * SOAKS), PAD, 10.5, (2, 2), SPEC) is not None


def test_a_turned_and_lifted_yard_takes_the_same(ground: Ground) -> None:
    surface = yard(ground, 0.01, hump=0.03)
    made = shaped(surface, 10.4)
    turn = np.radians(37.0)
    frame = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    shots = surface.stations.xyz.copy()
    shots[:, :2] = shots[:, :2] @ frame + (100.0, 50.0)
    shots[:, 2] += 7.0
    again = design_plain_apron(ground(shots), PAD @ frame + (100.0, 50.0), 17.4, (2, 2), SPEC)
    assert again is not None
    assert again.fill == pytest.approx(made.fill, rel=1e-6)
    assert again.start == pytest.approx(made.start + 7.0)
