"""Airborne ground round a yard: one file read in a window, its points brought into the yard's own places."""

from __future__ import annotations

from importlib import import_module
from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gradework.errors import InputError, fault, visible
from gradework.survey.airborne.fitted import FittedFrame, Tied
from gradework.survey.airborne.source import AirborneFile, Box, broken, metres_in, unit_called
from gradework.survey.duplicates import same_places
from gradework.survey.placing.crs import GroundFrame, axes_of
from gradework.units.lengths import Unit

Floats = NDArray[np.float64]

KINDS = {
    b"LASF": "las", b"II*\0": "tif", b"MM\0*": "tif", b"II+\0": "tif", b"MM\0+": "tif",
}  # fmt: skip
"""By the first four bytes: the file of this room that reads it, called as the extra with its library."""

MOST = 4000
"""[points] So many are kept: triangles of 2 to 4 m round a yard (judgement)."""

DEEPEST, HIGHEST = -500.0, 9000.0
"""[m] Ground lies between them; -9999 and the like stand for none, whatever the file says."""

SQUARE = 0.5
"""[m] The squares of which one point is kept are so wide, or some times as wide."""


class Airborne(NamedTuple):
    """Ground points (n, 3) [m] in the yard's own places, their heights on the file's own datum.

    ``unit`` its heights were in, and how that is known: "said" by the job, by the file's "heights", by the
    unit of its "places"; ``read``: how many points lay in the window; ``square`` [m]: each point is the mean
    of those in a square so wide, 0.0 where every point was kept. ``off`` [m]: how far the stations lie off
    their places in the file where the yard was fitted onto it, None where a reference system places it.
    """

    xyz: Floats
    unit: Unit
    known: str
    read: int
    square: float
    off: float | None = None


class YardFrame(Protocol):
    """How a yard lies in the system of a file."""

    def into(self, system: str, xy: ArrayLike) -> Floats:
        """Places of the yard (m, 2) [m] in a system (m, 2), in its own unit."""
        ...  # pragma: no cover - what a frame can do

    def out_of(self, system: str, places: ArrayLike) -> Floats:
        """The way back."""
        ...  # pragma: no cover - what a frame can do


def read_airborne(
    data: bytes,
    file: str,
    placed: GroundFrame | Tied,
    window: tuple[Floats, float],
    unit: Unit | None = None,
) -> Airborne:
    """Read the ground round a yard.

    ``placed``: by its reference system, or by stations whose places in the file are known. ``window``: places
    of the yard (m, 2) [m], and how far beyond a box about them is read [m]. ``unit`` of the heights where the
    job says it. Raises ``InputError``: a file of another kind, one that claims more than it holds, one in no
    system, too far off; stations that do not fit it; the library that reads it is not there.
    """
    source = _opened(data, file)
    flat, heights = axes_of(source.system) if source.system else (None, None)
    frame: YardFrame
    if isinstance(placed, Tied):
        frame = placed.fitted(_metres_on(flat, file))
    elif flat is None or not (flat.is_geographic or flat.is_projected):
        raise broken(file, "system", yard=visible(placed.crs))
    else:
        frame = placed
    unit, known = _unit(unit, source.heights or heights, flat, file)
    places, reach = window
    low, high = places.min(axis=0) - reach, places.max(axis=0) + reach
    box = _box(frame, source.system, low, high)
    _refuse_far(source, box, flat, file)
    raw = source.within(box)
    if not len(raw):
        raise broken(file, "nothing")
    xyz = np.column_stack((frame.out_of(source.system, raw[:, :2]), raw[:, 2] * metres_in(unit)))
    near = (xyz[:, 2] >= DEEPEST) & (xyz[:, 2] <= HIGHEST)
    near &= ((xyz[:, :2] >= low) & (xyz[:, :2] <= high)).all(axis=1)
    if not near.any():
        raise broken(file, "nothing")
    kept, square = thinned(xyz[near])
    off = frame.off if isinstance(frame, FittedFrame) else None
    return Airborne(kept, unit, known, int(near.sum()), square, off)


