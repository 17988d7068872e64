"""How far apart skids and joists let rows and piers be, what each pier carries, and whether the wood holds.

Rows follow from the joists and the piers of a row from the skids, unless the job gives them; what is given is
checked. All checks are made on the piers as they are placed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.checks.check import COMMON, Check, cited, worst_of
from gradework.foundations.piers.layout import (
    Frame,
    Place,
    RowLayout,
    building_frame,
    check_layout,
    count_within,
    even_places,
    lay_out_given,
    lay_out_rows,
    spans,
)
from gradework.foundations.timber.load_path import (
    PierLoading,
    RowLoads,
    Shell,
    loads_on_piers,
    ridge_misses,
    row_loads,
    walls_across,
)
from gradework.foundations.timber.spans import (
    LineLoad,
    Span,
    bearing_stress,
    end_reach,
    end_stress,
    longest_span,
    wall_stresses,
)
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.spec import PierSpec
    from gradework.units.display import Display

Floats = NDArray[np.float64]

MOST_APART = 120.0 * M_PER_IN
"""Piers of a row stand at most so far apart [m], whatever the skid would span (24 CFR 3285.310(c); seen)."""

SHIM = {True: 4.0 * M_PER_IN, False: 0.1}
"""Length of a skid on the shims between it and the cap [m], in US and metric jobs (24 CFR 3285.304(c): shims
4 x 6 in; seen)."""

NDS = "AWC NDS formulas, grade No 2 (values quoted or from memory)"
OWN = "strengths given in the job"

_TRIES = 8
_BESIDE = 1e-6


def shell_over(building: Outline, spec: PierSpec) -> Shell:
    """Give walls and roof as the rows see them: whether the ridge runs along them."""
    rows, ridge = (building_frame(building, side).along for side in (spec.layout.along, spec.ridge))
    return spec.shell._replace(ridge_along=bool(abs(rows @ ridge) > 0.5))


def joist_span(spec: PierSpec) -> Span:
    """Give how far the joists span under the floor's loads [m]; three or more share what one cannot bear."""
    floor, loads = spec.floor, spec.loads
    each = LineLoad(floor.joist_spacing * (loads.floor + loads.dead), floor.joist_spacing * loads.floor)
    return longest_span(*floor.wood.sized(floor.joist, shared=floor.joist_spacing <= _SHARE), each)


_SHARE = 24.0 * M_PER_IN + 1e-6  # joists farther apart do not share


def skid_span(spec: PierSpec, load: LineLoad) -> Span:
    """Give how far a skid spans between piers under a line load [m]."""
    return longest_span(*spec.floor.wood.sized(spec.floor.skid), load)


def _box(building: Outline, along: str) -> tuple[Frame, Floats, Floats]:
    frame = building_frame(building, along)
    local = frame.to_local(building.rings[0])
    return frame, local.min(axis=0), local.max(axis=0)


def loads_of_rows(building: Outline, spec: PierSpec, rows: Sequence[float]) -> RowLoads:
    """Share the load of the rectangle around a building among rows at ``rows`` [m across, from its side]."""
    _, low, high = _box(building, spec.layout.along)
    length, width = (high - low).tolist()
    return row_loads(length, width, rows, spec.loads.areas, shell_over(building, spec))


def follow(building: Outline, spec: PierSpec, show: Display) -> RowLayout:
    """Fill in how far apart rows and piers stand, where that is not given: as far as joists and skids span,
    the first pier of a row as near to the end as the skid asks.

    All are whole inches, or whole centimetres. Never closer than holes have room: then a check fails.
    """
    layout = spec.layout
    _, low, high = _box(building, layout.along)
    check_layout(layout, high - low, show)
    length, width = (high - low).tolist()
    across = width - 2.0 * layout.side_inset
    if layout.row_spacing is None:
        span = rounded_down(joist_span(spec).length, show)
        layout = replace(layout, row_spacing=_with_room(span, across, spec.hole_size[1]))
    rows = layout.rows or count_within(across, layout.row_spacing or math.inf)
    places = even_places(layout.side_inset, width - layout.side_inset, rows).tolist()
    loads = loads_of_rows(building, spec, places)
    if layout.draw_in:
        layout = replace(layout, end_inset=_drawn_in(spec, layout.end_inset, loads, show))
    if layout.spacing is None:
        each = (skid_span(spec, load).length for load in loads.along)
        span = min(rounded_down(min(each), show), MOST_APART)
        layout = replace(layout, spacing=_with_room(span, length - 2.0 * layout.end_inset, spec.hole_size[0]))
    return layout


