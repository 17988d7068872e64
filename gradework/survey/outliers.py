"""Blunders: single shots that the ground around them does not believe, and the slip that explains them.

Each shot is compared with what the others say (in a big survey, those of its part of the yard); one that is
out by more than chance allows is named with line, likely slip and likely value. Nothing is ever changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, finding, visible
from gradework.survey.breaklines import creases as creases_of
from gradework.survey.breaklines import own_shapes
from gradework.survey.levelling.readings import Written
from gradework.survey.misreadings import Misreading, explain
from gradework.survey.one_thread import one_thread
from gradework.survey.stations import located, median

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.survey.stations import Stations
    from gradework.units.display import Display
    from gradework.units.lengths import Unit

    Floats = NDArray[np.float64]


# Every shot predicted from all the others, with an honest error: the ground as a smooth random surface.
#
# A plane plus a Gaussian process (Matérn 3/2 for broken ground, 5/2 for a mown lawn) plus reading noise.
# Smoothness, range and noise are not picked but weighted over a grid by their restricted likelihood, for
# each shot without that shot, so a misread one cannot make room for itself. All of it in closed form: no
# shot is really taken out.
#
# Where breaklines were told, the plane creases along them: each has a shape beside the plane whose height
# is fitted like the plane's own (universal kriging with an external drift), so that a bank is no blunder and
# a blunder on it is not swallowed by a rough ground.

FEWEST = 8
"""With fewer shots a plane, a range and a noise cannot be told apart, and nothing is said."""

MOST_IN_A_TILE = 160

_TREND = 3
_ALONE = 1e-3  # a shot of which the trend leaves less is the only one that tells of a crease
_BROKEN, _SMOOTH = 7, 5  # ranges tried with each smoothness
_NOISES = np.geomspace(1e-4, 10.0, 9)


@dataclass(frozen=True, slots=True)
class CrossValidation:
    """Each shot against what the others say. ``residual`` (n,) shot minus prediction [m], ``sd`` (n,) its
    standard error [m], ``freedom`` (n,) degrees of freedom; NaN where too few shots can tell. Read-only."""

    residual: Floats
    sd: Floats
    freedom: Floats

    @property
    def t(self) -> Floats:
        """Residual over its standard error, Student's t on clean ground."""
        return self.residual / self.sd


@one_thread()
def cross_validate(xyz: Floats, creases: Floats | None = None) -> CrossValidation:
    """Predict each of ``xyz`` (n, 3) [m] from the others; big surveys in tiles of up to 160 shots.

    ``creases`` (n, h) [m]: shapes of breaklines, as of ``survey.breaklines.creases``. With fewer than 8
    shots, or all on one line, all NaN. A whole shift or a tilt of the ground changes nothing.
    """
    n = len(xyz)
    residual, sd, freedom = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)
    for tile in tiles(xyz[:, :2], np.arange(n)):
        if len(tile) < FEWEST:
            continue
        part = GroundModel(xyz[tile], None if creases is None else creases[tile])
        if part.usable:
            residual[tile], sd[tile] = part.left_out()
            freedom[tile] = part.freedom
    for array in (residual, sd, freedom):
        array.setflags(write=False)
    return CrossValidation(residual, sd, freedom)


def levels_by_ground(
    names: Sequence[str], xyz: Floats, doubted: Collection[str], creases: Floats | None = None
) -> dict[str, tuple[float, float]]:
    """Level of each ``doubted`` station by the others of ``xyz`` (n, 3), and the standard error of that [m].

    The doubted ones say nothing about each other. Stations of which the others can tell nothing are left out.
    """
    sound = [i for i, name in enumerate(names) if name not in doubted]
    found: dict[str, tuple[float, float]] = {}
    for i, name in enumerate(names):
        if name in doubted:
            residual, sd, _ = residual_without(xyz, sound, i, creases)
            if np.isfinite(sd):
                found[name] = (float(xyz[i, 2]) - residual, sd)
    return found


