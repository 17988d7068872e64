"""Strips of fabric, film or mesh over a plan: where they lie, and the fewest rolls or sheets they take.

Strips lie side by side along one direction. Each runs only where the plan is: over an L the strips of the
short arm are as long as that arm. What is left of a roll begins another strip, with a lap where it is joined.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon

    Plan = Polygon | MultiPolygon

SLIGHT = 1e-4
"""Nothing is laid to a tenth of a millimetre [m]: that much over a width takes no further strip."""

ROUNDING = 1e-9
"""[m] Lengths this close are the same."""

LEAST_PIECE = 2.0
"""No piece is shorter than this many laps: of a shorter one most would lie double (judgement)."""

MOST_RESTS = 150
"""With more different rests than this strips are cut in one row only, which may take a sheet more."""

Cuts = tuple[tuple[float, ...], ...]


class Sold(NamedTuple):
    """A roll or sheet [m]: ``width`` and ``length``, and the least ``lap`` where two meet."""

    width: float
    length: float
    lap: float


class Laid(NamedTuple):
    """Strips as laid: along ``angle`` [rad], ``runs`` long each, neighbours lapped by ``lap`` at least [m].

    ``lows`` is the lower edge of each, across the strips, in the plan turned by -``angle``; ``cuts`` gives
    for each the pieces it is laid of, in order, laps included; ``pieces`` counts the
    rolls or sheets they are cut from.
    """

    angle: float
    lap: float
    runs: tuple[float, ...]
    lows: tuple[float, ...]
    cuts: Cuts
    pieces: int

    @property
    def length(self) -> float:
        """Length of all that is cut, laps of joints included [m]."""
        return math.fsum(piece for cut in self.cuts for piece in cut)


def lay(plan: Plan, sold: Sold, angles: Sequence[float]) -> Laid:
    """Lay strips over a plan [m] along one of the ``angles`` [rad]: fewest pieces, then least length.

    Ties go to fewer strips, then to the first angle. Raises ``ValueError`` for a lap as wide as the roll.
    """
    if not 0.0 <= sold.lap < sold.width:
        raise ValueError("the overlap must be narrower than the roll")
    ways = [way for angle in angles for way in _ways(plan, sold, angle)]
    return min(ways, key=lambda way: (way.pieces, round(way.length, 6), len(way.runs)))


def _ways(plan: Plan, sold: Sold, angle: float) -> Iterator[Laid]:
    """Try strips spread evenly, then pushed to either side with the least lap, where that saves length."""
    c, s = math.cos(angle), math.sin(angle)
    turned = shapely.transform(plan, lambda xy: xy @ np.array([[c, -s], [s, c]]))
    low, high = float(turned.bounds[1]), float(turned.bounds[3])
    across = high - low
    if across <= sold.width + SLIGHT:
        yield _laid(turned, angle, [(low, high)], 0.0, sold)
        return
    count = 1 + math.ceil((across - sold.width - SLIGHT) / (sold.width - sold.lap))
    pitch = (across - sold.width) / (count - 1)  # all laps alike, none below the least
    starts = [low + number * pitch for number in range(count)]
    yield _laid(turned, angle, [(at, at + sold.width) for at in starts], sold.width - pitch, sold)
    if pitch < sold.width - sold.lap - SLIGHT and turned.area < turned.envelope.area * (1.0 - 1e-9):
        tight = [number * (sold.width - sold.lap) for number in range(count - 1)]
        up = [*(low + off for off in tight), high - sold.width]
        down = [low, *(high - sold.width - off for off in reversed(tight))]
        for pushed in (up, down):
            yield _laid(turned, angle, [(at, at + sold.width) for at in pushed], sold.lap, sold)


def _laid(turned: Plan, angle: float, bands: Sequence[tuple[float, float]], lap: float, sold: Sold) -> Laid:
    found = [(run, band[0]) for band in bands for run in _runs(turned, *band)]
    runs, lows = tuple(run for run, _ in found), tuple(low for _, low in found)
    cuts, pieces = cut_runs(runs, sold.length, sold.lap)
    return Laid(angle, lap, runs, lows, cuts, pieces)


def _runs(turned: Plan, low: float, high: float) -> Iterator[float]:
    """Measure along x where the plan is inside the band; a side that only borders it lengthens nothing."""
    left, _, right, _ = turned.bounds
    inside = turned.intersection(shapely.box(left - 1.0, low + SLIGHT, right + 1.0, high - SLIGHT))
    parts = sorted((part.bounds[0], part.bounds[2]) for part in shapely.get_parts(inside) if part.area > 0.0)
    spans: list[list[float]] = []
    for start, end in parts:
        if spans and start <= spans[-1][1] + SLIGHT:
            spans[-1][1] = max(spans[-1][1], end)
        else:
            spans.append([start, end])
    yield from (end - start for start, end in spans)


def angles_of(ring: NDArray[np.float64]) -> list[float]:
    """Give the directions of all sides of a ring (k, 2) and their normals, in [0, pi), each once [rad]."""
    along = np.roll(ring, -1, axis=0) - ring
    angles = np.arctan2(along[:, 1], along[:, 0])
    both = np.mod(np.concatenate([angles, angles + math.pi / 2]), math.pi)
    both[both > math.pi - SAME_ANGLE] = 0.0
    _, first = np.unique(np.round(both / SAME_ANGLE), return_index=True)
    return [float(both[i]) for i in first]


SAME_ANGLE = 1e-8
"""[rad] Sides that turn by less lie along each other."""


# From strips to rolls. Strips that share rolls hang together: m rolls joined so need at least m - 1 laps, and
# laid one after the other they need no more. So strips are parted into groups, each laid in one row.


def cut_runs(runs: Sequence[float], sheet: float, lap: float) -> tuple[Cuts, int]:
    """Cut strips [m] from the fewest sheets: the pieces of each, and the sheets taken.

    What is left of a sheet and shorter than ``LEAST_PIECE`` laps is not laid, and a last piece is not cut
    shorter.

    >>> cut_runs([20.0, 20.0], 30.0, 2.0), cut_runs([20.0, 20.0, 20.0], 33.0, 2.0)
    ((((20.0,), (20.0,)), 2), (((20.0,), (13.0, 9.0), (20.0,)), 2))
    >>> cut_runs([6.0, 6.0, 4.0, 4.0], 10.0, 1.0)  # in one row the joint would cost a third
    (((6.0,), (6.0,), (4.0,), (4.0,)), 2)
    """
    grid = [round(run * 1e6) for run in runs]
    kinds = sorted(set(grid), reverse=True)
    counts = Counter(grid)
    wanted = tuple(counts[kind] for kind in kinds)
    if math.prod(count + 1 for count in wanted) > MOST_RESTS:
        groups: tuple[tuple[int, ...], ...] = (wanted,)
    else:
        groups = _grouped(kinds, wanted, sheet, lap)
    cut: dict[int, list[tuple[float, ...]]] = {kind: [] for kind in kinds}
    sheets = 0
    for group in groups:
        row, cuts, taken = _best_row(kinds, group, sheet, lap)
        sheets += taken
        for kind, pieces in zip(row, cuts, strict=True):
            cut[kind].append(pieces)
    return tuple(cut[kind].pop(0) for kind in grid), sheets


def _grouped(
    kinds: Sequence[int], wanted: tuple[int, ...], sheet: float, lap: float
) -> tuple[tuple[int, ...], ...]:
    """Part the strips into rows that take the fewest sheets; ties go to the least cut, then to more rows."""

    @cache
    def taken(group: tuple[int, ...]) -> tuple[int, int]:
        _, cuts, sheets = _best_row(kinds, group, sheet, lap)
        return sheets, round(sum(map(math.fsum, cuts)) * 1e6)

    @cache
    def best(rest: tuple[int, ...]) -> tuple[int, int, int, tuple[tuple[int, ...], ...]]:
        if not any(rest):
            return 0, 0, 0, ()
        first = next(number for number, count in enumerate(rest) if count)
        ways = []
        for group in product(*(range(count + 1) for count in rest)):
            if group[first]:
                after = best(tuple(had - used for had, used in zip(rest, group, strict=True)))
                sheets, length = taken(group)
                ways.append((sheets + after[0], length + after[1], after[2] - 1, (group, *after[3])))
        return min(ways)

    return best(wanted)[3]


def _best_row(
    kinds: Sequence[int], group: tuple[int, ...], sheet: float, lap: float
) -> tuple[list[int], Cuts, int]:
    """Lay a group in one row, the longest first or the shortest, whichever takes less."""
    row = [kind for kind, count in zip(kinds, group, strict=True) for _ in range(count)]
    tried = []
    for order in (row, row[::-1]):
        cuts, sheets = _in_one_row([kind / 1e6 for kind in order], sheet, lap)
        tried.append((sheets, sum(map(math.fsum, cuts)), order, cuts))
    sheets, _, order, cuts = min(tried, key=lambda way: way[:2])
    return order, cuts, sheets


def _in_one_row(runs: Sequence[float], sheet: float, lap: float) -> tuple[Cuts, int]:
    """Cut strips one after the other: what is left of a sheet begins the next."""
    left, sheets, cuts = 0.0, 0, []
    for run in runs:
        least = min(LEAST_PIECE * lap, run, sheet)
        pieces: list[float] = []
        need = run
        if left >= least - ROUNDING:
            pieces.append(min(left, run))
            left -= pieces[0]
            need = run - pieces[0] + lap
        while not pieces or need > lap + ROUNDING:
            sheets += 1
            pieces.append(sheet if need > sheet + ROUNDING else max(need, least))
            left = max(0.0, sheet - pieces[-1])
            need = need - pieces[-1] + lap
        cuts.append(tuple(pieces))
    return tuple(cuts), sheets
