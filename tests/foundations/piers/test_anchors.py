"""Anchors hold what wind asks, stand clear of holes, and are told short where no more have room."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from gradework.earthwork.outline import Outline
from gradework.foundations.comparison import option_of_piers
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp, PierPrices, PierSpec
from gradework.foundations.timber.wood import section_of
from gradework.ground.surface import Surface
from gradework.units.amounts import KG_PER_LB, M_PER_FT
from gradework.units.display import FEET

Ground = Callable[..., Surface]
HUT = Outline.rectangle((3.0, 3.0), (4.8, 3.6))
POUND = KG_PER_LB * 9.80665e-3  # kN


def plan(ground: Ground, outline: Outline = HUT, rows: int = 2, **given: object) -> Piers:
    xyz = np.array([(x, y, 100.0 + 0.05 * x) for x in (0.0, 22.0) for y in (0.0, 11.0)])
    spec = PierSpec(layout=RowLayout(rows=rows), **given)  # type: ignore[arg-type]
    return design_piers(ground(xyz), outline, spec, PierPrices(), FEET)


def held(piers: Piers) -> dict[str, bool | None]:
    return {check.check: check.holds for check in piers.checks if check.check in ("sliding", "uplift")}


def test_four_corners_hold_an_ordinary_shed(ground: Ground) -> None:
    piers = plan(ground)
    assert piers.anchors is not None
    assert (piers.anchors.count, piers.anchors.sides) == (4, (2, 2))
    assert held(piers) == {"sliding": True, "uplift": True}
    (told,) = [one for one in piers.findings if one.code == "pier-uplift"]
    assert "4 ground anchors of 3,150 lb" in told.advice
    assert "no wind given" in told.advice


def test_anchors_stand_near_the_corners_and_clear_of_every_hole(ground: Ground) -> None:
    piers = plan(ground)
    assert piers.anchors is not None
    for x, y in piers.anchors.places:
        assert min(x - 3.0, 7.8 - x) == pytest.approx(2.0 * M_PER_FT)
        for pier in piers.piers:
            (low, high) = pier.hole.rings[0].min(axis=0), pier.hole.rings[0].max(axis=0)
            assert not (low[0] < x < high[0] and low[1] < y < high[1])


def test_no_anchor_stands_in_the_notch_of_an_l(ground: Ground) -> None:
    """Each is within reach of a strap to a skid over it, also where the far row is the shorter."""
    ring = np.array([(3, 3), (7.8, 3), (7.8, 6.6), (5.4, 6.6), (5.4, 4.8), (3, 4.8)], dtype=float)
    anchors = plan(ground, Outline.polygon(ring)).anchors
    assert anchors is not None
    assert anchors.count >= 4
    away = [shapely.Polygon(ring).distance(shapely.Point(x, y)) for x, y in anchors.places]
    assert max(away) <= 1.0 * M_PER_FT


STIFF = FloorBuildUp(skid=section_of("4x8"))
U = np.array(
    [(2, 3), (7.4, 3), (7.4, 6.8), (5.6, 6.8), (5.6, 4.6), (3.8, 4.6), (3.8, 6.8), (2, 6.8)], dtype=float
)
OPEN_END = np.array(
    [(2, 3), (7.4, 3), (7.4, 4.3), (4, 4.3), (4, 5.5), (7.4, 5.5), (7.4, 6.8), (2, 6.8)], dtype=float
)


def test_each_arm_of_a_u_is_held_by_itself(ground: Ground) -> None:
    """The far row is two skids: an anchor near both ends of each, none in the notch between them."""
    piers = plan(ground, Outline.polygon(U), 4, floor=STIFF)
    assert piers.anchors is not None
    far = np.sort(piers.anchors.places[piers.anchors.places[:, 1] > 6.8, 0])
    assert len(far) >= 4
    for start, end in ((2.0, 3.8), (5.6, 7.4)):
        own = far[(far > start) & (far < end)]
        assert len(own) >= 2
        assert own[0] - start <= 2.0 * M_PER_FT + 1e-9
        assert end - own[-1] <= 2.0 * M_PER_FT + 1e-9
    assert not ((far > 3.8) & (far < 5.6)).any()
    assert held(piers) == {"sliding": True, "uplift": True}


@pytest.mark.parametrize("ring", [U, OPEN_END])
def test_no_anchor_stands_in_a_hole_or_under_the_floor(ground: Ground, ring: np.ndarray) -> None:
    """Holes reach out beyond the ends, and weak anchors are so many that some stand there."""
    piers = plan(ground, Outline.polygon(ring), 4, floor=STIFF, anchor=100 * POUND, wind=60.0)
    assert piers.anchors is not None
    assert piers.anchors.sides[1] > 2
    holes = shapely.union_all([shapely.Polygon(pier.hole.rings[0]) for pier in piers.piers])
    assert holes.difference(shapely.Polygon(ring)).area > 0.05
    places = [shapely.Point(place) for place in piers.anchors.places]
    assert min(holes.distance(place) for place in places) > 0.1
    assert min(shapely.Polygon(ring).distance(place) for place in places) > 0.1


def test_a_long_side_has_one_more_at_least_every_12_ft(ground: Ground) -> None:
    piers = plan(ground, Outline.rectangle((2.0, 3.0), (9.0, 3.6)))
    assert piers.anchors is not None
    assert piers.anchors.sides[0] >= 4
    along = np.unique(piers.anchors.places[:, 0].round(6))
    assert np.diff(along).max() <= 12.0 * M_PER_FT


def test_weaker_anchors_are_more_until_none_has_room(ground: Ground) -> None:
    counts = [plan(ground, anchor=load * POUND).anchors for load in (3150, 1200, 900)]
    assert [one.count for one in counts if one is not None] == sorted(one.count for one in counts if one)
    short = plan(ground, anchor=300 * POUND)
    assert short.anchors is not None
    assert held(short)["sliding"] is False
    (told, *_) = [one for one in short.findings if one.code == "pier-anchors-short"]
    assert told.severity == "stop"
    line = told.advice.partition('anchor = "')[2].partition(" lb")[0]
    mended = plan(ground, anchor=float(line) * POUND)
    assert held(mended) == {"sliding": True, "uplift": True}
    worse = plan(ground, anchor=(float(line) - 100.0) * POUND)
    assert False in held(worse).values()


def test_a_stronger_wind_asks_for_more(ground: Ground) -> None:
    def asked(**given: object) -> float:
        anchors = plan(ground, **given).anchors
        assert anchors is not None
        return anchors.pulls[0].sliding

    assert asked(wind=70.0) > asked(wind=50.0) > asked(wind=30.0)


def test_anchors_are_priced_and_worked(ground: Ground) -> None:
    piers = plan(ground)
    option = option_of_piers(piers, HUT)
    assert option.takes["ground anchors"] == 4
