"""Every shot predicted from all the others, with an honest error: the ground as a smooth random surface.

A plane plus a Gaussian process (Matérn 3/2 for broken ground, 5/2 for a mown lawn) plus reading noise.
Smoothness, range and noise are not picked but weighted over a grid by their restricted likelihood, for each
shot without that shot, so a misread one cannot make room for itself. All of it in closed form: no shot is
really taken out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.survey.median import median

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FEWEST = 8
"""With fewer shots a plane, a range and a noise cannot be told apart, and nothing is said."""

MOST_IN_A_TILE = 160

_TREND = 3
_BROKEN, _SMOOTH = 7, 5  # ranges tried with each smoothness
_NOISES = np.geomspace(1e-4, 10.0, 9)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Each shot against what the others say. ``residual`` (n,) shot minus prediction [m], ``sd`` (n,) its
    standard error [m], ``freedom`` (n,) degrees of freedom; NaN where too few shots can tell. Read-only."""

    residual: Floats
    sd: Floats
    freedom: Floats

    @property
    def t(self) -> Floats:
        """Residual over its standard error, Student's t on clean ground."""
        return self.residual / self.sd


def leave_each_out(xyz: Floats) -> LeftOut:
    """Predict each of ``xyz`` (n, 3) [m] from the others; big surveys in tiles of up to 160 shots.

    With fewer than 8 shots, or all on one line, all NaN. A whole shift or a tilt of the ground changes
    nothing.
    """
    n = len(xyz)
    residual, sd, freedom = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)
    for tile in tiles(xyz[:, :2], np.arange(n)):
        if len(tile) < FEWEST:
            continue
        part = GroundModel(xyz[tile])
        if part.usable:
            residual[tile], sd[tile] = part.left_out()
            freedom[tile] = len(tile) - 1 - _TREND
    for array in (residual, sd, freedom):
        array.setflags(write=False)
    return LeftOut(residual, sd, freedom)


def levels_by_ground(
    names: Sequence[str], xyz: Floats, doubted: Collection[str]
) -> dict[str, tuple[float, float]]:
    """Level of each ``doubted`` station by the others of ``xyz`` (n, 3), and the standard error of that [m].

    The doubted ones say nothing about each other. Stations of which the others can tell nothing are left out.
    """
    sound = [i for i, name in enumerate(names) if name not in doubted]
    found: dict[str, tuple[float, float]] = {}
    for i, name in enumerate(names):
        if name in doubted:
            residual, sd, _ = leave_one_out(xyz, sound, i)
            if np.isfinite(sd):
                found[name] = (float(xyz[i, 2]) - residual, sd)
    return found


def leave_one_out(xyz: Floats, sound: Sequence[int], one: int) -> tuple[float, float, float]:
    """Shot ``one`` minus what the ``sound`` shots of ``xyz`` (n, 3) predict [m], the standard error of that
    [m], the degrees of freedom; NaN where they are too few to tell."""
    members = np.array(sorted({*sound, one}))
    out = leave_each_out(xyz[members])
    at = int(np.searchsorted(members, one))
    return float(out.residual[at]), float(out.sd[at]), float(out.freedom[at])


