"""Stakes for a plan: where they go, how to find the place, how much to cut or fill, what the rod reads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from gradework.errors import Dialect
from gradework.sitework.order_of_work import order_of_work
from gradework.sitework.setout_ties import (
    DIAGONAL_TOLERANCE,
    BaselineTie,
    Mark,
    Measure,
    TapeTie,
    baseline_tie,
    best_two_marks,
    sides_and_diagonals,
    tape_tie,
)
from gradework.units.amounts import M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


ROD_LENGTH = 13.10 * M_PER_FT
"""A Philadelphia rod drawn out [m] (constructionmanuals.tpub.com/14043; seen)."""

ON_GRADE = 0.005 * M_PER_FT
"""Nearer than half a hundredth of a foot [m] a stake is marked GRADE: rods are read to 0.01 ft."""


def height_of_instrument(benchmark: float, backsight: float) -> float:
    """Give the level of the line of sight [m] from a benchmark and the reading on it [m].

    >>> height_of_instrument(100.0, 5.5)
    105.5
    """
    return benchmark + backsight


@dataclass(frozen=True, slots=True)
class RodReading:
    """What the rod reads when its foot is at ``level`` [m]; ``reach``: whether the rod shows that reading."""

    what: str
    level: float
    reading: float
    reach: Literal["yes", "line of sight is too low", "rod is too short"]


def rod_reading(what: str, level: float, instrument: float, *, rod: float = ROD_LENGTH) -> RodReading:
    """Give the reading that means "on grade" for a level under a line of sight at ``instrument`` [m].

    >>> rod_reading("formation", 103.2, 105.5).reading == 105.5 - 103.2
    True
    """
    reading = instrument - level
    reach: Literal["yes", "line of sight is too low", "rod is too short"] = "yes"
    if reading < 0.0:
        reach = "line of sight is too low"
    elif reading > rod:
        reach = "rod is too short"
    return RodReading(what, level, reading, reach)


@dataclass(frozen=True, slots=True)
class StakeMark:
    """The trade's mark on a stake: ``cut`` C, ``fill`` F or GRADE, and how much [m], never negative."""

    kind: Literal["C", "F", "GRADE"]
    amount: float

    def text(self, show: Display) -> str:
        """Write it as on a stake.

        >>> from gradework.units.display import FEET
        >>> StakeMark("F", 6.5 * 0.3048).text(FEET)
        'F 6.50'
        """
        return "GRADE" if self.kind == "GRADE" else f"{self.kind} {show.stake(self.amount)}"


def stake_mark(ground: float, grade: float) -> StakeMark:
    """Mark a stake whose top or ground is at ``ground`` [m] for a ``grade`` [m]: cut lowers, fill raises.

    >>> stake_mark(233.0, 240.0).kind
    'F'
    """
    difference = ground - grade
    if abs(difference) < ON_GRADE:  # a cut of 0.00 would send somebody for a spade
        return StakeMark("GRADE", 0.0)
    return StakeMark("C" if difference > 0.0 else "F", abs(difference))


def from_string(level: float, string: float) -> float:
    """Give how far a level is above (+) or below (-) a level string [m].

    >>> from_string(99.5, 100.0)
    -0.5
    """
    return level - string


BATTER_BOARD_OFFSET = 4.0 * M_PER_FT
"""Batter boards stand at least this far back from the dig [m] (CMHC, Canadian Wood-Frame House; seen)."""

LEAST_BOARD = 1.0 * M_PER_FT
"""A batter board that a wall lets stand no farther than this from its corner [m] is left out: judgement."""

StakeKind = Literal[
    "building corner",
    "pad corner",
    "slab corner",
    "pier",
    "anchor",
    "batter board",
    "row string",
    "swale",
    "apron",
    "drain",
    "gutter pipe",
    "outlet pipe",
]


LED: tuple[StakeKind, ...] = ("swale", "apron", "drain", "gutter pipe", "outlet pipe")
"""What is dug to a bottom that falls, or heaped out to a foot: none of its stakes stands at a level that
others end at."""


@dataclass(frozen=True, slots=True)
class Aside:
    """A stake that stands beside what it marks, so that it is not dug out.

    ``x``, ``y`` [m, site frame] is the middle of what it marks, ``distance`` [m] the stake from there along
    ``way`` (a unit vector), ``toward`` the side of the building in that direction, by its corners ("1-2"), or
    ``away`` what it stands farther from: "side 1-2", "corner 2".
    """

    x: float
    y: float
    distance: float
    way: tuple[float, float]
    toward: str
    away: str = ""

    @property
    def where(self) -> str:
        """In which direction it stands: "toward side 1-2", "away from corner 2"."""
        return f"away from {self.away}" if self.away else f"toward side {self.toward}"


