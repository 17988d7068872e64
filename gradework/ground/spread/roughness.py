"""How rough the ground is between the shots: a straight trend, and what stands out of it and how far.

The ground is taken as a Gaussian process with a linear trend and the covariance of Matérn with exponent 3/2,
C(h) = σ² (1 + h/φ) exp(-h/φ), read at the shots with an error of its own (the nugget, ν σ², and the standard
error of the notes). Neither reach φ nor nugget ν is known from a yard's few dozen shots, so neither is
estimated and plugged in: a grid of both is weighed by the restricted likelihood of each (Patterson & Thompson
1971; σ² integrated out, with its prior: Handcock & Stein 1993), and all that is said later goes over the
whole grid. Plugged in, nominal 80 % intervals held the truth on 65 to 80 % of windows of real ground.

With the eigenvalues λ of the correlation matrix R at the shots, R = U diag(λ) Uᵀ, the matrix R + ν I of every
nugget has the same vectors, so one decomposition serves a whole column of the grid.

Where breaklines were told, the trend creases along them: each shape stands beside the plane, of unknown
height (universal kriging with an external drift), so that a bank that was told makes no rough ground.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.survey.breaklines import creases, own_shapes
from gradework.survey.one_thread import one_thread

if TYPE_CHECKING:
    from gradework.survey.stations import Stations

Floats = NDArray[np.float64]
Drift = Callable[[Floats], Floats]
"""Gives the shapes (m, h) [m] of creases at places (m, 2) [m]."""

NUGGETS = (1e-4, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0)
"""Variance of what single readings add, as a part of that of the ground [-]."""

REACHES = 8
"""So many reaches φ, in equal ratios from half the spacing of the shots to twice the width of the survey."""

MOST_SHOTS = 120
"""So many shots count, those nearest to each place asked for: the rest say next to nothing about it."""

ALL_OVER = 24
"""So many of them are spread out over the whole survey: they tell the trend, wherever the others lie."""

LOOKED_AT = 1500
"""The others are looked for among so many shots nearest to what is asked for."""

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


class Creases(NamedTuple):
    """The shapes that stand beside the plane: those of ``drift`` with these ``numbers``."""

    drift: Drift | None
    numbers: tuple[int, ...]

    def beside(self, plane: Floats, places: Floats) -> Floats:
        """The columns of a plane (m, 3), and after them the creases at ``places`` (m, 2) [m], site."""
        if self.drift is None or not self.numbers:
            return plane
        return np.column_stack((plane, self.drift(places)[:, self.numbers]))


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
    add up to one; ``freedom`` [-] of the χ² that σ² follows; ``creases`` beside the plane.
    """

    xy: Floats
    z: Floats
    origin: Floats
    datum: float
    columns: tuple[Column, ...]
    freedom: float
    creases: Creases

    def __repr__(self) -> str:
        return f"<Roughness: {len(self.z)} shots, likeliest reach {self.likeliest.reach:.1f} m>"

    def base(self, places: Floats) -> Floats:
        """The columns of the trend (m, 3 + h) at ``places`` (m, 2) [m] from ``origin``."""
        return self.creases.beside(trend(places), places + self.origin)

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
def read_roughness(xyz: Floats, sd: Floats, about: Floats, drift: Drift | None = None) -> Roughness:
    """Weigh every reach and nugget of the grid by the shots ``xyz`` (n, 3) [m]: 3 or more, not in a line.

    sd : (n,) standard error of each elevation [m], NaN where unknown.  about : (m, 2) [m], the places asked
    for: of many shots those nearest to each of them count.  drift : how the ground may crease.
    """
    # by place, so that the order of the rows changes not even the last digit
    order = np.lexsort((xyz[:, 1], xyz[:, 0]))
    order = order[counting(xyz[order, :2], about)]
    shots, errors = xyz[order], sd[order]
    origin, datum = shots[:, :2].mean(axis=0), float(shots[:, 2].mean())
    xy, z = shots[:, :2] - origin, shots[:, 2] - datum
    known = np.where(np.isfinite(errors), errors, UNKNOWN_SD)
    bent = _creases(drift, shots[:, :2], trend(xy))
    base = bent.beside(trend(xy), shots[:, :2])
    apart = distances(xy, xy)
    freedom = PRIOR_SHOTS + max(len(z) - base.shape[1], 0)
    stated = _Stated(float((known**2).mean()), ROUGH + ROUGH_PER_RELIEF * _relief(base, z), freedom)
    found = [
        _column(base, z, apart, reach, stated)
        for reach in np.geomspace(0.5 * _spacing(apart), 2.0 * float(apart.max()), REACHES).tolist()
    ]
    return Roughness(xy, z, origin, datum, _weighed(found), freedom, bent)


def roughness_of(stations: Stations, about: Floats) -> Roughness:
    """The same of all shots of a survey, with its breaklines."""
    drift = partial(creases, stations) if stations.breaklines else None
    return read_roughness(stations.xyz, stations.sd, about, drift)


