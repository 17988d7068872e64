"""Spacing from the wood, loads pier by pier, and what is told where wood does not hold."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.errors import Finding
from gradework.foundations.piers.carrying import place_piers, shell_over, span_checks
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp, FrostRule, PierLoads, PierPrices, PierSpec
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND
from gradework.foundations.slab.design import design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.foundations.timber.load_path import Shell
from gradework.foundations.timber.wood import Strength, Wood, section_of
from gradework.ground.surface import Surface
from gradework.units.display import FEET, METRIC

Ground = Callable[..., Surface]
FOOT, INCH = 0.3048, 0.0254
POUND = 4.4482216152605e-3
PSF = POUND / FOOT**2

STUDIO = Outline.rectangle((5.0, 5.0), (16 * FOOT, 12 * FOOT))
PINE = Wood("southern pine")
WORKED = PierLoads(snow=35 * PSF, roof_dead=10 * PSF)
AT_THE_WALLS = RowLayout(end_inset=0.0, side_inset=0.0)


def level() -> np.ndarray:
    return np.array([(x, y, 50.0) for x in (0.0, 7.0, 15.0) for y in (0.0, 7.0, 15.0)])


def planned(ground: Ground, **changed: object) -> Piers:
    return design_piers(ground(level()), STUDIO, replace(PierSpec(), **changed), PierPrices(), FEET)


def stops(plan: Piers) -> dict[str, str]:
    return {finding.code: finding.advice for finding in plan.findings if finding.severity == "stop"}


@pytest.mark.parametrize(("skid", "most", "each"), [("4x4", 37, 7), ("4x6", 56, 5)])
def test_the_worked_building_asks_for_its_spacing(skid: str, most: int, each: int) -> None:
    """529 plf on the outer rows: every 3 ft 1 in or 4 ft 8 in, so 7 and 5 piers on 16 ft."""
    floor = FloorBuildUp(skid=section_of(skid), wood=PINE)
    spec = PierSpec(layout=replace(AT_THE_WALLS, rows=3), floor=floor, loads=WORKED)
    carried = place_piers(STUDIO, spec, FEET)
    assert carried.layout.spacing == pytest.approx(most * INCH)
    assert len(carried.places) == 3 * each
    outer = carried.loading.total[carried.local[:, 1] < 0.1]
    assert outer[1:-1] / POUND == pytest.approx(529 * 16 / (each - 1))
    assert carried.loading.total.sum() / POUND == pytest.approx(23456)


def test_rows_follow_from_the_joists() -> None:
    """Least species 2x6 at 16 in span 8 ft 3 in, 2x4 only 5 ft 5 in: 12 ft less 2 ft takes 3 rows either way;
    at 24 in the 2x4 span 4 ft 6 in, so 4 rows."""
    for joist, apart, rows in (("2x6", 16, 3), ("2x4", 16, 3), ("2x4", 24, 4), ("2x10", 16, 2)):
        floor = FloorBuildUp(joist=section_of(joist), joist_spacing=apart * INCH)
        carried = place_piers(STUDIO, PierSpec(floor=floor), FEET)
        assert len({place.row for place in carried.places}) == rows


def test_a_spacing_that_follows_is_a_whole_inch_or_centimetre() -> None:
    for show, step in ((FEET, INCH), (METRIC, 0.01)):
        layout = place_piers(STUDIO, PierSpec(), show).layout
        for spacing in (layout.spacing, layout.row_spacing):
            assert spacing is not None
            assert spacing / step == pytest.approx(round(spacing / step), abs=1e-6)


@pytest.mark.parametrize("outline", [
    STUDIO,
    Outline.polygon(np.array([(2, 2), (10, 2), (10, 5), (6, 5), (6, 9), (2, 9)], float)),
    Outline.polygon(np.array([(2, 2), (9, 2), (11, 6), (4, 8)], float)),
])  # fmt: skip
@pytest.mark.parametrize("ridge", ["longer side", "second side"])
def test_what_follows_from_the_wood_holds_on_any_outline(outline: Outline, ridge: str) -> None:
    spec = PierSpec(floor=FloorBuildUp(section_of("4x6"), wood=PINE), ridge=ridge)  # type: ignore[arg-type]
    carried = place_piers(outline, spec, FEET)
    (skid,) = [check for check in span_checks(carried, outline, spec, us=True) if check.check == "skid span"]
    assert skid.holds
    assert carried.loading.total.min() > 0.0


def test_the_ridge_turns_with_the_rows() -> None:
    assert shell_over(STUDIO, PierSpec()).ridge_along
    assert not shell_over(STUDIO, PierSpec(ridge="second side")).ridge_along
    across = PierSpec(layout=RowLayout(along="second side"))
    assert not shell_over(STUDIO, across).ridge_along


def test_default_piers_have_no_check_that_fails(ground: Ground) -> None:
    plan = planned(ground)
    assert stops(plan) == {}
    assert {check.holds for check in plan.checks} == {True}
    assert len(plan.checks) >= 9
    (taken,) = [f for f in plan.findings if f.code == "pier-load-path"]
    for told in ("ridge along the rows", "4x4", "2x6", "load duration factor 1.0", "35 psf", "weakest"):
        assert told in taken.advice


def test_the_old_spacing_of_six_feet_stops(ground: Ground) -> None:
    plan = planned(ground, layout=RowLayout(spacing=6 * FOOT))
    told = stops(plan)
    assert set(told) == {"pier-skid-span"}
    assert 'spacing = "' in told["pier-skid-span"]
    assert plan.top is not None
    (check,) = [check for check in plan.checks if check.check == "skid span"]
    assert check.holds is False
    # the line that is told mends it, and so does the size
    inches = int(told["pier-skid-span"].partition('spacing = "')[2].partition(" in")[0])
    assert stops(planned(ground, layout=RowLayout(spacing=inches * INCH))) == {}
    size = told["pier-skid-span"].partition('skid = "')[2].partition('"')[0]
    larger = FloorBuildUp(skid=section_of(size))
    assert stops(planned(ground, layout=RowLayout(spacing=6 * FOOT), floor=larger)) == {}


def test_two_rows_ten_feet_apart_stop(ground: Ground) -> None:
    stout = FloorBuildUp(section_of("4x8"), wood=PINE)
    told = stops(planned(ground, layout=RowLayout(rows=2, spacing=1.0), floor=stout))
    assert set(told) == {"pier-joist-span"}
    assert "rows = 3" in told["pier-joist-span"]
    assert 'joist = "2x8"' in told["pier-joist-span"]
    assert stops(planned(ground, layout=RowLayout(rows=3, spacing=1.0), floor=stout)) == {}


def test_ends_that_reach_too_far_stop_with_the_inset_that_holds(ground: Ground) -> None:
    """A ridge beam sets half the roof down at the ends of the middle row."""
    beam = Shell(roof="ridge beam")
    told = stops(planned(ground, shell=beam, layout=RowLayout()))
    assert set(told) == {"pier-skid-end"}
    inches = int(told["pier-skid-end"].partition('end_inset = "')[2].partition(" in")[0])
    assert 0 < inches < 12
    closer = RowLayout(end_inset=inches * INCH)
    assert "pier-skid-end" not in stops(planned(ground, shell=beam, layout=closer))
    walls = stops(planned(ground, layout=RowLayout(side_inset=24 * INCH)))
    assert "pier-joist-end" in walls


@pytest.mark.parametrize(("skid", "inches"), [("4x4", 9), ("4x6", 12)])
def test_the_first_pier_stands_as_near_to_the_end_as_the_skid_asks(
    ground: Ground, skid: str, inches: int
) -> None:
    """20 x 16 ft, rows at 1, 8 and 15 ft: the middle skid bears 352 plf, at its end 7 ft of gable or 526 lb.

    A hem-fir 4x4 bears 867 psi x 7.146 in³ = 6 195 lb-in: 9.35 in beyond the pier. A 4x6 bears all of 12 in.
    """
    floor = FloorBuildUp(section_of(skid), wood=Wood("hem-fir"))
    hut = Outline.rectangle((4.0, 4.0), (6.1, 4.9))
    drawn = design_piers(ground(level()), hut, PierSpec(floor=floor), PierPrices(), FEET)
    assert drawn.carried.layout.end_inset == pytest.approx(inches * INCH)
    assert "pier-skid-end" not in stops(drawn)
    given = PierSpec(floor=floor, layout=RowLayout(end_inset=12 * INCH))
    kept = design_piers(ground(level()), hut, given, PierPrices(), FEET)
    assert ("pier-skid-end" in stops(kept)) is (inches < 12)


def test_blocks_stay_within_the_building_however_near_to_its_end_the_skid_asks(ground: Ground) -> None:
    weak = FloorBuildUp(wood=Wood(own=Strength(300.0, 800.0, 2000.0, 9e6)))
    drawn = planned(ground, floor=weak)
    assert drawn.carried.layout.end_inset == pytest.approx(4 * INCH)  # half of 7 5/8 in, to the inch above


@pytest.mark.parametrize("inches", [30, 27, 24])
def test_the_line_told_for_walls_beyond_the_rows_does_not_lead_into_the_next_stop(
    ground: Ground, inches: int
) -> None:
    """Two rows so close to the walls that the joists hold at the ends are too far apart for them."""
    layout = RowLayout(rows=2, side_inset=inches * INCH)
    told = stops(planned(ground, layout=layout))["pier-joist-end"]
    found = re.search(r'Set side_inset = "(\d+) in" and rows = (\d) under \[piers\]', told)
    assert found is not None
    mended = replace(layout, side_inset=int(found[1]) * INCH, rows=int(found[2]))
    assert [code for code in stops(planned(ground, layout=mended)) if code.startswith("pier-joist")] == []
    assert mended.rows == 3


def test_piers_that_do_not_line_up_leave_spans_open(ground: Ground) -> None:
    places = tuple((f"p{k}", 5.4 + 0.8 * (k % 6), 5.4 + 0.7 * (k // 6) + 0.06 * (k % 6)) for k in range(24))
    plan = planned(ground, positions=places, pads=(), margin=0.02)
    (check,) = [check for check in plan.checks if check.check == "skid span"]
    assert check.holds is None
    assert "pier-rows-unknown" in {finding.code for finding in plan.findings}


def test_loads_grow_pier_by_pier_and_never_cheapen_the_plan(ground: Ground) -> None:
    """Adding weight, a weaker soil, or taking the pads away never lowers the cost of the best plan."""
    layout = RowLayout(rows=3, spacing=1.2)
    strong = FloorBuildUp(section_of("6x6"), section_of("2x12"), wood=PINE)
    light = planned(ground, layout=layout, floor=strong)
    heavier = [
        planned(ground, layout=layout, floor=strong, loads=PierLoads(snow=60 * PSF)),
        planned(ground, layout=layout, floor=strong, loads=PierLoads(bearing=1000 * PSF)),
        planned(ground, layout=layout, floor=strong, pads=()),
    ]
    for plan in heavier:
        cost = sum(pier.cost for pier in plan.piers) if plan.top is not None else math.inf
        assert cost >= sum(pier.cost for pier in light.piers) - 1e-9
    assert sum(pier.cost for pier in heavier[0].piers) > sum(pier.cost for pier in light.piers)


@pytest.mark.parametrize(
    ("ridge", "layout", "line"),
    [
        ("longer side", RowLayout(rows=2, spacing=40 * INCH, end_inset=0.0, side_inset=0.0), "rows = 3"),
        ("second side", RowLayout(rows=3, spacing=40 * INCH, end_inset=0.0, side_inset=0.0), "spacing = "),
    ],
)
def test_a_ridge_post_stands_on_a_pier_or_stops(
    ground: Ground, ridge: str, layout: RowLayout, line: str
) -> None:
    """Two rows leave the middle of a gable bare by 6 ft, six piers on 16 ft that of a row by 1.6 ft."""
    stout = FloorBuildUp(section_of("4x8"), section_of("2x12"), wood=PINE)
    beam: dict[str, object] = {"shell": Shell(roof="ridge beam"), "ridge": ridge, "floor": stout}
    plan = planned(ground, layout=layout, **beam)
    (check,) = [check for check in plan.checks if check.check == "ridge post"]
    assert check.value == pytest.approx(6 * FOOT if layout.rows == 2 else 16 * FOOT / 10)
    assert (check.limit, check.source) == (4 * INCH, "common practice")
    told = stops(plan)["pier-ridge-post"]
    assert line in told
    mended = replace(layout, rows=3)
    if layout.rows != 2:
        inches = int(told.partition('spacing = "')[2].partition(" in")[0])
        mended = replace(layout, spacing=inches * INCH)
    assert "pier-ridge-post" not in stops(planned(ground, layout=mended, **beam))
    assert "ridge post" not in {check.check for check in planned(ground, layout=layout, floor=stout).checks}


ELL = np.array([(2, 2), (10, 2), (10, 5), (6, 5), (6, 9), (2, 9)], float)
STOUT = FloorBuildUp(section_of("4x6"), section_of("2x10"), wood=PINE)


def planned_ell(ground: Ground, **changed: object) -> Piers:
    spec = replace(PierSpec(floor=STOUT), **changed)
    return design_piers(ground(level()), Outline.polygon(ELL), spec, PierPrices(), FEET, in_full=False)


def test_the_arm_of_an_ell_does_not_hang_on_one_row(ground: Ground) -> None:
    """Three rows on 7 m: the one at 3.5 m ends where the 3 m wide arm begins, and leaves 2.7 m of it free."""
    plan = planned_ell(ground)
    (check,) = [check for check in plan.checks if check.check == "joist end"]
    section, strength = PINE.sized(section_of("2x10"), shared=True)
    apart, free = 16 * INCH, 3.0 - FOOT
    wall = 8 * PSF * 8 * FOOT + 35 * PSF * (3.5 + FOOT)  # an eave wall with half the roof and its eave
    moment = apart * (50 * PSF * free**2 / 2 + wall * free)
    assert check.value == pytest.approx(moment / section.modulus)
    assert check.limit == pytest.approx(strength.bending)
    told = stops(plan)["pier-joist-end"]
    assert "rows = 4 under [piers]" in told
    assert "pier-joist-end" not in stops(planned_ell(ground, layout=RowLayout(rows=4)))


def test_a_wall_between_two_piers_bends_the_skid_below_it(ground: Ground) -> None:
    """Four rows: the inner wall of the ell, 4 m along, stands on the skid at 2.4 m between two piers."""
    plan = planned_ell(ground, layout=RowLayout(rows=4, spacing=1.2))
    carried = plan.carried
    (check,) = [check for check in plan.checks if check.check == "skid wall"]
    skid = carried.skids[1]
    near = np.linspace(3.0, 7.0, 40_001)
    away = [np.hypot(4.0 - u, near - v) for u, v in carried.local]
    share = np.isin(np.argmin(away, axis=0), skid.piers).mean()
    force = share * 4.0 * 8 * PSF * (8 * FOOT + 7.0 / 12)  # a gable wall, with its rise on average
    start = max(u for u in skid.places if u < 4.0)
    span, at = skid.gaps[0], 4.0 - start
    number = skid.places.index(start)
    load = max(each.total for each in skid.loads(carried.loading)[number : number + 2])
    section, strength = PINE.sized(section_of("4x6"))
    bent = (load * span**2 / 8 + force * at * (span - at) / span) / section.modulus
    assert check.value == pytest.approx(bent, rel=1e-3)
    assert check.limit == strength.bending
    assert "skid wall" not in {check.check for check in planned(ground).checks}
    weak = replace(STOUT, skid=section_of("4x4"))
    told = stops(planned_ell(ground, floor=weak, layout=RowLayout(rows=4, spacing=1.2)))
    assert 'skid = "4x6" under [piers.floor]' in told["pier-skid-wall"]
    # a spacing that follows from the skids is narrowed until they carry the wall too
    own = planned_ell(ground, floor=weak, layout=RowLayout(rows=4))
    assert [check.holds for check in own.checks if check.check == "skid wall"] in ([], [True])


def test_a_wall_beside_a_pier_is_borne_as_one_on_it_is(ground: Ground) -> None:
    """The inner wall of the ell, an eave with snow, stands ever farther from a pier: no leap at the start."""
    layout, strains = RowLayout(rows=4, spacing=0.6), list[float]()
    spec = PierSpec(floor=replace(STOUT, skid=section_of("4x4")), layout=layout, ridge="second side")
    spec = replace(spec, loads=PierLoads(snow=90 * PSF))
    skid = place_piers(Outline.polygon(ELL), spec, FEET).skids[1]
    pier = 2.0 + min(skid.places, key=lambda u: abs(u - 4.0))
    for beside in (0.0, 0.001, 0.02, 0.05, 0.0889):
        ell = Outline.polygon(np.where(ELL == 6.0, pier + beside, ELL))
        checks = span_checks(place_piers(ell, spec, FEET), ell, spec, us=True)
        strains += [check.strain for check in checks if check.check == "skid wall"]
    assert len(strains) == 4  # none of a wall on the pier
    assert strains == sorted(strains)
    assert strains[0] < 0.3
    assert strains[2] < 1.0 < strains[3]


def test_piers_given_one_by_one_are_told_to_move_not_to_change_their_rows(ground: Ground) -> None:
    """With positions a spacing or an inset changes nothing, so no line of it is told."""
    weak, told = FloorBuildUp(section_of("4x4"), section_of("2x6")), dict[str, str]()
    for rows in ((0.6, 3.1), (0.2, 3.4)):
        places = tuple((f"{y} {x}", 5.0 + x, 5.0 + y) for y in rows for x in (0.8, 3.9))
        told |= stops(planned(ground, positions=places, floor=weak))
    assert set(told) >= {"pier-skid-span", "pier-joist-span", "pier-skid-end", "pier-joist-end"}
    for code, advice in told.items():
        assert not {"spacing", "rows =", "inset"} & set(advice.replace("(", " ").split()), code
        assert "[piers]" in advice
    assert "positions at most" in told["pier-skid-span"]
    assert "positions closer to the walls" in told["pier-joist-end"]


def test_metric_jobs_call_us_rules_what_they_are(ground: Ground) -> None:
    plan = design_piers(ground(level()), STUDIO, PierSpec(), PierPrices(), METRIC)
    assert all("no rule where you build" in check.source for check in plan.checks)
    (taken,) = [f for f in plan.findings if f.code == "pier-load-path"]
    assert "89 x 89 mm" in taken.advice
    assert "kPa" in taken.advice


def test_no_finding_of_a_metric_plan_cites_a_us_rule_bare(ground: Ground) -> None:
    """Clearances, frost, stacks, skids on their shims; and the slab's thickness, fill, film and frost."""
    surface = ground(level() + np.array([0.0, 0.0, 1.0]) * 0.12 * level()[:, :1])
    own = PierSpec(units=UNITS_ON_HAND["UK"], pads=BASE_PADS["UK"])
    slender = FloorBuildUp(section_of("100x100"), section_of("50x150"))
    heavy = replace(own, loads=PierLoads(snow=12.0), floor=slender, layout=RowLayout(spacing=1.8))
    tall = replace(own, tallest=2.4, floor=slender, layout=RowLayout(rows=3, spacing=1.8))
    told: list[Finding] = []
    for spec in (own, heavy, tall, replace(own, frost=FrostRule(eave=4.0))):
        told += design_piers(surface, STUDIO, spec, PierPrices(), METRIC).findings
        told += design_piers(ground(level()), STUDIO, spec, PierPrices(), METRIC).findings
    for slab in (SlabSpec(thickness=0.08), SlabSpec(film=None, heated=True, frost=FrostRule(eave=4.0))):
        told += design_slab(surface, STUDIO, slab, SlabPrices(), METRIC).findings
    clauses = [f for f in told if any(rule in f.advice for rule in ("IRC", "IBC", "CFR"))]
    assert {f.code for f in clauses} >= {
        "pier-floor-low", "pier-frost", "slab-thin", "slab-fill-deep", "slab-film-missing", "slab-frost",
        "slab-film-optional",
    }  # fmt: skip
    for finding in clauses:
        assert "no rule where you build: a US figure, I" in finding.advice.replace("24 CFR", "I"), finding
    assert "pier-skid-bearing" in {f.code for f in told}
    for finding in told:
        assert not re.search(r"[0-9] in\b", finding.advice), finding
