"""The edge of a boxed pad as lines of the order: boards with stakes and screws, or timbers with pins."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import GRAVELS
from gradework.foundations.pad.edge import PIN_END, PIN_LENGTH, SCREWS_A_STAKE, SCREWS_APART
from gradework.sitework.joints import Joined, cut_runs, frame_runs
from gradework.sitework.order import OrderLine, gravel_line, gravel_need, whole_line
from gradework.units.amounts import KG_PER_LB, M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.materials import Gravel
    from gradework.foundations.pad.edge import EdgeBuilt, StakeRow
    from gradework.sitework.cutting import Board
    from gradework.sitework.supplier import Supplier
    from gradework.units.display import Display

CLEAN_STONE = GRAVELS["clean"]
"""What lies under and behind timbers: it lets water through."""

STAKE_MASS = 1.3 * KG_PER_LB / M_PER_FT
"""Mass of a 2 x 4 [kg/m] (common practice, no source)."""

PIN_MASS = 0.668 * KG_PER_LB / M_PER_FT
"""Mass of 1/2 in rebar [kg/m] (ASTM A615; memory)."""

SCREW_MASS, TIMBER_SCREW_MASS = 0.005, 0.06
"""Mass of one 3 in deck screw, of one 10 in timber screw [kg] (common practice, no source)."""


def board_lines(
    board: Board, cut: Joined, show: Display, *, price: str, unit: str = "boards"
) -> tuple[OrderLine, ...]:
    """Give one line for each stock length to buy, longest first, with the cuts and where runs are joined.

    ``price`` is the key of what 1 m² of their face costs.
    """
    plan = cut.plan
    lines = []
    for stock, count in plan.count().items():
        cuts = [bar.pieces for bar in plan.bars if bar.stock == stock]
        told = _counted(cuts, "; ", show)
        line = whole_line(
            f"{board.name}, {show.length(stock)}", count, unit,
            computed=sum(map(sum, cuts)) / stock, mass=count * board.mass(stock),
            allowance=f"whole {unit}",
            reason="short ends cannot be joined; longer runs are joined where that buys least",
            note=f"cut {told}" + ("" if plan.proved else "; good, but not proved least"),
        ).paid_by(price, count * stock * board.face)  # fmt: skip
        lines.append(replace(line, longest=stock))
    if lines:
        lines[-1] = replace(lines[-1], note=lines[-1].note + _of_all(cut, unit, show))
    return tuple(lines)


def _of_all(cut: Joined, unit: str, show: Display) -> str:
    """Tell what is left of all boards, and of which pieces each run is made that is joined."""
    offcuts = ", ".join(show.length(offcut) for offcut in cut.plan.offcuts)
    told = _counted(cut.runs, ", ", show, whole=True)
    return (f"; offcuts of all {unit}: {offcuts}" if offcuts else "") + (f"; joined: {told}" if told else "")


def _counted(pieces: Sequence[tuple[float, ...]], between: str, show: Display, *, whole: bool = False) -> str:
    """Write which pieces come of one board, or make one run; the same ones once. ``whole`` tells the run."""
    told = Counter(
        (f"{show.length(sum(one))} of " if whole else "") + " + ".join(show.length(piece) for piece in one)
        for one in pieces
    )
    return between.join(f"{count} times {text}" if count > 1 else text for text, count in told.items())


def edge_lines(edge: EdgeBuilt, gravel: Gravel, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    """Give every line that the edge takes; an edge that nowhere stands above the ground takes none.

    ``gravel`` is that of the pad: clean stone of the same kind is ordered with it, see ``clean_stone``.
    """
    if edge.kind == "none":
        return ()
    if edge.kind == "boards":
        board = supplier.board
        cut = cut_runs(frame_runs(edge.runs, board), board.lengths, kerf=board.kerf)
        rows = edge.stakes
        screws = edge.screws + 2 * SCREWS_A_STAKE * cut.joints  # both ends at a joint are screwed on
        stakes = (_stakes(row, cut.joints if row is rows[0] else 0, show) for row in rows)
        return (*board_lines(board, cut, show, price="boards"), *stakes, _screws(screws, show))
    return (
        *_timbers(edge, supplier, show),
        *_fastenings(edge, show),
        *_clean_line(edge, gravel, supplier, show),
    )


def clean_stone(edge: EdgeBuilt | None, gravel: Gravel) -> float:
    """How much of the stone of the pad, or on top of it, is ordered as clean stone [m³ compacted].

    None where the pad is clean stone throughout; then what the edge takes is ordered with it.
    """
    return 0.0 if edge is None or gravel.key == CLEAN_STONE.key else edge.parts.clean


def _stakes(row: StakeRow, joints: int, show: Display) -> OrderLine:
    boards = "one board stands" if row.boards == 1 else "two boards stand"
    length, count = show.length(row.length), row.count + joints
    return whole_line(
        f"{'2 x 4' if show.us else '47 x 100 mm'} stakes, {length}", count, "pieces",
        mass=count * row.length * STAKE_MASS,
        allowance=f"one at least every {show.length(row.apart)} where {boards}, one at each end"
        + (f", {joints} behind joints" if joints else ""),
        reason="gravel pushes the boards out, more the higher it stands",
        note=f"drive them {show.depth(row.depth)} into the ground, flat against the outside of the boards",
    ).paid_by("stakes", count)  # fmt: skip


def _screws(count: int, show: Display) -> OrderLine:
    return whole_line(
        f"deck screws, {'3 in' if show.us else '80 mm'}", count, "pieces", mass=count * SCREW_MASS,
        allowance=f"{SCREWS_A_STAKE} for each board at each stake",
        reason="nails work loose as the gravel settles",
    ).paid_by("screws", count)  # fmt: skip


def _timbers(edge: EdgeBuilt, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    timber = supplier.timber
    runs = [*frame_runs(edge.runs, timber), *(6.0 * M_PER_FT, 2.0 * M_PER_FT) * edge.deadmen]
    cut = cut_runs(runs, timber.lengths, kerf=timber.kerf)
    lines = board_lines(timber, cut, show, price="timbers", unit="timbers")
    if cut.joints:
        lines = (*lines[:-1], replace(lines[-1], note=f"{lines[-1].note}; no joint above another"))
    return lines


def _fastenings(edge: EdgeBuilt, show: Display) -> tuple[OrderLine, ...]:
    pins = whole_line(
        f"{'1/2 in' if show.us else '12 mm'} rebar pins, {show.depth(PIN_LENGTH)}", edge.pins, "pieces",
        mass=edge.pins * PIN_LENGTH * PIN_MASS,
        allowance=f"{show.depth(PIN_END)} from each end and at least every {show.length(edge.pins_apart)}",
        reason="they hold the lowest timber, buried in its trench, to the ground",
        note="a building so near the edge pushes on it, so they stand closer" if edge.near else "",
    ).paid_by("pins", edge.pins)  # fmt: skip
    screws = whole_line(
        f"timber screws, {'10 in' if show.us else '250 mm'}", edge.timber_screws, "pieces",
        mass=edge.timber_screws * TIMBER_SCREW_MASS,
        allowance=f"at least every {show.length(SCREWS_APART)}, and at the ends",
        reason="each timber is held to the one below",
    ).paid_by("timber_screws", edge.timber_screws)  # fmt: skip
    return pins, screws


def _clean_line(edge: EdgeBuilt, gravel: Gravel, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    volume = clean_stone(edge, gravel)
    if volume <= 0.0:
        return ()
    need = gravel_need(CompactedVolume(volume), CLEAN_STONE, supplier)
    line = gravel_line(need, supplier, show, place="behind the timbers")
    return (replace(line, item=f"{line.item} under and behind the timbers"),)
