"""The gravel pad: its formulas, its rules, its limits, its edge and what it warns of."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import CutFill, cut_and_fill
from gradework.errors import CheckError, InputError
from gradework.foundations.buying.pad_prices import PadPrices
from gradework.foundations.pad import quantities
from gradework.foundations.pad.design import Pad, design_pad, pad_curve
from gradework.foundations.pad.quantities import BatteredEdge, BoxedEdge
from gradework.foundations.pad.spec import PadSpec
from gradework.ground.surface import Surface
from gradework.units.display import FEET, METRIC

Ground = Callable[..., Surface]
PRICES = PadPrices(dig=40.0, haul=15.0, gravel=0.04, boards=30.0)
BUILDING = Outline.rectangle((8.0, 8.0), (4.8, 3.6), turn=8.0)


def yard(fall: float = 0.06, wave: float = 0.08) -> list[tuple[float, float, float]]:
    marks = np.arange(0.0, 20.1, 2.0).tolist()
    return [(x, y, 30 + fall * x - 0.02 * y + wave * math.sin(x) * math.cos(y)) for x in marks for y in marks]


@pytest.fixture(scope="module")
def surface(ground: Ground) -> Surface:
    return ground(yard())


def sampled(surface: Surface, outline: Outline, n: int = 900) -> tuple[np.ndarray, float]:
    """Ground at the middles of n x n equal cells of a rectangle, and the area of one cell."""
    ring = outline.rings[0]
    u, v = (a.ravel() for a in np.meshgrid((np.arange(n) + 0.5) / n, (np.arange(n) + 0.5) / n))
    points = ring[0] + u[:, None] * (ring[1] - ring[0]) + v[:, None] * (ring[3] - ring[0])
    return surface.elevation(points), outline.area / n**2


@pytest.mark.parametrize("level", [30.3, 30.55, 30.7, 31.2])
def test_digging_and_gravel_follow_the_formation(surface: Surface, level: float) -> None:
    spec = PadSpec(strip=0.12, gravel=0.1, margin=0.3, level=level, rule="given")
    pad = design_pad(surface, BUILDING, spec)
    land, cell = sampled(surface, pad.outline)
    formation = np.minimum(land - 0.12, level - 0.1)
    assert pad.chosen.excavation == pytest.approx((land - formation).sum() * cell, rel=2e-5)
    assert pad.chosen.gravel == pytest.approx((level - formation).sum() * cell, rel=2e-5)
    assert pad.chosen.cut == pytest.approx(np.maximum(land - level, 0).sum() * cell, rel=1e-4, abs=1e-6)
    assert pad.chosen.fill == pytest.approx(np.maximum(level - land, 0).sum() * cell, rel=1e-4, abs=1e-6)
    # gravel less digging is what stands above the old ground: exact
    assert pad.chosen.gravel - pad.chosen.excavation == pytest.approx(
        (level - pad.pieces.mean) * pad.pieces.area, rel=1e-10
    )


def test_folds_leave_digging_and_gravel_in_doubt(ground: Ground) -> None:
    marks = [(2.0 * i, 2.0 * j, 30.0 + 0.1 * (-1) ** (i + j)) for i in range(11) for j in range(11)]
    saddle, building = ground(marks), Outline.rectangle((6.0, 6.0), (4.0, 2.0))
    plain = PadSpec(margin=0.0, strip=0.1, gravel=0.1, rule="given")
    high, low, middle = (
        design_pad(saddle, building, replace(plain, level=level)) for level in (30.4, 29.7, 30.0)
    )
    # two squares of 4 m², their diagonals 0.2 m apart: 8 x 0.2 / 6 m³, all of it in gravel or in digging
    assert (high.chosen.excavation_doubt, high.chosen.gravel_doubt) == pytest.approx((0, 8 * 0.2 / 6))
    assert (low.chosen.excavation_doubt, low.chosen.gravel_doubt) == pytest.approx((8 * 0.2 / 6, 0))
    both = middle.chosen.excavation_doubt, middle.chosen.gravel_doubt
    assert min(both) > 0.05
    assert max(both) < middle.pieces.doubt
    assert [f.code for f in high.findings if "doubt" in f.code] == []
    # outside a battered pad the slopes stand on more such squares
    batter = design_pad(saddle, building, replace(plain, level=30.4, edge="battered"))
    assert batter.chosen.gravel_doubt > 1.5 * high.chosen.gravel_doubt
    assert batter.chosen.gravel_doubt < 0.1 * batter.edge.area / 3 * 2


def test_no_fold_no_doubt_about_a_pad(ground: Ground) -> None:
    plane = ground([(2.0 * i, 2.0 * j, 30.0 + 0.1 * i) for i in range(11) for j in range(11)])
    for edge in ("boxed", "battered"):
        pad = design_pad(plane, BUILDING, PadSpec(edge=edge))
        assert pad.chosen.excavation_doubt == pytest.approx(0.0, abs=1e-9)
        assert pad.chosen.gravel_doubt == pytest.approx(0.0, abs=1e-9)
        assert "volume-in-doubt" not in {finding.code for finding in pad.findings}


def test_least_fill_stands_the_freeboard_above_the_high_side(surface: Surface) -> None:
    pad = design_pad(surface, BUILDING, PadSpec())
    highest = max(float(side.ground.max()) for side in pad.ground.sides)
    assert pad.chosen.level == pytest.approx(highest + 0.0508, abs=1e-12)
    assert [(met.name, met.state) for met in pad.chosen.limits] == [("height above grade", "binds")]
    assert "pad-edge-low" not in {finding.code for finding in pad.findings}


def test_work_starts_at_the_highest_spot(ground: Ground) -> None:
    """Trade fact (common practice, no source): the least-fill pad follows the high side of its outline."""
    low, high = (design_pad(ground(yard(fall)), BUILDING, PadSpec()).chosen.level for fall in (0.05, 0.10))
    assert high - low == pytest.approx(0.05 * (12.8 + 0.3), rel=0.1)


LENGTHS = (
    "margin",
    "strip",
    "gravel",
    "freeboard",
    "max_cut",
    "max_height",
    "most_gravel",
    "most_native",
    "lift",
)


@pytest.mark.parametrize(("us", "step"), [(True, 0.0254), (False, 0.01)])
def test_defaults_are_round_in_the_users_units_and_alike(us: bool, step: float) -> None:
    usual = PadSpec.usual(us=us)
    for name in LENGTHS:
        value = getattr(usual, name)
        assert value == pytest.approx(round(value / step) * step, abs=1e-12), name
        assert value == pytest.approx(getattr(PadSpec(), name), rel=0.025), name


def test_thicknesses_are_told_as_thicknesses(ground: Ground) -> None:
    surface = ground(yard(0.14))
    told = {
        f.code: f.advice for f in design_pad(surface, BUILDING, PadSpec.usual(us=False), show=METRIC).findings
    }
    assert "at most 100 mm each" in told["pad-lifts"]
    assert "over 600 mm: the most" in told["pad-gravel-deep"]
    in_feet = {f.code: f.advice for f in design_pad(surface, BUILDING, PadSpec(), show=FEET).findings}
    assert "at most 4 in each" in in_feet["pad-lifts"]
    assert "over 24 in: the most" in in_feet["pad-gravel-deep"]


def test_a_drain_lets_the_pad_down_to_the_depth_of_cut(surface: Surface) -> None:
    spec = PadSpec(drain=True, max_cut=0.3)
    pad = design_pad(surface, BUILDING, spec)
    assert pad.chosen.level == pytest.approx(pad.pieces.highest + spec.gravel - 0.3, abs=1e-12)
    assert pad.chosen.deepest_cut == pytest.approx(0.3)
    [edge] = [finding for finding in pad.findings if finding.code == "pad-edge-low"]
    assert edge.severity == "note"
    deeper = design_pad(surface, BUILDING, PadSpec(drain=True, max_cut=9.0))
    # below this level no gravel is saved any more
    assert deeper.chosen.gravel == pytest.approx(spec.gravel * pad.outline.area, rel=1e-9)
    assert deeper.chosen.level == pytest.approx(pad.pieces.lowest + spec.gravel - spec.strip)


def test_balanced_level_balances_what_lies_under_the_strip(surface: Surface) -> None:
    spec = PadSpec(rule="balanced", native_fill=True)
    chosen = design_pad(surface, BUILDING, spec).chosen
    area = design_pad(surface, BUILDING, spec).pieces.area
    dug = chosen.excavation - spec.strip * area
    assert chosen.native == pytest.approx(spec.compaction * dug, abs=1e-8)
    assert chosen.gravel == pytest.approx(spec.gravel * area, abs=1e-8)
    assert chosen.spoil == pytest.approx(spec.strip * area, abs=1e-8)
    assert chosen.allowed


def test_balanced_without_native_fill_is_shown_but_marked(surface: Surface) -> None:
    pad = design_pad(surface, BUILDING, PadSpec())
    balanced = next(choice for choice in pad.choices if choice.rule == "balanced")
    assert not balanced.allowed
    assert balanced.native == 0.0
    assert balanced.gravel > PadSpec().gravel * pad.pieces.area
    chosen = design_pad(surface, BUILDING, PadSpec(rule="balanced"))
    assert "pad-native-not-allowed" in {finding.code for finding in chosen.findings}


def test_balanced_on_a_plane_is_the_closed_form(ground: Ground) -> None:
    """Closed form: pad W across slope S with compacted/in-place 0.9 balances at -0.0210672 (W 20, S 0.08)."""
    marks = [-5.0, 0.0, 10.0, 20.0, 35.0]
    plane = ground([(x, y, 0.08 * y) for x in marks for y in marks])
    spec = PadSpec(margin=0.0, strip=0.1, gravel=0.1, rule="balanced", native_fill=True)
    assert spec.compaction == 0.9
    pad = design_pad(plane, Outline.rectangle((0, 0), (30, 20)), spec)
    assert pad.chosen.level - 0.8 == pytest.approx(-0.0210672, abs=5e-8)
    assert pad.chosen.cut == pytest.approx(126.4034, abs=5e-5)
    assert pad.chosen.fill == pytest.approx(113.7630, abs=5e-5)


@pytest.mark.parametrize("edge", ["boxed", "battered"])
@pytest.mark.parametrize("native", [False, True])
@pytest.mark.parametrize("dig", [5.0, 400.0])
def test_least_cost_is_the_cheapest_of_many_levels(
    surface: Surface, edge: str, native: bool, dig: float
) -> None:
    spec = PadSpec(rule="least cost", edge=edge, native_fill=native, drain=True, max_cut=0.9)  # type: ignore[arg-type]
    pad = design_pad(surface, BUILDING, spec, replace(PRICES, dig=dig))
    lowest = next(choice for choice in pad.choices if choice.rule == "least fill").level
    levels = np.linspace(lowest, lowest + 0.8, 1601)
    cost = pad.ground.at(levels).cost
    # cheaper than all of them, by no more than the cost moves between two of them
    assert (
        float(cost.min()) - float(np.abs(np.diff(cost)).max()) <= pad.chosen.cost <= float(cost.min()) + 1e-6
    )
    assert pad.chosen.level == pytest.approx(float(levels[cost.argmin()]), abs=6e-4)


def test_least_cost_keeps_the_limits(surface: Surface) -> None:
    pad = design_pad(surface, BUILDING, PadSpec(rule="least cost"), PRICES)
    assert pad.chosen.level == pytest.approx(pad.choices[0].level, abs=1e-4)
    assert ("height above grade", "binds") in [(met.name, met.state) for met in pad.chosen.limits]


def test_every_rule_is_shown_side_by_side(surface: Surface) -> None:
    pad = design_pad(surface, BUILDING, PadSpec(level=30.4), PRICES, FEET)
    assert [choice.rule for choice in pad.choices] == ["least fill", "balanced", "least cost", "given"]
    assert pad.chosen is pad.choices[0]
    given = pad.choices[-1]
    assert given.level == 30.4
    assert {(met.name, met.state) for met in given.limits} == {("height above grade", "broken")}
    assert all(choice.cost is not None for choice in pad.choices)
    assert all(choice.cost is None for choice in design_pad(surface, BUILDING, PadSpec()).choices)


def test_the_curve_holds_every_choice(surface: Surface) -> None:
    pad = design_pad(surface, BUILDING, PadSpec(level=30.2), PRICES)
    curve = pad_curve(pad)
    own = {choice.level for choice in pad.choices}
    assert own < set(curve.levels)
    assert 200 <= len(curve.levels) <= 200 + len(own)
    assert (np.diff(curve.gravel) >= -1e-12).all()
    under = pad.ground.at(curve.levels)  # beside the pad more is dug the higher its edge
    assert (np.diff(under.excavation) <= 1e-12).all()
    assert curve.excavation == pytest.approx(under.excavation + under.beside)
    slopes = np.diff(curve.gravel) / np.diff(curve.levels)
    assert (np.diff(slopes) >= -1e-6).all()  # convex
    for choice in pad.choices:
        assert curve.levels[0] < choice.level < curve.levels[-1]
        assert np.interp(choice.level, curve.levels, curve.gravel) == pytest.approx(choice.gravel)
        assert np.interp(choice.level, curve.levels, curve.excavation) == pytest.approx(choice.dug)
        assert np.interp(choice.level, curve.levels, curve.cost) == pytest.approx(choice.cost)
    assert np.isnan(pad_curve(design_pad(surface, BUILDING, PadSpec())).cost).all()


# ---- edges


def boxed(pad: Pad) -> BoxedEdge:
    assert isinstance(pad.edge, BoxedEdge)
    return pad.edge


def test_boards_follow_the_ground_outside(surface: Surface) -> None:
    spec = PadSpec(board=0.1397)
    pad = design_pad(surface, BUILDING, spec)
    edge = boxed(pad)
    for one in edge.sides:
        part = (np.arange(20000) + 0.5) / 20000
        points = one.side.xy[0] + part[:, None] * (one.side.xy[1] - one.side.xy[0])
        height = np.maximum(pad.chosen.level - surface.elevation(points), 0.0)
        assert one.face == pytest.approx(height.mean() * one.length, rel=1e-5)
        assert one.greatest == pytest.approx(height.max(), abs=1e-4)
        for number, length in enumerate(one.courses):
            assert length == pytest.approx((height > number * 0.1397).mean() * one.length, abs=2e-3)
        assert len(one.courses) == math.ceil(one.greatest / 0.1397)
    assert edge.courses[0] == pytest.approx(pad.outline.perimeter)
    assert edge.face == pytest.approx(sum(one.face for one in edge.sides))
    assert edge.greatest == max(one.greatest for one in edge.sides)
    assert surface.elevation(np.array([edge.greatest_at]))[0] == pytest.approx(
        pad.chosen.level - edge.greatest
    )
    assert edge.least == pytest.approx(0.0508)


def test_full_boards_do_not_start_another_course(ground: Ground) -> None:
    flat = ground([(x, y, 10.0) for x in range(0, 21, 4) for y in range(0, 21, 4)])
    pad = design_pad(flat, BUILDING, PadSpec(rule="given", level=10.0 + 2 * 0.1397))
    assert len(boxed(pad).courses) == 2
    assert len(boxed(design_pad(flat, BUILDING, PadSpec(rule="given", level=10.0))).courses) == 0


def test_battered_edge_adds_gravel_digging_and_area(ground: Ground) -> None:
    flat = ground([(x, y, 10.0) for x in range(0, 21, 4) for y in range(0, 21, 4)])
    spec = PadSpec(edge="battered", batter=2.0, rule="given", level=10.3, margin=0.0, strip=0.1)
    pad = design_pad(flat, Outline.rectangle((8, 8), (4, 3)), spec)
    assert isinstance(pad.edge, BatteredEdge)
    reach = 0.6
    ring = (4 + 2 * reach) * (3 + 2 * reach) - 12.0
    slopes = (4 + 3) * 2 * 0.09 + 4 / 3 * 4 * 0.027  # (a + b) m h² + 4/3 m² h³
    assert pad.chosen.edge_gravel == pytest.approx(slopes + 0.1 * ring, rel=1e-10)
    assert pad.chosen.edge_excavation == pytest.approx(0.1 * ring, rel=1e-10)
    assert pad.chosen.gravel == pytest.approx(0.4 * 12 + slopes + 0.1 * ring, rel=1e-10)
    assert pad.chosen.excavation == pytest.approx(0.1 * 12 + 0.1 * ring, rel=1e-10)
    assert pad.edge.area == pytest.approx(12 + ring, rel=1e-10)
    assert len(pad.edge.slopes.daylight) == 1


def test_a_battered_pad_that_leaves_the_survey_is_stopped(surface: Surface) -> None:
    near_edge = Outline.rectangle((0.6, 9.0), (4.0, 3.0))
    pad = design_pad(surface, near_edge, PadSpec(edge="battered", batter=3.0))
    [stop] = [finding for finding in pad.findings if finding.severity == "stop"]
    assert stop.code == "slope-leaves-survey"
    assert stop.value is not None
    assert stop.value > 0
    assert "where the survey ends" in stop.advice


# ---- findings


def codes(pad: Pad) -> set[str]:
    return {finding.code for finding in pad.findings}


def test_findings_of_a_low_and_of_a_high_pad(surface: Surface) -> None:
    low = design_pad(surface, BUILDING, PadSpec(rule="given", level=30.1), show=FEET)
    assert {"pad-edge-low", "pad-cut-deep"} <= codes(low)
    [edge] = [finding for finding in low.findings if finding.code == "pad-edge-low"]
    assert "water runs onto it" in edge.advice
    assert "x 4" in edge.where or "ft" in edge.where
    high = design_pad(surface, BUILDING, PadSpec(rule="given", level=31.4))
    assert {"pad-edge-high", "pad-gravel-deep", "pad-lifts"} <= codes(high)
    [finding] = [one for one in high.findings if one.code == "pad-edge-high"]
    assert finding.severity == "stop"  # 12 in from the building, and higher than 24 in
    far = design_pad(surface, BUILDING, PadSpec(rule="given", level=31.2, margin=1.2))
    [finding] = [one for one in far.findings if one.code == "pad-edge-high"]
    assert finding.severity == "warning"
    tower = design_pad(surface, BUILDING, PadSpec(rule="given", level=32.4))
    [finding] = [one for one in tower.findings if one.code == "pad-edge-high"]
    assert finding.severity == "stop"


def test_steep_ground_has_no_level_that_keeps_every_limit(ground: Ground) -> None:
    pad = design_pad(ground(yard(fall=0.25)), BUILDING, PadSpec())
    assert "pad-limits-at-odds" in codes(pad)
    assert {"edge height", "gravel depth"} <= {met.name for met in pad.chosen.limits if met.state == "broken"}


def test_deep_earth_fill_is_told(ground: Ground) -> None:
    pad = design_pad(
        ground(yard(fall=0.15)), BUILDING, PadSpec(rule="balanced", native_fill=True, max_cut=2.0)
    )
    assert "pad-native-deep" in codes(pad)


def test_lifts_are_counted(surface: Surface) -> None:
    pad = design_pad(surface, BUILDING, PadSpec())
    [lifts] = [finding for finding in pad.findings if finding.code == "pad-lifts"]
    assert f"in {math.ceil(pad.chosen.deepest_gravel / 0.1016)} lifts" in lifts.advice
    assert lifts.severity == "note"


# ---- what is refused


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"strip": -0.1}, "pad-size"),
        ({"gravel": 0.0}, "pad-size"),
        ({"batter": 0.0}, "pad-size"),
        ({"margin": float("nan")}, "pad-size"),
        ({"rule": "given"}, "pad-level-missing"),
        ({"rule": "given", "level": float("inf")}, "pad-level-missing"),
        ({"rule": "given", "level": 1500.0}, "level-far-from-ground"),
        ({"rule": "given", "level": 3.6}, "level-far-from-ground"),
        ({"rule": "least cost"}, "pad-prices-missing"),
        ({"margin": 30.0}, "outline-outside-survey"),
    ],
)
def test_what_cannot_be_built_is_refused(surface: Surface, changes: dict[str, object], code: str) -> None:
    with pytest.raises(InputError) as caught:
        design_pad(surface, BUILDING, replace(PadSpec(), **changes))  # type: ignore[arg-type]
    assert caught.value.faults[0].code == code


def test_all_faults_of_a_spec_come_at_once(surface: Surface) -> None:
    with pytest.raises(InputError) as caught:
        design_pad(surface, BUILDING, PadSpec(strip=-1.0, gravel=0.0, rule="given"))
    assert [fault.code for fault in caught.value.faults] == ["pad-size", "pad-size", "pad-level-missing"]


def test_a_hollow_building_takes_boards_or_side_slopes(surface: Surface) -> None:
    ell = Outline.polygon([(6, 6), (12, 6), (12, 9), (9, 9), (9, 12), (6, 12)])
    pad = design_pad(surface, ell, PadSpec())
    assert pad.pieces.areas.sum() == pytest.approx(clip(surface, pad.outline).area)
    assert len(boxed(pad).sides) == 6
    sloped = design_pad(surface, ell, PadSpec(edge="battered"))
    assert isinstance(sloped.edge, BatteredEdge)
    assert sloped.edge.slopes.fill > 0.0


def test_a_building_round_a_yard_takes_no_side_slopes(surface: Surface) -> None:
    round_it = [[(4, 4), (14, 4), (14, 14), (4, 14)], [(7, 7), (7, 11), (11, 11), (11, 7)]]
    with pytest.raises(InputError, match="batter-hollow"):
        design_pad(surface, Outline.polygon(round_it), PadSpec(edge="battered"))


@pytest.mark.parametrize("edge", ["boxed", "battered"])
@pytest.mark.parametrize("slip", ["cut", "fill"])
def test_soil_and_stone_that_do_not_add_up_stop_the_run(
    surface: Surface, monkeypatch: pytest.MonkeyPatch, edge: Literal["boxed", "battered"], slip: str
) -> None:
    """A millionth too much of either is found, from the mean of the ground."""

    def wrong(*given: Any) -> tuple[CutFill, ...]:
        return tuple(replace(one, **{slip: getattr(one, slip) * (1 + 1e-6)}) for one in cut_and_fill(*given))

    spec = PadSpec(level=30.6, rule="given", edge=edge, native_fill=True)
    design_pad(surface, BUILDING, spec)
    monkeypatch.setattr(quantities, "cut_and_fill", wrong)
    with pytest.raises(CheckError, match="level of the pad"):
        design_pad(surface, BUILDING, spec)
