"""Points read more than once: how well they agree, which reading does not, and whether the instrument moved.

And whether anything checks a survey at all: a known mark that was met, a second route, a repeat reading, or
so many shots that each could be compared with those around it. Where nothing does, that is a finding.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, finding
from gradework.survey.levelling.readings import read_twice
from gradework.survey.one_thread import one_thread
from gradework.survey.outliers import FEWEST, LEAST, MOST_SHOTS, threshold
from gradework.units.lengths import METRIC_UNITS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from gradework.survey.levelling.heights import Heights
    from gradework.survey.levelling.readings import Reading
    from gradework.units.lengths import Unit

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


# Every reading is a level of its station, plus the height of its set-up, plus a reading error. The first
# two are taken out by least squares; then each single reading, and each moment at which a set-up may have
# changed its height, is tried as the one thing that is wrong. The one that takes most out of the sum of
# squares is it, if that is more than chance allows; it is set aside and the rest is looked at again.
# Nothing is ever changed.

APART = 0.02 * 0.3048
"""With few repeat readings, two that differ by more deserve a third [m]; 0.02 ft, common practice, no
source."""

ENOUGH = 8
"""With so many repeat readings to spare, their own spread says how far two may differ."""

FALSE_ALARM = 0.01
"""Chance that a clean survey with enough repeat readings has one pointed at, if errors had a bell curve."""

WORSE = 2.0
"""So many times the instrument's error is too much to be chance with `ENOUGH` repeat readings; a judgement
(with 8 to spare, chance reaches 1.8 once in a thousand)."""

MOST_READINGS = 2000
"""More readings than this are not read from a rod one by one; the search would take seconds."""

_PLACE_METRIC, _PLACE_FEET = 0.001, 0.01 * 0.3048
"""The last place of a reading [m]."""

_EQUAL = 1e-9  # m
_BLOCK = 256  # columns tried at a time: with a thousand looks all of them take a hundred MB
_ALIKE = 1e-6  # share of a sum of squares: explanations that differ by less are as good as each other


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Readings that contradict the rest. ``readings``: those that may be the wrong one, by index, none where
    only a move explains it; ``between``: the last reading before and the first after a move that may explain
    it, None where other readings say that the instrument stood; ``widest``: the two readings of one station
    that are furthest apart, across the move if only that explains it; None where no point was read on both
    sides.

    ``apart`` [m]: how far off that reading, or all after the move; ``limit`` [m]: how far chance allows.
    """

    readings: tuple[int, ...]
    between: tuple[int, int] | None
    widest: tuple[int, int] | None
    apart: float
    limit: float


