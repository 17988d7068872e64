"""What steps or a ramp at the door take, as lines of the order: treated lumber, screws, a bed of stone.

How they are built is common practice, no source: cut stringers at most 24 in apart with two boards a tread,
a landing on posts, a ramp of joists at most 16 in apart; all of it on a bed of compacted stone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.foundations.timber.wood import Section, sized
from gradework.sitework.lumber import Stick, in_pieces, lumber_lines
from gradework.sitework.order import Order, dig_out, gravel_line, gravel_need, whole_line
from gradework.sitework.order_edge import SCREW_MASS
from gradework.units.amounts import M_PER_FT, M_PER_IN
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.earthwork.materials import Gravel, Soil
    from gradework.sitework.access import Access
    from gradework.sitework.supplier import Supplier
    from gradework.units.display import Display

STRINGERS_APART = 24.0 * M_PER_IN
JOISTS_APART = 16.0 * M_PER_IN
POSTS_APART = 6.0 * M_PER_FT
RAMP_SPAN = 6.0 * M_PER_FT
"""A ramp is held up at least so often along its run [m]."""

BED, BED_BESIDE = 4.0 * M_PER_IN, 6.0 * M_PER_IN
"""Thickness of the stone under all of it, and how far it reaches beyond it on three sides [m]."""

SCREWS_A_CROSSING = 2
RAIL_HIGH = 36.0 * M_PER_IN
"""A handrail stands 34 to 38 in above the treads (IRC R311.7.8.1; memory)."""


class Timbers(NamedTuple):
    """Sections of what is built at a door."""

    stringer: Section
    board: Section
    joist: Section
    post: Section
    rail: Section


US = Timbers(*(sized(w * M_PER_IN, d * M_PER_IN) for w, d in (
    (1.5, 11.25), (1.5, 5.5), (1.5, 5.5), (3.5, 3.5), (1.5, 3.5),
)))  # fmt: skip
METRIC = Timbers(*(Section(f"{w}x{d}", w / 1000.0, d / 1000.0) for w, d in (
    (47, 275), (47, 150), (47, 150), (100, 100), (47, 100),
)))  # fmt: skip


class Framed(NamedTuple):
    """What is built at a door: the pieces, the crossings that are screwed, the bed (along, across) [m]."""

    sticks: tuple[Stick, ...]
    crossings: int
    bed: tuple[float, float]

    @property
    def stone(self) -> float:
        """Give the stone of the bed, and the soil it takes the place of [m³]."""
        return self.bed[0] * self.bed[1] * BED


def framed(access: Access, *, us: bool) -> Framed | None:
    """Say what is cut for steps or a ramp; None where nothing is built."""
    if not access.built or access.rise is None:
        return None
    wood, wide = US if us else METRIC, access.door.width
    bed = (access.out + BED_BESIDE, wide + 2.0 * BED_BESIDE)
    sticks, crossings = _platform(access, wood) if access.landing else ([], 0)
    more, crossed = (_ramp if access.ramp else _steps)(access, wood)
    rails = _rails(access, wood) if access.railed or access.guarded else []
    return Framed((*sticks, *more, *rails), crossings + crossed, bed)


def _count(width: float, apart: float) -> int:
    return max(2, math.ceil(width / apart - 1e-9) + 1)


def _boards(length: float, wood: Timbers) -> int:
    return math.ceil(length / wood.board.depth - 1e-9)


def _platform(access: Access, wood: Timbers) -> tuple[list[Stick], int]:
    """The landing: joists out from the wall between two rims, boards along the wall, posts at its corners."""
    wide, deep = access.door.width, access.landing
    high = (access.rise or 0.0) - (0.0 if access.ramp else _riser(access))
    joists, boards = _count(wide, JOISTS_APART), _boards(deep, wood)
    sticks = [Stick(wood.joist, deep, "joists of the landing")] * joists
    sticks += [Stick(wood.joist, wide, "rims of the landing")] * 2
    sticks += [Stick(wood.board, wide, "boards of the landing")] * boards
    sticks += [Stick(wood.post, max(high, BED), "posts of the landing")] * 4
    return sticks, joists * boards


def _riser(access: Access) -> float:
    return 0.0 if access.flight is None else access.flight.riser


def _steps(access: Access, wood: Timbers) -> tuple[list[Stick], int]:
    """Stringers and treads below the landing, or below the floor where there is none."""
    flight = access.flight
    assert flight is not None
    treads = flight.treads - bool(access.landing)
    if treads <= 0:
        return [], 0
    wide, count = access.door.width, _count(access.door.width, STRINGERS_APART)
    # the cuts of the first and the last step need wood beyond the treads themselves
    long = math.hypot(treads * flight.going, (treads + 1) * flight.riser) + flight.riser
    sticks = [Stick(wood.stringer, long, "stringers")] * count
    sticks += [Stick(wood.board, wide, "boards of treads")] * (2 * treads)
    return sticks, 2 * treads * count


def _ramp(access: Access, wood: Timbers) -> tuple[list[Stick], int]:
    """Joists down the ramp, held up every few feet, and boards across."""
    run, wide = access.out - access.landing, access.door.width
    long = math.hypot(run, access.rise or 0.0)
    spans, count, boards = in_pieces(long, RAMP_SPAN), _count(wide, JOISTS_APART), _boards(long, wood)
    sticks = [Stick(wood.joist, span, "joists of the ramp") for span in spans] * count
    sticks += [Stick(wood.joist, wide, "bearers of the ramp")] * (len(spans) + 1)
    sticks += [Stick(wood.board, wide, "boards of the ramp")] * boards
    return sticks, count * boards


def _rails(access: Access, wood: Timbers) -> list[Stick]:
    """A rail on both sides, on posts."""
    long = math.hypot(access.out, access.rise or 0.0)
    posts = _count(access.out, POSTS_APART)
    one = [Stick(wood.rail, long, "handrails")] + [Stick(wood.post, RAIL_HIGH, "posts of rails")] * posts
    return one * 2


def with_access(
    order: Order, access: Access, gravel: Gravel, soil: Soil, supplier: Supplier, show: Display
) -> Order:
    """Give an order with what is built at the door; the soil that its bed takes the place of goes with the
    rest."""
    made = framed(access, us=show.us)
    if made is None:
        return order
    screws = SCREWS_A_CROSSING * made.crossings
    place = "ramp" if access.ramp else "steps"
    stone = gravel_line(
        gravel_need(CompactedVolume(made.stone), gravel, supplier), supplier, show, place=place
    )
    note = f"{show.length(made.bed[0])} x {show.length(made.bed[1])}, {show.depth(BED)} deep; {stone.note}"
    order = order.plus(
        *lumber_lines(made.sticks, supplier.board, show, place=place),
        whole_line(
            f"{'3 in' if show.us else '80 mm'} deck screws for the {place}",
            screws, "pieces", mass=screws * SCREW_MASS,
            allowance="two at each crossing", reason="boards that lie on joists or stringers",
            note="rated for treated wood",
        ).paid_by("screws", screws),
        replace(stone, item=f"{stone.item} under the {place}", note=note.rstrip("; ")),
    )  # fmt: skip
    if order.spoil is None:
        return order
    return replace(order, spoil=dig_out(BankVolume(order.spoil.bank.m3 + made.stone), soil, supplier))


def access_takes(access: Access, *, us: bool) -> dict[str, float]:
    """Give what the hours of steps or a ramp are counted by: steps, m² of ramp, the bed dug and laid."""
    made = framed(access, us=us)
    if made is None:
        return {}
    work = {"ramp": access.out * access.door.width} if access.ramp else {"steps": float(access.risers - 1)}
    return {"digging": made.stone, "gravel": made.stone, **work}


def access_words(access: Access, show: Display) -> Iterator[str]:
    """Say how one gets in: what is built, how high, how far out."""
    door = f"{show.length(access.door.width)} wide in the {access.door.wall}"
    if access.over is None:
        yield f"door {door}: the ground there was not surveyed."
    elif access.over < 0.0:
        yield f"door {door}: the floor lies {show.depth(-access.over)} below the ground there."
    elif access.rise is None:
        yield f"door {door}: no steps end on your survey there."
    else:
        yield f"door {door}: {_built_words(access, show)}."


def _built_words(access: Access, show: Display) -> str:
    assert access.rise is not None
    rise, flight = show.depth(access.rise), access.flight
    if flight is None:
        text = f"a ramp of {show.length(access.out - access.landing)} up {rise}"
        text += f" from a landing {show.depth(access.landing)} deep" if access.landing else ""
    elif not access.built:
        return f"one step of {rise} up from the ground, nothing to build"
    else:
        landing = f"a landing {show.depth(access.landing)} deep" if access.landing else ""
        treads = flight.treads - bool(access.landing)
        parts = [counted(treads, f"treads of {show.depth(flight.going)}") if treads else "", landing]
        text = f"{flight.risers} steps of {show.depth(flight.riser)} up {rise}"
        text += f", {' and '.join(part for part in parts if part)}"
    return f"{text}; the foot is {show.length(access.out)} out from the wall"
