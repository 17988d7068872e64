"""Cut and fill of a level against the ground under an outline, the level that balances, and what is in doubt.

Closed form, checked in every run. No cells, no samples: each triangle of ground gives a polynomial of the
level. Volumes are geometry only; whether they are in place, loose or compacted is for the caller to say.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError, Faults, Finding, finding
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


# Finding where a falling curve crosses zero, always inside a bracket.

ENOUGH = 1e-11
"""[m] A level is found when the bracket or the last step is this short."""

_MOST_STEPS = 200


def falling_root(curve: Callable[[float], tuple[float, float]], low: float, high: float) -> float:
    """Return the level in [low, high] [m] where a falling curve crosses zero.

    ``curve`` gives its value and its slope (zero or below) at a level. Newton's step where it stays inside
    the bracket and makes headway, halving where it does not, so flat stretches and kinks cost steps, never
    the answer. Above zero all the way it returns ``high``, below zero all the way ``low``.

    >>> round(falling_root(lambda level: (2.0 - level**3, -3.0 * level**2), 0.0, 2.0), 9)
    1.25992105
    """
    if curve(low)[0] <= 0.0:
        return low
    if curve(high)[0] >= 0.0:
        return high
    level = 0.5 * (low + high)
    step = high - low
    for _ in range(_MOST_STEPS):
        value, slope = curve(level)
        if value == 0.0:
            return level
        low, high = (level, high) if value > 0.0 else (low, level)
        newton = level - value / slope if slope < 0.0 else low
        if low < newton < high and abs(newton - level) <= 0.5 * step:
            following = newton
        else:
            following = 0.5 * (low + high)
        step = abs(following - level)
        if step <= ENOUGH:
            return following
        level = following
    return level


# The closed form of a level plane against triangles of ground: bare arithmetic, nothing is checked here.
#
# Over a triangle whose corners stand at heights a <= b <= c the ground is a plane, so what lies between
# it and a level L with a < L < c is a polynomial in L. Of the three corners one stands alone on its side
# of L: c while L is at or above b, a while L is below b. Write w for its distance from L, u for the
# distance of the far one of the other two and v for that of b, all positive, and
#
#     r = w / (c - a),   q = w / |lone - b|,   x = u / (c - a) = 1 - r,   y = v / |lone - b| = 1 - q.
#
# Per unit of the triangle's plan area the lone side holds the volume w r q / 3 on the share r q of the
# area, the other side (x (u + v) + r y v) / 3 on the share x + r y. These are the textbook prism formulas
# with every subtraction of nearly equal numbers multiplied out: all terms are positive, so thin and
# nearly level triangles lose no digits, and no divisor can be zero (a < L < c leaves the lone corner's
# arm some length).

Floats = NDArray[np.float64]

BLOCK = 1 << 16
"""So many (level, triangle) pairs are worked at a time; they then stay in the processor's cache."""


class PrismSums(NamedTuple):
    """Totals over all triangles, one entry per level, shape (m,): volumes [m³] and plan areas [m²]."""

    cut: Floats
    fill: Floats
    cut_area: Floats
    fill_area: Floats