@dataclass(frozen=True, slots=True)
class Stake:
    """One stake: place [m, site frame], the level it is marked for, and the levels worked to, lowest first.

    ``ground`` [m] is None where the place lies outside the survey; ``grade`` None for a stake that only shows
    a line. ``aside`` says where the middle of what it marks is, where it does not stand there itself.
    """

    name: str
    kind: StakeKind
    x: float
    y: float
    ground: float | None
    grade: float | None
    levels: tuple[tuple[str, float], ...]
    aside: Aside | None = None

    @property
    def worked_to(self) -> tuple[tuple[str, float], ...]:
        """The levels worked to [m], lowest first; of a stake with a grade only, that."""
        return self.levels or ((("string", self.grade),) if self.grade is not None else ())


FINISHED = "finished level"
"""What the top of gravel, slab or piers is called where a cut or a fill leads to it."""


def to(what: str) -> str:
    """Say what a cut or a fill leads to; it stands behind the figure on screen, sheet and plan.

    >>> to(FINISHED), to("subgrade")
    ('to finished level', 'to subgrade')
    """
    return f"to {what}"


@dataclass(frozen=True, slots=True)
class StakedPoint:
    """A stake with all that the sheet shows: ties, mark, readings, heights from a string (what, [m]).

    ``mark`` leads to what is dug; ``finish`` of a pad or slab corner to its finished level, as on the plan.
    """

    stake: Stake
    tie: TapeTie | None
    baseline: BaselineTie | None
    mark: StakeMark | None
    readings: tuple[RodReading, ...]
    from_string: tuple[tuple[str, float], ...]
    finish: StakeMark | None = None

    @property
    def own_levels(self) -> tuple[tuple[str, float], ...]:
        """The levels that are this stake's own, not the one that all end at: what its card shows [m].

        Blocks of a pier are laid to the common top, one on another, so only hole and bed are; the bottom of a
        swale or a pipe is level nowhere.
        """
        if self.stake.kind in LED:
            return self.stake.levels
        return self.stake.levels[:2] if self.stake.kind == "pier" else self.stake.worked_to[:-1]

    def mark_text(self, show: Display) -> str:
        """The mark as it is shown: how deep a hole is below the ground is read off a tape, in inches."""
        if self.mark is None:
            return ""
        if self.stake.kind == "pier" and self.mark.kind != "GRADE":
            return f"{self.mark.kind} {show.depth(self.mark.amount)}"
        return self.mark.text(show)

    def finish_text(self, show: Display) -> str:
        """The mark to the finished level with what it leads to, as it stands on the plan; "" without one."""
        return f"{self.finish.text(show)} {to(FINISHED)}" if self.finish is not None else ""

    @property
    def marked_for(self) -> str | None:
        """Which of the levels worked to the mark leads to; None without a mark."""
        if self.mark is None:
            return None
        return next((what for what, level in self.stake.worked_to if level == self.stake.grade), None)


@dataclass(frozen=True, slots=True)
class SharedLevel:
    """A level that many stakes end at, read with one rod reading: ``level`` [m], the kinds of ``stakes``."""

    level: float
    stakes: tuple[StakeKind, ...]
    reading: RodReading | None
    from_string: float | None


@dataclass(frozen=True)
class SetOut:
    """The whole sheet: ``instrument`` [m] is today's line of sight, or None; ``checks`` lengths to measure.

    ``allowed`` [m] is how much two diagonals may differ; ``steps`` the order of work in plain sentences.
    ``shared`` are the levels that stakes end at, highest first: each is told once, not at every stake.
    """

    points: tuple[StakedPoint, ...]
    checks: tuple[Measure, ...]
    allowed: float
    instrument: float | None
    string: float | None
    steps: tuple[str, ...]
    shared: tuple[SharedLevel, ...] = ()


def ground_at(surface: Surface, x: float, y: float) -> float | None:
    """Give the ground at a place [m], None outside the survey."""
    level = float(surface.elevation(np.array([[x, y]]))[0])
    return None if math.isnan(level) else level


def corner_stakes(
    surface: Surface,
    outline: Outline,
    kind: StakeKind,
    *,
    grade: float | None = None,
    levels: Sequence[tuple[str, float]] = (),
) -> tuple[Stake, ...]:
    """Give a stake at each corner of the outside ring; ``levels`` are worked to at each of them."""
    word, rising = kind.removesuffix(" corner"), tuple(sorted(levels, key=lambda level: level[1]))
    stakes = []
    for number, (x, y) in enumerate(outline.rings[0], start=1):
        name = f"{word} {number}"
        stakes.append(Stake(name, kind, float(x), float(y), ground_at(surface, x, y), grade, rising))
    return tuple(stakes)


