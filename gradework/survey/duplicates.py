"""Do these shots make a surface at all? Enough of them, real numbers, not too wide, not all on one line.

It never repairs anything: each rule broken is a fault that names the shots and the fix.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults, Finding, visible
from gradework.survey.stations import median
from gradework.units.display import Display

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


# Shots in one place, and names used twice.
#
# Two shots of one place are a check when they agree and a contradiction when they do not; it never picks
# one of two that differ.

SAME_PLACE = 0.3048e-3
"""[m] 0.001 ft: shots this close stand in one place, whatever the tape said."""

SAME_ELEVATION = 0.02 * 0.3048
"""[m] 0.02 ft: two readings of one place agree when they differ by no more; twice a rod's smallest bar."""

EQUAL = 1e-9
"""[m] Elevations that differ by no more are the same number, written in another unit or way."""

MOST_DOUBLES_NAMED = 20
"""So many doubles get a finding each; a last one counts the rest."""


class Merged(NamedTuple):
    """``keep`` (k,) the shots that stay, in file order; ``xyz`` (k, 3) [m], elevations averaged."""

    keep: NDArray[np.int64]
    xyz: NDArray[np.float64]
    findings: tuple[Finding, ...]


def merge_doubles(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], faults: Faults, show: Display
) -> Merged:
    """Merge the shots of one place; add `same-place-two-elevations` to ``faults`` where they contradict.

    The first shot in the file gives name and position, the mean of all the elevation.
    """
    group = same_places(xyz[:, :2])
    keep, number, count = np.unique(group, return_inverse=True, return_counts=True)
    if len(keep) == len(xyz):
        return Merged(keep, xyz, ())
    order = np.argsort(number, kind="stable")
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    z = xyz[order, 2]
    spread = np.maximum.reduceat(z, first) - np.minimum.reduceat(z, first)
    for g in np.flatnonzero(spread > SAME_ELEVATION + EQUAL).tolist():
        shots = order[first[g] : first[g] + count[g]]
        _contradiction(names, xyz, lines, shots, faults, show)
    merged = xyz[keep].copy()
    differ = spread > EQUAL
    merged[differ, 2] = (np.add.reduceat(z, first) / count)[differ]
    doubled = np.flatnonzero(count > 1)
    groups = [order[first[g] : first[g] + count[g]] for g in doubled[:MOST_DOUBLES_NAMED].tolist()]
    findings = [_finding(names, xyz, lines, shots, show) for shots in groups]
    if len(doubled) > MOST_DOUBLES_NAMED:
        findings.append(_rest(len(doubled) - MOST_DOUBLES_NAMED, float(spread.max())))
    return Merged(keep, merged, tuple(findings))


