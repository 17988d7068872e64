"""From the ground, the places and what they carry to the problem that the search for the best top solves.

Every pier may be single or double, on its blocks or on a base pad, as far as its load and its place allow:
each way is a kind of hole with the stacks that fit it, cut off where they grow too tall for the pier.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from gradework.errors import CheckError
from gradework.foundations.checks.check import Check, cited
from gradework.foundations.piers.bearing import BEARING_SOURCE, Demand, most_carried, tallest_allowed
from gradework.foundations.piers.carrying import Carried
from gradework.foundations.piers.holes import HoleKind, PierGround, hole_kind
from gradework.foundations.piers.neighbours import corners
from gradework.foundations.piers.room import Bools, Size, kept_holes, with_room
from gradework.foundations.piers.stacks import Ints, StackTable, stack_tables
from gradework.foundations.piers.top_problem import Floats, Goal, Hole, TopProblem

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.foundations.piers.spec import PierPrices, PierSpec
    from gradework.ground.surface import Surface


_SAME_SIZE = 1e-9  # [m] what floats round away of the side of a hole


class Posed(NamedTuple):
    """A problem and, for each of its holes, the ground in it at every pier."""

    problem: TopProblem
    kinds: tuple[HoleKind, ...]

    def own(self, kind: int, pier: int) -> PierGround:
        """Give the ground in the hole number ``kind`` of a pier that has it. Raises ``CheckError`` else."""
        ground = self.kinds[kind].ground[pier]
        if ground is None:
            raise CheckError("a pier has a hole that cannot be dug")
        return ground


class Dug(NamedTuple):
    """Holes of one kind, with their highest bottoms (n,) [m] and the digging down to these (n,) [m³]."""

    kind: HoleKind
    bottoms: Floats
    dug: Floats


@dataclass(frozen=True, eq=False)
class Yard:
    """The ground with the piers in their places: what the problem is posed from."""

    surface: Surface
    under: Pieces
    carried: Carried
    demand: Demand
    _dug: dict[tuple[Size, float], Dug] = field(default_factory=dict, repr=False)

    def holes(self, size: Size, depth: float) -> Dug:
        """Give the ground in holes of a ``size`` (along, across) at least ``depth`` [m] deep, at every pier.

        Goals ask for the same few kinds over and over, so each is looked at once.
        """
        if (size, depth) not in self._dug:
            kind = hole_kind(self.surface, self.carried.places, self.carried.frame, size)
            self._dug[size, depth] = Dug(kind, kind.bottoms(depth), kind.dug(depth))
        return self._dug[size, depth]


def yard_of(surface: Surface, under: Pieces, carried: Carried) -> Yard:
    """Note which piers stand at corners, beside what each carries."""
    corner = np.zeros(len(carried.places), np.bool_)
    corner[list(corners(carried.local))] = True
    return Yard(surface, under, carried, Demand(carried.loading.total, corner))


def tables_for(spec: PierSpec, goal: Goal) -> tuple[StackTable, ...]:
    """Give all stacks a pier may be built of, single and double: the cheapest, or those of fewest units."""
    first: Literal["money", "units"] = "money" if goal == "least money" else "units"
    return tuple(
        table
        for across in spec.ways_across
        for table in stack_tables(spec.on_hand, tallest=spec.limit_of(across), across=across, first=first)
    )


def pose(yard: Yard, spec: PierSpec, prices: PierPrices, goal: Goal, every: Size | None = None) -> Posed:
    """Pose the problem of a goal; no holes where no pier may have any.

    ``every`` hole is of one size (along, across) [m] where that is given, else of that of its own stack.
    """

    local, kept = yard.carried.local, _kept(yard, spec) if every is None else {}

    def dug(table: StackTable) -> Dug:
        own = spec.hole_of(table.plan)
        size = every or own
        kind, bottoms, volumes = yard.holes(size, spec.hole_depth)
        wide = own[0] <= size[0] + _SAME_SIZE and own[1] <= size[1] + _SAME_SIZE
        room = with_room(local, size, kept) & wide
        return Dug(kind, np.where(room, bottoms, np.nan), np.where(room, volumes, np.nan))

    ways = holes_allowed(tables_for(spec, goal), dug, yard.demand, spec.loads.bearing)
    problem = TopProblem(
        holes=tuple(hole for hole, _ in ways),
        bed_least=spec.bed_least,
        bed_most=spec.bed_most,
        deeper=spec.deeper,
        step=spec.hole_step,
        gravel=prices.gravel,
        digging=prices.digging,
        lowest_top=yard.under.highest + spec.clearance if spec.top is None else spec.top,
        highest_top=spec.top,
    )
    return Posed(problem, tuple(kind for _, kind in ways))


def holes_allowed(
    tables: Sequence[StackTable], dug: Callable[[StackTable], Dug], demand: Demand, bearing: float
) -> list[tuple[Hole, HoleKind]]:
    """Give each way that some piers may be built: a hole they have, with the stacks that they may have in it.

    ``dug`` looks at the holes that the stacks of a table ask for. Piers that may have equally tall stacks of
    a table share a way; the others have none of it.
    """
    found = []
    for table in tables:
        allowed = _rows_allowed(table, demand, bearing)
        if not allowed.any():
            continue
        kind, bottoms, volumes = dug(table)
        for count in np.unique(allowed[(allowed > 0) & np.isfinite(bottoms)]).tolist():
            own = allowed == count
            able = np.where(own, bottoms, np.nan), np.where(own, volumes, np.nan)
            found.append((Hole(_first_rows(table, count), *able, kind.area), kind))
    return found


def _rows_allowed(table: StackTable, demand: Demand, bearing: float) -> Ints:
    """Give how many rows of a table, from the lowest stack up, each pier may have (n,)."""
    return np.searchsorted(table.heights, tallest_allowed(table, demand, bearing), "right")


def _first_rows(table: StackTable, count: int) -> StackTable:
    part = slice(0, count)
    return replace(
        table,
        heights=table.heights[part],
        courses=table.courses[part],
        pieces=table.pieces[part],
        price=table.price[part],
        mass=table.mass[part],
    )


def smallest_holes(yard: Yard, spec: PierSpec) -> list[Size | None]:
    """Give for each pier the smallest hole of a stack that may carry it; None where no base is enough."""
    found: list[Size | None] = [None] * len(yard.carried.places)
    for table in sorted(tables_for(spec, spec.goal), key=lambda t: t.plan[0] * t.plan[1]):
        for pier in np.flatnonzero(_rows_allowed(table, yard.demand, spec.loads.bearing)).tolist():
            if found[pier] is None:
                found[pier] = spec.hole_of(table.plan)
    return found


def _kept(yard: Yard, spec: PierSpec) -> dict[int, Size]:
    """Give the piers that keep the smallest hole that carries them, because none has room beside its like."""
    may: dict[Size, Bools] = {}
    for table in tables_for(spec, spec.goal):
        size = spec.hole_of(table.plan)
        allowed = _rows_allowed(table, yard.demand, spec.loads.bearing) > 0
        may[size] = may.get(size, False) | (allowed & np.isfinite(yard.holes(size, spec.hole_depth).bottoms))
    return kept_holes(yard.carried.local, smallest_holes(yard, spec), may)


def bearing_short(yard: Yard, spec: PierSpec, *, us: bool) -> Check | None:
    """Check the pier that is worst off among those that no base carries [kN]; None where each has one."""
    lacking = [pier for pier, size in enumerate(smallest_holes(yard, spec)) if size is None]
    if not lacking:
        return None
    load = max(float(yard.demand.load[pier]) for pier in lacking)
    most = most_carried(tables_for(spec, spec.goal), spec.loads.bearing)
    return Check("pier load", load, most, "kN", cited(BEARING_SOURCE, us=us))


def ground_of(yard: Yard, posed: Posed) -> list[PierGround | None]:
    """Give the ground of each pier in the first of its holes that can be dug; None where there is none."""
    able = [np.isfinite(hole.bottoms) for hole in posed.problem.holes]
    return [
        next((posed.own(kind, pier) for kind, fits in enumerate(able) if fits[pier]), None)
        for pier in range(len(yard.carried.places))
    ]


def sizes_of(posed: Posed, kinds: Sequence[int]) -> list[Size]:
    """Give the plan of each pier's hole, by the numbers of their kinds."""
    return [posed.kinds[int(kind)].size for kind in kinds]