def batter_board_stakes(
    surface: Surface,
    outline: Outline,
    *,
    grade: float | None = None,
    offset: float = BATTER_BOARD_OFFSET,
    nearby: Nearby | None = None,
) -> tuple[Stake, ...]:
    """Give two stakes for each corner, on the lines of its two sides drawn out by ``offset`` [m].

    Strings between them cross above the corner. ``grade`` is the level of the strings. A wall or fence
    ``nearby`` has the stake stand nearer, before it; where that leaves no room, there is none.
    """
    ring = outline.rings[0]
    stakes = []
    for number in range(len(ring)):
        corner = ring[number]
        for other, word in ((ring[number - 1], "ahead"), (ring[(number + 1) % len(ring)], "behind")):
            # on the line of the side drawn on beyond the corner, so the string runs along the side
            out = (corner - other) / math.hypot(*(corner - other))
            away = offset if nearby is None else nearby.room(corner, out, offset)
            if away < min(LEAST_BOARD, offset):
                continue
            x, y = corner + away * out
            name = f"board {number + 1} {word}"
            ground = ground_at(surface, x, y)
            stakes.append(Stake(name, "batter board", float(x), float(y), ground, grade, ()))
    return tuple(stakes)


def set_out(
    stakes: Sequence[Stake],
    *,
    marks: Sequence[Mark] = (),
    instrument: float | None = None,
    string: float | None = None,
    backsight: bool = False,
    rod: float = ROD_LENGTH,
    dialect: Dialect = "us",
) -> SetOut:
    """Work out the sheet for the stakes.

    ``marks``: with two or more, each stake gets the tie from the two best, and the baseline runs from the
    first to the second. ``instrument`` [m]: line of sight of today; ``string`` [m]: level of a string
    instead or as well; ``backsight``: the sheet shows the reading that gave the line of sight. Corner stakes
    of one kind give the sides and diagonals to check. ``dialect``: whose trade words the steps use.
    """
    checks: list[Measure] = []
    for kind in ("building corner", "pad corner", "slab corner"):
        corners = [(s.name, s.x, s.y) for s in stakes if s.kind == kind]
        if len(corners) >= 3:
            checks += sides_and_diagonals(corners)
    points = tuple(_staked(stake, marks, instrument, string, rod) for stake in stakes)
    kinds = {stake.kind for stake in stakes}
    tools = instrument is not None, string is not None
    steps = order_of_work(kinds, *tools, backsight=backsight, dialect=dialect)
    return SetOut(
        points, tuple(checks), DIAGONAL_TOLERANCE, instrument, string, steps, _shared(points, string)
    )


def _shared(points: Sequence[StakedPoint], string: float | None) -> tuple[SharedLevel, ...]:
    """Gather the levels that the stakes end at, each once, highest first."""
    found: dict[int, list[StakedPoint]] = {}
    for point in points:
        if point.stake.worked_to and point.stake.kind not in LED:
            found.setdefault(round(point.stake.worked_to[-1][1] * 1e6), []).append(point)
    levels = []
    for _, own in sorted(found.items(), reverse=True):
        level = own[0].stake.worked_to[-1][1]
        reading = own[0].readings[-1] if own[0].readings else None
        above = None if string is None else from_string(level, string)
        kinds = tuple(dict.fromkeys(point.stake.kind for point in own))
        levels.append(SharedLevel(level, kinds, reading, above))
    return tuple(levels)


def _staked(
    stake: Stake, marks: Sequence[Mark], instrument: float | None, string: float | None, rod: float
) -> StakedPoint:
    tie = baseline = None
    if len(marks) >= 2:
        tie = tape_tie(stake.x, stake.y, *best_two_marks(stake.x, stake.y, marks))
        baseline = baseline_tie(stake.x, stake.y, marks[0], marks[1])
    levels = stake.worked_to
    readings = () if instrument is None else tuple(rod_reading(w, v, instrument, rod=rod) for w, v in levels)
    heights = () if string is None else tuple((what, from_string(level, string)) for what, level in levels)
    mark = None
    if stake.ground is not None and stake.grade is not None:
        mark = stake_mark(stake.ground, stake.grade)
    finish = None
    if stake.kind in ("pad corner", "slab corner") and stake.ground is not None and levels:
        finish = stake_mark(stake.ground, levels[-1][1])
    return StakedPoint(stake, tie, baseline, mark, readings, heights, finish)