def residual_without(
    xyz: Floats, sound: Sequence[int], one: int, creases: Floats | None = None
) -> tuple[float, float, float]:
    """Shot ``one`` minus what the ``sound`` shots of ``xyz`` (n, 3) predict [m], the standard error of that
    [m], the degrees of freedom; NaN where they are too few to tell."""
    members = np.array(sorted({*sound, one}))
    out = cross_validate(xyz[members], None if creases is None else creases[members])
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

    def __init__(self, xyz: Floats, creases: Floats | None = None) -> None:
        xy = xyz[:, :2] - xyz[:, :2].mean(axis=0)
        reach = float(np.hypot(*np.ptp(xy, axis=0))) or 1.0
        xy = xy / reach
        self.z = xyz[:, 2] - median(xyz[:, 2])
        plane = np.column_stack([np.ones(len(xy)), xy])
        full, strengths, _ = np.linalg.svd(plane, full_matrices=True)
        self.usable = len(xyz) >= FEWEST and float(strengths[-1]) > 1e-6 and float(np.ptp(self.z)) > 0
        if not self.usable:
            return
        trend = full[:, :_TREND] if creases is None else own_shapes(full[:, :_TREND], creases)[0]
        known = trend.shape[1]
        self.freedom = len(xyz) - 1 - known
        contrast = full[:, known:] if known == _TREND else np.linalg.qr(trend, mode="complete")[0][:, known:]
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
        freedom = self.freedom
        alone = (self.vectors[0] ** 2).sum(axis=1) < _ALONE
        self.diagonal[..., alone] = 1.0
        off = np.where(alone, np.nan, self.alpha / self.diagonal)
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
        if np.linalg.det(precision[np.ix_(both, both)]) <= 1e-9 * precision[i, i] * precision[j, j]:
            return j, np.inf  # only these two tell how high the ground is there
        gone = float(alpha[both] @ np.linalg.solve(precision[np.ix_(both, both)], alpha[both]))
        left = max(total - gone, 1e-300)
        return j, max(float(after[j]) - left, 0.0) / (left / (self.freedom - 1))

    def _fit_without(self, i: int) -> Floats:
        freedom = self.freedom
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


NOTHING_WRITTEN: Mapping[str, Written] = MappingProxyType({})

FALSE_ALARM = 0.003
"""Chance that a clean survey has a shot pointed at, if the ground were of the kind assumed; on the yards of
the benchmark, which are not, up to 1.6 %."""

LEAST = 0.02 * 0.3048
"""Nobody shoots a station again for less [m]: 0.02 ft; a judgement."""

MOST_SHOTS = 2000
"""More shots than this are not read from a rod one by one; the search would take seconds."""

FINEST = 0.001 * 0.3048
"""[m] No reading tells more than 0.001 ft: against a smaller error, as that of a plane without any, rounding
in the last place would speak against a slip."""

EXCHANGE_MISFIT = 9.2
"""An exchange explains both values when it leaves no more over the variance (99 % of chi-square, 2
degrees)."""

EXCHANGE_ALSO_OFF = 3.5
"""The other shot of an exchange must be off by so many of its own standard errors."""


@dataclass(frozen=True, slots=True)
class Blunder:
    """One suspicious shot: its index, elevation minus prediction [m] with ``sd``, the ``limit`` it passed
    [m], the slips that explain it, likeliest first, and the index of the shot it was exchanged with, if
    so."""

    station: int
    residual: float
    sd: float
    limit: float
    slips: tuple[Misreading, ...]
    exchanged_with: int | None = None


def misread_findings(
    stations: Stations, written: Mapping[str, Written] = NOTHING_WRITTEN, *, aside: Collection[str] = ()
) -> list[Finding]:
    """The one search for misread shots of a survey, as findings: a warning for each, the surest first.

    ``written``: what the notes say for stations, by name; the elevation of those that are missing. ``aside``:
    names of stations that are in doubt already, and say nothing about others. More than 2000 shots get a note
    instead (`blunder-check-left-out`).
    """
    n = len(stations)
    if n > MOST_SHOTS:
        limit = float(MOST_SHOTS)
        return [finding("blunder-check-left-out", "note", "the whole survey", float(n), limit, count=n)]
    shots = zip(stations.names, stations.xyz.tolist(), stations.lines.tolist(), strict=True)
    sound = [(name, xyz, line) for name, xyz, line in shots if name not in aside]
    notes = [written.get(name) or Written(xyz[2], 1, line, rod=False) for name, xyz, line in sound]
    places = np.array([xyz for _, xyz, _ in sound], dtype=float).reshape(-1, 3)
    wheres = [located(name, note.line or line) for (name, _, line), note in zip(sound, notes, strict=True)]
    kept = [k for k, name in enumerate(stations.names) if name not in aside]
    bent = creases_of(stations)[kept] if stations.breaklines else None
    found = find_blunders(places, stations.unit, notes, bent)
    names = [visible(name) for name, _, _ in sound]
    return [_finding(b, names, wheres[b.station], notes[b.station], stations.show) for b in found]


@one_thread()
def find_blunders(
    xyz: Floats, unit: Unit, written: Sequence[Written] | None = None, creases: Floats | None = None
) -> tuple[Blunder, ...]:
    """Suspicious shots of ``xyz`` (n, 3) [m], the surest first; one in ten at most.

    ``written``: what the notes say for each shot; elevations themselves when it is missing. ``creases``
    (n, h) [m]: shapes of the breaklines that were told. After each find
    the shot is left out and the rest looked at again, so that one blunder does not hide or breed another;
    what a find is worth is then worked out without all the others. Fewer than 8 shots, or over 2000, say
    nothing.
    """
    n = len(xyz)
    if not FEWEST <= n <= MOST_SHOTS:
        return ()
    notes = written if written is not None else [Written(float(z), rod=False) for z in xyz[:, 2]]
    found: list[Blunder] = []
    for tile in tiles(xyz[:, :2], np.arange(n)):
        suspects = _suspects(xyz, tile, creases)
        gone = {i for pair in suspects for i in pair if i is not None}
        sound = [i for i in tile.tolist() if i not in gone]
        for station, partner in suspects:
            against = residual_without(xyz, sound, station, creases)
            found.append(_judge(against, len(sound), station, partner, notes, unit))
    return tuple(sorted(found, key=lambda b: -abs(b.residual) / b.sd))


