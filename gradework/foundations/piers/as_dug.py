"""Holes or beds that did not come out as planned: new stacks under the same top, from the blocks on hand.

The law that every pier obeys, checked at the end:

    T - bottom = bed + stack + shim

T is the common top. Once a hole is dug its bottom is what was read, less what is still dug deeper; so the
bottom that follows from the top has to be the one that was read. The bed may be as thick as the job allows
and the shims as high as is allowed. A stack that still fits stays. The others are chosen together from all
that fit, one best stack for each height (``stacks.py``), so that what has to be bought costs least, since it
takes another trip, and then gravel and digging: blocks that are on hand and not laid elsewhere are free.
Where a pier fits nothing, the top moves to the nearest level that suits all holes as they are
(``best_top.py``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import add
from typing import cast

import numpy as np

from gradework.errors import CheckError
from gradework.foundations.piers.bearing import Demand
from gradework.foundations.piers.best_top import stacks_that_fit, tops_that_fit
from gradework.foundations.piers.holes import HoleKind
from gradework.foundations.piers.plan import Pier, Piers, StackPart
from gradework.foundations.piers.posing import Dug, holes_allowed, tables_for
from gradework.foundations.piers.stacks import (
    MONEY_STEPS,
    NANOMETRES,
    StackTable,
    nanometres,
    pieces_in_course,
)
from gradework.foundations.piers.top_problem import Hole, TopProblem
from gradework.foundations.piers.units import BlockUnit
from gradework.units.amounts import M_PER_IN

SHIM_LIMIT = 1.0 * M_PER_IN
"""Shims in pairs fill at most this [m] (24 CFR 3285.304(c), quoted; Louisiana allows 1.5 in)."""

TRIM = 0.5 * M_PER_IN
"""A hole that does not end on rock is trimmed deeper by so much at once [m] (judgement)."""

AS_READ = 0.125 * M_PER_IN
"""Beds this near to their level are left alone [m]: rods are read no better (judgement)."""

MOST_STATES = 20_000
"""Ways of using up the blocks on hand that are kept; more are cut, and the choice is not proved then."""

SAME = 1e-6


@dataclass(frozen=True, slots=True)
class AsRead:
    """What was read at one pier [m]: the bottom of its hole, the top of its bed where that is laid already.

    ``stuck``: the hole cannot go deeper (rock).
    """

    bottom: float
    bed_top: float | None = None
    stuck: bool = False


@dataclass(frozen=True, slots=True)
class Way:
    """One way to build a pier under a top, in nanometres: ``deeper`` is still to dig, ``moved`` the gravel to
    add (+) or take off (-) where a bed is laid; ``cost`` in millionths, of gravel and digging only."""

    courses: tuple[int, ...]
    height: int
    bed: int
    deeper: int
    shim: int
    moved: int
    cost: int

    def order(self) -> tuple[int, ...]:
        """What makes one way better than another of the same stack."""
        return self.cost, self.deeper, self.shim, abs(self.moved), self.bed


@dataclass(frozen=True)
class Rebuilt:
    """One pier as it is to be built now; levels and lengths [m]. ``kept``: the stack is the one planned.

    ``bottom`` is where the hole has to end below ``top``, ``deeper`` than it was read by so much; ``gravel``
    is added to (+) or taken off (-) a bed that is laid, 0 where it is not.
    """

    pier: Pier
    read: AsRead
    bottom: float
    deeper: float
    bed: float
    gravel: float
    stack: tuple[StackPart, ...]
    laid: tuple[BlockUnit, ...]
    height: float
    shim: float
    top: float
    kept: bool

    def check(self) -> None:
        """Raise ``CheckError`` unless what was read, less what is dug, leads up to the top.

        The height is that of the units as laid, and ``bottom`` follows from the top: neither comes from the
        search.
        """
        if abs(self.read.bottom - self.deeper - self.bottom) > SAME:
            raise CheckError(
                f"pier {self.pier.name}: bed, stack and shim do not lead from its bottom to the top"
            )
        if self.read.bed_top is not None:
            laid = self.read.bed_top + self.gravel - self.bottom
            if abs(laid - self.bed) > SAME:
                raise CheckError(f"pier {self.pier.name}: the gravel does not make its bed")


@dataclass(frozen=True)
class Redesign:
    """All piers read, under one ``top`` [m], None where no level suits these holes.

    ``planned`` is the top of the plan; ``blocked`` names the piers that fit no stack under it. ``buy`` is
    what is missing on hand, by unit and pieces. ``proved`` is False where too many ways were open to try all.
    """

    planned: float
    top: float | None
    piers: tuple[Rebuilt, ...]
    blocked: tuple[str, ...]
    buy: tuple[tuple[BlockUnit, int], ...]
    proved: bool = True

    @property
    def moved(self) -> bool:
        """Say whether the top is another than planned."""
        return self.top is not None and abs(self.top - self.planned) > SAME

    @property
    def money(self) -> float:
        """Give what the missing blocks cost, in the user's money."""
        return sum(unit.price * count for unit, count in self.buy)


