"""Reach and nugget weighed by the shots: against dense algebra, and on ground whose roughness is known."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.roughness import (
    MOST_SHOTS,
    PRIOR_SHOTS,
    ROUGH,
    ROUGH_PER_RELIEF,
    Roughness,
    _spread_out,
    counting,
    distances,
    matern,
    read_roughness,
    trend,
)


def made_ground(rng: np.random.Generator, xy: np.ndarray, reach: float, sd: float) -> np.ndarray:
    """A draw of ground with a known reach [m] and standard deviation [m], on a slope of 5 %."""
    factor = np.linalg.cholesky(matern(distances(xy, xy), reach) + 1e-9 * np.eye(len(xy)))
    return 0.05 * xy[:, 0] + sd * (factor @ rng.standard_normal(len(xy)))


def grid(n: int, step: float) -> np.ndarray:
    return np.stack(np.meshgrid(np.arange(n) * step, np.arange(n) * step), axis=-1).reshape(-1, 2)


def read(xy: np.ndarray, z: np.ndarray, sd: float = 0.003) -> Roughness:
    return read_roughness(np.column_stack((xy, z)), np.full(len(xy), sd), xy)


def test_each_weight_is_the_restricted_likelihood_worked_out_plainly() -> None:
    """With dense matrices: log|V|, log|F'V⁻¹F| and the residual, σ² integrated out with its prior."""
    rng = np.random.default_rng(1)
    xy = rng.uniform(0, 12, (25, 2))
    z = made_ground(rng, xy, 3.0, 0.1)
    found = read(xy, z)
    base, logs, weights = trend(found.xy), [], []
    for column in found.columns:
        correlation = matern(distances(found.xy, found.xy), column.reach)
        share = 1.0 - float(matern(np.array([0.5 * distances(xy, xy).max()]), column.reach)[0])
        prior = PRIOR_SHOTS * (ROUGH + ROUGH_PER_RELIEF * np.ptp(z)) ** 2 / share
        for error, weight in zip(column.errors, column.weights, strict=True):
            if not weight:
                continue
            inverse = np.linalg.inv(correlation + error * np.eye(len(xy)))
            inner = base.T @ inverse @ base
            left = found.z - base @ np.linalg.solve(inner, base.T @ inverse @ found.z)
            log = 0.5 * np.linalg.slogdet(inverse)[1] - 0.5 * np.linalg.slogdet(inner)[1]
            log -= 0.5 * (PRIOR_SHOTS + 22) * np.log(left @ inverse @ left + prior)
            logs.append(log + 0.5 * PRIOR_SHOTS * np.log(prior))
            weights.append(weight)
    wanted = np.exp(np.array(logs) - max(logs))
    assert len(weights) > 5
    np.testing.assert_allclose(weights, wanted / wanted.sum(), rtol=1e-6)


def test_rough_ground_is_told_from_smooth_ground() -> None:
    rng = np.random.default_rng(2)
    xy = grid(9, 1.5)
    short = read(xy, made_ground(rng, xy, 0.8, 0.1))
    wide = read(xy, made_ground(rng, xy, 15.0, 0.1))
    assert short.likeliest.reach < 2.5
    assert wide.likeliest.reach > 6.0


def test_the_weights_add_up_to_one() -> None:
    rng = np.random.default_rng(3)
    xy = grid(6, 2.0)
    found = read(xy, made_ground(rng, xy, 3.0, 0.1))
    assert sum(float(one.weights.sum()) for one in found.columns) == pytest.approx(1.0, abs=1e-12)
    assert repr(found).startswith("<Roughness: 36 shots, likeliest reach ")


def test_no_more_shots_than_count_are_taken_and_the_order_of_rows_does_not_matter() -> None:
    rng = np.random.default_rng(4)
    xy = grid(14, 1.0)
    z = made_ground(rng, xy, 4.0, 0.1)
    found = read_roughness(np.column_stack((xy, z)), np.full(196, np.nan), np.array([[6.1, 6.2]]))
    order = rng.permutation(196)
    again = read_roughness(np.column_stack((xy, z))[order], np.full(196, np.nan), np.array([[6.1, 6.2]]))
    assert len(found.z) == MOST_SHOTS
    assert np.array_equal(found.xy, again.xy)
    assert np.array_equal(found.likeliest.weights, again.likeliest.weights)