def _suspects(xyz: Floats, tile: NDArray[np.int64], creases: Floats | None) -> list[tuple[int, int | None]]:
    """Shots of a tile that the others do not believe, each with the shot it was exchanged with or None."""
    left = tile
    found: list[tuple[int, int | None]] = []
    while len(found) < max(1, len(tile) // 10) and len(left) >= FEWEST:
        bent = None if creases is None else creases[left]
        out = cross_validate(xyz[left], bent)
        t = np.where(np.isfinite(out.t), np.abs(out.t), 0.0)
        worst = int(np.argmax(t))
        limit = threshold(len(xyz), float(np.nan_to_num(out.freedom[worst], nan=1.0)))
        if t[worst] <= limit or abs(float(out.residual[worst])) < LEAST:
            break
        partner = _exchanged(xyz[left], worst, bent)
        pair = (int(left[worst]), None if partner is None else int(left[partner]))
        found.append(pair)
        left = left[~np.isin(left, [i for i in pair if i is not None])]
    return found


def threshold(count: int, freedom: float) -> float:
    """Student's t that the worst of ``count`` clean shots passes with the chance ``FALSE_ALARM``.

    Bonferroni over the shots, both signs; the t quantile by the Cornish-Fisher expansion, good to 1 % above 6
    degrees of freedom and for the tail used here.
    """
    z = -NormalDist().inv_cdf(FALSE_ALARM / (2 * count))
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + first / freedom + second / freedom**2 + third / freedom**3


def _judge(
    against: tuple[float, float, float],
    sound: int,
    station: int,
    partner: int | None,
    notes: Sequence[Written],
    unit: Unit,
) -> Blunder:
    """What one suspect is worth, ``against`` so many ``sound`` shots only: what `residual_without` says."""
    residual, sd, freedom = against
    limit = threshold(sound + 1, freedom) * sd
    note = notes[station]
    signed = any(n.value < 0 for n in notes)
    slips: tuple[Misreading, ...] = ()
    if partner is None:
        error = note.sense * residual
        slips = explain(note.value, error, max(sd, FINEST), unit, signed=signed, rod=note.rod)
    return Blunder(station, residual, sd, limit, slips, partner)


def _exchanged(xyz: Floats, worst: int, creases: Floats | None) -> int | None:
    """The shot whose elevation belongs to ``worst`` and the other way round, where an exchange mends both.

    The other must look wrong by itself too, once ``worst`` is out of the way.
    """
    model = GroundModel(xyz, creases)
    if not model.usable:
        return None
    partner, misfit = model.swapped(worst)
    if misfit > EXCHANGE_MISFIT:
        return None
    bent = None if creases is None else np.delete(creases, worst, axis=0)
    out = cross_validate(np.delete(xyz, worst, axis=0), bent)
    t = abs(float(out.t[partner - (partner > worst)]))
    return partner if t > EXCHANGE_ALSO_OFF else None


def _finding(blunder: Blunder, names: Sequence[str], where: str, note: Written, show: Display) -> Finding:
    """A warning in the words of the yard."""
    name, off = names[blunder.station], show.elevation(abs(blunder.residual))
    side = "above" if blunder.residual > 0 else "below"
    other = "" if blunder.exchanged_with is None else names[blunder.exchanged_with]
    if not other and not blunder.slips:
        return finding(
            "shot-off-the-ground",
            "warning",
            where,
            blunder.residual,
            blunder.limit,
            name=name,
            off=off,
            side=side,
        )
    return finding(
        "shot-misread",
        "warning",
        where,
        blunder.residual,
        blunder.limit,
        variant="exchanged" if other else "",
        name=name,
        off=off,
        side=side,
        other=other,
        slips=_slips(blunder.slips, note, show),
    )


def _slips(slips: Sequence[Misreading], note: Written, show: Display) -> str:
    """The likeliest slip with what was written for what, and those nearly as likely; empty without any."""
    if not slips:
        return ""
    first, *others = slips
    say = show.rod if note.rod else show.elevation
    words = [f"{first.kind}: {say(note.value)} written for {say(first.likely)}"]
    words += [f"{s.kind} ({say(s.likely)})" for s in others if s.score > first.score - 2.0]
    return "; or ".join(words)