def redesign(
    piers: Piers, read: Mapping[str, AsRead], on_hand: Mapping[str, int], *, shim: float = SHIM_LIMIT
) -> Redesign:
    """Find stacks, beds and shims for the piers that were read, the others as planned.

    ``read`` by the names of the piers; ``on_hand`` is how many pieces of each unit there are, by its name;
    ``shim`` the most that shims may fill [m]. Raises ``CheckError`` where a pier does not add up, and
    ``ValueError`` for piers without a common top.
    """
    if piers.top is None:
        raise ValueError("piers without a common top")
    planned = nanometres(piers.top)
    problem = _problem(piers, read)
    ways = {pier.name: _ways(piers, problem, i, planned, read, shim) for i, pier in enumerate(piers.piers)}
    blocked = tuple(name for name, open_ways in ways.items() if not open_ways)
    top = planned
    if blocked:
        nearest = _nearest(problem, planned)
        if nearest is None:
            return Redesign(piers.top, None, (), blocked, ())
        top = nearest
        ways = {p.name: _ways(piers, problem, i, top, read, shim) for i, p in enumerate(piers.piers)}
    chosen, proved = _together(piers, ways, on_hand)
    rebuilt = tuple(
        _rebuilt(p, chosen[p.name], piers, read.get(p.name), top / NANOMETRES) for p in piers.piers
    )
    for one in rebuilt:
        one.check()
    return Redesign(piers.top, top / NANOMETRES, rebuilt, blocked, _missing(piers, rebuilt, on_hand), proved)


def as_redesigned(piers: Piers, design: Redesign) -> Piers:
    """Put what is built now in place of what was planned, so that beds are held against that.

    Raises ``ValueError`` for a design without a top.
    """
    if design.top is None:
        raise ValueError("a design without a top")
    now = tuple(
        replace(
            one.pier,
            bottom=one.bottom,
            bed=one.bed,
            stack=one.stack,
            laid=one.laid,
            height=one.height,
            top=one.top,
        )
        for one in design.piers
    )
    return replace(piers, top=design.top, piers=now)


def _problem(piers: Piers, read: Mapping[str, AsRead]) -> TopProblem:
    """Give the choice of a top with the holes as they are: dug already, and no deeper.

    A stack may lie in any hole that is wide and long enough for it, as far as it carries what the pier does;
    single piers stay single, double ones double.
    """
    spec = piers.spec
    demand = Demand(np.array([p.load for p in piers.piers]), np.array([p.corner for p in piers.piers]))
    bottoms = np.array([read[p.name].bottom if p.name in read else p.bottom for p in piers.piers])
    holes: list[Hole] = []
    for size, across in dict.fromkeys((pier.hole_size, pier.across) for pier in piers.piers):
        own = np.array([(pier.hole_size, pier.across) == (size, across) for pier in piers.piers])
        here = Dug(HoleKind(size, ()), np.where(own, bottoms, np.nan), np.where(own, 0.0, np.nan))
        tables = [
            table
            for table in tables_for(spec, piers.goal)
            if table.across == across
            and all(n <= has + SAME for n, has in zip(spec.hole_of(table.plan), size, strict=True))
        ]
        ways = holes_allowed(tables, _always(here), demand, spec.loads.bearing)
        holes += [hole for hole, _ in ways]
    return TopProblem(
        holes=tuple(holes),
        bed_least=spec.bed_least,
        bed_most=spec.bed_most,
        deeper=0.0,
        step=1.0 / NANOMETRES,  # what is dug already is trimmed by as much as it takes
        gravel=piers.prices.gravel,
        digging=piers.prices.digging,
        lowest_top=piers.building.highest + spec.clearance,
    )


def _always(here: Dug) -> Callable[[StackTable], Dug]:
    return lambda _: here


def _ways(
    piers: Piers, problem: TopProblem, index: int, top: int, read: Mapping[str, AsRead], shim: float
) -> tuple[Way, ...]:
    """Give every way to build one pier under ``top`` [nm]; the planned stack alone where it still fits.

    The hole is left as it is, or trimmed a little; it is dug deeper only where nothing fits, and not on rock.
    """
    pier, spec = piers.piers[index], piers.spec
    here = read.get(pier.name, AsRead(pier.bottom))
    laid = pier.courses(spec.on_hand)
    for deeper in (0.0,) if here.stuck or here.bed_top is not None else (TRIM, spec.deeper):
        found = list(_fitting(replace(problem, deeper=deeper), index, top, here, shim))
        kept = [way for way in found if way.courses == laid]
        if found:
            best = sorted(kept or found, key=Way.order)
            return tuple({way.courses: way for way in best[::-1]}.values())
    return ()


