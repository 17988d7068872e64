"""Can ground be as steep as this? Neighbouring shots and the plane through all, against what yards are.

Inches read as feet make a garden fall twelve times as far as it does, and nothing else in the numbers shows
it. So ground that no one builds on is refused, with the unit that would explain it; a single steep pair of
shots, which may be a wall or a bank, is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.errors import Fault, Finding, InputError, fault, finding
from gradework.fieldnotes.plausible import LIKELY
from gradework.survey.breaklines import told_steep
from gradework.survey.outliers import MOST_SHOTS
from gradework.survey.stations import located, median
from gradework.units.display import Display
from gradework.units.lengths import METRES_PER, METRIC_UNITS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.heights import Step
    from gradework.survey.stations import Stations
    from gradework.units.lengths import ColumnUnit, Unit

    Floats = NDArray[np.float64]

STEEP_PAIR = 1.0
"""Rise over run [-] between neighbours from which on they are doubted: 1 in 1 is a bank that earth hardly
holds (bare soil stands at about 30 to 40 degrees, trade practice)."""

STEEP_GROUND = 0.5
"""Slope [-] of the plane through all shots from which on they are refused: 1 in 2, where nobody sets a shed
without a retaining wall; a judgement."""

BELIEVED = 0.25
"""A unit explains steep ground where it makes the plane no steeper than this [-]: 1 in 4; a judgement."""

_LEAST_RISE = 0.05  # [m] less is a kerb or a tape that was off, not ground
_NEAREST = 8  # so many are looked at for neighbours of a shot
_MOST_NAMED = 5


class SteepPair(NamedTuple):
    """Two neighbouring shots by their index, the lower first, and rise over run between them [-]."""

    low: int
    high: int
    slope: float


def steep_findings(stations: Stations, *, column: str, steep: bool = False) -> tuple[Finding, ...]:
    """Doubt ground that is steeper than yards are.

    ``column``: what the heights are called in the header of the notes; ``steep``: the user said that his
    ground is like that, and nothing is doubted; nor are pairs that a breakline joins or parts. Raises
    ``InputError`` (`ground-too-steep`) where more than half of the neighbours are steeper than 1 in 1, or the
    plane through all shots is steeper than 1 in 2; gives a warning (`steep-pair`) for single steep pairs.
    """
    if steep or len(stations) < 3:
        return ()
    slope = plane_slope(stations.xyz)
    if len(stations) > MOST_SHOTS:
        pairs, steepest = np.zeros((0, 2), dtype=np.int64), []
    else:
        pairs = neighbours(stations.xyz[:, :2])
        if stations.breaklines:
            pairs = pairs[~told_steep(stations, pairs)]
        steepest = _steep(stations.xyz, pairs)
    if slope > STEEP_GROUND or 2 * len(steepest) > len(pairs):
        slope = np.nanmax([slope, median(_slopes(stations.xyz, pairs)[1])])
        raise InputError([_refused(stations, float(slope), column)], stations.findings)
    return tuple(_named(stations, steepest))


def steep_steps(steps: Sequence[Step], *, file: str, unit: Unit, steep: bool = False) -> tuple[Finding, ...]:
    """The same for the steps of a straightedge, each with its own run and rise.

    Raises ``InputError`` (`ground-too-steep`) where more than half of them rise or fall more than they run.
    """
    over = [step for step in steps if abs(step.rise) > STEEP_PAIR * step.run > 0]
    if steep or not over:
        return ()
    if len(over) > 1 and 2 * len(over) > len(steps):
        slope = median(np.array([abs(step.rise) / step.run for step in steps if step.run > 0]))
        read, likely = _likely_slip(slope, unit)
        raise InputError([
            fault(
                "ground-too-steep",
                variant="steps" if likely is None else "steps-unit",
                file=file,
                line=over[0].line,
                count=len(over),
                total=len(steps),
                head="rise",
                unit=likely,
                read=read,
            )
        ])  # fmt: skip
    show = Display(unit)
    return tuple(
        finding(
            "steep-pair",
            "warning",
            located(step.station, step.line),
            abs(step.rise) / step.run,
            STEEP_PAIR,
            variant="step",
            name=located(step.station, step.line),
            rise=show.length(abs(step.rise)),
            run=show.length(step.run),
        )
        for step in over[:_MOST_NAMED]
    )


def plane_slope(xyz: Floats) -> float:
    """Slope [-] of the plane that fits ``xyz`` (n, 3) best; 0 for shots on a line.

    >>> round(plane_slope(np.array([[0, 0, 0], [4, 0, 1], [0, 4, 0], [4, 4, 1.0]])), 9)
    0.25
    """
    local = xyz - xyz.mean(axis=0)
    rise, _, rank, _ = np.linalg.lstsq(local[:, :2], local[:, 2], rcond=1e-9)
    return float(np.hypot(*rise)) if rank == 2 else 0.0


def neighbours(xy: Floats) -> NDArray[np.int64]:
    """Pairs (m, 2) of places ``xy`` (n, 2) with no third place in the circle between them.

    Each place is compared with its nearest eight, which is enough for any survey that is not made of lines.
    """
    apart = np.hypot(*(xy[:, None, :] - xy[None, :, :]).transpose(2, 0, 1))
    near = np.argsort(apart, axis=1, kind="stable")[:, 1 : _NEAREST + 1]
    own = np.take_along_axis(apart, near, axis=1)
    across = apart[near[:, :, None], near[:, None, :]]
    # a third place lies in the circle over a pair where it sees the two of them at more than a right angle
    inside = own[:, None, :] ** 2 + across**2 < own[:, :, None] ** 2 * (1 - 1e-9)
    inside &= ~np.eye(near.shape[1], dtype=bool)
    first, at = np.nonzero(~inside.any(axis=2))
    second = near[first, at]
    # a pair is one number, and each counts once; np.unique would load numpy's masked arrays
    pair = np.sort(np.minimum(first, second) * len(xy) + np.maximum(first, second))
    once = pair[np.diff(pair, prepend=-1) > 0]
    return np.column_stack(np.divmod(once, len(xy))).astype(np.int64)


def _slopes(xyz: Floats, pairs: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Rise [m] and rise over run [-] of each pair."""
    step = xyz[pairs[:, 1]] - xyz[pairs[:, 0]]
    run = np.hypot(step[:, 0], step[:, 1])
    rise = step[:, 2]
    with np.errstate(divide="ignore"):
        return rise, np.where(run > 0, np.abs(rise) / run, np.inf)


