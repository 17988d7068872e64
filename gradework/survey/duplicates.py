"""Do these shots make a surface at all? Enough of them, real numbers, not too wide, not all on one line.

It never repairs anything: each rule broken is a fault that names the shots and the fix.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults, Finding, finding, visible
from gradework.survey.stations import located, median
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


def merge_doubles(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], faults: Faults, show: Display
) -> tuple[NDArray[np.int64], NDArray[np.float64], list[Finding]]:
    """Merge the shots of one place; add `same-place-two-elevations` to ``faults`` where they contradict.

    Gives the shots that stay (k,), in the order of the file, their ``xyz`` (k, 3) [m], and what was noticed.
    The first shot in the file gives name and position, the mean of all the elevation.
    """
    group = same_places(xyz[:, :2])
    keep, number, count = np.unique(group, return_inverse=True, return_counts=True)
    if len(keep) == len(xyz):
        return keep, xyz, []
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
    findings = [_double(names, xyz, lines, shots, show) for shots in groups]
    if len(doubled) > MOST_DOUBLES_NAMED:
        most, rest = float(spread.max()), len(doubled) - MOST_DOUBLES_NAMED
        findings.append(
            finding(
                "double-shot" if most <= EQUAL else "double-shot-averaged",
                "note" if most <= EQUAL else "warning",
                "the whole survey",
                most,
                SAME_ELEVATION,
                variant="more",
                count=rest,
            )
        )
    return keep, merged, findings


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
            faults.note(
                "same-name-two-places",
                line=int(lines[i]),
                name=visible(name),
                first=show.place(*xyz[j, :2].tolist()),
                before=lines[j],
                second=show.place(*xyz[i, :2].tolist()),
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
    faults.note(
        "same-place-two-elevations",
        line=int(lines[b]),
        first=visible(names[a]),
        before=lines[a],
        second=visible(names[b]),
        after=lines[b],
        one=show.elevation(float(xyz[a, 2])),
        other=show.elevation(float(xyz[b, 2])),
        apart=show.length(float(xyz[high, 2] - xyz[low, 2])),
        within=show.length(SAME_ELEVATION),
    )


def _double(
    names: Sequence[str],
    xyz: NDArray[np.float64],
    lines: NDArray[np.int64],
    shots: NDArray[np.int64],
    show: Display,
) -> Finding:
    """One place that was shot more than once, with elevations that agree."""
    spread = float(np.ptp(xyz[shots, 2]))
    rows = ", ".join(str(line) for line in lines[shots].tolist()[:4]) + (", ..." if len(shots) > 4 else "")
    name = visible(names[int(shots[0])])
    if spread <= EQUAL:
        return finding("double-shot", "note", name, spread, EQUAL, lines=rows, name=name)
    apart = show.elevation(spread)
    return finding(
        "double-shot-averaged", "warning", name, spread, SAME_ELEVATION, lines=rows, name=name, apart=apart
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


def distant_points(
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
        line = int(lines[index])
        return located(names[index], line) + (f" of {visible(file)}" if file and line else "")

    for index in far[np.argsort(-away[far])][:MOST_FAR_NAMED].tolist():
        others = np.hypot(*(np.delete(at, index, axis=0) - at[index]).T)
        if usual == 0 or float(others.min()) < ALONE * usual:
            continue
        found[index] = finding(
            "place-far-off",
            "warning",
            where(index),
            float(away[index]),
            VERY_FAR * usual,
            name=visible(names[index]),
            away=show.distance(float(away[index])),
            usual=show.distance(usual),
        )
    for index, slip in _wrong_signs(at).items():
        if index not in found:
            found[index] = finding(
                "place-sign",
                "warning",
                where(index),
                slip.gap,
                slip.limit,
                name=visible(names[index]),
                axis=slip.axis,
                has=show.distance(slip.value),
                low=show.distance(slip.low),
                high=show.distance(slip.high),
                turned=show.distance(-slip.value),
            )
    return list(found.values())


class _WrongSign(NamedTuple):
    """The coordinate of a place that lies ``gap`` [m] beyond the ``low`` to ``high`` of all others."""

    axis: str
    value: float
    low: float
    high: float
    gap: float
    limit: float


def _wrong_signs(at: NDArray[np.float64]) -> dict[int, _WrongSign]:
    """Places (n, 2) that stand beyond all others and would stand among them with the other sign."""
    found: dict[int, _WrongSign] = {}
    for column, axis in enumerate("xy"):
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
                found.setdefault(index, _WrongSign(axis, sign * own, ends[0], ends[1], gap, limit))
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
        faults.note("shot-not-a-number", line=int(lines[i]), name=visible(names[i]))
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
        shots = "1 shot" if n == 1 else f"{n} shots in different places"
        faults.note("too-few-shots", variant="" if n else "none", shots=shots)
    check_numbers(names, xyz, lines, faults, show)
    faults.raise_if_any()
    ends = _ends_if_on_a_line(xyz[:, :2])
    if ends is not None:
        a, b = ends
        faults.halt(
            "shots-on-a-line", line=int(lines[b]), count=n, first=visible(names[a]), last=visible(names[b])
        )


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
    faults.note(
        "site-too-wide",
        line=int(lines[far]),
        width=show.distance(min(width, 1e300)),
        widest=show.distance(WIDEST_SITE),
        name=visible(names[far]),
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
