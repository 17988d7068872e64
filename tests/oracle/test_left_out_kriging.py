"""The closed form of leaving each shot out against plain universal kriging from the others, model by
model."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gamma, kv

from gradework.survey.outliers import GroundModel, cross_validate


def invented(count=18, seed=4):
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 12, (count, 2))
    z = 30 + 0.05 * xy[:, 0] - 0.03 * xy[:, 1] + 0.06 * np.sin(xy[:, 0] / 2) + rng.normal(0, 0.004, count)
    return np.column_stack([xy, z])


def correlations(xy, spacing):
    """Matérn's correlations from Bessel functions, not from their closed forms: 3/2 at seven reaches, 5/2 at
    five."""
    apart = np.hypot(xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1])
    kinds = [(1.5, reach) for reach in np.geomspace(0.5 * spacing, 4.0, 7)]
    kinds += [(2.5, reach) for reach in np.geomspace(0.5 * spacing, 2.0, 5)]
    for smoothness, reach in kinds:
        scaled = np.sqrt(2 * smoothness) * apart / reach
        with np.errstate(invalid="ignore"):
            shape = 2 ** (1 - smoothness) / gamma(smoothness) * scaled**smoothness * kv(smoothness, scaled)
        yield np.where(apart == 0, 1.0, shape)


def universal_kriging(xy, z, covariance, i):
    """Residual and variance of shot i from the others with a plane as trend: the bordered system of
    textbooks."""
    rest = np.delete(np.arange(len(z)), i)
    plane = np.column_stack([np.ones(len(xy)), xy])
    border = np.zeros((3, 3))
    system = np.block([[covariance[np.ix_(rest, rest)], plane[rest]], [plane[rest].T, border]])
    right = np.concatenate([covariance[rest, i], plane[i]])
    weights = np.linalg.solve(system, right)
    mean = weights[: len(rest)] @ z[rest]
    return z[i] - mean, covariance[i, i] - weights @ right


@pytest.mark.parametrize("r", [0, 2, 6, 7, 9, 11])
@pytest.mark.parametrize("g", [0, 3, 8])
def test_every_model_predicts_as_universal_kriging_does(r, g):
    xyz = invented()
    model = GroundModel(xyz)
    span = np.hypot(*np.ptp(xyz[:, :2], axis=0))
    xy = (xyz[:, :2] - xyz[:, :2].mean(axis=0)) / span
    apart = np.hypot(xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1]) + 9 * np.eye(len(xy))
    correlation = list(correlations(xy, np.median(apart.min(axis=1))))[r]
    # The models scale their correlation so that its contrasts have mean variance 1.
    basis = np.linalg.svd(np.column_stack([np.ones(len(xy)), xy]))[0][:, 3:]
    inner = basis.T @ correlation @ basis
    scale = np.trace(inner) / len(inner)
    covariance = correlation / scale + np.geomspace(1e-4, 10, 9)[g] * np.eye(len(xy))
    for i in (0, 7, 17):
        residual, variance = universal_kriging(xy, xyz[:, 2], covariance, i)
        assert model.alpha[r, g, i] / model.diagonal[r, g, i] == pytest.approx(residual, abs=1e-6)
        assert 1 / model.diagonal[r, g, i] == pytest.approx(variance, rel=1e-5)


def test_the_weights_do_not_see_the_shot_itself():
    # Spoil one shot by any amount: what is predicted for it stays, to the last digits.
    xyz = invented()
    before = cross_validate(xyz)
    spoiled = xyz.copy()
    spoiled[7, 2] += 5.0
    after = cross_validate(spoiled)
    assert after.residual[7] - before.residual[7] == pytest.approx(5.0, abs=1e-6)
    assert after.sd[7] == pytest.approx(before.sd[7], rel=1e-3)