def _drawn_in(spec: PierSpec, most: float, loads: RowLoads, show: Display) -> float:
    """Give how far from the end the first pier of each row stands [m]: as far as the skid bears its own load
    and the wall at its end, but no nearer than its blocks lie within the building.
    """
    section, strength = spec.floor.wood.sized(spec.floor.skid)
    bears = min(
        end_reach(section, strength, load.total, end)
        for load, end in zip(loads.along, loads.ends, strict=True)
    )
    flush = rounded_up(0.5 * spec.hole_size[0] - spec.margin, show)
    return min(most, max(flush, rounded_down(bears, show)))


def rounded_down(length: float, show: Display) -> float:
    """Round a span down to what is written: an inch, or 10 mm [m]."""
    step = M_PER_IN if show.us else 0.01
    return math.floor(min(length, 20.0) / step + 1e-9) * step


def rounded_up(length: float, show: Display) -> float:
    """Round a length up to what is written: an inch, or 10 mm [m]."""
    step = M_PER_IN if show.us else 0.01
    return math.ceil(length / step - 1e-9) * step


def _with_room(spacing: float, room: float, hole: float) -> float:
    """Widen a spacing [m] until the evenly spaced holes along ``room`` [m] do not overlap."""
    if room <= 0.0:
        return max(spacing, hole)
    return max(spacing, room / max(1, math.floor(room / hole)))


@dataclass(frozen=True)
class Carried:
    """Piers in their places with what they carry; ``local`` (n, 2) [m: along, across]."""

    layout: RowLayout
    frame: Frame
    places: tuple[Place, ...]
    local: Floats
    loading: PierLoading
    skids: tuple[Skid, ...]
    shell: Shell


class Skid(NamedTuple):
    """One straight skid from ``start`` to ``end`` [m along], over ``piers`` (their numbers) at ``places``."""

    piers: tuple[int, ...]
    places: tuple[float, ...]
    start: float
    end: float

    @property
    def gaps(self) -> list[float]:
        """Give the spans between its piers [m]."""
        gaps: list[float] = np.diff(self.places).tolist()
        return gaps

    def lengths(self) -> Floats:
        """Give how much of the skid each of its piers carries [m]."""
        middles = 0.5 * (np.array(self.places[1:]) + np.array(self.places[:-1]))
        lengths: Floats = np.diff(np.concatenate([[self.start], middles, [self.end]]))
        return lengths

    def loads(self, loading: PierLoading) -> list[LineLoad]:
        """Give the load along it at each of its piers [kN/m]."""
        own = list(self.piers)
        pairs = zip(loading.spread[own] / self.lengths(), loading.live[own] / self.lengths(), strict=True)
        return [LineLoad(float(total), float(live)) for total, live in pairs]


def place_piers(building: Outline, spec: PierSpec, show: Display) -> Carried:
    """Place the piers and share the load among them.

    A spacing that follows from the skids is narrowed until all of them hold: where the building is no
    rectangle, some may carry more than the rectangle around it would say. Raises ``InputError`` for rows or
    places that cannot be, ``CheckError`` when the shares of load do not add up.
    """
    if spec.positions:
        return _carry(
            building, spec, spec.layout, lay_out_given(building, spec.positions, show, spec.layout.along)
        )
    layout = follow(building, spec, show)
    carried = _carry(building, spec, layout, lay_out_rows(building, layout, show))
    for _ in range(_TRIES):
        on_skids = chain(_skid_spans(carried, spec, us=True), _skid_walls(carried, building, spec, us=True))
        strain = max((check.strain for check in on_skids), default=0.0)
        if spec.layout.spacing is not None or strain <= 1.0 or layout.spacing is None:
            break
        tighter = rounded_down(layout.spacing / strain, show)
        if tighter < spec.hole_size[0]:
            break
        layout = replace(layout, spacing=tighter)
        carried = _carry(building, spec, layout, lay_out_rows(building, layout, show))
    return carried


