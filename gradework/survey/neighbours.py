"""A shot that stands a whole foot or metre off its neighbours: a misread rod, most likely.

Each shot is left out and predicted from the nearest others by a smooth surface; the figure is suspicious
only when the others agree among themselves much better than with it. It is named, never mended.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding, visible
from gradework.units import Display, Unit

LEAST_RESIDUAL = 0.3 * 0.3048
"""[m] 0.3 ft: ordinary ground makes smaller bumps between shots."""

MOST_SHOTS = 5000
"""More shots than this are not read from a rod one by one, and are not checked."""

_NEAREST = 14
_FEWEST_CURVED = 10  # a curved surface has six figures; four more shots judge it
_FEWEST = 5  # a plane has three


def odd_shots(
    names: Sequence[str], xyz: NDArray[np.float64], lines: NDArray[np.int64], unit: Unit
) -> list[Finding]:
    """`shot-off-its-neighbours` for each suspicious shot, the worst first; ``xyz`` (n, 3) [m].

    A shot is suspicious when its leave-one-out residual exceeds 0.3 ft, three times the median absolute
    residual of the whole survey and three times what its own neighbours leave in doubt, and lies close to a
    whole foot (notes in metres: a whole metre or decimetre). With too few shots nothing is said.
    """
    n = len(xyz)
    if n > MOST_SHOTS:
        return [_left_out(n)]
    if n < _FEWEST + 1:
        return []
    residual, doubt = leave_one_out(xyz)
    usual = float(np.median(np.abs(residual)))
    off = np.abs(residual)
    steps = (1.0, 0.1) if unit == "m" else (0.3048,)
    suspicious = (off > max(LEAST_RESIDUAL, 3 * usual)) & (off > 3 * doubt)
    whole = np.zeros(n)
    for step in steps:
        times = np.rint(residual / step)
        # close to a whole step, and the prediction good enough for that to mean something
        close = (times != 0) & (np.abs(residual - times * step) <= 0.15 * step) & (doubt <= 0.15 * step)
        whole = np.where((whole == 0) & close & suspicious, times * step, whole)
    found = np.flatnonzero(whole)
    found = found[np.argsort(-off[found], kind="stable")]
    show = Display(unit)
    return [
        _finding(
            names[i], int(lines[i]), float(residual[i]), float(whole[i]), max(LEAST_RESIDUAL, 3 * usual), show
        )
        for i in found.tolist()
    ]


def leave_one_out(xyz: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Residual of each shot against its neighbours (n,) [m], positive above, and its standard error (n,).

    Curved (quadratic) surface through the 14 nearest shots, a plane where there are fewer than 10 others.
    The error holds what the neighbours leave about their own surface and how far the shot lies from them.
    """
    n = len(xyz)
    count = min(_NEAREST, n - 1)
    near = _nearest(xyz[:, :2], count)
    away = xyz[near, :2] - xyz[:, None, :2]
    reach = np.sqrt((away**2).sum(axis=2).max(axis=1))
    u, v = away[..., 0] / reach[:, None], away[..., 1] / reach[:, None]
    terms = [np.ones_like(u), u, v]
    if count >= _FEWEST_CURVED:
        terms += [u * u, u * v, v * v]
    design = np.stack(terms, axis=2)
    height = xyz[near, 2] - xyz[:, None, 2]
    across = design.transpose(0, 2, 1)
    # a breath of ridge: nearest shots all on one line leave a direction open, and the shot is then not judged
    normal = across @ design + 1e-9 * np.eye(len(terms))
    inverse = np.linalg.inv(normal)
    fit = (inverse @ (across @ height[..., None]))[..., 0]
    left = height - (design @ fit[..., None])[..., 0]
    freedom = count - len(terms)
    variance = (left**2).sum(axis=1) / freedom
    error = np.sqrt(variance * (1.0 + inverse[:, 0, 0]))
    return -fit[:, 0], error


def _nearest(xy: NDArray[np.float64], count: int) -> NDArray[np.int64]:
    """The ``count`` nearest other shots of each (n, count)."""
    n = len(xy)
    near = np.empty((n, count), dtype=np.int64)
    block = max(1, (1 << 21) // n)
    x, y = np.ascontiguousarray(xy[:, 0]), np.ascontiguousarray(xy[:, 1])
    for begin in range(0, n, block):
        rows = np.arange(begin, min(n, begin + block))
        apart = (x[rows, None] - x) ** 2 + (y[rows, None] - y) ** 2
        apart[rows - begin, rows] = np.inf
        near[rows] = np.argpartition(apart, count - 1, axis=1)[:, :count]
    return near


def _finding(name: str, line: int, residual: float, whole: float, limit: float, show: Display) -> Finding:
    side, name = "above" if whole > 0 else "below", visible(name)
    where = f"station {name}, line {line}" if line else f"station {name}"
    advice = (
        f"{name} is about {show.elevation(abs(whole))} {side} its neighbours: misread rod?"
        " Look at the notes, or shoot it again; nothing was changed."
    )
    return Finding("shot-off-its-neighbours", "warning", where, residual, limit, advice)


def _left_out(n: int) -> Finding:
    advice = (
        f"{n} shots are more than anybody reads from a rod, so no shot was compared with its neighbours."
        " Look at the contours for single peaks and pits."
    )
    return Finding("blunder-check-left-out", "note", "the whole survey", float(n), float(MOST_SHOTS), advice)