def test_of_many_shots_each_place_has_those_beside_it() -> None:
    """1,600 shots 25 cm apart, places all over a pad of 6 x 5 m: none is far from a shot that counts."""
    xy = grid(40, 0.25)
    places = np.stack(np.meshgrid(np.linspace(2, 8, 12), np.linspace(2, 7, 10)), axis=-1).reshape(-1, 2)
    kept = xy[counting(xy, places)]
    assert len(kept) == MOST_SHOTS
    assert distances(places, kept).min(axis=1).max() < 0.8  # the 120 nearest the middle left 2.4 m
    assert (np.ptp(kept, axis=0) == 9.75).all()  # and some are spread out over the whole survey


def test_the_third_shot_is_the_farthest_off_the_line_through_the_first_two() -> None:
    # nearest the middle (10, 10), then (30, 10) farthest; (12, -2) is 12 off the line of both, (20, 14) is 4;
    # of the rest (20, 14) is farther from all that are taken than (11, 9) or (29, 10)
    xy = np.array([(20.0, 14.0), (10.0, 10.0), (11.0, 9.0), (30.0, 10.0), (12.0, -2.0), (29.0, 10.0)])
    assert _spread_out(xy, np.array([10.2, 10.0]), 4) == [1, 3, 4, 0]


def test_shots_in_a_line_under_the_places_leave_the_trend_to_the_others() -> None:
    line = np.column_stack((np.linspace(0, 20, 400), np.full(400, 5.0)))
    xy = np.vstack((line, [(0.0, 0.0), (20.0, 0.0), (20.0, 9.0), (0.0, 9.0)]))
    found = read(xy, 0.05 * xy[:, 0] + 0.03 * xy[:, 1])
    assert np.linalg.matrix_rank(found.base(found.xy)) == 3
    about = np.column_stack((np.linspace(8, 12, 9), np.full(9, 5.0)))
    sure = read_roughness(np.column_stack((xy, 0.03 * xy[:, 1])), np.full(404, 0.003), about)
    assert (sure.xy[:, 1] + sure.origin[1] == 9.0).any()


def test_the_order_of_the_notes_does_not_choose_the_shots() -> None:
    """Shots of a square grid are as far from the places as others are: ties go by place."""
    xy = grid(20, 1.0)
    places = np.array([[9.5, 9.5], [4.0, 4.0]])
    z = np.sin(xy[:, 0]) * 0.1
    order = np.random.default_rng(6).permutation(400)
    one = read_roughness(np.column_stack((xy, z)), np.full(400, 0.003), places)
    other = read_roughness(np.column_stack((xy, z))[order], np.full(400, 0.003), places)
    assert np.array_equal(one.xy, other.xy)
    assert np.array_equal(one.z, other.z)


def test_a_bank_that_was_told_makes_no_rough_ground() -> None:
    """A terrace of 80 cm: with the creases of top and toe in the trend the lawns are as even as shot."""
    rng = np.random.default_rng(9)
    xy = grid(9, 1.5)
    z = 0.8 * np.clip((xy[:, 1] - 5.0) / 1.5, 0.0, 1.0) + 0.004 * rng.standard_normal(81)

    def shapes(places: np.ndarray) -> np.ndarray:
        return np.abs(places[:, 1:] - (5.0, 6.5))

    xyz, sd = np.column_stack((xy, z)), np.full(81, 0.003)
    untold, told = read_roughness(xyz, sd, xy), read_roughness(xyz, sd, xy, shapes)
    assert told.base(told.xy).shape == (81, 5)
    assert told.freedom == untold.freedom - 2
    between = np.array([[3.75, 4.9], [3.75, 6.6], [6.0, 5.75]])
    wide, narrow = (np.ptp(likely_ground(one, between), axis=0) for one in (untold, told))
    assert (narrow < 0.5 * wide).all()
    middle = likely_ground(told, between).mean(axis=0)
    np.testing.assert_allclose(middle, [0.0, 0.8, 0.4], atol=0.02)


def test_a_crease_that_the_plane_tells_already_is_left_out() -> None:
    xy = grid(6, 2.0)
    z = 0.05 * np.random.default_rng(10).standard_normal(36)
    found = read_roughness(
        np.column_stack((xy, z)), np.full(36, 0.003), xy, lambda at: np.abs(at[:, :1] - (-1.0))
    )
    assert found.base(found.xy).shape == (36, 3)


def test_three_shots_leave_the_prior_alone() -> None:
    found = read_roughness(
        np.array([[0.0, 0.0, 1.0], [5.0, 0.0, 1.2], [0.0, 5.0, 1.1]]), np.full(3, 0.003), np.zeros((1, 2))
    )
    assert found.freedom == PRIOR_SHOTS