def _carry(building: Outline, spec: PierSpec, layout: RowLayout, places: tuple[Place, ...]) -> Carried:
    frame = building_frame(building, layout.along)
    rings = [frame.to_local(ring) for ring in building.rings]
    local = frame.to_local(np.array([(place.x, place.y) for place in places]))
    floor = np.array([place.tributary for place in places])
    shell = shell_over(building, spec)
    loading = loads_on_piers(rings, local, floor, spec.loads.areas, shell)
    return Carried(layout, frame, places, local, loading, tuple(_skids(rings, places, local)), shell)


def _skids(rings: Sequence[Floats], places: Sequence[Place], local: Floats) -> Iterator[Skid]:
    """Give the straight skids over piers that stand in rows; none over piers that do not line up."""
    for row in sorted({place.row for place in places} - {0}):
        members = [k for k, place in enumerate(places) if place.row == row]
        for start, end in spans(rings, float(local[members, 1].mean())):
            own = [k for k in members if start - _BESIDE <= local[k, 0] <= end + _BESIDE]
            own.sort(key=lambda k: float(local[k, 0]))
            if own:
                yield Skid(tuple(own), tuple(local[own, 0].tolist()), start, end)


def span_checks(carried: Carried, building: Outline, spec: PierSpec, *, us: bool) -> tuple[Check, ...]:
    """Check joists, skids and the posts of a ridge on the piers as placed: the worst of each kind.

    Joists and skids are null where no rows are known. A post bears on the pier as far from its middle as the
    shims reach: beside that it stands on the skid between two piers, which is sized for no such load. Walls
    inside the rectangle around a building, as of an L, are checked where one stands between two piers.
    """
    rings = [carried.frame.to_local(ring) for ring in building.rings]
    misses = ridge_misses(rings, carried.local, carried.shell)
    posts = (Check("ridge post", max(misses), SHIM[us], "m", COMMON),) if misses else ()
    skids = list(_skid_spans(carried, spec, us=us))
    if not skids:
        source = _source(spec, us=us)
        return (*(Check(name, None, None, "m", source) for name in ("joist span", "skid span")), *posts)
    return (
        *posts,
        *_joist_checks(carried, building, spec, us=us),
        worst_of(skids),
        *_worst(_skid_walls(carried, building, spec, us=us)),
        worst_of(_skid_ends(carried, spec, us=us)),
        worst_of(_skid_bearing(carried, spec, us=us)),
    )


def _worst(checks: Iterable[Check]) -> list[Check]:
    found = list(checks)
    return [worst_of(found)] if found else []


def _source(spec: PierSpec, *, us: bool) -> str:
    return OWN if spec.floor.wood.own is not None else cited(NDS, us=us)


def _skid_spans(carried: Carried, spec: PierSpec, *, us: bool) -> Iterator[Check]:
    source = _source(spec, us=us)
    for skid in carried.skids:
        loads = skid.loads(carried.loading)
        if len(loads) == 1:
            yield Check("skid span", 0.0, MOST_APART, "m", source)
        for gap, one, two in zip(skid.gaps, loads, loads[1:], strict=False):
            load = LineLoad(max(one.total, two.total), max(one.live, two.live))
            yield Check("skid span", gap, min(skid_span(spec, load).length, MOST_APART), "m", source)


def _skid_walls(carried: Carried, building: Outline, spec: PierSpec, *, us: bool) -> Iterator[Check]:
    """Bending and shear where a wall across the rows stands on a skid between two of its piers."""
    section, strength = spec.floor.wood.sized(spec.floor.skid)
    rings = [carried.frame.to_local(ring) for ring in building.rings]
    walls = list(walls_across(rings, carried.local, spec.loads.areas, carried.shell))
    source = _source(spec, us=us)
    for skid in carried.skids:
        loads = skid.loads(carried.loading)
        for (start, end), one, two in zip(pairwise(skid.places), loads, loads[1:], strict=False):
            own = [
                (at - start, load)
                for pier, at, load in walls
                if pier in skid.piers and start + _BESIDE < at < end - _BESIDE
            ]
            if own:
                bent, sheared = wall_stresses(section, max(one.total, two.total), end - start, own)
                yield Check("skid wall", bent, strength.bending, "kPa", source)
                yield Check("skid wall", sheared, strength.shear, "kPa", source)


