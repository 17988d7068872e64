"""How rough the ground is between the shots: a straight trend, and what stands out of it and how far.

The ground is taken as a Gaussian process with a linear trend and the covariance of Matérn with exponent 3/2,
C(h) = σ² (1 + h/φ) exp(-h/φ), read at the shots with an error of its own (the nugget, ν σ², and the standard
error of the notes). Neither reach φ nor nugget ν is known from a yard's few dozen shots, so neither is
estimated and plugged in: a grid of both is weighed by the restricted likelihood of each (Patterson & Thompson
1971; σ² integrated out, with its prior: Handcock & Stein 1993), and all that is said later goes over the
whole grid. Plugged in, nominal 80 % intervals held the truth on 65 to 80 % of windows of real ground.

With the eigenvalues λ of the correlation matrix R at the shots, R = U diag(λ) Uᵀ, the matrix R + ν I of every
nugget has the same vectors, so one decomposition serves a whole column of the grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.survey.one_thread import one_thread

Floats = NDArray[np.float64]

NUGGETS = (1e-4, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0)
"""Variance of what single readings add, as a part of that of the ground [-]."""

REACHES = 8
"""So many reaches φ, in equal ratios from half the spacing of the shots to twice the width of the survey."""

MOST_SHOTS = 120
"""Only the shots nearest to what is asked count: those farther off say next to nothing about it."""

PRIOR_SHOTS = 3.0
"""The prior weighs as much as so many shots beyond a plane: with dozens of shots it is not felt."""

ROUGH = 0.06
"""[m] What ground stands out of its plane by (standard deviation) in a yard that has told nothing yet."""

ROUGH_PER_RELIEF = 0.08
"""[-] And how much more for each metre of relief: steep yards are rougher."""

UNKNOWN_SD = 0.005
"""[m] Standard error of a shot whose notes do not tell one: a quarter inch (common practice, no source)."""

NEGLIGIBLE = 2e-3
"""Cells of the grid that weigh less than this part of the heaviest one are left out."""


def matern(distance: Floats, reach: float) -> Floats:
    """Correlation [-] of ground ``distance`` [m] apart (any shape): Matérn 3/2 with reach φ [m].

    >>> matern(np.array([0.0, 2.0]), 2.0).round(4)
    array([1.    , 0.7358])
    """
    scaled = distance / reach
    answer: Floats = (1.0 + scaled) * np.exp(-scaled)
    return answer


def distances(a: Floats, b: Floats) -> Floats:
    """Plan distance [m] of each of ``a`` (n, 2) to each of ``b`` (m, 2): (n, m)."""
    apart: Floats = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
    return apart


def trend(xy: Floats) -> Floats:
    """Columns 1, x, y of the linear trend: (n, 3)."""
    return np.column_stack((np.ones(len(xy)), xy))


@dataclass(frozen=True, eq=False)
class Column:
    """The part of the grid with one reach ``φ`` [m]: eigenvectors of the correlations at the shots (n, n).

    ``eigenvalues`` (n,); ``errors`` (k,) nugget with the error of the notes, in parts of σ²; ``weights``
    (k,) of each; ``scales`` (k,) [m²] what Q + prior comes to, so that σ² is ``scale`` / χ² with ``freedom``.
    """

    reach: float
    vectors: Floats
    eigenvalues: Floats
    errors: Floats
    weights: Floats
    scales: Floats


@dataclass(frozen=True, eq=False)
class Roughness:
    """What the shots say of the ground between them; ``read_roughness`` makes it.

    ``xy`` (n, 2) [m] from ``origin`` (2,); ``z`` (n,) [m] less ``datum``; ``columns`` the grid, whose weights
    add up to one; ``freedom`` [-] of the χ² that σ² follows.
    """

    xy: Floats
    z: Floats
    origin: Floats
    datum: float
    columns: tuple[Column, ...]
    freedom: float

    def __repr__(self) -> str:
        return f"<Roughness: {len(self.z)} shots, likeliest reach {self.likeliest.reach:.1f} m>"

    @property
    def reading_error(self) -> float:
        """What one more reading would be off by [m]: nugget and error of the notes, over the whole grid."""
        each = [float((one.weights * one.errors * one.scales).sum()) for one in self.columns]
        return float(np.sqrt(sum(each) / self.freedom))

    @property
    def likeliest(self) -> Column:
        """The column that weighs most."""
        return max(self.columns, key=lambda one: float(one.weights.sum()))


@one_thread()
def read_roughness(xyz: Floats, sd: Floats, about: Floats) -> Roughness:
    """Weigh every reach and nugget of the grid by the shots ``xyz`` (n, 3) [m], n of 3 or more.

    sd : (n,) standard error of each elevation [m], NaN where unknown.  about : (m, 2) [m], the places asked
    for: of many shots those nearest to their middle count.
    """
    middle = about.mean(axis=0)
    away = np.hypot(*(xyz[:, :2] - middle).T)
    kept = np.sort(np.argsort(away, kind="stable")[:MOST_SHOTS])
    shots = xyz[kept]
    # by place, so that the order of the rows changes not even the last digit
    order = np.lexsort((shots[:, 1], shots[:, 0]))
    shots, errors = shots[order], sd[kept][order]
    origin, datum = shots[:, :2].mean(axis=0), float(shots[:, 2].mean())
    xy, z = shots[:, :2] - origin, shots[:, 2] - datum
    known = np.where(np.isfinite(errors), errors, UNKNOWN_SD)
    apart = distances(xy, xy)
    wide = float(apart.max())
    freedom = PRIOR_SHOTS + max(len(z) - 3, 0)
    rough = ROUGH + ROUGH_PER_RELIEF * float(z.max() - z.min())
    found = [
        _column(xy, z, apart, reach, float((known**2).mean()), rough, freedom)
        for reach in np.geomspace(0.5 * _spacing(apart), 2.0 * wide, REACHES).tolist()
    ]
    top = max(float(logs.max()) for _, logs in found)
    weights = [np.exp(logs - top) for _, logs in found]
    weights = [np.where(one < NEGLIGIBLE, 0.0, one) for one in weights]
    total = sum(float(one.sum()) for one in weights)
    columns = tuple(
        Column(c.reach, c.vectors, c.eigenvalues, c.errors, one / total, c.scales)
        for (c, _), one in zip(found, weights, strict=True)
        if one.any()
    )
    return Roughness(xy, z, origin, datum, columns, freedom)


def _spacing(apart: Floats) -> float:
    """Middle distance of a shot to its nearest neighbour [m]."""
    near = np.sort(apart, axis=1)[:, 1]
    return float(np.sort(near)[len(near) // 2])


def _column(
    xy: Floats, z: Floats, apart: Floats, reach: float, error: float, rough: float, freedom: float
) -> tuple[Column, Floats]:
    """One reach with every nugget, and the logarithm of each weight (k,); ``error`` [m²] of the notes."""
    eigenvalues, vectors = np.linalg.eigh(matern(apart, reach))
    eigenvalues = np.maximum(eigenvalues, 0.0)
    turned = vectors.T @ np.column_stack((trend(xy), z))
    # ground with this reach departs from its plane by ``rough`` over half the width of the yard
    share = 1.0 - float(matern(np.array([0.5 * apart.max()]), reach)[0])
    prior = PRIOR_SHOTS * rough**2 / share
    nuggets = np.array(NUGGETS)
    _, scales = _likelihood(eigenvalues, turned, nuggets, prior, freedom)
    errors = nuggets + error * freedom / scales  # that of the notes, in parts of the σ² that it goes with
    logs, scales = _likelihood(eigenvalues, turned, errors, prior, freedom)
    # the prior's own normalisation: its scale differs from reach to reach
    logs = logs + 0.5 * PRIOR_SHOTS * np.log(prior)
    return Column(reach, vectors, eigenvalues, errors, np.ones(len(nuggets)), scales), logs


def _likelihood(
    eigenvalues: Floats, turned: Floats, errors: Floats, prior: float, freedom: float
) -> tuple[Floats, Floats]:
    """Restricted log-likelihood (k,) with σ² integrated out, and the scale Q + prior (k,) [m²]."""
    logs, scales = np.empty(len(errors)), np.empty(len(errors))
    for number, one in enumerate(errors.tolist()):
        spread = eigenvalues + one
        scaled = turned / spread[:, None]
        inner = turned.T @ scaled
        upper, right = inner[:3, :3], inner[:3, 3]
        left = float(inner[3, 3] - right @ np.linalg.solve(upper, right))
        scales[number] = max(left, 0.0) + prior
        logs[number] = -0.5 * (np.log(spread).sum() + np.linalg.slogdet(upper)[1])
        logs[number] -= 0.5 * freedom * np.log(scales[number])
    return logs, scales