def split_depths(
    low: Floats, middle: Floats, high: Floats, level: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Mean cut and fill over triangles that the level passes through, and their shares in cut and in fill.

    All (n,) [m] and low < level < high throughout. Returns cut [m], fill [m], cut share [-], fill share [-],
    each (n,) and positive.

    >>> import numpy as np
    >>> cut, fill, _, _ = split_depths(*(np.array([height]) for height in (0.0, 0.0, 3.0, 1.0)))
    >>> round(float(cut[0]), 12), round(float(fill[0]), 12)     # (2/3)³ of the whole 3/3 stands above
    (0.296296296296, 0.296296296296)
    """
    upper = level >= middle
    below, above = level - low, high - level
    lone = np.where(upper, above, below)
    far = np.where(upper, below, above)
    near = np.abs(level - middle)
    span = high - low
    arm = np.where(upper, high - middle, middle - low)
    r = lone / span
    lone_share = r * (lone / arm)
    lone_depth = lone * lone_share / 3.0
    x = far / span
    ry = r * (near / arm)
    pair_depth = (x * (far + near) + ry * near) / 3.0
    pair_share = x + ry
    return (
        np.where(upper, lone_depth, pair_depth),
        np.where(upper, pair_depth, lone_depth),
        np.where(upper, lone_share, pair_share),
        np.where(upper, pair_share, lone_share),
    )


def prism_sums(heights: Floats, areas: Floats, levels: Floats) -> PrismSums:
    """Cut, fill and their plan areas over all triangles for every level.

    heights : (k, 3) sorted along the row [m], best above a datum near the levels;  areas : (k,) signed [m²];
    levels : (m,) [m], same datum. A triangle that lies level at L counts as in fill, with no volume.
    """
    step = max(1, BLOCK // max(1, len(levels)))
    totals = np.zeros((4, len(levels)))
    for start in range(0, len(areas), step):
        block = slice(start, start + step)
        totals += _prism_block(heights[block], areas[block], levels)
    return PrismSums(totals[0], totals[1], totals[2], totals[3])


def _prism_block(heights: Floats, areas: Floats, levels: Floats) -> Floats:
    """The four totals of one block of triangles, (4, m): those on one side by weight, the others split."""
    low, middle, high = heights[:, 0], heights[:, 1], heights[:, 2]
    below = levels[:, None] >= high
    above = levels[:, None] <= low
    above &= ~below
    moments = np.empty((len(areas), 2))
    moments[:, 0] = areas
    moments[:, 1] = areas * (low + middle + high) / 3.0
    filled = below.astype(np.float64) @ moments
    dug = above.astype(np.float64) @ moments
    totals = np.empty((4, len(levels)))
    totals[0] = dug[:, 1] - levels * dug[:, 0]
    totals[1] = levels * filled[:, 0] - filled[:, 1]
    totals[2] = dug[:, 0]
    totals[3] = filled[:, 0]
    row, column = (~(below | above)).nonzero()
    if len(row):
        parts = split_depths(low[column], middle[column], high[column], levels[row])
        weight = areas[column]
        totals += [np.bincount(row, part * weight, len(levels)) for part in parts]
    return totals


# Cut and fill of a level plane against the ground under an outline (``cut`` is ground in place).

AGREEMENT = 1e-9
"""Two ways to one volume must agree within this part of cut plus fill."""

ON_GRADE = 1e-9
"""[m] Ground this close to the level all over a piece is on grade: neither in cut nor in fill."""

NUDGE = 0.01
"""[m] The run-time check raises and lowers the plane by this: cut must not grow upward, nor fill shrink."""


@dataclass(frozen=True, slots=True)
class CutFill:
    """Cut and fill of the ground under an outline against one level plane; plain SI floats.

    Attributes
    ----------
    level
        Of the plane [m].
    area
        Of the outline [m²].
    cut, fill
        Ground above the plane, in place, and space below it [m³]; never negative.
    net
        cut - fill [m³]: above zero there is soil left over.
    cut_area, fill_area, grade_area
        Where the ground lies above the plane, below it and in it [m²]; together they make ``area``.
    mean_depth
        Mean height of the ground above the plane [m]; below zero where it lies under it.
    doubt
        How far cut, fill or net may be off [m³] because the survey does not say how its squares fold.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]        # rises 1 in 20 along x
    >>> floor = gw.Outline.rectangle((1, 1), (4, 3))
    >>> result = gw.cut_and_fill(gw.clip(slope, floor), 10.15)                  # half is cut, half fill
    >>> result
    <CutFill at 10.150 m: cut 0.30 m³, fill 0.30 m³, area 12.0 m²>
    >>> round(result.cut, 9), round(result.cut_area, 9), abs(result.net) < 1e-9
    (0.3, 6.0, True)
    """

    level: float
    area: float
    cut: float
    fill: float
    net: float
    cut_area: float
    fill_area: float
    grade_area: float
    mean_depth: float
    doubt: float

    def __repr__(self) -> str:
        cut, fill = METRIC.volume(self.cut), METRIC.volume(self.fill)
        at = METRIC.elevation(self.level)
        return f"<CutFill at {at}: cut {cut}, fill {fill}, area {METRIC.area(self.area)}>"

    def _repr_html_(self) -> str:
        rows = (
            ("level", METRIC.elevation(self.level)),
            ("cut, in place", METRIC.volume(self.cut)),
            ("fill, compacted", METRIC.volume(self.fill)),
            ("cut less fill", METRIC.volume(self.net)),
            ("area", METRIC.area(self.area)),
        )
        cells = "".join(f"<tr><th>{name}</th><td>{value}</td></tr>" for name, value in rows)
        return f"<table>{cells}</table>"


def cut_and_fill(pieces: Pieces, levels: float | Sequence[float] | Floats) -> tuple[CutFill, ...]:
    """Cut and fill of the ground under an outline for each level [m], in the order given.

    Flat ground exactly at the level is on grade and has no volume. Raises ValueError for a level that is not
    finite, CheckError where two ways to the same volume disagree.
    """
    wanted = np.atleast_1d(np.asarray(levels, dtype=np.float64))
    if not np.isfinite(wanted).all():
        raise ValueError(f"levels must be finite numbers [m], not {wanted[~np.isfinite(wanted)][0]}")
    if not len(wanted):
        return ()
    datum = pieces.mean
    heights = pieces.heights - datum
    climb = np.concatenate((wanted, [wanted.min() - NUDGE, wanted.max() + NUDGE])) - datum
    totals = prism_sums(heights, pieces.areas, climb)
    cut, fill = np.maximum(totals.cut, 0.0), np.maximum(totals.fill, 0.0)
    cut_area, fill_area, grade = _with_grade(heights, pieces.areas, climb, totals)
    net = _net(heights, pieces.areas, climb)
    far = abs(datum) + float(np.abs(climb).max()) + float(np.abs(heights).max())
    _check(heights, pieces.area, climb, cut, fill, net, cut_area + fill_area + grade, far)
    rows = zip(
        wanted.tolist(),
        cut.tolist(),
        fill.tolist(),
        cut_area.tolist(),
        fill_area.tolist(),
        grade.tolist(),
        strict=False,
    )
    area, doubt = pieces.area, pieces.doubt
    return tuple(
        CutFill(
            level, area, dug, filled, dug - filled, in_cut, in_fill, on_grade, (dug - filled) / area, doubt
        )
        for level, dug, filled, in_cut, in_fill, on_grade in rows
    )


def balance_level(pieces: Pieces, compaction: float = 1.0) -> float:
    """The level [m] at which cut times ``compaction`` equals fill, exact to about 1e-10 m.

    compaction : compacted volume per volume in place [-]; with 1 the answer is the mean elevation of the
    ground. Raises ValueError unless it is finite and above zero.
    """
    if not (np.isfinite(compaction) and compaction > 0.0):
        raise ValueError(f"compaction must be a number above zero [-], not {compaction}")
    datum = pieces.mean
    if compaction == 1.0:
        return datum
    heights = pieces.heights - datum

    def surplus(level: float) -> tuple[float, float]:
        totals = prism_sums(heights, pieces.areas, np.array([level]))
        value = compaction * totals.cut[0] - totals.fill[0]
        return float(value), -float(compaction * totals.cut_area[0] + totals.fill_area[0])

    return datum + falling_root(surplus, float(heights[:, 0].min()), float(heights[:, 2].max()))


def _with_grade(
    heights: Floats, areas: Floats, levels: Floats, totals: PrismSums
) -> tuple[Floats, Floats, Floats]:
    """Areas in cut, in fill and on grade: flat pieces within ``ON_GRADE`` of a level belong to the last."""
    grade = np.zeros(len(levels))
    cut_area, fill_area = totals.cut_area, totals.fill_area
    flat = (heights[:, 2] - heights[:, 0] <= 2 * ON_GRADE).nonzero()[0]
    if len(flat):
        own, weight = heights.take(flat, axis=0), areas.take(flat)
        level = levels[:, None]
        on_grade = (np.abs(level - own[:, 0]) <= ON_GRADE) & (np.abs(level - own[:, 2]) <= ON_GRADE)
        for number in np.flatnonzero(on_grade.any(axis=1)):
            hit = np.flatnonzero(on_grade[number])
            part = prism_sums(own[hit], weight[hit], levels[number : number + 1])
            grade[number] = weight[hit].sum()
            cut_area[number] -= part.cut_area[0]
            fill_area[number] -= part.fill_area[0]
    return np.maximum(cut_area, 0.0), np.maximum(fill_area, 0.0), grade


def _net(heights: Floats, areas: Floats, levels: Floats) -> Floats:
    """Ground less level over the whole outline, from the corners alone: the second way to cut - fill."""
    ground = float(np.dot(areas, heights.sum(axis=1))) / 3.0
    return ground - levels * float(areas.sum())


def _check(
    heights: Floats,
    area: float,
    levels: Floats,
    cut: Floats,
    fill: Floats,
    net: Floats,
    covered: Floats,
    far: float,
) -> None:
    """Raise CheckError unless the results agree.

    heights and levels : above one datum [m];  covered : area in cut, in fill and on grade [m²];  far : the
    greatest elevation [m], whose last digits set what rounding alone may leave.
    """
    low, high = float(heights[:, 0].min()), float(heights[:, 2].max())
    slack = AGREEMENT * (cut + fill) + area * far * 1e-14
    if not np.isfinite(slack).all():
        raise CheckError("a volume is not finite")
    if (np.abs(covered - area) > AGREEMENT * area).any():
        raise CheckError("the areas in cut, in fill and on grade do not add up to the outline")
    if (np.abs(cut - fill - net) > slack).any():
        raise CheckError("cut less fill differs from the net volume worked out by itself")
    least, most = np.maximum(low - levels, 0.0) * area - slack, np.maximum(high - levels, 0.0) * area + slack
    beyond = (cut < least) | (cut > most)
    least, most = np.maximum(levels - high, 0.0) * area - slack, np.maximum(levels - low, 0.0) * area + slack
    if (beyond | (fill < least) | (fill > most)).any():
        raise CheckError("a volume lies outside what the highest and lowest ground allow")
    order = levels.argsort()
    cut, fill, most_slack = cut.take(order), fill.take(order), float(slack.max())
    if (cut[1:] - cut[:-1] > most_slack).any() or (fill[:-1] - fill[1:] > most_slack).any():
        raise CheckError("raising the level gave more cut or less fill")


# Volumes that hang on how the squares of a survey fold, and the shot that would settle most of it.
#
# It knows what a volume may be off by; it never changes one.

SLIGHT = 0.1
"""[-] Up to this part of a volume the doubt is told beside it only: the waste ordered with stone covers as
much (see the supplier's figures)."""


class Amount(NamedTuple):
    """A volume [m³], what it is called in a sentence ("the gravel"), and how far it may be off [m³]."""

    name: str
    volume: float
    doubt: float


def volume_in_doubt(
    surface: Surface, pieces: Pieces, amounts: Sequence[Amount], show: Display
) -> tuple[Finding, ...]:
    """``volume-in-doubt`` for the amount whose doubt is the largest part of it, where that is over a tenth.

    The value is the doubt, the limit a tenth of the volume [m³]. It names the middle of the square, of those
    under the outline, that leaves most of the doubt.
    """
    shaky = [one for one in amounts if one.doubt > SLIGHT * one.volume and _shows(one.doubt, show)]
    if not shaky:
        return ()
    worst = max(shaky, key=lambda one: one.doubt / max(one.volume, 1e-9))
    place = show.place(*_worst_fold(surface, pieces))
    volume, doubt = show.volume(worst.volume), show.volume(worst.doubt)
    limit = SLIGHT * worst.volume
    return (
        finding(
            "volume-in-doubt",
            "warning",
            place,
            worst.doubt,
            limit,
            what=worst.name,
            volume=volume,
            doubt=doubt,
            place=place,
        ),
    )


def _shows(volume: float, show: Display) -> bool:
    return show.volume_number(volume) != show.volume_number(0.0)


def _worst_fold(surface: Surface, pieces: Pieces) -> tuple[float, float]:
    """Where the fold stands that adds most to the doubt: its gap times the ground of it that is covered."""
    folds = surface.folds
    ring_of = np.full(len(surface.triangles), -1)
    ring_of[folds.triangles] = np.repeat(np.arange(len(folds)), np.diff(folds.starts))
    ring = ring_of.take(pieces.source)
    held = ring >= 0
    covered = np.bincount(ring[held], pieces.areas[held], minlength=len(folds))
    # the first of equals by place, so that the order of the shots decides nothing
    xy = surface.vertices[folds.centres, :2] + surface.origin
    share = np.round(covered * folds.gaps, 9)
    first = np.lexsort((xy[:, 0], xy[:, 1], -share))[0]
    x, y = xy[first].tolist()
    return x, y


FARTHEST = 15.24
"""[m] A level 50 ft above or below all ground under the outline is refused; no small building needs that."""


def refuse_far_level(pieces: Pieces, level: float, show: Display) -> None:
    """Raise InputError ``level-far-from-ground`` for a level over 50 ft from all ground under the outline."""
    low, high = pieces.lowest, pieces.highest
    if low - FARTHEST <= level <= high + FARTHEST:
        return
    ground = high if level > high else low
    Faults().halt(
        "level-far-from-ground",
        variant="above" if level > high else "below",
        level=show.elevation(level),
        far=show.elevation(abs(level - ground)),
        ground=show.elevation(ground),
    )
