"""Fabric, film and mesh: no other way to lay and cut the strips of small plans buys fewer rolls."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from strips_again import enough

from gradework.foundations.buying.strips import Sold, angles_of, cut_runs, lay


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(3, 12), min_size=1, max_size=5), st.integers(6, 14), st.integers(1, 2))
def test_no_way_to_cut_takes_fewer(runs: list[int], roll: int, lap: int) -> None:
    cuts, rolls = cut_runs([float(run) for run in runs], float(roll), float(lap))
    for run, cut in zip(runs, cuts, strict=True):
        assert sum(cut) - (len(cut) - 1) * lap >= run - 1e-9
        assert max(cut) <= roll
    assert sum(map(sum, cuts)) <= rolls * roll + 1e-9
    assert enough(runs, roll, lap, rolls)
    assert not enough(runs, roll, lap, rolls - 1)


def cells_of(plan: shapely.Polygon) -> list[set[int]]:
    """The whole metres that a plan of whole metres holds, row by row."""
    _, _, right, high = (round(bound) for bound in plan.bounds)
    return [{x for x in range(right) if plan.contains(shapely.Point(x + 0.5, y + 0.5))} for y in range(high)]


def layouts(plan: shapely.Polygon, sold: Sold) -> Iterator[list[int]]:
    """Every way to lay strips along x or y whose edges lie on whole metres: their lengths [m]."""
    width, lap = int(sold.width), int(sold.lap)
    for rows in (cells_of(plan), cells_of(shapely.transform(plan, lambda xy: xy[:, ::-1]))):
        high = len(rows)
        count = max(1, -(-(high - lap) // (width - lap)))
        for starts in product(range(max(0, high - width) + 1), repeat=count):
            steps = [after - before for before, after in pairwise(starts)]
            if starts[0] != 0 or starts[-1] + width < high or any(not 0 <= s <= width - lap for s in steps):
                continue
            lengths: list[int] = []
            for start in starts:
                held = sorted(set().union(*rows[start : start + width]))
                spans = np.split(np.array(held), np.nonzero(np.diff(held) > 1)[0] + 1)
                lengths += [len(span) for span in spans]
            yield lengths


@pytest.mark.parametrize("seed", range(24))
def test_no_layout_of_an_l_buys_fewer(seed: int) -> None:
    rng = np.random.default_rng(seed)
    long, wide = int(rng.integers(5, 11)), int(rng.integers(5, 11))
    x, y = int(rng.integers(1, long)), int(rng.integers(1, wide))
    ring = np.array([(0, 0), (long, 0), (long, y), (x, y), (x, wide), (0, wide)], dtype=float)
    sold = Sold(4.0, float(rng.integers(8, 14)), 1.0)
    found = lay(shapely.Polygon(ring), sold, angles_of(ring))
    ways = {tuple(sorted(lengths)) for lengths in layouts(shapely.Polygon(ring), sold)}
    assert not any(enough(way, int(sold.length), int(sold.lap), found.pieces - 1) for way in ways)
    mirrored = lay(shapely.Polygon(ring * [-1.0, 1.0]), sold, angles_of(ring * [-1.0, 1.0]))
    assert (mirrored.pieces, round(mirrored.length, 6)) == (found.pieces, round(found.length, 6))


@pytest.mark.parametrize("seed", range(25))
def test_every_place_of_a_plan_is_covered_by_enough_length(seed: int) -> None:
    """Rows of fine points: a strip of each band is at least as long as the plan is in any of its rows."""
    rng = np.random.default_rng(100 + seed)
    turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, 7))
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(2.0, 6.0, (7, 1))
    plan = shapely.Polygon(ring)
    if not plan.is_valid:
        pytest.skip("crosses itself")
    sold = Sold(2.0, 25.0, 0.3)
    found = lay(plan, sold, angles_of(ring))
    c, s = np.cos(found.angle), np.sin(found.angle)
    turned = shapely.transform(plan, lambda xy: xy @ np.array([[c, -s], [s, c]]))
    for low in set(found.lows):
        run = sum(one for one, own in zip(found.runs, found.lows, strict=True) if own == low)
        for y in np.linspace(low + 1e-3, low + sold.width - 1e-3, 60):
            across = shapely.LineString([(-9.0, y), (9.0, y)])
            assert turned.intersection(across).length <= run + 1e-6