def _steep(xyz: Floats, pairs: NDArray[np.int64]) -> list[SteepPair]:
    """The pairs that are too steep, the steepest first."""
    rise, slope = _slopes(xyz, pairs)
    steep = np.flatnonzero((slope > STEEP_PAIR) & (np.abs(rise) > _LEAST_RISE))
    found = []
    for k in steep[np.argsort(-slope[steep], kind="stable")].tolist():
        low, high = pairs[k].tolist() if rise[k] >= 0 else pairs[k][::-1].tolist()
        found.append(SteepPair(low, high, float(slope[k])))
    return found


def _named(stations: Stations, pairs: Iterable[SteepPair]) -> list[Finding]:
    """A warning for each steep pair, one for each station that takes part in several."""
    show, seen = stations.show, set[int]()
    told: list[Finding] = []
    for pair in pairs:
        if seen & {pair.low, pair.high} or len(told) == _MOST_NAMED:
            continue
        seen |= {pair.low, pair.high}
        low, high = (located(stations.names[i], int(stations.lines[i])) for i in (pair.low, pair.high))
        step = stations.xyz[pair.high] - stations.xyz[pair.low]
        rise, run = show.length(float(step[2])), show.length(math.hypot(step[0], step[1]))
        told.append(
            finding(
                "steep-pair", "warning", low, pair.slope, STEEP_PAIR, low=low, high=high, rise=rise, run=run
            )
        )
    return told


def _refused(stations: Stations, slope: float, column: str) -> Fault:
    xyz, show = stations.xyz, stations.show
    fall = show.elevation(float(np.ptp(xyz[:, 2])))
    across = show.distance(float(np.hypot(*np.ptp(xyz[:, :2], axis=0))))
    read, likely = _likely_slip(slope, stations.unit)
    return fault(
        "ground-too-steep",
        variant="" if likely is None else "unit",
        file=stations.file,
        fall=fall,
        across=across,
        head=column,
        unit=likely,
        read=read,
    )


def _likely_slip(slope: float, unit: Unit) -> tuple[ColumnUnit, ColumnUnit | None]:
    """What heights were read as, and the unit that makes ground of this ``slope`` [-] believable, if any."""
    metric = unit in METRIC_UNITS
    read: ColumnUnit = "m" if metric else "ft"
    fits = (one for one in LIKELY[metric] if slope * float(METRES_PER[one] / METRES_PER[read]) <= BELIEVED)
    return read, next(fits, None)
