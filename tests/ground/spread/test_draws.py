"""Likely grounds: they go through the shots, spread as the conditional covariance says, and repeat."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.spread.draws import likely_ground, shared_out
from gradework.ground.spread.roughness import Roughness, distances, matern, read_roughness, trend

RNG = np.random.default_rng(5)
XY = np.stack(np.meshgrid(np.arange(7) * 2.0, np.arange(6) * 2.0), axis=-1).reshape(-1, 2)
Z = 0.06 * XY[:, 0] + 0.1 * np.sin(XY[:, 0] / 2.1) + 0.08 * np.cos(XY[:, 1] / 1.7)
PLACES = np.array([[5.0, 5.0], [6.0, 5.0], [4.0, 4.0], [20.0, 5.0]])


@pytest.fixture(scope="module")
def known() -> Roughness:
    return read_roughness(np.column_stack((XY, Z)), np.full(len(XY), 1e-4), PLACES)


def test_every_ground_goes_through_the_shots(known: Roughness) -> None:
    drawn = likely_ground(known, PLACES)
    assert np.abs(drawn[:, 2] - Z[(XY == (4.0, 4.0)).all(axis=1)]).max() < 0.02
    away = drawn.std(axis=0)
    assert 2.0 * away[2] < away[0] < away[3]  # least at a shot, most beyond the last one


def test_mean_and_covariance_are_those_of_universal_kriging(known: Roughness) -> None:
    """All cells of the grid, by dense algebra: mean, and σ² times the variance that the shots leave."""
    mean, second, base = np.zeros(4), np.zeros(4), trend(known.xy)
    places = PLACES - known.origin
    for column in known.columns:
        for k in np.flatnonzero(column.weights):
            shots = matern(distances(known.xy, known.xy), column.reach)
            inverse = np.linalg.inv(shots + column.errors[k] * np.eye(len(shots)))
            across = matern(distances(known.xy, places), column.reach)
            inner = np.linalg.inv(base.T @ inverse @ base)
            slope = inner @ base.T @ inverse @ known.z
            own = trend(places) @ slope + across.T @ inverse @ (known.z - base @ slope)
            left = trend(places) - across.T @ inverse @ base
            variance = 1.0 - np.einsum("ij,ik,kj->j", across, inverse, across)
            variance = variance + np.einsum("ij,jk,ik->i", left, inner, left)
            # mean of a scaled inverse χ² with 10 degrees of freedom: 10 / 8 of its scale
            sigma2 = column.scales[k] / known.freedom * 10.0 / 8.0
            mean = mean + column.weights[k] * own
            second = second + column.weights[k] * (sigma2 * variance + own**2)
    drawn = likely_ground(known, PLACES, 20_000) - known.datum
    sd = np.sqrt(second - mean**2)
    np.testing.assert_allclose(drawn.mean(axis=0), mean, atol=0.02 * sd.max())
    np.testing.assert_allclose(drawn.std(axis=0), sd, rtol=0.05, atol=1e-4)


def test_the_same_shots_give_the_same_grounds(known: Roughness) -> None:
    assert np.array_equal(likely_ground(known, PLACES), likely_ground(known, PLACES))


def test_ground_that_is_tilted_draws_the_same_tilted(known: Roughness) -> None:
    """The trend takes a plane out, and the roughness does not know of it; so does the prior, but for its
    share of the relief."""
    xyz = np.column_stack((XY, Z + 0.01 * XY[:, 1]))
    tilted = likely_ground(read_roughness(xyz, np.full(len(XY), 1e-4), PLACES), PLACES)
    np.testing.assert_allclose(tilted.mean(axis=0) - likely_ground(known, PLACES).mean(axis=0),
                               0.01 * PLACES[:, 1], atol=0.002)  # fmt: skip


def test_few_shots_on_a_plane_are_as_unsure_as_a_yard_is() -> None:
    xyz = np.array([[0.0, 0.0, 10.0], [8.0, 0.0, 10.4], [8.0, 6.0, 10.7], [0.0, 6.0, 10.3]])
    middle = np.array([[4.0, 3.0]])
    drawn = likely_ground(read_roughness(xyz, np.full(4, 0.003), middle), middle)
    assert drawn.mean() == pytest.approx(10.35, abs=0.01)
    assert 0.03 < drawn.std() < 0.3


def test_shares_are_within_one_of_their_due() -> None:
    weights = RNG.dirichlet(np.ones(30))
    shares = shared_out(weights, 500)
    assert shares.sum() == 500
    assert np.abs(shares - 500 * weights).max() <= 1.0