def _weighed(found: list[tuple[Column, Floats]]) -> tuple[Column, ...]:
    """The columns with their weights from the logarithms, all of which add up to one; light ones are gone."""
    top = max(float(logs.max()) for _, logs in found)
    weights = [np.exp(logs - top) for _, logs in found]
    weights = [np.where(one < NEGLIGIBLE, 0.0, one) for one in weights]
    total = sum(float(one.sum()) for one in weights)
    return tuple(
        Column(c.reach, c.vectors, c.eigenvalues, c.errors, one / total, c.scales)
        for (c, _), one in zip(found, weights, strict=True)
        if one.any()
    )


def counting(xy: Floats, about: Floats) -> NDArray[np.intp]:
    """Which of the shots ``xy`` (n, 2) [m] count for the places ``about`` (m, 2) [m], in their order.

    All, up to ``MOST_SHOTS``. Else some that are spread out over the whole survey, and then round by round
    each place takes the shot nearest to it, the place first that has none near yet.
    """
    if len(xy) <= MOST_SHOTS:
        return np.arange(len(xy))
    low, high = about.min(axis=0), about.max(axis=0)
    off = np.hypot(*np.maximum(0.0, np.maximum(low - xy, xy - high)).T)
    near = np.sort(np.argsort(off, kind="stable")[:LOOKED_AT])
    kept = np.zeros(len(xy), dtype=bool)
    kept[_spread_out(xy, about.mean(axis=0), ALL_OVER)] = True
    away = distances(about, xy[near])
    away[:, kept[near]] = np.inf
    nearest = distances(about, xy[kept]).min(axis=1)
    waiting = np.ones(len(about), dtype=bool)
    for _ in range(MOST_SHOTS - int(kept.sum())):
        place = int(np.where(waiting, nearest, -1.0).argmax())
        shot = int(away[place].argmin())
        kept[near[shot]] = True
        nearest = np.minimum(nearest, away[:, shot])
        away[:, shot] = np.inf
        waiting[place] = False
        if not waiting.any():
            waiting[:] = True
    return np.flatnonzero(kept)


def _spread_out(xy: Floats, middle: Floats, count: int) -> list[int]:
    """Shots far from each other: the one nearest the ``middle`` (2,), the one farthest from it, the one that
    is farthest off the line through both, then always the one that is farthest from all that are taken."""
    first = int(np.hypot(*(xy - middle).T).argmin())
    away = np.hypot(*(xy - xy[first]).T)
    second = int(away.argmax())
    arm, side = xy - xy[first], xy[second] - xy[first]
    taken = [first, second, int(np.abs(arm[:, 0] * side[1] - arm[:, 1] * side[0]).argmax())]
    for one in taken[1:]:
        away = np.minimum(away, np.hypot(*(xy - xy[one]).T))
    while len(taken) < count:
        taken.append(int(away.argmax()))
        away = np.minimum(away, np.hypot(*(xy - xy[taken[-1]]).T))
    return taken


def _creases(drift: Drift | None, places: Floats, plane: Floats) -> Creases:
    """The creases that say something beside the plane (n, 3) at ``places`` (n, 2) [m], site."""
    if drift is None:
        return Creases(None, ())
    return Creases(drift, own_shapes(np.linalg.qr(plane)[0], drift(places))[1])


def _relief(base: Floats, z: Floats) -> float:
    """How far shots lie above each other [m], but for what creases make of that."""
    if base.shape[1] > 3:
        z = z - base[:, 3:] @ np.linalg.lstsq(base, z, rcond=None)[0][3:]
    return float(z.max() - z.min())


def _spacing(apart: Floats) -> float:
    """Middle distance of a shot to its nearest neighbour [m]."""
    near = np.sort(apart, axis=1)[:, 1]
    return float(np.sort(near)[len(near) // 2])


class _Stated(NamedTuple):
    """Variance of the notes [m²], how far the prior takes ground to stand out of its trend [m], freedom."""

    error: float
    rough: float
    freedom: float


def _column(base: Floats, z: Floats, apart: Floats, reach: float, stated: _Stated) -> tuple[Column, Floats]:
    """One reach with every nugget, and the logarithm of each weight (k,)."""
    error, rough, freedom = stated
    eigenvalues, vectors = np.linalg.eigh(matern(apart, reach))
    eigenvalues = np.maximum(eigenvalues, 0.0)
    turned = vectors.T @ np.column_stack((base, z))
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
        upper, right = inner[:-1, :-1], inner[:-1, -1]
        left = float(inner[-1, -1] - right @ np.linalg.solve(upper, right))
        scales[number] = max(left, 0.0) + prior
        logs[number] = -0.5 * (np.log(spread).sum() + np.linalg.slogdet(upper)[1])
        logs[number] -= 0.5 * freedom * np.log(scales[number])
    return logs, scales