class RepeatReadings:
    """The search over ``readings``. ``found``: the contradictions, the weightiest first.

    ``reading_sd`` [m]: standard error of one reading, as the repeat readings tell it, or as given where they
    are fewer than `ENOUGH`; ``spread`` [m] what they tell by themselves (never less than rounding leaves),
    with ``to_spare`` of them (NaN and 0 without any), contradictions set aside: readings less the levels of
    their stations and the heights of their set-ups. ``place`` [m]:
    the last place of a reading. ``left_out``: the readings at points read more than once, where they are over
    2000 and none is compared; else 0.
    """

    def __init__(self, readings: Sequence[Reading], unit: Unit, reading_sd: float) -> None:
        self.level = np.array([reading.level for reading in readings], dtype=float)
        self._names = [reading.station for reading in readings]
        self._across = np.array([reading.across for reading in readings], dtype=bool)
        self._setup = np.array([reading.setup for reading in readings], dtype=np.int64)
        self.place = _PLACE_METRIC if unit in METRIC_UNITS else _PLACE_FEET
        self._floor = self.place / math.sqrt(12)  # standard error of a reading exact but for rounding
        times = Counter(self._names)
        self._alive = np.array([times[name] > 1 for name in self._names], dtype=bool)
        count = int(self._alive.sum())
        self.left_out = count if count > MOST_READINGS else 0
        self.found: tuple[Contradiction, ...] = ()
        self.reading_sd = self._given = reading_sd
        self.spread, self.to_spare = math.nan, 0
        if count and not self.left_out:
            self.found = tuple(self._search())
            # A turning point's backsight is no second look at its own foresight: it tells where the next
            # set-up stands, no more. So the height of each set-up is an unknown here, however few there are.
            fit = self._free(np.flatnonzero(self._alive))
            self.to_spare = fit.freedom
            if fit.freedom > 0:
                self.spread = max(math.sqrt(fit.square / fit.freedom), self._floor)
            if fit.freedom >= ENOUGH:
                self.reading_sd = self.spread

    def off(self, reading: int) -> tuple[float, float]:
        """How far a reading is off what the sound readings say [m], and the standard error of that [m]; NaN
        where no other reading tells."""
        blamed = {one.readings[0] for one in self.found if len(one.readings) == 1}
        mine = [i for i, name in enumerate(self._names) if name == self._names[reading]]
        index = self._alive.copy()
        index[[i for i in mine if i == reading or i not in blamed]] = True
        fit = self._fit(np.flatnonzero(index), across=True)
        at = np.flatnonzero(fit.index == reading)
        if not len(at):
            return math.nan, math.nan
        one = np.zeros((len(fit.index), 1))
        one[at] = 1.0
        shift, weight = fit.shifts(one)
        return float(shift[0]), self.reading_sd / math.sqrt(float(weight[0]))

    @one_thread()
    def _fit(self, index: Ints, *, across: bool) -> _Fit:
        """Fit the readings ``index``: with free set-ups where enough are to spare, else as they are, with the
        readings from other set-ups (where they may be compared) or each set-up for itself."""
        fit = self._free(index)
        if fit.freedom >= ENOUGH:
            return fit
        setup = self._setup[index]
        apart = [
            self._names[i] if across and self._across[i] else f"{self._names[i]}\n{number}"
            for i, number in zip(index.tolist(), setup, strict=True)
        ]
        return _Fit(index, self.level[index], apart, setup, free=False)

    @one_thread()
    def _free(self, index: Ints) -> _Fit:
        """Fit the readings ``index`` with the level of each station and the height of each set-up unknown."""
        names = [self._names[i] for i in index.tolist()]
        return _Fit(index, self.level[index], names, self._setup[index], free=True)

    @one_thread()
    def _search(self) -> list[Contradiction]:
        """What is wrong, one after the other. Where set-ups are not free they are searched each for itself
        first, and then against each other; a move shows only within one."""
        found: list[Contradiction] = []
        for across in (False, True):
            while len(found) < len(self.level):
                fit = self._fit(np.flatnonzero(self._alive), across=across)
                one = self._worst(fit, moves=fit.free or not across) if len(fit.index) else None
                if one is None:
                    break
                found.append(one)
                if one.readings:
                    self._alive[list(one.readings)] = False
                elif one.between is not None:
                    self._part(*one.between)
        return found

    def _part(self, before: int, after: int) -> None:
        """From ``after`` on it is another set-up, whose levels need not agree with the others'."""
        same = self._setup == self._setup[before]
        part = same & (np.arange(len(self.level)) >= after)
        self._setup[part] = self._setup.max() + 1
        self._across[part] = False

    def _worst(self, fit: _Fit, *, moves: bool) -> Contradiction | None:
        n = len(fit.index)
        later, between = _moves(fit.setup) if moves else (np.zeros((n, 0)), [])
        shift, weight = map(np.concatenate, zip(fit.each(), fit.shifts(later), strict=True))
        told = np.nan_to_num(weight) > 0
        gain = np.where(told, np.nan_to_num(shift) ** 2 * np.nan_to_num(weight), 0.0)
        if fit.free:
            # One blunder must not hide another: no spread is worse than the instrument explains.
            rest = np.minimum((fit.square - gain) / (fit.freedom - 1), (WORSE * self._given) ** 2)
            rest = np.maximum(rest, self._floor**2)
            t = threshold(fit.stations, fit.freedom - 1.0)
            limit = np.maximum(t * np.sqrt(rest / np.where(told, weight, 1.0)), LEAST - 2 * _EQUAL)
        else:
            limit = np.full(len(gain), APART)
        gain = np.where(np.abs(np.nan_to_num(shift)) > limit + _EQUAL, gain, 0.0)
        best = int(np.argmax(gain))
        if gain[best] == 0.0:
            return None
        alike = gain >= gain[best] * (1 - _ALIKE)
        split = np.flatnonzero(alike[n:])
        one = int(np.argmax(alike[:n])) if alike[:n].any() else None
        readings = (
            [] if one is None else [i for i in np.flatnonzero(alike[:n]) if fit.group[i] == fit.group[one]]
        )
        at = best if one is None else one
        pair = None
        if len(split):
            a, b = between[int(split[0])]
            pair = (int(fit.index[a]), int(fit.index[b]))
        return Contradiction(
            tuple(int(fit.index[i]) for i in readings),
            pair,
            self._widest(fit, int(fit.group[at]) if one is not None else None, pair),
            float(shift[at]),
            float(limit[at]),
        )

    def _widest(self, fit: _Fit, group: int | None, pair: tuple[int, int] | None) -> tuple[int, int] | None:
        """The two readings of one station that are furthest apart: of ``group``, or across the move."""
        best, widest = -1.0, None
        for g in range(fit.stations) if group is None else [group]:
            members = [int(i) for i in fit.index[fit.group == g]]
            for a, b in ((a, b) for a in members for b in members if a < b):
                if group is None and pair is not None:
                    same = self._setup[a] == self._setup[b] == self._setup[pair[0]]
                    if not (same and a <= pair[0] and b >= pair[1]):
                        continue
                if abs(self.level[a] - self.level[b]) > best + _EQUAL:
                    best, widest = abs(self.level[a] - self.level[b]), (a, b)
        return widest


