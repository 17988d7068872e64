"""The load path on any outline: it closes, it does not know which way north is, and rows and piers agree."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import CheckError
from gradework.foundations.piers.spec import PierLoads
from gradework.foundations.timber import load_path
from gradework.foundations.timber.load_path import Shell, loads_on_piers, row_loads

LOADS = PierLoads().areas
SHELLS = [
    Shell(roof=roof, ridge_along=along) for roof in ("rafters", "ridge beam") for along in (True, False)
]  # type: ignore[arg-type]


def grid(length: float, width: float, rows: int, each: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Even rows out to the walls, and the floor of each pier by half gaps."""
    u, v = np.linspace(0.0, length, each), np.linspace(0.0, width, rows)
    along, across = (np.convolve(np.diff(w), (0.5, 0.5)) for w in (u, v))
    return np.array([(a, b) for b in v for a in u]), np.outer(across, along).ravel(), v


@pytest.mark.parametrize("shell", SHELLS)
@settings(max_examples=25, deadline=None)
@given(st.floats(2.0, 9.0), st.floats(2.0, 9.0), st.integers(2, 5), st.integers(2, 6))
def test_rows_and_piers_of_a_rectangle_agree(
    shell: Shell, length: float, width: float, rows: int, each: int
) -> None:
    places, floor, v = grid(length, width, rows, each)
    ring = np.array([(0, 0), (length, 0), (length, width), (0, width)])
    found = loads_on_piers([ring], places, floor, LOADS, shell)
    by_rows = row_loads(length, width, v.tolist(), LOADS, shell)
    spread = found.spread.reshape(rows, each).sum(axis=1)
    live = found.live.reshape(rows, each).sum(axis=1)
    assert spread == pytest.approx([load.total * length for load in by_rows.along])
    assert live == pytest.approx([load.live * length for load in by_rows.along])
    if shell.ridge_along:
        at_ends = found.ends.reshape(rows, each)
        assert at_ends[:, 0] == pytest.approx(by_rows.ends)
        assert at_ends[:, -1] == pytest.approx(by_rows.ends)


def test_a_slip_in_the_shares_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    places, floor, _ = grid(4.0, 3.0, 2, 3)
    ring = np.array([(0, 0), (4.0, 0), (4.0, 3.0), (0, 3.0)])
    monkeypatch.setattr(load_path, "_nearest", lambda *_: iter([(0, 0.9)]))
    with pytest.raises(CheckError, match="come down"):
        loads_on_piers([ring], places, floor, LOADS, Shell())


CORNERED = np.array([(0, 0), (8, 0), (8, 3), (5, 3), (5, 6), (1.5, 6), (0, 4.5)], float)
AREA = 8 * 3 + 5 * 3 - 0.5 * 1.5 * 1.5


@pytest.mark.parametrize("shell", SHELLS)
@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 12))
def test_any_outline_and_any_places_close(shell: Shell, seed: int, count: int) -> None:
    """Floor, roof with its eaves, walls and gables by their own formulas; one wall is slanted."""
    places = np.random.default_rng(seed).uniform((0.5, 0.5), (4.5, 2.5), (count, 2))
    area = AREA
    found = loads_on_piers([CORNERED], places, np.full(count, area / count), LOADS, shell)
    sides = np.roll(CORNERED, -1, axis=0) - CORNERED
    span, eaves, gables = (6.0, 0, 1) if shell.ridge_along else (8.0, 1, 0)
    walls = np.hypot(*sides.T).sum() * shell.wall_height + np.abs(sides[:, gables]).sum() * span / 12
    roof = area + np.abs(sides[:, eaves]).sum() * shell.overhang
    assert found.total.sum() == pytest.approx(area * LOADS.floor + walls * LOADS.wall + roof * LOADS.roof)
    assert (found.total > 0).all()
    assert (found.live <= found.spread + 1e-12).all()


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.floats(-500, 500), st.floats(-500, 500))
def test_a_shift_or_a_mirror_changes_nothing(seed: int, du: float, dv: float) -> None:
    places = np.random.default_rng(seed).uniform((0.5, 0.5), (4.5, 2.5), (5, 2))
    floor = np.full(5, AREA / 5)
    here = loads_on_piers([CORNERED], places, floor, LOADS, Shell())
    step = np.array([du, dv])
    there = loads_on_piers([CORNERED + step], places + step, floor, LOADS, Shell())
    flip = np.array([1.0, -1.0])
    mirrored = loads_on_piers([(CORNERED * flip)[::-1]], places * flip, floor, LOADS, Shell())
    assert there.total == pytest.approx(here.total, rel=1e-6)
    assert mirrored.total == pytest.approx(here.total, rel=1e-9)


def test_a_hole_in_the_plan_has_walls_of_its_own() -> None:
    """A court of 2 x 2 m: 8 m more of wall, 4 m more of eaves, 4 m² less of floor and roof."""
    ring = np.array([(0, 0), (8, 0), (8, 6), (0, 6)], float)
    court = np.array([(3, 2), (3, 4), (5, 4), (5, 2)], float)
    places, _, _ = grid(8.0, 6.0, 3, 4)
    whole = loads_on_piers([ring], places, np.full(12, 4.0), LOADS, Shell()).total.sum()
    less = loads_on_piers([ring, court], places, np.full(12, 44 / 12), LOADS, Shell()).total.sum()
    walls = LOADS.wall * (8 * Shell().wall_height + 4 * 6 / 12)
    assert less - whole == pytest.approx(walls + LOADS.roof * (4 * Shell().overhang - 4) - 4 * LOADS.floor)
