"""Shots left out one by one: both closed forms against really leaving each out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.left_out import left_out, missed_by_curved, missed_by_straight
from gradework.ground.spread.roughness import Column, Creases, Roughness, read_roughness, roughness_of
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Breakline, Stations

Ground = Callable[..., Surface]
GRID = np.stack(np.meshgrid(np.arange(7) * 3.0, np.arange(6) * 3.0), axis=-1).reshape(-1, 2)
RANDOM = np.random.default_rng(1).uniform(0, 20, (60, 2))


def rolling(xy: np.ndarray) -> np.ndarray:
    return np.column_stack((xy, np.sin(xy[:, 0] / 3.0) + 0.1 * xy[:, 1]))


@pytest.mark.parametrize("xy", [GRID, RANDOM], ids=["grid", "random"])
def test_the_straight_surface_without_a_shot_is_that_of_the_others(ground: Ground, xy: np.ndarray) -> None:
    """On the grid every square is a tie, and so is what closes over a place where a shot was."""
    xyz = rolling(xy)
    surface = ground(xyz)
    missed = missed_by_straight(surface)
    inside = np.setdiff1d(np.arange(len(xyz)), surface.hull)
    assert np.flatnonzero(np.isfinite(missed)).tolist() == inside.tolist()
    for shot in inside.tolist():
        without = ground(np.delete(xyz, shot, axis=0)).elevation(xyz[shot : shot + 1, :2])[0]
        assert missed[shot] == pytest.approx(xyz[shot, 2] - without, abs=1e-9)


def test_the_curved_one_is_the_mean_without_that_shot() -> None:
    """With one reach and nugget, so that leaving a shot out changes no weight: the mean of the rest."""
    xyz = rolling(RANDOM[:20])
    known = read_roughness(xyz, np.full(20, 0.003), xyz[:, :2])
    one = known.likeliest
    k = int(one.weights.argmax())

    def alone(shots: np.ndarray) -> Roughness:
        """A grid of one cell for the shots of ``known`` with these numbers."""
        rest = known.xy[shots]
        apart = np.hypot(*(rest[:, None] - rest[None]).transpose(2, 0, 1)) / one.reach
        values, vectors = np.linalg.eigh((1.0 + apart) * np.exp(-apart))
        only = Column(one.reach, vectors, values, one.errors[k : k + 1], np.ones(1), one.scales[k : k + 1])
        origin = (known.origin, known.datum)
        return Roughness(rest, known.z[shots], *origin, (only,), known.freedom, Creases(None, ()))

    missed = missed_by_curved(alone(np.arange(20)))
    for shot in (0, 7, 13):
        rest = np.delete(np.arange(20), shot)
        place = known.xy[shot : shot + 1] + known.origin
        mean = float(likely_ground(alone(rest), place).mean()) - known.datum
        assert missed[shot] == pytest.approx(known.z[shot] - mean, abs=1e-9)


def test_a_curved_surface_is_better_on_round_ground(ground: Ground) -> None:
    found = left_out(ground(rolling(GRID)))
    assert found is not None
    assert (found.shots, found.curved < 0.7 * found.straight) == (20, True)


def test_few_or_very_many_shots_say_nothing(ground: Ground) -> None:
    assert left_out(ground(rolling(GRID[:11]))) is None
    assert left_out(ground(rolling(GRID[:24]))) is None  # 24 shots, but 8 inside
    many = np.stack(np.meshgrid(np.arange(11.0), np.arange(11.0)), axis=-1).reshape(-1, 2)
    assert left_out(ground(rolling(many))) is None


def test_shots_on_a_breakline_stay() -> None:
    xyz = rolling(GRID)
    names = [f"S{n}" for n in range(len(xyz))]
    middle = tuple(names[k] for k in range(len(xyz)) if xyz[k, 0] == 9.0)
    lines = (Breakline("ridge", middle),)
    given = Stations(names, xyz, np.full(42, np.nan), np.arange(42), "yard.csv", "m", breaklines=lines)
    missed = missed_by_straight(build_surface(given))
    on_line = xyz[:, 0] == 9.0
    assert np.isnan(missed[on_line]).all()
    assert np.isfinite(missed).sum() == 16


def test_a_shot_that_alone_tells_a_crease_is_not_foretold(ground: Ground) -> None:
    """A ring told round a single shot: how far inside it that one stands says nothing else."""
    xyz = rolling(GRID)
    names = [f"S{n}" for n in range(len(xyz))]
    alone = int(np.flatnonzero(np.isfinite(missed_by_straight(ground(xyz))))[8])
    near = np.argsort(np.hypot(*(xyz[:, :2] - xyz[alone, :2]).T), kind="stable")[1:9]
    turn = np.argsort(np.arctan2(*(xyz[near, :2] - xyz[alone, :2]).T[::-1]))
    ring = tuple(names[k] for k in near[turn])
    lines = (Breakline("hump", (*ring, ring[0])),)
    given = Stations(names, xyz, np.full(42, np.nan), np.arange(42), "yard.csv", "m", breaklines=lines)
    found = left_out(build_surface(given))
    assert found is None or np.isfinite([found.straight, found.curved]).all()
    known = roughness_of(given, xyz[:, :2])
    missed = missed_by_curved(known)
    assert np.isnan(missed).sum() == 1
    assert np.isfinite(missed).sum() == 41
