"""The model of the likely ground against published figures: Davis' heights by maximum likelihood, and the
weights of a kriging that was worked out in a textbook."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.spread.draws import _Places
from gradework.ground.spread.roughness import Column, Creases, Roughness, distances, matern, trend

# Davis (1973) topographic heights, x and y in 50 ft, elevation in ft (R package MASS, topo).
SHOTS = """
    0.3,6.1,870  1.4,6.2,793  2.4,6.1,755  3.6,6.2,690  5.7,6.2,800  1.6,5.2,800
    2.9,5.1,730  3.4,5.3,728  3.4,5.7,710  4.8,5.6,780  5.3,5,804  6.2,5.2,855
    0.2,4.3,830  0.9,4.2,813  2.3,4.8,762  2.5,4.5,765  3,4.5,740  3.5,4.5,765
    4.1,4.6,760  4.9,4.2,790  6.3,4.3,820  0.9,3.2,855  1.7,3.8,812  2.4,3.8,773
    3.7,3.5,812  4.5,3.2,827  5.2,3.2,805  6.3,3.4,840  0.3,2.4,890  2,2.7,820
    3.8,2.3,873  6.3,2.2,875  0.6,1.7,873  1.5,1.8,865  2.1,1.8,841  2.1,1.1,862
    3.1,1.1,908  4.5,1.8,855  5.5,1.7,850  5.7,1,882  6.2,1,910  0.4,0.5,940
    1.4,0.6,915  1.4,0.1,890  2.1,0.7,880  2.3,0.3,870  3.1,0,880  4.1,0.8,960
    5.4,0.4,890  6,0.1,860  5.7,3,830  3.6,6,705
"""
DAVIS = np.array([[float(v) for v in shot.split(",")] for shot in SHOTS.split()])


def likelihood(base: np.ndarray, reach: float, variance: float, nugget: float) -> tuple[float, np.ndarray]:
    """Log-likelihood of Davis' heights, the trend fitted by generalised least squares, and that trend."""
    xy, z = DAVIS[:, :2], DAVIS[:, 2]
    whole = variance * matern(distances(xy, xy), reach) + nugget * np.eye(len(z))
    inverse = np.linalg.inv(whole)
    fitted = np.linalg.solve(base.T @ inverse @ base, base.T @ inverse @ z)
    left = z - base @ fitted
    size = np.linalg.slogdet(whole)[1]
    return float(-0.5 * (len(z) * np.log(2 * np.pi) + size + left @ inverse @ left)), fitted


# Diggle & Ribeiro (2007), Matérn with exponent 3/2 (memory; recomputed by the survey's reference to the
# digits below): linear trend 912.5 - 4.99 x - 16.46 y, σ² 1693.1, τ² 34.9, φ 0.8, log-likelihood -240.1;
# constant mean 848.3, σ² 3510.1, τ² 48.2, φ 1.2, log-likelihood -242.1.
@pytest.mark.parametrize(
    ("base", "best", "told"),
    [
        (trend(DAVIS[:, :2]), (0.8061, 1693.16, 34.88), (-240.081, [912.486, -4.990, -16.464])),
        (np.ones((52, 1)), (1.1985, 3511.41, 48.075), (-242.102, [848.314])),
    ],
    ids=["linear trend", "constant mean"],
)
def test_davis_heights_have_the_likelihood_that_is_known(base, best, told) -> None:  # type: ignore[no-untyped-def]
    """Covariance and trend are those of the book: with its figures its likelihood, and no better nearby."""
    top, fitted = likelihood(base, *best)
    assert top == pytest.approx(told[0], abs=1e-3)
    np.testing.assert_allclose(fitted, told[1], rtol=5e-3)
    for number in range(3):
        for factor in (0.9, 1.1):
            near = [one * (factor if number == k else 1.0) for k, one in enumerate(best)]
            assert likelihood(base, *near)[0] < top


# Isaaks & Srivastava (1989), An Introduction to Applied Geostatistics, ch. 12: seven samples about (65, 137),
# C(h) = 10 exp(-0.3 h). x, y, V as in R geoR, isaaks (seen); the weights to three digits, the estimate 592.7,
# the variance 8.96 and the multiplier 0.907 are memory; further digits: the system solved plainly, below.
SAMPLES = np.array([
    (61, 139, 477, 0.173), (63, 140, 696, 0.318), (64, 129, 227, 0.129), (68, 128, 646, 0.086),
    (71, 140, 606, 0.151), (73, 141, 791, 0.057), (75, 128, 783, 0.086),
])  # fmt: skip
AT = np.array([[65.0, 137.0]])
SILL = 10.0


class _Constant(Roughness):
    """Ground with an unknown mean and no slope, which is what the book's samples are taken for."""

    def base(self, places: np.ndarray) -> np.ndarray:
        return np.ones((len(places), 1))


def kriged(z: np.ndarray) -> tuple[float, float]:
    """What the program's own solver says at the place, from correlations: estimate and variance."""
    xy = SAMPLES[:, :2]
    values, vectors = np.linalg.eigh(np.exp(-0.3 * distances(xy, xy)))
    nothing, one = np.zeros(1), np.ones(1)
    column = Column(1.0, vectors, values, nothing, one, one)
    known = _Constant(xy, z, np.zeros(2), 0.0, (column,), 1.0, Creases(None, ()))
    among, to_samples = np.exp(-0.3 * distances(AT, AT)), np.exp(-0.3 * distances(xy, AT))
    mean, factor = _Places(known, column, AT, among, to_samples).likely(0)
    return float(mean[0]), float(SILL * factor[0, 0] ** 2)


def test_the_solver_gives_the_weights_of_the_textbook() -> None:
    weights = [kriged(one)[0] for one in np.eye(len(SAMPLES))]  # linear in the readings: one at a time
    np.testing.assert_allclose(weights, SAMPLES[:, 3], atol=5e-4)
    estimate, variance = kriged(SAMPLES[:, 2])
    assert estimate == pytest.approx(592.7, abs=0.05)
    assert variance == pytest.approx(8.96, abs=0.005)

    # the book's own system: each covariance to the place, and weights that add up to one
    xy = SAMPLES[:, :2]
    whole = np.block([[SILL * np.exp(-0.3 * distances(xy, xy)), np.ones((7, 1))], [np.ones((1, 7)), 0.0]])
    to_place = SILL * np.exp(-0.3 * distances(xy, AT)[:, 0])
    *plain, multiplier = np.linalg.solve(whole, np.append(to_place, 1.0)).tolist()
    assert -multiplier == pytest.approx(0.907, abs=5e-4)
    np.testing.assert_allclose(weights, plain, atol=1e-10)
    assert variance == pytest.approx(SILL - np.dot(plain, to_place) - multiplier, rel=1e-7)
