"""The edge of a boxed pad as lines of the order: boards with stakes and screws, or timbers with pins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import GRAVELS
from gradework.foundations.pad.edge import PIN_END, PIN_LENGTH, SCREWS_A_STAKE, SCREWS_APART
from gradework.sitework.cutting import Board, board_pieces, cut_stock, joined
from gradework.sitework.order import OrderLine, gravel_line, gravel_need, whole_line
from gradework.units.amounts import KG_PER_LB, M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.materials import Gravel
    from gradework.foundations.pad.edge import EdgeBuilt, StakeRow
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
    board: Board, pieces: Sequence[float], show: Display, *, price: str, unit: str = "boards"
) -> tuple[OrderLine, ...]:
    """Give one line for each stock length to buy for the pieces [m], longest first, with the cuts.

    ``price`` is the key of what 1 m² of their face costs.
    """
    cutting = cut_stock(pieces, board.lengths, kerf=board.kerf)
    offcuts = ", ".join(show.length(offcut) for offcut in cutting.offcuts)
    lines = []
    for stock, count in cutting.count().items():
        cuts = [bar.pieces for bar in cutting.bars if bar.stock == stock]
        told = "; ".join(" + ".join(show.length(piece) for piece in cut) for cut in cuts)
        line = whole_line(
            f"{board.name}, {show.length(stock)}", count, unit,
            computed=sum(map(sum, cuts)) / stock, mass=count * board.mass(stock),
            allowance=f"whole {unit}",
            reason="short ends cannot be joined; least for these pieces, longer runs joined at a full length",
            note=f"cut {told}" + ("" if cutting.proved else "; good, but not proved least"),
        ).paid_by(price, count * stock * board.face)  # fmt: skip
        lines.append(line)
    if offcuts and lines:
        lines[-1] = replace(lines[-1], note=f"{lines[-1].note}; offcuts of all {unit}: {offcuts}")
    return tuple(lines)


def edge_lines(edge: EdgeBuilt, gravel: Gravel, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    """Give every line that the edge takes; an edge that nowhere stands above the ground takes none.

    ``gravel`` is that of the pad: clean stone of the same kind is ordered with it, see ``clean_stone``.
    """
    if edge.kind == "none":
        return ()
    if edge.kind == "boards":
        boards = board_lines(
            supplier.board,
            board_pieces([(run, 1) for run in edge.runs], supplier.board),
            show,
            price="boards",
        )
        return (*boards, *(_stakes(row, show) for row in edge.stakes), _screws(edge.screws, show))
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


def _stakes(row: StakeRow, show: Display) -> OrderLine:
    boards = "one board stands" if row.boards == 1 else "two boards stand"
    length = show.length(row.length)
    return whole_line(
        f"{'2 x 4' if show.us else '47 x 100 mm'} stakes, {length}", row.count, "pieces",
        mass=row.count * row.length * STAKE_MASS,
        allowance=f"one at least every {show.length(row.apart)} where {boards}, one at each end",
        reason="gravel pushes the boards out, more the higher it stands",
        note=f"drive them {show.depth(row.depth)} into the ground, flat against the outside of the boards",
    ).paid_by("stakes", row.count)  # fmt: skip


def _screws(count: int, show: Display) -> OrderLine:
    return whole_line(
        f"deck screws, {'3 in' if show.us else '80 mm'}", count, "pieces", mass=count * SCREW_MASS,
        allowance=f"{SCREWS_A_STAKE} for each board at each stake",
        reason="nails work loose as the gravel settles",
    ).paid_by("screws", count)  # fmt: skip


def _timbers(edge: EdgeBuilt, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    timber = supplier.timber
    pieces = board_pieces([(run, 1) for run in edge.runs], timber)
    for piece in (6.0 * M_PER_FT, 2.0 * M_PER_FT) * edge.deadmen:
        pieces += joined(piece, max(timber.lengths))
    return board_lines(timber, pieces, show, price="timbers", unit="timbers")


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
    line = gravel_line(gravel_need(CompactedVolume(volume), CLEAN_STONE, supplier), supplier, show)
    return (line,)