def _metres_on(flat: Any, file: str) -> float:
    """How long the unit of a file's places is [m]; raises ``InputError`` where it lies on no plane."""
    if flat is None or not flat.is_projected:
        raise broken(file, "plane")
    return float(flat.axis_info[0].unit_conversion_factor)


def _opened(data: bytes, file: str) -> AirborneFile:
    kind = KINDS.get(data[:4])
    if kind is None:
        raise broken(file, "kind")
    try:  # each reader needs a library that comes with an extra only
        reader = import_module(f"gradework.survey.airborne.{kind}")
    except ImportError:
        raise InputError([fault("around-extra", file=file, extra=kind)]) from None
    opened: AirborneFile = reader.open_file(data, file)
    return opened


def _unit(said: Unit | None, heights: float | None, flat: object, file: str) -> tuple[Unit, str]:
    """The unit of the heights, and how it is known."""
    if said is not None:
        return said, "said"
    if heights is not None:
        found = unit_called(heights)
        if found is None:
            raise broken(file, "unit", size=f"{heights:g}")
        return found, "heights"
    axes = [] if getattr(flat, "is_geographic", True) else list(getattr(flat, "axis_info", ()))
    return (unit_called(float(axes[0].unit_conversion_factor)) or "m") if axes else "m", "places"


def _box(frame: YardFrame, system: str, low: Floats, high: Floats) -> Box:
    """A window of the yard in a file's own places: a little larger, since it is turned there."""
    (west, south), (east, north) = low.tolist(), high.tolist()
    steps = np.linspace(0.0, 1.0, 5)
    ring = [(west + (east - west) * s, y) for s in steps for y in (south, north)]
    ring += [(x, south + (north - south) * s) for s in steps for x in (west, east)]
    found = frame.into(system, np.array(ring))
    if not np.isfinite(found).all():
        return Box(np.inf, np.inf, -np.inf, -np.inf)
    return Box(*found.min(axis=0).tolist(), *found.max(axis=0).tolist())


def _refuse_far(source: AirborneFile, box: Box, flat: object, file: str) -> None:
    """Raise ``InputError`` where the file does not come near the yard."""
    has = source.extent
    if box.west <= has.east and box.east >= has.west and box.south <= has.north and box.north >= has.south:
        return
    digits = 4 if getattr(flat, "is_geographic", False) else 0
    told = [
        f"{value:.{digits}f}" for value in (*has, 0.5 * (box.west + box.east), 0.5 * (box.south + box.north))
    ]
    west, south, east, north, x, y = told
    raise broken(file, "far", west=west, south=south, east=east, north=north, x=x, y=y)


def thinned(xyz: Floats) -> tuple[Floats, float]:
    """At most ``MOST`` points (n, 3), no two in one place: all of them, else the mean of those in each square
    of a grid, as narrow as does, and how wide its squares are [m].

    >>> import numpy as np
    >>> few, wide = thinned(np.array([(0.1, 0.1, 1.0), (9.0, 9.0, 2.0), (0.1, 0.1, 1.2)]))
    >>> len(few), wide
    (2, 0.0)
    """
    if len(xyz) <= MOST:
        return xyz[same_places(xyz[:, :2]) == np.arange(len(xyz))], 0.0
    square = 0.0
    while True:
        square += SQUARE
        column, row = np.floor((xyz[:, :2] - xyz[:, :2].min(axis=0)) / square).astype(np.int64).T
        _, which, count = np.unique((column << 32) | row, return_inverse=True, return_counts=True)
        if len(count) <= MOST:
            break
    sums = [np.bincount(which.reshape(-1), weights=xyz[:, k]) for k in range(3)]
    means = np.column_stack(sums) / count[:, None]
    return means[same_places(means[:, :2]) == np.arange(len(means))], square