def same_places(xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """For each shot (n,) the first shot of the file that stands in the same place (itself, if none does).

    Shots chained by steps of at most `SAME_PLACE` are one place.
    """
    group = np.arange(len(xy), dtype=np.int64)
    local = xy - xy.min(axis=0) if len(xy) else xy
    # two shots closer than half a cell share a cell in one of four grids shifted by half a cell
    pairs = [
        _pairs_in_cells(local, np.array([dx, dy]) * SAME_PLACE) for dx in (0.0, 1.0) for dy in (0.0, 1.0)
    ]
    a, b = np.concatenate([p[0] for p in pairs]), np.concatenate([p[1] for p in pairs])
    while len(a):
        low = np.minimum(group[a], group[b])
        before = group.copy()
        np.minimum.at(group, group[a], low)
        np.minimum.at(group, group[b], low)
        group = group[group]
        if np.array_equal(before, group):
            break
    return group


def _pairs_in_cells(
    local: NDArray[np.float64], shift: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of close shots that share a cell of twice `SAME_PLACE`."""
    cell = np.minimum((local + shift) * (0.5 / SAME_PLACE), 2.0**31 - 1).astype(np.int64)
    key = (cell[:, 0] << 32) | cell[:, 1]
    ordered = np.sort(key)
    crowded = ordered[:-1][ordered[1:] == ordered[:-1]]
    if not len(crowded):
        none = np.zeros(0, dtype=np.int64)
        return none, none
    members = np.flatnonzero(np.isin(key, crowded))
    members = members[np.lexsort((local[members, 1], local[members, 0], key[members]))]
    firsts, seconds = [], []
    for step in (1, 2, 3, 4):  # neighbours along x, and a few beyond, in case the nearest differs in y
        a, b = members[:-step], members[step:]
        close = (key[a] == key[b]) & (np.hypot(*(local[a] - local[b]).T) <= SAME_PLACE)
        firsts.append(a[close])
        seconds.append(b[close])
    return np.concatenate(firsts), np.concatenate(seconds)


def name_clashes(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], faults: Faults, show: Display
) -> None:
    """Add `same-name-two-places` for each name that stands in two different places."""
    if len(set(names)) == len(names):
        return
    seen: dict[str, int] = {}
    for i, name in enumerate(names):
        j = seen.setdefault(name, i)
        apart = float(np.hypot(*(xyz[i, :2] - xyz[j, :2])))
        if apart > SAME_PLACE:
            faults.add(
                "same-name-two-places",
                f"station {visible(name)} stands at {show.place(*xyz[j, :2].tolist())} on line {lines[j]}"
                f" and at {show.place(*xyz[i, :2].tolist())} here",
                "one place for each name",
                "give one of the two another name, or fix the wrong position",
                line=int(lines[i]),
            )


def _contradiction(
    names: Sequence[str],
    xyz: NDArray[np.float64],
    lines: NDArray[np.int64],
    shots: NDArray[np.int64],
    faults: Faults,
    show: Display,
) -> None:
    low, high = shots[np.argmin(xyz[shots, 2])], shots[np.argmax(xyz[shots, 2])]
    a, b = sorted((int(low), int(high)))
    faults.add(
        "same-place-two-elevations",
        f"{visible(names[a])} on line {lines[a]} and {visible(names[b])} on line {lines[b]} stand in one "
        f"place at {show.elevation(float(xyz[a, 2]))} and {show.elevation(float(xyz[b, 2]))}, "
        f"{show.length(float(xyz[high, 2] - xyz[low, 2]))} apart",
        f"elevations within {show.length(SAME_ELEVATION)} of each other",
        "delete the wrong one",
        line=int(lines[b]),
    )


def _finding(
    names: Sequence[str],
    xyz: NDArray[np.float64],
    lines: NDArray[np.int64],
    shots: NDArray[np.int64],
    show: Display,
) -> Finding:
    spread = float(np.ptp(xyz[shots, 2]))
    rows = ", ".join(str(line) for line in lines[shots].tolist()[:4]) + (", ..." if len(shots) > 4 else "")
    name = visible(names[int(shots[0])])
    if spread <= EQUAL:
        advice = f"Lines {rows} give the same shot of {name}; they count once."
        return Finding("double-shot", "note", name, spread, EQUAL, advice)
    advice = (
        f"Lines {rows} give {name} elevations that differ by {show.elevation(spread)}; the mean is used."
        " Delete the one you trust less."
    )
    return Finding("double-shot-averaged", "warning", name, spread, SAME_ELEVATION, advice)


def _rest(count: int, most: float) -> Finding:
    advice = f"{count} more places were shot more than once; each counts once, with its mean elevation."
    code = "double-shot" if most <= EQUAL else "double-shot-averaged"
    return Finding(
        code, "note" if most <= EQUAL else "warning", "the whole survey", most, SAME_ELEVATION, advice
    )


# One place very far from all others, or beyond the yard by the sign of its x or y alone.
#
# A wrong first digit, a wrong degree, a point that is not of this yard: it is very far. The yard's own
# size is the median distance from its middle, which one place cannot move however wrong it is. A wrong
# sign is not so far in a small yard, but it is told by the others: all of them lie on one side of the
# axis, and turned back to that side the place lies among them.

LEAST_PLACES = 5
"""Fewer places do not tell which of them is away from the others."""

VERY_FAR = 20.0
"""A place this many times the median distance from the middle is very far. A full square of shots reaches to
1.9 times, a benchmark down the street to about 10; a judgement, no source."""

ALONE = 10.0
"""It stands alone when the nearest other place is this many median distances away."""

MOST_FAR_NAMED = 5

BEYOND = 0.25
"""A wrong sign shows where the place lies beyond the others by this part of what they span [-]; with few of
them by more, BEYOND (1 + FEW / n), for the next shot of five may well lie so far out."""

FEW = 6.0

OVER_THE_AXIS = 0.1
"""The others may reach over the axis by this part of what they span [-]: the origin is rough."""


def far_places(
    names: Sequence[str],
    xy: ArrayLike,
    lines: Sequence[int] | NDArray[np.int64],
    show: Display,
    *,
    file: str = "",
) -> list[Finding]:
    """A warning for each place alone very far from the others (``place-far-off``), or beyond them by its sign
    (``place-sign``); ``xy`` (n, 2) [m].

    ``lines``: the line of each place, 0 unknown, of ``file`` where that is not the one with the heights. A
    finding's value is its distance from the middle of the places, or how far it lies beyond them [m], its
    limit the greatest that passes.
    """
    at = np.asarray(xy, dtype=float).reshape(-1, 2)
    if len(at) < LEAST_PLACES:
        return []
    away = np.hypot(*(at - [median(at[:, 0]), median(at[:, 1])]).T)
    usual = median(away)
    far = np.flatnonzero(away > VERY_FAR * usual)
    found: dict[int, Finding] = {}

    def where(index: int) -> str:
        line, name = int(lines[index]), visible(names[index])
        return f"{name}, line {line}" + (f" of {visible(file)}" if file else "") if line else name

    for index in far[np.argsort(-away[far])][:MOST_FAR_NAMED].tolist():
        others = np.hypot(*(np.delete(at, index, axis=0) - at[index]).T)
        if usual == 0 or float(others.min()) < ALONE * usual:
            continue
        found[index] = Finding(
            "place-far-off",
            "warning",
            where(index),
            float(away[index]),
            VERY_FAR * usual,
            f"{visible(names[index])} stands {show.distance(float(away[index]))} from the middle of "
            f"the yard, where half of all places lie within {show.distance(usual)}. Look for a wrong "
            "digit or sign in its place; a mark so far off is better left out of the shots.",
        )
    for index, slip in _slips(at).items():
        found.setdefault(index, slip.finding(visible(names[index]), where(index), show))
    return list(found.values())


class _Slip(NamedTuple):
    """The coordinate of a place that lies ``gap`` [m] beyond the ``low`` to ``high`` of all others."""

    axis: Literal["x", "y"]
    value: float
    low: float
    high: float
    gap: float
    limit: float

    def finding(self, name: str, where: str, show: Display) -> Finding:
        """The warning, for a place of this name."""
        return Finding(
            "place-sign",
            "warning",
            where,
            self.gap,
            self.limit,
            f"{name} has {self.axis} {show.distance(self.value)}, all others have "
            f"{show.distance(self.low)} to {show.distance(self.high)}. With {self.axis} "
            f"{show.distance(-self.value)} it would stand among them: look for a wrong sign. If its "
            "place is right, leave it so.",
        )


def _slips(at: NDArray[np.float64]) -> dict[int, _Slip]:
    """Places (n, 2) that stand beyond all others and would stand among them with the other sign."""
    found: dict[int, _Slip] = {}
    axes: tuple[Literal["x", "y"], ...] = ("x", "y")
    for column, axis in enumerate(axes):
        for sign in (1.0, -1.0):
            values = sign * at[:, column]
            index = int(np.argmin(values))
            own, others = float(values[index]), np.sort(np.delete(values, index))
            low, high = float(others[0]), float(others[-1])
            span, gap = high - low, low - own
            limit = max(BEYOND * (1.0 + FEW / len(at)) * span, float(np.diff(others).max()))
            one_sided = own < 0.0 and low >= -OVER_THE_AXIS * span
            if not (one_sided and gap > limit and low <= -own <= high + BEYOND * span):
                continue
            if _nearest(at, index, column, -1.0) < _nearest(at, index, column, 1.0):
                ends = sorted((sign * low, sign * high))
                found.setdefault(index, _Slip(axis, sign * own, ends[0], ends[1], gap, limit))
    return found


def _nearest(at: NDArray[np.float64], index: int, column: int, sign: float) -> float:
    """How far place ``index``, with ``sign`` put to one of its coordinates, is from the nearest other [m]."""
    own = at[index].copy()
    own[column] *= sign
    return float(np.hypot(*(np.delete(at, index, axis=0) - own).T).min())


WIDEST_SITE = 15_240.0
"""[m] 50,000 ft. On a 0.1 mm grid whole numbers then stay under 2**28: signed areas are exact in 64 bits."""

FARTHEST = 1e9
"""[m] Farther from the origin than this, a coordinate no longer holds a tenth of a millimetre."""

NARROWEST_SITE = 0.001
"""[m] Shots that all lie within a strip this wide lie on a line: no tape places a stake closer than that."""

SURFACE_SHOTS = 3


def check_numbers(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], faults: Faults, show: Display
) -> None:
    """Add `shot-not-a-number` and `site-too-wide` to ``faults``; ``xyz`` (n, 3) [m]."""
    finite = np.isfinite(xyz)
    bad = np.zeros(0, dtype=np.int64) if finite.all() else np.flatnonzero(~finite.all(axis=1))
    for i in bad.tolist():
        faults.add(
            "shot-not-a-number",
            f"{visible(names[i])}: a position or elevation that is not a finite number",
            "three plain numbers",
            "write the reading, or delete the row",
            line=int(lines[i]),
        )
    if len(xyz) and not len(bad):
        _check_width(names, xyz, lines, faults, show)


def check_spread(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], file: str, show: Display
) -> None:
    """Raise ``InputError`` unless the shots can carry a surface.

    ``xyz`` is ``(n, 3)`` [m], site frame; ``lines`` the line of each shot in ``file`` (0 unknown). Faults:
    those of `check_numbers`, `too-few-shots`, `shots-on-a-line`.
    """
    faults = Faults(file)
    n = len(xyz)
    if n < SURFACE_SHOTS:
        _too_few(faults, n)
    check_numbers(names, xyz, lines, faults, show)
    faults.raise_if_any()
    ends = _ends_if_on_a_line(xyz[:, :2])
    if ends is not None:
        a, b = ends
        faults.stop(
            "shots-on-a-line",
            f"all {n} shots lie on one line, from {visible(names[a])} to {visible(names[b])}",
            "shots that spread in two directions",
            "add shots to one side of the line",
            line=int(lines[b]),
        )


def _too_few(faults: Faults, n: int) -> None:
    if n == 0:
        found, fix = "no shots", "write one row per shot: station, x, y, elevation"
    else:
        found = "1 shot cannot" if n == 1 else f"{n} shots in different places cannot"
        found += " make a surface"
        fix = "shoot at least 3, better the corners and the middle"
    faults.add("too-few-shots", found, "at least 3 shots in different places", fix)


def _check_width(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], faults: Faults, show: Display
) -> None:
    low, high = xyz.min(axis=0), xyz.max(axis=0)
    # halves first: the difference of two huge numbers of opposite sign would overflow
    width = float(np.max(high / 2 - low / 2)) * 2
    if width <= WIDEST_SITE and float(np.max(np.maximum(high, -low))) < FARTHEST:
        return
    away = np.abs(xyz / 2 - np.median(xyz / 2, axis=0)).max(axis=1)
    far = int(np.argmax(away))
    faults.add(
        "site-too-wide",
        f"shots {show.distance(min(width, 1e300))} apart",
        f"a site of at most {show.distance(WIDEST_SITE)}",
        f"look for a slipped decimal point or the wrong units, first at {visible(names[far])}",
        line=int(lines[far]),
    )


def _ends_if_on_a_line(xy: NDArray[np.float64]) -> tuple[int, int] | None:
    """The two end shots when all shots lie within a strip of `NARROWEST_SITE`, else None."""
    centred = xy - xy[0]
    first = int(np.argmax(np.einsum("ij,ij->i", centred, centred)))
    away = xy - xy[first]
    second = int(np.argmax(np.einsum("ij,ij->i", away, away)))
    along = away[second]
    length = float(np.hypot(along[0], along[1]))
    if length < NARROWEST_SITE:
        return min(first, second), max(first, second)
    offset = (away[:, 0] * along[1] - away[:, 1] * along[0]) / length
    if float(offset.max() - offset.min()) >= NARROWEST_SITE:
        return None
    return min(first, second), max(first, second)
