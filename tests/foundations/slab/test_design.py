"""Slabs: exact volumes on ground that can be worked out by hand, edges, forms, sheets, joints, findings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import prism_sums
from gradework.errors import CheckError, InputError
from gradework.foundations.piers.spec import FrostRule
from gradework.foundations.slab import design as slab_design
from gradework.foundations.slab import underside
from gradework.foundations.slab.design import Slab, design_slab
from gradework.foundations.slab.quantities import (
    FILM_US,
    MESH_US,
    ConcreteSale,
    SheetKind,
    buy_concrete,
    cover,
    plan_joints,
    rib_volume,
)
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.foundations.slab.underside import edge_zones
from gradework.ground.surface import Surface
from gradework.units.amounts import M_PER_FT, M_PER_IN
from gradework.units.display import FEET

Ground = Callable[..., Surface]

HUT = Outline.rectangle((2.0, 2.0), (5.0, 4.0))
PLAIN = SlabSpec(
    level=10.5, thickness=0.1, edge_depth=0.1, strip=0.1, base=0.1, film=None, mesh=None, freeboard=0.15
)


def plane(rise: float = 0.0, level: float = 10.0) -> np.ndarray:
    return np.array([(x, y, level + rise * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])


def slab_on(ground: Ground, xyz: np.ndarray, spec: SlabSpec = PLAIN) -> Slab:
    return design_slab(ground(xyz), HUT, spec, SlabPrices(), FEET)


def test_on_level_ground_everything_is_a_box(ground: Ground) -> None:
    slab = slab_on(ground, plane())
    assert slab.concrete.volume == pytest.approx(2.0)  # 20 m² x 0.1
    assert slab.dig == pytest.approx(2.0)  # the strip only
    # From the stripped ground at 9.9 to the underside at 10.4: 0.5 m, 0.1 of it base course.
    assert slab.gravel == pytest.approx(10.0)
    assert slab.fill == pytest.approx(8.0)
    assert slab.fill_most == pytest.approx(0.4)


def test_on_a_slope_cut_and_fill_are_wedges(ground: Ground) -> None:
    # Ground 10 + 0.1 (x - 4.5); underside of the base 9.9 = stripped ground in the middle of the slab.
    xyz = plane(0.1, 10.0 - 0.45)
    slab = slab_on(ground, xyz, replace(PLAIN, level=10.1))
    wedge = 0.5 * 2.5 * 0.25 * 4.0
    assert slab.fill == pytest.approx(wedge)
    assert slab.dig == pytest.approx(2.0 + wedge)
    assert slab.gravel == pytest.approx(2.0 + wedge)
    assert slab.fill_most == pytest.approx(0.25)


def test_without_a_level_it_stands_clear_of_the_high_ground(ground: Ground) -> None:
    slab = slab_on(ground, plane(0.1), replace(PLAIN, level=None))
    assert slab.level == pytest.approx(10.0 + 0.7 + 0.15)


def test_edge_concrete_replaces_the_base_course_it_stands_in(ground: Ground) -> None:
    shallow = slab_on(ground, plane(), replace(PLAIN, edge_depth=0.2, edge_width=0.2))
    assert shallow.gravel == pytest.approx(10.0 - shallow.rib)
    assert shallow.dig == pytest.approx(2.0)


def test_an_edge_that_stands_in_fill_is_taken_out_of_the_fill(ground: Ground) -> None:
    """Its bottom at 10.2 stands above all stripped ground, so nothing more is dug for it."""
    deep = slab_on(ground, plane(), replace(PLAIN, edge_depth=0.3, edge_width=0.2))
    assert deep.gravel == pytest.approx(10.0 - deep.rib)
    assert deep.dig == pytest.approx(2.0)


TRENCH = 1.08 - 4 * 0.056 / 3
"""An edge 0.2 below the base course of 5 x 4 m, 0.2 wide below and 0.4 above: ∫ (18 r - 4 r²) dr from 0.2 to
0.4, 18 m round and four corners."""


def test_an_edge_deeper_than_the_base_course_is_dug_where_there_is_ground(ground: Ground) -> None:
    """Level ground at 10, slab at 10.1: the base lies in the room of the strip, the edge goes deeper."""
    slab = slab_on(ground, plane(), replace(PLAIN, level=10.1, edge_depth=0.4, edge_width=0.2))
    assert slab.dig == pytest.approx(2.0 + TRENCH)
    assert slab.fill == pytest.approx(0.0, abs=1e-12)
    assert slab.gravel == pytest.approx(2.0 - (slab.rib - TRENCH))


def test_on_a_slope_the_trench_ends_where_the_ground_does(ground: Ground) -> None:
    """Stripped ground 9.9 + 0.3 u, u from the middle; the base course ends at 9.9, the edge e deeper.

    Dug is where 0.3 u + e > 0. Right of the middle that is the wedge and half of the trench; left of it,
    along both long sides, the triangle e² / (2 x 0.3) for each e across the edge: 0.2 at its bottom, then
    from 0.2 to 0.
    """
    spec = replace(PLAIN, level=10.1, edge_depth=0.4, edge_width=0.2)
    slab = slab_on(ground, plane(0.3, 10.0 - 0.3 * 4.5), spec)
    wedge = 0.3 * 2.5**2 / 2 * 4.0
    beyond = 2 * (0.2 * 0.2**2 + 0.2**3 / 3) / (2 * 0.3)
    dug = wedge + 0.5 * TRENCH + beyond
    assert slab.dig == pytest.approx(2.0 + dug)
    assert slab.fill == pytest.approx(dug - TRENCH)
    assert slab.gravel == pytest.approx(2.0 - (slab.rib - TRENCH) + dug - TRENCH)
    # The deepest fill stands just inside the edge of the low side, 0.4 from it: 0.3 (2.5 - 0.4).
    assert slab.fill_most == pytest.approx(0.63)


def rib_by_slices(long: float, wide: float, depth: float, width: float, slope: float) -> float:
    """Cut a rectangular edge into thin slices: the outer rectangle less the inner one at each height."""
    z = (np.arange(20000) + 0.5) / 20000 * depth
    reach = width + slope * z
    return float((long * wide - (long - 2 * reach) * (wide - 2 * reach)).mean() * depth)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(3.0, 9.0), st.floats(3.0, 9.0), st.floats(0.05, 0.5), st.floats(0.0, 0.4), st.floats(0.0, 2.0)
)
def test_edge_of_a_rectangle_equals_slices(
    long: float, wide: float, depth: float, width: float, slope: float
) -> None:
    outline = Outline.rectangle((1.0, -3.0), (long, wide), 17.0)
    found = rib_volume(outline, depth=depth, width=width, slope=slope)
    assert found == pytest.approx(rib_by_slices(long, wide, depth, width, slope), rel=1e-6)


def test_edge_of_an_l_shape_is_two_boxes_of_sides() -> None:
    corner = Outline.polygon([(0, 0), (6, 0), (6, 3), (3, 3), (3, 6), (0, 6)])
    # Upright edge 0.5 wide: the area within 0.5 of the sides, by rectangles: 6x6 ring less the notch's.
    inner = 5.0 * 2.0 + 2.0 * 3.0
    assert rib_volume(corner, depth=0.2, width=0.5, slope=0.0) == pytest.approx(0.2 * (27.0 - inner))


def test_edges_that_meet_are_refused(ground: Ground) -> None:
    with pytest.raises(InputError, match="slab-edges-meet"):
        slab_on(ground, plane(), replace(PLAIN, edge_depth=0.5, edge_width=1.8))
    assert rib_volume(HUT, depth=0.0, width=5.0) == 0.0


def rectangle(length: float, width: float) -> Outline:
    return Outline.rectangle((0.0, 0.0), (length, width))


def test_sheets_lap_and_choose_the_better_direction() -> None:
    kind = SheetKind("sheet", 2.0, 5.0, 0.2, "test")
    along = cover(rectangle(5.0, 3.8), kind)
    assert (along.runs, along.pieces) == (pytest.approx((5.0, 5.0)), 2)
    assert along.area == along.bought == pytest.approx(20.0)
    across = cover(rectangle(3.8, 5.0), kind)
    assert (across.runs, across.pieces) == (pytest.approx((5.0, 5.0)), 2)
    longer = cover(rectangle(9.8, 2.0), kind)
    assert longer.runs == pytest.approx((9.8,))
    assert longer.cuts[0] == pytest.approx((5.0, 5.0))
    assert cover(rectangle(0.1, 5.0), kind, inset=0.2).pieces == 0


@pytest.mark.parametrize(("size", "sheets"), [((7, 12), 3), ((8, 20), 5)])
def test_offcuts_need_laps_too(size: tuple[int, int], sheets: int) -> None:
    """Mesh of 5 x 10 ft, 2 in from the edge: 7 x 12 ft is three strips of 6 ft 8 in. Two of them leave 3 ft
    4 in each, which lapped by 8 in reach 6 ft only, so it takes a third sheet; 8 x 20 ft takes a fifth."""
    mesh = cover(rectangle(size[0] * M_PER_FT, size[1] * M_PER_FT), MESH_US, inset=2.0 * M_PER_IN)
    assert mesh.pieces == sheets


ELL = np.array([(0, 0), (16, 0), (16, 6), (8, 6), (8, 12), (0, 12)], dtype=float) * M_PER_FT


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("mirrored", [False, True])
def test_mesh_and_film_follow_an_l(turn: int, mirrored: bool) -> None:
    """16 x 12 ft less 8 x 6 ft is 144 sq ft. Along the short side, 2 in off the edge: two strips of 5 ft over
    each arm, 11 ft 8 in and 5 ft 8 in long, 173 sq ft; a rectangle round it would take 235."""
    ring = (ELL * [-1.0, 1.0])[::-1] if mirrored else ELL
    quarter = np.array([(0.0, 1.0), (-1.0, 0.0)])
    outline = Outline.polygon([ring @ np.linalg.matrix_power(quarter, turn) + [5.0, 9.0]])
    mesh = cover(outline, MESH_US, inset=2.0 * M_PER_IN)
    assert sorted(run / M_PER_FT for run in mesh.runs) == pytest.approx(
        [5 + 2 / 3, 5 + 2 / 3, 11 + 2 / 3, 11 + 2 / 3]
    )
    around = cover(rectangle(16 * M_PER_FT, 12 * M_PER_FT), MESH_US, inset=2.0 * M_PER_IN)
    assert mesh.pieces < around.pieces
    film = cover(outline, FILM_US, turn_up=0.3)
    assert film.pieces == 1
    assert film.area > outline.area


@pytest.mark.parametrize("turn", range(4))
def test_joints_run_through_the_inward_corner_and_lie_on_the_slab(turn: int) -> None:
    """Through (8, 6): 6 ft down to the long side and 8 ft across to the short one; none beside the slab."""
    quarter = np.array([(0.0, 1.0), (-1.0, 0.0)])
    joints = plan_joints([ELL @ np.linalg.matrix_power(quarter, turn)], 4.0 * M_PER_IN)
    assert joints.corners == 1
    assert {joints.along, joints.across} == {2}
    assert joints.length / M_PER_FT == pytest.approx(6.0 + 8.0, abs=1e-4)
    assert joints.spacing / M_PER_FT == pytest.approx(8.0)


def test_joints_end_at_a_hole() -> None:
    box = np.array([(0, 0), (3, 0), (3, 3), (0, 3)], dtype=float)
    joints = plan_joints([box, (box / 3.0 + 1.0)[::-1]], 0.1)
    assert (joints.along, joints.across, joints.corners) == (3, 3, 4)
    assert joints.length == pytest.approx(4 * 2.0, abs=1e-4)


def test_joints_keep_the_published_range() -> None:
    joints = plan_joints(rectangle(6.0, 4.0).rings, 0.1)
    assert 2.4 <= 6.0 / joints.along <= 3.6
    assert joints.spacing <= 3.0 + 1e-9
    assert joints.length == pytest.approx((joints.along - 1) * 4.0 + (joints.across - 1) * 6.0, abs=1e-4)
    assert plan_joints(rectangle(2.0, 2.0).rings, 0.1).length == 0.0


def test_bags_or_ready_mix() -> None:
    sale = ConcreteSale(
        bag=36.287, bag_price=7.0, mix_price=200.0, mix_step=0.2, short_load=2.0, short_charge=100.0
    )
    small, large = buy_concrete(0.1, 0.1, sale), buy_concrete(3.0, 0.1, sale)
    assert small.cheaper == "bags"
    assert small.short
    assert (large.cheaper, large.short) == ("ready-mix", False)
    assert large.mix == pytest.approx(3.4)
    assert large.cost == large.mix_cost == pytest.approx(680.0)
    nothing = buy_concrete(0.0, 0.1, sale)
    assert (nothing.bags, nothing.mix, nothing.short) == (0, 0.0, False)


def test_findings(ground: Ground) -> None:
    thin = slab_on(ground, plane(), replace(PLAIN, thickness=0.07, edge_depth=0.07, heated=True))
    codes = {finding.code: finding.severity for finding in thin.findings}
    assert codes["slab-thin"] == "warning"
    assert codes["slab-film-missing"] == "warning"
    assert codes["slab-edge-bare"] == "stop"
    assert "slab-fill-deep" not in codes
    [bare] = [finding for finding in thin.findings if finding.code == "slab-edge-bare"]
    low = min(float(side.ground.min()) for side in thin.sides)
    assert bare.value == pytest.approx(thin.level - 0.07 - low)
    # the depth that is told ends at the lowest ground, and then nothing hangs in the air
    deep = slab_on(ground, plane(), replace(PLAIN, level=thin.level, edge_depth=thin.level - low))
    assert "slab-edge-bare" not in {finding.code for finding in deep.findings}
    high = slab_on(ground, plane(), replace(PLAIN, level=11.0))
    assert {f.code: f.severity for f in high.findings}["slab-fill-deep"] == "stop"
    earth = slab_on(ground, plane(), replace(PLAIN, fill="earth"))
    assert "slab-fill-deep" in {f.code for f in earth.findings}
    usual = slab_on(ground, plane(), SlabSpec())
    assert "slab-film-optional" in {f.code for f in usual.findings}


def test_frost_depth_of_the_edge(ground: Ground) -> None:
    def severity(spec: SlabSpec) -> str | None:
        found = slab_on(ground, plane(), spec).findings
        return next((f.severity for f in found if f.code == "slab-frost"), None)

    shallow = replace(PLAIN, level=10.1, edge_depth=0.3)
    assert severity(shallow) == "note"
    assert severity(replace(shallow, frost=FrostRule(exempt_area=5.0))) == "warning"
    assert severity(replace(shallow, frost=FrostRule(depth=0.2))) is None
    assert severity(replace(shallow, edge_depth=0.41)) is None


def test_heavy_bags_are_told(ground: Ground) -> None:
    dear = replace(SlabPrices(), concrete=ConcreteSale(mix_price=10000.0))
    slab = design_slab(ground(plane()), HUT, PLAIN, dear, FEET)
    assert "bag-heavy" in {finding.code for finding in slab.findings}


def test_cost_adds_up(ground: Ground) -> None:
    slab = slab_on(ground, plane(), SlabSpec())
    prices = slab.prices
    assert slab.film is not None
    assert slab.mesh is not None
    by_hand = slab.concrete.cost + slab.gravel * prices.gravel + slab.dig * prices.digging
    by_hand += slab.film.area * prices.film + slab.mesh.area * prices.mesh
    by_hand += sum(form.height * form.length for form in slab.forms) * prices.forms
    assert slab.cost_total == pytest.approx(by_hand)


def test_earth_fill_leaves_the_stone_and_takes_the_subsoil_first(ground: Ground) -> None:
    """The slope of the wedges: 5 m³ dug below the strip at the high side, 5 m³ to fill at the low side."""
    xyz, spec = plane(0.1, 10.0 - 0.45), replace(PLAIN, level=10.1)
    gravel, earth = slab_on(ground, xyz, spec), slab_on(ground, xyz, replace(spec, fill="earth"))
    wedge = 0.5 * 2.5 * 0.25 * 4.0
    assert (gravel.earth, gravel.reused, gravel.earth_loose) == (0.0, 0.0, 0.0)
    assert earth.dig == pytest.approx(gravel.dig)
    assert earth.gravel == pytest.approx(2.0)  # 20 m² x 0.1: the base course alone
    assert earth.earth == earth.fill == pytest.approx(wedge)
    # Loam: 1 m³ in place makes 0.9 compacted and 1.25 loose (docs/materials.md).
    assert earth.reused == pytest.approx(wedge)
    assert earth.earth_brought == pytest.approx(0.1 * wedge)
    assert earth.earth_loose == pytest.approx(0.1 * wedge / 0.9 * 1.25)
    prices = earth.prices
    saved = (gravel.gravel - earth.gravel) * prices.gravel + wedge * prices.hauling
    assert gravel.cost_total - earth.cost_total == pytest.approx(saved - earth.earth_loose * prices.earth)


def test_enough_subsoil_brings_no_earth_and_topsoil_makes_none(ground: Ground) -> None:
    low = slab_on(ground, plane(0.1, 9.55), replace(PLAIN, level=10.0, fill="earth"))
    assert low.reused == pytest.approx(low.earth / 0.9)
    assert 0.0 < low.reused < low.subsoil < low.dig
    assert low.earth_loose == 0.0
    flat = slab_on(ground, plane(), replace(PLAIN, fill="earth"))
    assert (flat.reused, flat.subsoil) == pytest.approx((0.0, 0.0))
    assert flat.earth_brought == pytest.approx(8.0)


@pytest.mark.parametrize(
    "wrong",
    [{"thickness": 0.0}, {"edge_depth": 0.05}, {"waste": 2.0}, {"fill": "sand"}, {"level": float("inf")}],
)
def test_an_impossible_table_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError, match="slab-spec-impossible"):
        SlabSpec(**wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("depth", [0.1, 0.18, 0.4])
def test_soil_stone_and_concrete_that_do_not_add_up_stop_the_run(
    ground: Ground, monkeypatch: pytest.MonkeyPatch, depth: float
) -> None:
    """The digging and filling of a level a hair off the right one is found, from the mean of the ground."""
    spec = replace(PLAIN, edge_depth=depth, edge_width=0.3)
    slab_on(ground, plane(0.05), spec)
    right = prism_sums
    monkeypatch.setattr(underside, "prism_sums", lambda h, areas, at: right(h, areas, at + 1e-6))
    with pytest.raises(CheckError, match="top of the slab"):
        slab_on(ground, plane(0.05), spec)


@pytest.mark.parametrize(
    ("wrong", "told"), [({"depth": 0.2}, "its strips"), ({"base": 0.1, "lost": 1}, "zones of the slab cover")]
)
def test_zones_that_are_not_the_edge_stop_the_run(
    ground: Ground, monkeypatch: pytest.MonkeyPatch, wrong: dict[str, float], told: str
) -> None:
    def other(rings: object, width: float, depth: float, base: float, *, convex: bool) -> object:
        zones = edge_zones(rings, width, wrong.get("depth", depth), base, convex=convex)  # type: ignore[arg-type]
        return zones[int(wrong.get("lost", 0)) :]

    monkeypatch.setattr(slab_design, "edge_zones", other)
    with pytest.raises(CheckError, match=told):
        slab_on(ground, plane(0.05), replace(PLAIN, edge_depth=0.4, edge_width=0.3))


@pytest.mark.parametrize(
    "rings",
    [
        [[(2, 2), (7, 2), (7, 6), (5, 6), (5, 4.3), (4, 4.3), (4, 6), (2, 6)]],  # a notch, no room below it
        [[(2, 2), (7, 2), (7, 7), (2, 7)], [(2.5, 2.5), (6.5, 2.5), (6.5, 6.5), (2.5, 6.5)]],  # a thin ring
    ],
)
def test_edges_that_meet_in_a_hollow_outline_are_refused(ground: Ground, rings: list[object]) -> None:
    spec = replace(PLAIN, edge_depth=0.5, edge_width=0.8)
    with pytest.raises(InputError, match="slab-edges-meet"):
        design_slab(ground(plane()), Outline.polygon(rings), spec, SlabPrices(), FEET)
