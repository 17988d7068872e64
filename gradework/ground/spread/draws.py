"""Likely grounds: many surfaces that all agree with the shots, and differ as the ground may between them.

Conditional simulation (Chilès & Delfiner 2012, chapter 7; here by the Cholesky factor of the conditional
covariance): each draw takes a reach and a nugget by their weights, a variance σ² from what the shots leave
open, and ground at every place asked for. The uncertainty of the trend is in it (universal kriging).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gradework.ground.spread.roughness import Column, Roughness, distances, matern
from gradework.survey.one_thread import one_thread

Floats = NDArray[np.float64]

DRAWS = 1000
"""So many grounds are drawn, in pairs that mirror each other about what is most likely."""

SEED = 20
"""The same job gives the same draws."""

LOCAL = 10.0
"""Ground under one building is as rough as the yard only by and large: its σ² is drawn with at most so many
degrees of freedom, however many shots there are. With more, 80 % intervals held 79 % of the time, not 82."""

JITTER = 1e-9
"""Part of σ² added to the diagonal of a covariance, so that rounding does not make it indefinite."""


@one_thread()
def likely_ground(known: Roughness, xy: Floats, count: int = DRAWS) -> Floats:
    """Elevations (count, m) [m] of ``count`` (even) equally likely grounds at the places ``xy`` (m, 2) [m].

    Every draw goes through the shots, but for the error of their readings.
    """
    places = xy - known.origin
    among, to_shots = distances(places, places), distances(known.xy, places)
    cells = [(column, k) for column in known.columns for k in np.flatnonzero(column.weights).tolist()]
    shares = shared_out(np.array([column.weights[k] for column, k in cells]), count // 2)
    rng = np.random.default_rng(SEED)
    answer = np.empty((count, len(xy)))
    start, own = 0, None
    for (column, k), pairs in zip(cells, shares.tolist(), strict=True):
        if not pairs:
            continue
        if own is None or own.column is not column:
            own = _Places(known, column, places, matern(among, column.reach), matern(to_shots, column.reach))
        mean, factor = own.likely(k)
        free = min(known.freedom, LOCAL)
        sigma2 = column.scales[k] / known.freedom * free / (2.0 * rng.standard_gamma(0.5 * free, pairs))
        deviation = np.sqrt(sigma2)
        away = deviation[:, None] * (rng.standard_normal((pairs, len(xy))) @ factor.T)
        answer[start : start + pairs] = mean + away
        answer[start + pairs : start + 2 * pairs] = mean - away
        start += 2 * pairs
    return answer + known.datum


def shared_out(weights: Floats, count: int) -> NDArray[np.int64]:
    """Share ``count`` draws out by ``weights`` that add up to one, each within one of its due.

    >>> shared_out(np.array([0.5, 0.3, 0.2]), 5)
    array([3, 1, 1])
    """
    ends = np.floor(np.cumsum(weights) * count + 0.5)
    ends[-1] = count
    shares: NDArray[np.int64] = np.diff(ends, prepend=0.0).astype(np.int64)
    return shares


class _Places:
    """The places asked for under one reach: what all nuggets of its column have in common."""

    def __init__(self, known: Roughness, column: Column, places: Floats, among: Floats, to_shots: Floats):
        self.column, self.among = column, among
        self.base = known.base(places)
        self.turned_trend = column.vectors.T @ known.base(known.xy)
        self.turned_z = column.vectors.T @ known.z
        self.turned_shots = column.vectors.T @ to_shots

    def likely(self, k: int) -> tuple[Floats, Floats]:
        """The mean (m,) [m] for nugget k, and the Cholesky factor (m, m) of the covariance for σ² = 1."""
        spread = (self.column.eigenvalues + self.column.errors[k])[:, None]
        shots, base = self.turned_shots / spread, self.turned_trend / spread
        inner = np.linalg.inv(self.turned_trend.T @ base)
        slope = inner @ (base.T @ self.turned_z)
        mean = self.base @ slope + shots.T @ (self.turned_z - self.turned_trend @ slope)
        # what the shots leave open, and what they leave open of the trend
        left = self.base - shots.T @ self.turned_trend
        covariance = self.among - self.turned_shots.T @ shots + left @ inner @ left.T
        covariance[np.diag_indices_from(covariance)] += JITTER
        return mean, _factor(covariance)


def _factor(covariance: Floats) -> Floats:
    """Lower factor of a covariance that rounding may have left a shade below definite."""
    try:
        factor: Floats = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(covariance)
        factor = vectors * np.sqrt(np.maximum(values, 0.0))
    return factor
