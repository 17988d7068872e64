"""Shots in one place, and names used twice.

Two shots of one place are a check when they agree and a contradiction when they do not; it never picks one
of two that differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults, Finding, visible
from gradework.units import Display

SAME_PLACE = 0.3048e-3
"""[m] 0.001 ft: shots this close stand in one place, whatever the tape said."""

SAME_ELEVATION = 0.02 * 0.3048
"""[m] 0.02 ft: two readings of one place agree when they differ by no more; twice a rod's smallest bar."""

EQUAL = 1e-9
"""[m] Elevations that differ by no more are the same number, written in another unit or way."""

MOST_NAMED = 20
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
    groups = [order[first[g] : first[g] + count[g]] for g in doubled[:MOST_NAMED].tolist()]
    findings = [_finding(names, xyz, lines, shots, show) for shots in groups]
    if len(doubled) > MOST_NAMED:
        findings.append(_rest(len(doubled) - MOST_NAMED, float(spread.max())))
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
                "give one of the two another name, or mend the wrong position",
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