def _skid_ends(carried: Carried, spec: PierSpec, *, us: bool) -> Iterator[Check]:
    """Bending over the last pier: the skid reaches beyond it, with the wall across the rows at its end."""
    section, strength = spec.floor.wood.sized(spec.floor.skid)
    for skid in carried.skids:
        loads = skid.loads(carried.loading)
        beyond = (skid.places[0] - skid.start, skid.end - skid.places[-1])
        for reach, load, pier in zip(
            beyond, (loads[0], loads[-1]), (skid.piers[0], skid.piers[-1]), strict=True
        ):
            stress = end_stress(section, load.total, float(carried.loading.ends[pier]), reach)
            yield Check("skid end", stress, strength.bending, "kPa", _source(spec, us=us))


def _skid_bearing(carried: Carried, spec: PierSpec, *, us: bool) -> Iterator[Check]:
    section, strength = spec.floor.wood.sized(spec.floor.skid)
    for load in carried.loading.total.tolist():
        stress = bearing_stress(section, load, SHIM[us])
        yield Check("skid bearing", stress, strength.bearing, "kPa", _source(spec, us=us))


def _joist_checks(carried: Carried, building: Outline, spec: PierSpec, *, us: bool) -> Iterator[Check]:
    """Span between rows, and bending over the outer rows under the walls that stand beyond them.

    Looked at from one corner of the building to the next along it: an arm of an L has rows of its own.
    """
    _, low, _ = _box(building, spec.layout.along)
    rows = sorted({round(float(carried.local[skid.piers[0], 1]), 4) for skid in carried.skids})
    source, strips = _source(spec, us=us), list(_strips(carried, building))
    gaps = [b - a for _, _, own in strips for a, b in pairwise(own)]
    if gaps:
        yield Check("joist span", max(gaps), joist_span(spec).length, "m", source)
    else:
        yield Check("joist span", None, None, "m", source)  # one row alone balances its floor
    floor, loads = spec.floor, spec.loads
    section, strength = floor.wood.sized(floor.joist, shared=floor.joist_spacing <= _SHARE)
    # floor without a row hangs on whatever is beside it: at least as bad as all of it beyond one
    beyond = max(max(own[0] - start, end - own[-1]) if own else end - start for start, end, own in strips)
    side = loads_of_rows(building, spec, [row - float(low[1]) for row in rows]).side
    stress = end_stress(
        section,
        floor.joist_spacing * (loads.floor + loads.dead),
        floor.joist_spacing * side,
        max(0.0, beyond),
    )
    yield Check("joist end", stress, strength.bending, "kPa", source)


def _strips(carried: Carried, building: Outline) -> Iterator[tuple[float, float, list[float]]]:
    """Run along the building: from where to where the floor reaches across, and the rows under it there [m].

    Between two corners, or ends of skids, all of it changes evenly, so both ends of each stretch tell it.
    """
    turned = [carried.frame.to_local(ring)[:, ::-1] for ring in building.rings]
    lines = [
        (skid.start, skid.end, float(carried.local[list(skid.piers), 1].mean())) for skid in carried.skids
    ]
    cuts = sorted({*np.vstack(turned)[:, 1].tolist(), *(end for line in lines for end in line[:2])})
    for low, high in pairwise(cuts):
        if high - low < 4.0 * _STEP:
            continue
        for at in (low + _STEP, high - _STEP):
            rows = sorted(v for start, end, v in lines if start <= at <= end)
            for start, end in spans(turned, at):
                yield start, end, [v for v in rows if start - _STEP <= v <= end + _STEP]


_STEP = 1e-4  # [m] aside of a corner, where a wall along or across is on one side of the line