class _Fit:
    """Stations, and free set-ups, taken out of the ``level`` of readings by least squares.

    Only readings whose station has others count: ``index`` (n,) are those. ``group`` (n,) numbers the
    stations, ``residual`` (n,) [m], ``square`` its sum of squares, ``freedom`` how many readings are to
    spare.
    """

    def __init__(self, index: Ints, level: Floats, names: Sequence[str], setup: Ints, *, free: bool) -> None:
        number = {name: k for k, name in enumerate(dict.fromkeys(names))}
        station = np.array([number[name] for name in names], dtype=np.int64)
        keep = np.bincount(station, minlength=len(number))[station] > 1
        self.index, self.setup, self.free = index[keep], setup[keep], free
        _, self.group = np.unique(station[keep], return_inverse=True)
        self._size = np.bincount(self.group).astype(float)
        self.stations = len(self._size)
        self._order = np.argsort(self.group, kind="stable")
        self._starts = np.cumsum(self._size).astype(np.int64) - self._size.astype(np.int64)
        self._turned = np.zeros((len(self.index), 0))
        if free and len(self.index):
            number_of, which = np.unique(self.setup, return_inverse=True)
            column = np.zeros((len(self.index), len(number_of)))
            column[np.arange(len(column)), which] = 1.0
            u, strength, _ = np.linalg.svd(self._demean(column), full_matrices=False)
            self._turned = u[:, strength > 1e-9]
        self.freedom = len(self.index) - self.stations - self._turned.shape[1]
        local = level[keep] - (level[0] if len(level) else 0.0)
        self.residual = self._clear(local[:, None])[:, 0]
        self.square = float(self.residual @ self.residual)

    def each(self) -> tuple[Floats, Floats]:
        """The same as ``shifts`` of each single look (n,): what the projection leaves of a unit column stands
        in its own row."""
        weight = 1.0 - 1.0 / self._size[self.group] - np.einsum("nk,nk->n", self._turned, self._turned)
        weight = np.where(weight > 1e-9, weight, np.nan)
        return self.residual / weight, weight

    def shifts(self, columns: Floats) -> tuple[Floats, Floats]:
        """Estimate by how much the readings of each column (n, k) are shifted [m]. The variance of that is
        the variance of a reading over the weight given beside it; NaN both where nothing tells."""
        parts = (columns[:, k : k + _BLOCK] for k in range(0, columns.shape[1], _BLOCK))
        told = [np.einsum("nk,nk->k", self._clear(part), part) for part in parts]
        weight = np.concatenate([np.empty(0), *told])
        weight = np.where(weight > 1e-9, weight, np.nan)
        return (columns.T @ self.residual) / weight, weight

    def _clear(self, columns: Floats) -> Floats:
        inner = self._demean(columns)
        return np.asarray(inner - self._turned @ (self._turned.T @ inner))

    def _demean(self, columns: Floats) -> Floats:
        total = np.add.reduceat(columns[self._order], self._starts, axis=0) if len(columns) else columns
        return np.asarray(columns - (total / self._size[:, None])[self.group])


def _moves(setup: Ints) -> tuple[Floats, list[tuple[int, int]]]:
    """For each moment between two readings of one set-up: a column (n,) that is 1 for its readings after that
    moment, and the places of the two readings."""
    columns, between = [], []
    for number in dict.fromkeys(setup.tolist()):
        members = np.flatnonzero(setup == number)
        for a, b in zip(members[:-1].tolist(), members[1:].tolist(), strict=True):
            column = np.zeros(len(setup))
            column[members[members >= b]] = 1.0
            columns.append(column)
            between.append((a, b))
    return np.array(columns, dtype=float).reshape(len(columns), len(setup)).T, between


TOLD = frozenset(
    {
        "misclosure",
        "misclosure-too-large",
        "misclosure-without-rule",
        "levels-adjusted",
        "levels-not-closed",
        "routes-disagree",
        "only-three-shots",
    }
)
"""Findings that tell of a check, or that there was none."""

READINGS, ELEVATIONS = "the readings", "the elevations"
"""What was written down, and is not checked."""


def unchecked_heights(heights: Heights, compared: int = 0, *, what: str = READINGS) -> list[Finding]:
    """One warning (`survey-not-checked`) where nothing checks these heights; ``compared``: how many stations
    were compared with those around them; ``what`` was noted of them."""
    looked = read_twice(heights.readings)
    if heights.spare or 0 < looked <= MOST_READINGS:
        return []
    return unchecked(heights.findings, compared, what)


def unchecked(findings: Iterable[Finding], compared: int, what: str) -> list[Finding]:
    """The same for shots of which no more is known than these ``findings``; ``what`` was noted of them."""
    if FEWEST <= compared <= MOST_SHOTS or any(f.code in TOLD for f in findings):
        return []
    return [
        finding(
            "survey-not-checked",
            "warning",
            what,
            float(compared),
            float(FEWEST),
            variant="readings" if what == READINGS else "",
            fewest=FEWEST,
            most=MOST_SHOTS,
        )
    ]
