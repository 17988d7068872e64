"""The best place of a rectangle among all x, y and turns that are allowed, and what can have been missed.

Coarse cells of x, y and turn first, then the most promising are parted again and again. What a cell may hold
at best follows from its middle: no point of the rectangle moves farther inside the cell than its reach, so
the ground under it changes by no more than its slope lets it. Cells that cannot beat the best are dropped;
the least that the others may hold is the bound.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.scan import hold_against, scan
from gradework.earthwork.siting.allowed import rings
from gradework.earthwork.siting.placements import LevelRule, Placements, placements
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.siting.allowed import Allowed
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

SAME_HEIGHT = 1e-6
"""[m] Two ways to the lowest and the highest ground of a place agree within this."""

COARSE = 6000
"""About so many places are looked at before the best of them are parted."""

MOST = 40_000
"""So many places are looked at in all; then the bound is what it has come to."""

NEAR_ENOUGH = 0.0025
"""[m] The search ends where ground that lies so much higher or lower makes up for what can be missed."""

TURN_STEP = math.radians(15.0)
_FIRST, _LAST = 12, 4
"""From so many places it is stepped downhill at first, and by the smallest steps."""

_EVERY, _ROUNDS, _FINEST = 5, 60, 1e-3
"""After so many steps only half of them go on; so many steps at most; and how fine the last are [m]."""

_WAYS = np.array(
    [
        (i, j, k)
        for i in (-1, 0, 1)
        for j in (-1, 0, 1)
        for k in (-1, 0, 1)
        if abs(i) + abs(j) + abs(k) in (1, 3)
    ]
)
"""Along x, y or turn, and along all three."""

_ROUND = 512
"""So many cells are parted at a time."""


class Aim(NamedTuple):
    """What is to be least: ``cut`` and ``fill`` cost so much each [per m³], ``fall`` and ``low`` [per m] the
    fall of the ground and how low its mean lies; ``base`` is the same everywhere."""

    cut: float = 0.0
    fill: float = 0.0
    fall: float = 0.0
    low: float = 0.0
    base: float = 0.0

    def values(self, found: Placements) -> Floats:
        """What each place comes to (n,); NaN where there is no ground at all."""
        total: Floats = self.base + self.cut * found.cut + self.fill * found.fill
        return total + self.fall * found.fall - self.low * found.mean

    def at_least(self, found: Placements, rule: LevelRule, highest: float, change: Floats) -> Floats:
        """What places come to at the least where no ground under them lies higher or lower than here by more
        than ``change`` [m] (n,); ``highest`` [m] is that of all ground.

        The level follows by as much, so fill is that of a level lower by twice the change: less by no more
        than that over the ground that is filled here; cut likewise. Of a place of which only a part is
        known that part lets its level be no lower than its highest ground and edge ask; the rest may lie so
        that nothing is filled or cut there.
        """
        both = (2.0 if rule.steady else 1.0) * change
        sure = np.maximum(found.highest + rule.highest, np.maximum(found.edge + rule.edge, rule.given))
        fill = np.where(
            found.inside | (found.level <= sure + 1e-12), found.fill - both * found.fill_area, 0.0
        )
        cut = np.where(found.inside, found.cut - both * found.cut_area, 0.0)
        low = np.where(found.inside, np.minimum(found.mean + change, highest), highest)
        fall = found.fall - 2.0 * change
        # without any ground in it the rectangle says nothing
        cut, fill, fall = (np.where(one > 0.0, one, 0.0) for one in (cut, fill, fall))
        return self.base + self.cut * cut + self.fill * fill + self.fall * fall - self.low * low

    def per_metre(self, area: float) -> float:
        """How much it can change at the most per metre that ground and level lie apart from what they are."""
        return area * max(self.cut, self.fill) + self.fall + self.low

    def steady(self, rule: LevelRule) -> bool:
        """Whether it stays the same where all of the ground stands higher."""
        return self.low == 0.0 and (rule.steady or self.cut == self.fill == 0.0)


class Cells(NamedTuple):
    """Boxes of places: ``middle`` (k, 3), half their ``width`` (k, 3) in x, y [m] and turn [radians]; the
    ``least`` that each may hold, whether its middle ``may`` be built on, ``sway`` (k, 2): how far the ground
    changes per metre that it is moved, and per metre that a point of it is turned [-]."""

    middle: Floats
    width: Floats
    least: Floats
    may: Truths
    sway: Floats

    def take(self, rows: NDArray[np.intp] | Truths) -> Cells:
        """Give some of them."""
        middle, width, least, may, sway = self
        return Cells(middle[rows], width[rows], least[rows], may[rows], sway[rows])


@dataclass(frozen=True, eq=False)
class Sited:
    """What is known so far: places (n, 3) that are allowed and their ``values`` (n,), the best first known as
    ``best``; nothing allowed is less than ``bound``. ``looked`` counts all that were looked at; ``over`` says
    that the search has come to its end."""

    places: Floats
    values: Floats
    bound: float
    looked: int
    over: bool

    @property
    def best(self) -> int:
        """The number of the best place."""
        return int(self.values.argmin())


class Field(NamedTuple):
    """The yard in cells: edges in ``x`` (m + 1,) and ``y`` (n + 1,) [m], and ``values`` (n, m), the least
    over all turns with the middle of the rectangle at that of the cell; NaN where none is allowed."""

    x: Floats
    y: Floats
    values: Floats


@dataclass(eq=False)
class Search:
    """A search for the least of ``aim`` over the places of ``allowed``; ``turns`` lists those that are
    allowed [radians], None for all. ``rounds`` runs it."""

    surface: Surface
    allowed: Allowed
    rule: LevelRule
    aim: Aim
    here: Floats
    turns: tuple[float, ...] | None = None
    coarse: int = COARSE
    most: int = MOST
    near_enough: float = NEAR_ENOUGH
    _seen: list[tuple[Floats, Floats]] = field(default_factory=list)
    _looked: int = 0
    _best: float = math.inf
    _valleys: Floats = field(default_factory=lambda: np.empty((0, 3)))

    def rounds(self) -> Iterator[Sited]:
        """Search, and give what is known after every round; the last is ``over``."""
        cells = self._look(*self._coarse())
        yield self._sited(cells, over=False)
        for start in self._polished():
            self._look(start, np.zeros_like(start))
            yield self._sited(cells, over=False)
        while len(cells.least):
            cells = cells.take(cells.least < self._best - self.slack)
            if not len(cells.least) or self._looked >= self.most:
                break
            order = np.argsort(cells.least, kind="stable")
            some, rest = order[:_ROUND], order[_ROUND:]
            parts = self._look(*_parted(cells.take(some), self._arm))
            cells = Cells(*(np.concatenate(both) for both in zip(cells.take(rest), parts, strict=True)))
            yield self._sited(cells, over=False)
        yield self._sited(cells, over=True)

    @property
    def _arm(self) -> float:
        """From the middle of what is built on to its corner [m]."""
        return 0.5 * math.hypot(*self.allowed.built)

    @property
    def slack(self) -> float:
        """What may be missed without going on."""
        return self.near_enough * self.aim.per_metre(self.allowed.built[0] * self.allowed.built[1])

    def values_of(self, places: Floats) -> Floats:
        """What places come to, (n,); NaN for one that is not allowed."""
        found = placements(self.surface, self.allowed.built, places, self.rule)
        return np.where(found.inside & self.allowed.may(places), self.aim.values(found), np.nan)

    def hold(self, places: Floats) -> None:
        """Hold the figures of places (n, 3) against slices of the ground there; those that leave the survey
        are passed over. Raises ``CheckError``."""
        size = self.allowed.built
        found = placements(self.surface, size, places, self.rule)
        for number, ring in enumerate(rings(places, np.array(size))):
            if not found.inside[number]:
                continue
            outline, level = Outline.polygon(ring), float(found.level[number])
            what, cut, fill = f"place {number + 1}", float(found.cut[number]), float(found.fill[number])
            told = {"area": float(found.covered[number]), "cut": cut, "fill": fill}
            told["ground"] = (float(found.mean[number]) - level) * told["area"]
            hold_against(scan(self.surface, outline, level), what, cut + fill, **told)
            under = clip(self.surface, outline)
            off = np.array([found.lowest[number] - under.lowest, found.highest[number] - under.highest])
            if not np.abs(off).max() <= SAME_HEIGHT:
                raise CheckError(f"the lowest or the highest ground of {what} is {off!r} m off")

    def _sited(self, cells: Cells, *, over: bool) -> Sited:
        if not self._seen:
            return Sited(np.empty((0, 3)), np.empty(0), math.inf, self._looked, over)
        places = np.concatenate([one for one, _ in self._seen])
        values = np.concatenate([one for _, one in self._seen])
        # a cell that was dropped could have held a hair less than the best
        bound = min(self._best - self.slack, float(cells.least.min(initial=math.inf)))
        floor = self.aim.base if self.aim.low == 0.0 else -math.inf  # nothing costs less than nothing
        return Sited(places, values, max(min(bound, self._best), floor), self._looked, over)

    def field(self) -> Field:
        """The coarse cells, as they were looked at first."""
        west, south, east, north = self.allowed.bounds
        across, up = self._counts(len(self._coarse_turns()[0]))
        x, y = np.linspace(west, east, across + 1), np.linspace(south, north, up + 1)
        values = np.full(up * across, np.inf)
        if self._seen:
            places, seen = self._seen[0]
            column = np.clip(np.searchsorted(x, places[:, 0]) - 1, 0, across - 1)
            row = np.clip(np.searchsorted(y, places[:, 1]) - 1, 0, up - 1)
            np.minimum.at(values, row * across + column, seen)
        values[np.isinf(values)] = np.nan
        return Field(x, y, values.reshape(up, across))

    # The cells: where they lie, what they may hold.

    def _counts(self, turns: int) -> tuple[int, int]:
        """How many coarse cells there are in x and in y."""
        west, south, east, north = self.allowed.bounds
        wide, high = max(east - west, 1e-6), max(north - south, 1e-6)
        step = math.sqrt(wide * high * turns / self.coarse)
        return max(1, math.ceil(wide / step)), max(1, math.ceil(high / step))

    def _coarse(self) -> tuple[Floats, Floats]:
        """Middles and half widths of cells that hold every allowed place."""
        west, south, east, north = self.allowed.bounds
        turns, half_turn = self._coarse_turns()
        across, up = self._counts(len(turns))
        wide, high = max(east - west, 1e-6), max(north - south, 1e-6)
        x = west + (np.arange(across) + 0.5) * wide / across
        y = south + (np.arange(up) + 0.5) * high / up
        middle = np.stack(np.meshgrid(y, x, turns, indexing="ij"), axis=-1).reshape(-1, 3)[:, [1, 0, 2]]
        half = np.array([0.5 * wide / across, 0.5 * high / up, half_turn])
        return middle, np.broadcast_to(half, middle.shape).copy()

    def _coarse_turns(self) -> tuple[Floats, float]:
        """A rectangle turned by a half lies as before, a square by a quarter."""
        if self.turns is not None:
            return np.array(self.turns), 0.0
        whole = 0.5 * math.pi if self.allowed.built[0] == self.allowed.built[1] else math.pi
        count = round(whole / TURN_STEP)
        return self.here[2] + (np.arange(count) - count // 2) * whole / count, 0.5 * whole / count

    def _look(self, middle: Floats, width: Floats) -> Cells:
        """Look at the middles of cells, keep those that may hold an allowed place that beats the best."""
        allowed = self.allowed
        moved, turned = np.hypot(width[:, 0], width[:, 1]), self._arm * width[:, 2]
        kept = allowed.may(middle, moved + turned)
        middle, width, moved, turned = (each[kept] for each in (middle, width, moved, turned))
        found = placements(self.surface, allowed.built, middle, self.rule)
        self._looked += len(middle)
        may = found.inside.copy()
        may[may] = allowed.may(middle[may])
        values = self.aim.values(found)
        if may.any():
            self._seen.append((middle[may], values[may]))
            self._best = min(self._best, float(values[may].min()))
        sway = self._sway(middle, moved + turned)
        change = sway[:, 0] * moved + sway[:, 1] * turned
        least = self.aim.at_least(found, self.rule, float(self.surface.vertices[:, 2].max()), change)
        return Cells(middle, width, least, may, sway)

    def _sway(self, middle: Floats, reach: Floats) -> Floats:
        """How far the ground under the rectangle can change in each cell, per metre moved and turned.

        The slopes are those of the triangles that the rectangle can come to. Where all are the same the
        ground under a place that is moved rises as one, which changes neither cut nor fill, so only what they
        differ from a common one counts.
        """
        surface, steady = self.surface, self.aim.steady(self.rule)
        real = np.isfinite(surface.triangle_gradients).all(axis=1)
        corners = surface.vertices[surface.triangles[real], :2] + surface.origin
        gradient = surface.triangle_gradients[real]
        low, high = corners.min(axis=1), corners.max(axis=1)
        sway, (along, across) = np.empty((len(middle), 2)), self.allowed.built
        cos, sin = np.abs(np.cos(middle[:, 2])), np.abs(np.sin(middle[:, 2]))
        wide = (0.5 * (along * cos + across * sin) + reach)[:, None]
        deep = (0.5 * (along * sin + across * cos) + reach)[:, None]
        for start in range(0, len(middle), _ROUND):
            block = slice(start, start + _ROUND)
            x, y = middle[block, :1], middle[block, 1:2]
            near = (low[:, 0] <= x + wide[block]) & (high[:, 0] >= x - wide[block])
            near &= (low[:, 1] <= y + deep[block]) & (high[:, 1] >= y - deep[block])
            least = np.stack([np.where(near, g, np.inf).min(axis=1) for g in gradient.T], axis=1)
            most = np.stack([np.where(near, g, -np.inf).max(axis=1) for g in gradient.T], axis=1)
            empty = ~near.any(axis=1)
            least[empty], most[empty] = 0.0, 0.0
            steepest = np.hypot(*np.maximum(np.abs(least), np.abs(most)).T)
            apart = 0.5 * np.hypot(*(most - least).T) if steady else steepest
            sway[block] = np.column_stack((apart, steepest))
        return sway

    def _polished(self) -> Iterator[Floats]:
        """From the best places that lie well apart step downhill, each by ever smaller steps: where to look.

        As the steps get finer only the best few go on.
        """
        at = self.apart(_FIRST, min(self.allowed.size))
        value, step = self.values_of(at), np.full(len(at), 0.25 * min(self.allowed.size))
        arm = math.inf if self.turns is not None else self._arm
        for rounds in range(_ROUNDS if len(at) else 0):
            if self._looked >= self.most or not (step > _FINEST).any():
                break
            each = np.column_stack((step, step, step / arm))[:, None, :]
            tried = at[:, None, :] + _WAYS * each
            values = self.values_of(tried.reshape(-1, 3)).reshape(len(at), -1)
            self._looked += values.size
            values = np.where(np.isnan(values), np.inf, values)
            best, least = values.argmin(axis=1), values.min(axis=1)
            better = least < value - 1e-12
            at = np.where(better[:, None], tried[np.arange(len(at)), best], at)
            value, step = np.where(better, least, value), np.where(better, step, 0.5 * step)
            if rounds % _EVERY == _EVERY - 1:
                yield at
                order = np.argsort(value, kind="stable")
                self._valleys = np.concatenate((at[order], self._valleys))
                kept = order[: max(_LAST, len(at) // 2)]
                at, value, step = at[kept], value[kept], step[kept]
        if len(at):
            self._valleys = np.concatenate((at[np.argsort(value, kind="stable")], self._valleys))
            yield at

    def apart(self, count: int, distance: float) -> Floats:
        """The best ``count`` places seen so far of which no two lie nearer than ``distance`` [m], a turn
        counted by how far it moves a corner; (m, 3), the best first."""
        left, chosen = self._ranked(), list[Floats]()
        while len(left) and len(chosen) < count:
            chosen.append(left[0])
            left = left[_distance(left, left[0], self.allowed.built) >= distance]
        return np.array(chosen).reshape(-1, 3)

    def different(self, count: int, share: float) -> Floats:
        """The best ``count`` places seen so far of which no two have more than ``share`` [-] of their ground
        in common; (m, 3), the best first. After it those go before others from which no small step leads
        downhill."""
        left, chosen = self._ranked(), list[Floats]()
        area = self.allowed.built[0] * self.allowed.built[1]
        while len(left) and len(chosen) < count:
            chosen.append(left[0])
            both = shapely.intersection(self.allowed.ground(left), self.allowed.ground(left[:1]))
            left = left[shapely.area(both) <= share * area]
        return np.array(chosen).reshape(-1, 3)

    def _ranked(self) -> Floats:
        """The best place seen, the valleys, then the coarse cells, each kind with the best first."""
        if not self._seen:
            return np.empty((0, 3))
        best = min(self._seen, key=lambda one: float(one[1].min()))
        places, values = self._seen[0]
        valleys = self._valleys[np.argsort(self.values_of(self._valleys), kind="stable")]
        order = np.argsort(values, kind="stable")
        return np.concatenate((best[0][[best[1].argmin()]], valleys, places[order]))


def _distance(places: Floats, other: Floats, size: tuple[float, float]) -> Floats:
    """How far apart two places lie, corners turned counted in [m]."""
    half = 0.5 * math.pi if size[0] == size[1] else math.pi
    turn = np.abs((places[:, 2] - other[2] + 0.5 * half) % half - 0.5 * half)
    away: Floats = np.hypot(*(places[:, :2] - other[:2]).T) + 0.5 * math.hypot(*size) * turn
    return away


def _parted(cells: Cells, arm: float) -> tuple[Floats, Floats]:
    """Part each cell where it counts most: in two by its turn, or in four by x and y."""
    moved, turned = np.hypot(cells.width[:, 0], cells.width[:, 1]), arm * cells.width[:, 2]
    # a cell whose middle may not be built on is parted by size, to find what may be
    by_turn = np.where(cells.may, cells.sway[:, 1] * turned > cells.sway[:, 0] * moved, turned > moved)
    two, four = cells.take(by_turn), cells.take(~by_turn)
    middles, widths = [], []
    for side in (-0.5, 0.5):
        middles.append(two.middle + two.width * [0.0, 0.0, side])
        widths.append(two.width * [1.0, 1.0, 0.5])
    for x, y in ((-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)):
        middles.append(four.middle + four.width * [x, y, 0.0])
        widths.append(four.width * [0.5, 0.5, 1.0])
    return np.concatenate(middles), np.concatenate(widths)
