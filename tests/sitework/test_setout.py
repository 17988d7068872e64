"""Setting out: ties that find the place again, marks and readings that agree with levels, order of work."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.ground.surface import Surface
from gradework.sitework.order_of_work import order_of_work
from gradework.sitework.pier_stakes import pier_levels, pier_stakes
from gradework.sitework.setout import (
    batter_board_stakes,
    corner_stakes,
    from_string,
    rod_reading,
    set_out,
    stake_mark,
)
from gradework.sitework.setout_ties import Mark, baseline_tie, best_two_marks, sides_and_diagonals, tape_tie
from gradework.units.display import FEET

Ground = Callable[..., Surface]

HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
MARKS = (Mark("house corner", 0.0, -1.0), Mark("oak nail", 9.0, -1.5), Mark("pin", 0.5, 9.0))
coordinates = st.floats(-50.0, 50.0)


def plane() -> np.ndarray:
    return np.array([(x, y, 100.0 + 0.06 * x) for x in (-3.0, 12.0) for y in (-3.0, 12.0)])


@settings(max_examples=60, deadline=None)
@given(coordinates, coordinates, coordinates, coordinates, coordinates, coordinates)
def test_ties_find_the_place_again(x: float, y: float, ax: float, ay: float, bx: float, by: float) -> None:
    first, second = Mark("a", ax, ay), Mark("b", bx, by)
    base = math.hypot(bx - ax, by - ay)
    assume(base > 0.5)
    tie, line = tape_tie(x, y, first, second), baseline_tie(x, y, first, second)
    along = np.array([bx - ax, by - ay]) / base
    left = np.array([-along[1], along[0]])
    assert np.array([ax, ay]) + line.along * along + line.offset * left == pytest.approx((x, y), abs=1e-9)
    # From the two tapes alone: cosine rule along the base, Pythagoras across.
    u = (base**2 + tie.from_first**2 - tie.from_second**2) / (2 * base)
    v = math.sqrt(max(0.0, tie.from_first**2 - u**2)) * {"left": 1, "right": -1, "on the line": 0}[tie.side]
    assert np.array([ax, ay]) + u * along + v * left == pytest.approx((x, y), abs=1e-4)


def test_flat_tape_angles_are_weak_and_better_marks_chosen() -> None:
    assert tape_tie(5.0, 0.1, MARKS[0], Mark("far", 20.0, -1.0)).weak
    place = (4.0, 0.0)
    first, second = best_two_marks(*place, MARKS)
    chosen = abs(90.0 - tape_tie(*place, first, second).angle)
    assert chosen == min(abs(90.0 - tape_tie(*place, a, b).angle) for a in MARKS for b in MARKS if a is not b)
    with pytest.raises(ValueError, match="two marks apart"):
        best_two_marks(0.0, 0.0, (MARKS[0], MARKS[0]))
    with pytest.raises(ValueError, match="on one place"):
        tape_tie(0.0, 0.0, MARKS[0], MARKS[0])


def test_sides_and_diagonals_of_a_building() -> None:
    checks = sides_and_diagonals([("1", 0, 0), ("2", 4, 0), ("3", 4, 3), ("4", 0, 3)])
    assert [(m.kind, m.first, m.second, m.length) for m in checks[-2:]] == [
        ("diagonal", "1", "3", 5.0),
        ("diagonal", "2", "4", 5.0),
    ]


def test_marks_are_cut_above_and_fill_below_grade() -> None:
    assert stake_mark(10.5, 10.0).text(FEET) == "C 1.64"
    assert stake_mark(9.5, 10.0).text(FEET) == "F 1.64"
    assert stake_mark(10.0005, 10.0).text(FEET) == "GRADE"
    assert from_string(9.8, 10.0) == pytest.approx(-0.2)


def test_readings_out_of_reach_are_told() -> None:
    assert rod_reading("x", 101.0, 100.0).reach == "line of sight is too low"
    assert rod_reading("x", 90.0, 100.0).reach == "rod is too short"
    assert rod_reading("x", 99.0, 100.0).reach == "yes"


def test_every_level_of_a_pier_is_in_order_and_ends_at_the_top(ground: Ground) -> None:
    surface = ground(plane())
    piers = design_piers(surface, HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)
    for pier in piers.piers:
        levels = pier_levels(pier)
        assert [level for _, level in levels] == sorted(level for _, level in levels)
        assert levels[0] == ("bottom of hole", pier.bottom)
        assert levels[1][1] == pytest.approx(pier.bottom + pier.bed)
        assert levels[-1][1] == piers.top
        assert len(levels) == 2 + len(pier.laid)
        assert levels[-1][1] - levels[-2][1] == pytest.approx(pier.laid[-1].thickness, abs=1e-8)


def test_a_whole_sheet(ground: Ground) -> None:
    surface = ground(plane())
    piers = design_piers(surface, HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)
    stakes = [
        *corner_stakes(surface, HUT, "building corner", grade=101.0),
        *corner_stakes(
            surface, HUT.grown(0.3), "pad corner", levels=[("top of gravel", 101.0), ("subgrade", 100.2)]
        ),
        *batter_board_stakes(surface, HUT, grade=101.5),
        *pier_stakes(surface, HUT, piers),
    ]
    sheet = set_out(stakes, marks=MARKS, instrument=102.0, string=101.5)
    assert len(sheet.points) == len(stakes) == 4 + 4 + 8 + len(piers.piers)
    assert [m.kind for m in sheet.checks] == (["side"] * 4 + ["diagonal"] * 2) * 2
    for point in sheet.points:
        assert point.tie is not None
        assert point.baseline is not None
        for reading in point.readings:
            assert reading.reading + reading.level == pytest.approx(102.0)
        for (what, above), reading in zip(point.from_string, point.readings, strict=True):
            assert what == reading.what
            assert above == pytest.approx(reading.level - 101.5)
        if point.mark is not None:
            assert point.stake.ground is not None
            assert point.stake.grade is not None
            sign = {"C": 1.0, "F": -1.0, "GRADE": 0.0}[point.mark.kind]
            assert point.stake.ground - sign * point.mark.amount == pytest.approx(
                point.stake.grade, abs=0.002
            )
    pad = next(p for p in sheet.points if p.stake.kind == "pad corner")
    assert [r.what for r in pad.readings] == ["subgrade", "top of gravel"]
    assert "buried services" in sheet.steps[0]
    bare = set_out(stakes)
    assert all(p.tie is None and p.readings == () and p.from_string == () for p in bare.points)


def test_batter_boards_stand_on_the_lines_of_the_sides(ground: Ground) -> None:
    stakes = batter_board_stakes(ground(plane()), HUT, offset=1.2)
    ring = HUT.rings[0]
    for number, (ahead, behind) in enumerate(zip(stakes[::2], stakes[1::2], strict=True)):
        for stake, other in ((ahead, ring[number - 1]), (behind, ring[(number + 1) % 4])):
            out = np.array([stake.x, stake.y]) - ring[number]
            side = ring[number] - other
            assert math.hypot(*out) == pytest.approx(1.2)
            assert out[0] * side[1] == pytest.approx(out[1] * side[0], abs=1e-9)
            assert out @ side > 0.0


def test_levels_that_many_stakes_end_at_are_told_once_highest_first(ground: Ground) -> None:
    surface = ground(plane())
    stakes = [
        *corner_stakes(surface, HUT, "building corner", grade=101.0, levels=[("finished", 101.0)]),
        *corner_stakes(surface, HUT.grown(0.3), "pad corner", levels=[("subgrade", 100.2), ("top", 100.9)]),
        *corner_stakes(surface, HUT, "slab corner", levels=[("top", 101.0)]),
    ]
    shared = set_out(stakes, instrument=102.5, string=101.5).shared
    assert [one.level for one in shared] == [101.0, 100.9]
    assert [one.stakes for one in shared] == [("building corner", "slab corner"), ("pad corner",)]
    assert [one.reading.reading for one in shared if one.reading] == pytest.approx([1.5, 1.6])
    assert [one.from_string for one in shared] == pytest.approx([-0.5, -0.6])


def test_three_corners_have_three_sides_to_check(ground: Ground) -> None:
    corner = Outline.polygon([(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)])
    checks = set_out(corner_stakes(ground(plane()), corner, "building corner", grade=100.0)).checks
    assert sorted(one.length for one in checks) == pytest.approx([3.0, 4.0, 5.0])


def test_a_stake_outside_the_survey_has_no_mark(ground: Ground) -> None:
    far = Outline.rectangle((11.0, 11.0), (4.0, 4.0))
    stakes = corner_stakes(ground(plane()), far, "building corner", grade=100.0)
    assert [stake.ground is None for stake in stakes] == [False, True, True, True]
    assert set_out(stakes).points[1].mark is None


def test_order_of_work_fits_what_is_staked() -> None:
    steps = order_of_work({"pier"}, instrument=False, string=True)
    assert any("hole" in step for step in steps)
    assert not any("topsoil" in step for step in steps)
    assert any("string" in step for step in steps)


def test_only_a_sheet_with_a_backsight_compares_with_it() -> None:
    shown = order_of_work({"pier"}, instrument=True, string=False, backsight=True)
    alone = order_of_work({"pier"}, instrument=True, string=False)
    assert any("backsight" in step for step in shown)
    assert not any("backsight" in step for step in alone)
    assert any("HI" in step for step in alone)


def test_the_steps_speak_the_trade_words_of_the_job() -> None:
    for dialect, word, other in (("us", "subgrade", "formation"), ("gb", "formation", "subgrade")):
        steps = " ".join(order_of_work({"slab corner"}, instrument=False, string=False, dialect=dialect))
        assert word in steps
        assert other not in steps
    for dialect, own, foreign in (("us", " in ", " mm "), ("gb", " mm ", " in ")):
        steps = order_of_work({"swale", "drain"}, instrument=False, string=False, dialect=dialect)
        told = [step for step in steps if "deeper" in step]
        assert [own in step.partition("dig ")[2] for step in told] == [True, True]
        assert not any(re.search(rf"\d{foreign}", step) for step in told)