def _fitting(problem: TopProblem, index: int, top: int, here: AsRead, shim: float) -> Iterator[Way]:
    """Run through every stack, bed and shim that one pier may have under ``top`` [nm]."""
    limit, least, most = nanometres(shim), nanometres(problem.bed_least), nanometres(problem.bed_most)
    # what the bed does not fill, shims do; one that is laid may lack what no rod shows
    slack = 0.0 if here.bed_top is None else min(AS_READ, problem.bed_least)
    wide = replace(problem, bed_least=problem.bed_least - slack, bed_most=problem.bed_most + shim)
    found = stacks_that_fit(wide, top, index)
    gravel = problem.gravel * MONEY_STEPS / NANOMETRES
    digging = problem.digging * MONEY_STEPS / NANOMETRES
    for kind, row, gap, extra in zip(*(part.tolist() for part in found[:4]), strict=True):
        hole = problem.holes[kind]
        courses, height = tuple(hole.table.courses[row].tolist()), int(hole.table.heights[row])
        bed = min(gap, most)
        cost = round(hole.area * (gravel * bed + digging * extra))
        if here.bed_top is None:
            yield Way(courses, height, bed, extra, gap - bed, 0, cost)
            continue
        own = nanometres(here.bed_top) - (top - height - gap)  # how thick the bed is that is laid
        short = top - height - nanometres(here.bed_top)
        near = nanometres(AS_READ)
        if least - near <= own <= most + near and -near <= short <= limit:
            # a bed that nearly fits is left alone, and the last bit shimmed
            raked = min(short, 0)
            yield Way(courses, height, own + raked, 0, max(short, 0), raked, 0)
        else:
            more = round(hole.area * gravel * max(bed - own, 0))
            yield Way(courses, height, bed, 0, gap - bed, bed - own, more)


def _nearest(problem: TopProblem, planned: int) -> int | None:
    """Give the top nearest to the planned one [nm] that suits every hole as it is; the lower of two."""
    tops = tops_that_fit(problem)
    if not len(tops):
        return None
    away = np.abs(tops - planned)
    return int(tops[np.flatnonzero(away == away.min())[0]])


Key = tuple[int, int, int, int, int]
"""Money for what is bought, and for gravel and digging, in millionths, stacks changed, pieces laid, gravel
moved: what is kept least, in this order."""


def _together(
    piers: Piers, ways: Mapping[str, Sequence[Way]], on_hand: Mapping[str, int]
) -> tuple[dict[str, Way], bool]:
    """Choose one way for each pier so that all together cost least.

    Pier by pier, for every number of blocks used up so far the cheapest choice is kept: those on hand count,
    each piece beyond them costs its price. That is exact, since nothing else passes from pier to pier.
    """
    units = piers.spec.on_hand
    price = [round(unit.price * MONEY_STEPS) for unit in units]
    stock = [on_hand.get(unit.name, 0) for unit in units]
    states: dict[tuple[int, ...], tuple[Key, tuple[Way, ...]]] = {(0,) * len(units): ((0, 0, 0, 0, 0), ())}
    proved = True
    # piers without a choice first: they only use up what is on hand
    names = sorted(ways, key=lambda name: len(ways[name]))
    for name in names:
        pier = next(pier for pier in piers.piers if pier.name == name)
        each = [pieces_in_course(unit, pier.across) for unit in units]
        own = pier.courses(units)
        after: dict[tuple[int, ...], tuple[Key, tuple[Way, ...]]] = {}
        for used, (key, line) in states.items():
            for way in ways[name]:
                need = [count * pieces for count, pieces in zip(way.courses, each, strict=True)]
                now = tuple(min(u + n, s) for u, n, s in zip(used, need, stock, strict=True))
                bought = [max(0, u + n - s) for u, n, s in zip(used, need, stock, strict=True)]
                money = sum(b * p for b, p in zip(bought, price, strict=True))
                step = (money, way.cost, int(way.courses != own), sum(need), abs(way.moved) + way.shim)
                total = cast("Key", tuple(map(add, key, step)))
                if now not in after or total < after[now][0]:
                    after[now] = total, (*line, way)
        if len(after) > MOST_STATES:
            proved = False
            after = dict(sorted(after.items(), key=lambda item: item[1][0])[:MOST_STATES])
        states = after
    best = min(states.values(), key=lambda state: state[0])[1]
    return dict(zip(names, best, strict=True)), proved


def _rebuilt(pier: Pier, way: Way, piers: Piers, read: AsRead | None, top: float) -> Rebuilt:
    now = pier.restacked(piers.spec.on_hand, way.courses)
    bed, shim = way.bed / NANOMETRES, way.shim / NANOMETRES
    return Rebuilt(
        pier,
        read or AsRead(pier.bottom),
        bottom=top - shim - now.height - bed,
        deeper=way.deeper / NANOMETRES,
        bed=bed,
        gravel=way.moved / NANOMETRES,
        stack=now.stack,
        laid=now.laid,
        height=now.height,
        shim=shim,
        top=top,
        kept=way.courses == pier.courses(piers.spec.on_hand),
    )


def _missing(
    piers: Piers, rebuilt: Sequence[Rebuilt], on_hand: Mapping[str, int]
) -> tuple[tuple[BlockUnit, int], ...]:
    """Give what is laid beyond what is on hand."""
    found = []
    for unit in piers.spec.on_hand:
        laid = sum(part.pieces for one in rebuilt for part in one.stack if part.unit.name == unit.name)
        if laid > on_hand.get(unit.name, 0):
            found.append((unit, laid - on_hand.get(unit.name, 0)))
    return tuple(found)
