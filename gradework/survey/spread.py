"""Do these shots make a surface at all? Enough of them, real numbers, not too wide, not all on one line.

It never repairs anything: each rule broken is a fault that names the shots and the mend.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults, visible
from gradework.units import Display

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
        found, mend = "no shots", "write one row per shot: station, x, y, elevation"
    else:
        found = "1 shot cannot" if n == 1 else f"{n} shots in different places cannot"
        found += " make a surface"
        mend = "shoot at least 3, better the corners and the middle"
    faults.add("too-few-shots", found, "at least 3 shots in different places", mend)


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