def tiles(xy: Floats, members: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Split the ``members`` of ``xy`` (n, 2) along the longer side until every part holds 160 at most."""
    if len(members) <= MOST_IN_A_TILE:
        return [members]
    span = np.ptp(xy[members], axis=0)
    order = members[np.argsort(xy[members, int(span[1] > span[0])], kind="stable")]
    half = len(order) // 2
    return tiles(xy, order[:half]) + tiles(xy, order[half:])


class GroundModel:
    """The grid of models for one set of shots. ``usable`` is False where they lie on one line or are too few.

    Per kind of ground r (smoothness and range) and noise g: ``vectors`` (r, n, m) and ``values`` (r, m), the
    eigenvectors (back in the space of the shots) and eigenvalues of the correlations with the plane taken
    out.
    """

    def __init__(self, xyz: Floats) -> None:
        xy = xyz[:, :2] - xyz[:, :2].mean(axis=0)
        reach = float(np.hypot(*np.ptp(xy, axis=0))) or 1.0
        xy = xy / reach
        self.z = xyz[:, 2] - median(xyz[:, 2])
        plane = np.column_stack([np.ones(len(xy)), xy])
        full, strengths, _ = np.linalg.svd(plane, full_matrices=True)
        self.usable = len(xyz) >= FEWEST and float(strengths[-1]) > 1e-6 and float(np.ptp(self.z)) > 0
        if not self.usable:
            return
        contrast = full[:, _TREND:]
        apart = np.hypot(xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1])
        nearest = np.sort(apart + 9.0 * np.eye(len(xy)), axis=1)[:, 0]
        spacing = max(median(nearest), 1e-3)
        vectors, values = [], []
        for correlation in _correlations(apart, spacing):
            # Divided by its mean square, so that the noise ratios mean the same at every range.
            inner = contrast.T @ correlation @ contrast
            inner /= float(np.trace(inner)) / len(inner)
            lam, u = np.linalg.eigh(inner)
            values.append(np.maximum(lam, 0.0))
            vectors.append(contrast @ u)
        self.vectors, self.values = np.array(vectors), np.array(values)
        self._precision()

    def _precision(self) -> None:
        """``alpha`` and ``diagonal`` (r, g, n) of the precision of the contrasts; ``square``, ``logdet`` (r,
        g)."""
        scores = np.einsum("rnm,n->rm", self.vectors, self.z)
        spread = self.values[:, None, :] + _NOISES[None, :, None]
        self.alpha = np.einsum("rnm,rgm->rgn", self.vectors, scores[:, None, :] / spread)
        self.diagonal = np.einsum("rnm,rgm->rgn", self.vectors**2, 1.0 / spread)
        self.square = (scores[:, None, :] ** 2 / spread).sum(axis=2)
        self.logdet = np.log(spread).sum(axis=2)

    def left_out(self) -> tuple[Floats, Floats]:
        """Residual and standard error of each shot (n,), averaged over the models that the others favour."""
        freedom = len(self.z) - 1 - _TREND
        off = self.alpha / self.diagonal
        rest = np.maximum(self.square[..., None] - self.alpha * off, 1e-300)
        minus_two_log = freedom * np.log(rest) + self.logdet[..., None] + np.log(self.diagonal)
        weight = np.exp(-0.5 * (minus_two_log - minus_two_log.min(axis=(0, 1))))
        weight /= weight.sum(axis=(0, 1))
        variance = rest / freedom / self.diagonal
        mean = (weight * off).sum(axis=(0, 1))
        second = (weight * (variance + off**2)).sum(axis=(0, 1))
        return mean, np.sqrt(np.maximum(second - mean**2, 1e-300))

    def swapped(self, i: int) -> tuple[int, float]:
        """The shot whose exchange with ``i`` mends the ground most, and the misfit that this leaves.

        The misfit is the sum of squares beyond that with both left out, over the variance (chi-square, 2).
        """
        r, g = np.unravel_index(int(np.argmin(self._fit_without(i))), self.square.shape)
        spread = self.values[r] + _NOISES[g]
        precision = (self.vectors[r] / spread) @ self.vectors[r].T
        alpha, total = self.alpha[r, g], float(self.square[r, g])
        step = self.z - self.z[i]
        pair = precision[i, i] + np.diag(precision) - 2 * precision[i]
        after = total + 2 * step * (alpha[i] - alpha) + step**2 * pair
        after[i] = np.inf
        j = int(np.argmin(after))
        both = np.array([i, j])
        gone = float(alpha[both] @ np.linalg.solve(precision[np.ix_(both, both)], alpha[both]))
        left = max(total - gone, 1e-300)
        return j, max(float(after[j]) - left, 0.0) / (left / (len(self.z) - 2 - _TREND))

    def _fit_without(self, i: int) -> Floats:
        freedom = len(self.z) - 1 - _TREND
        rest = np.maximum(self.square - self.alpha[..., i] ** 2 / self.diagonal[..., i], 1e-300)
        return np.asarray(freedom * np.log(rest) + self.logdet + np.log(self.diagonal[..., i]))


def _correlations(apart: Floats, spacing: float) -> Iterator[Floats]:
    """Correlations (n, n) of the ground over the distances ``apart``, one for each smoothness and range.

    Ranges go from half the ``spacing`` of the shots, where nothing is told by a neighbour, to beyond the
    yard. Matérn's family, its closed forms for 3/2 and 5/2.
    """
    for reach in np.geomspace(0.5 * spacing, 4.0, _BROKEN):
        scaled = np.sqrt(3.0) * apart / reach
        yield (1.0 + scaled) * np.exp(-scaled)
    for reach in np.geomspace(0.5 * spacing, 2.0, _SMOOTH):
        scaled = np.sqrt(5.0) * apart / reach
        yield (1.0 + scaled + scaled**2 / 3.0) * np.exp(-scaled)
