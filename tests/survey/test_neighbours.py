"""The misread rod: found on sloping and curved ground, and not cried where nothing is wrong."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.survey.neighbours import MOST_SHOTS, leave_one_out, odd_shots

FOOT = 0.3048


def yard(seed: int, *, noise=0.02, grid=True):
    """An invented yard in feet, sloping with bumps of up to 2 ft, shots 5 ft apart read to ``noise`` ft."""
    rng = np.random.default_rng(seed)
    if grid:
        columns, rows = rng.integers(5, 11, 2)
        x, y = (a.ravel() for a in np.meshgrid(np.arange(columns) * 5.0, np.arange(rows) * 5.0))
    else:
        n = int(rng.integers(25, 100))
        x, y = rng.random(n) * 50, rng.random(n) * 40
    z = 100 + rng.uniform(-0.12, 0.12) * x + rng.uniform(-0.12, 0.12) * y
    for _ in range(3):
        square = (x - rng.uniform(0, 50)) ** 2 + (y - rng.uniform(0, 40)) ** 2
        z += rng.uniform(-2, 2) * np.exp(-square / 2 / rng.uniform(8, 25) ** 2)
    return np.column_stack([x, y, z + rng.normal(0, noise, len(x))]) * FOOT


def told(xyz, unit="ft"):
    return odd_shots([f"S{i}" for i in range(len(xyz))], xyz, np.arange(len(xyz)) + 2, unit)


@pytest.mark.parametrize(("off", "side"), [(1.0, "above"), (-1.0, "below"), (2.0, "above")])
def test_a_foot_off_is_named_with_line_and_amount(off, side):
    xyz = yard(3)
    at = len(xyz) // 2
    xyz[at, 2] += off * FOOT
    before = xyz.copy()
    (finding,) = told(xyz)
    assert (finding.code, finding.severity) == ("shot-off-its-neighbours", "warning")
    assert finding.where == f"station S{at}, line {at + 2}"
    assert f"is about {abs(off):.2f} ft {side} its neighbours: misread rod?" in finding.advice
    assert finding.value == pytest.approx(off * FOOT, abs=0.1 * FOOT)
    assert np.array_equal(xyz, before)


@pytest.mark.parametrize("off", [1.0, 0.1, -0.2])
def test_a_metre_or_a_decimetre_off_in_metric_notes(off):
    x, y = (a.ravel() for a in np.meshgrid(np.arange(7) * 1.5, np.arange(6) * 1.5))
    z = 50 + 0.08 * x - 0.03 * y + 0.004 * x * y
    xyz = np.column_stack([x, y, z + np.random.default_rng(2).normal(0, 0.002, len(x))])
    xyz[23, 2] += off
    (finding,) = told(xyz, "m")
    assert finding.where.startswith("station S23,")
    assert f"{abs(off):.3f} m" in finding.advice


def test_half_a_foot_off_is_not_a_whole_unit():
    xyz = yard(3)
    xyz[len(xyz) // 2, 2] += 0.5 * FOOT
    assert told(xyz) == []


def test_found_in_most_yards_and_cried_in_hardly_any():
    """200 invented yards of each kind, fixed seeds: figures measured, with room for another seed."""
    for grid, least in ((True, 0.92), (False, 0.88)):
        found = cried = 0
        for seed in range(200):
            xyz = yard(seed, grid=grid)
            cried += bool(told(xyz))
            rng = np.random.default_rng(seed)
            at = int(rng.integers(len(xyz)))
            xyz[at, 2] += float(rng.choice([-1.0, 1.0])) * FOOT
            found += any(finding.where.startswith(f"station S{at},") for finding in told(xyz))
        assert found >= least * 200
        assert cried <= 0.02 * 200


@pytest.mark.parametrize("slope", [0.0, 0.3, 1.0])
def test_a_plane_leaves_nothing(slope):
    xyz = yard(1)
    xyz[:, 2] = slope * xyz[:, 0] + 2
    residual, doubt = leave_one_out(xyz)
    assert residual == pytest.approx(np.zeros(len(xyz)), abs=1e-6)
    assert doubt == pytest.approx(np.zeros(len(xyz)), abs=1e-5)
    assert told(xyz) == []


def test_a_round_hill_is_not_a_blunder():
    x, y = (a.ravel() for a in np.meshgrid(np.arange(9) * 5.0, np.arange(9) * 5.0))
    z = 100 + 3 * np.exp(-((x - 20) ** 2 + (y - 20) ** 2) / 2 / 10**2)
    assert told(np.column_stack([x, y, z]) * FOOT) == []


def test_a_terrace_wall_is_not_a_blunder():
    x, y = (a.ravel() for a in np.meshgrid(np.arange(8) * 5.0, np.arange(6) * 5.0))
    assert told(np.column_stack([x, y, 100 + 1.0 * (x > 17)]) * FOOT) == []


def test_few_shots_are_not_judged():
    assert told(np.array([[0, 0, 1], [1, 0, 9], [0, 1, 1], [1, 1, 1], [2, 1, 1.0]])) == []


def test_shots_in_one_row_are_not_judged_and_do_not_fail():
    xyz = np.column_stack([np.arange(20.0), np.zeros(20), np.zeros(20)])
    xyz[10, 2] = 0.3048
    residual, doubt = leave_one_out(xyz)
    assert np.isfinite(residual).all()
    assert np.isfinite(doubt).all()


def test_more_shots_than_a_rod_reads_are_not_compared():
    xyz = np.random.default_rng(1).random((MOST_SHOTS + 1, 3))
    (finding,) = told(xyz)
    assert (finding.code, finding.severity, finding.value) == (
        "blunder-check-left-out",
        "note",
        MOST_SHOTS + 1,
    )
