"""The order for a slab: concrete the cheaper way, base gravel, form boards from stock, film, mesh, stakes."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import BankVolume, CompactedVolume, LooseVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.foundations.comparison import CONCRETE_DENSITY
from gradework.sitework.boards import Board, BoardPlan, joined
from gradework.sitework.cutting import cut_stock
from gradework.sitework.order import Order, OrderLine
from gradework.sitework.order_edges import board_lines
from gradework.sitework.order_gravel import gravel_line, gravel_need
from gradework.sitework.soil import dig_out
from gradework.sitework.supplier import Supplier, loads_of, whole_steps
from gradework.units import Display
from gradework.units.bulk import M3_PER_YD3, M_PER_FT, cubic_yards

if TYPE_CHECKING:
    from gradework.foundations.slab import Slab
    from gradework.foundations.slab_sheets import Covering

STAKE_SPACING, STAKE_SPACING_US = 1.0, 3.0 * M_PER_FT
"""Form stakes along an edge [m], metric and in feet (common practice, no source)."""

EARTH_STEP, EARTH_STEP_US = 0.5, 0.5 * M3_PER_YD3
"""Earth is sold by the half m³ or yd³ [m³] (common practice, no source)."""

FORM_THICKNESS = 0.038
"""Actual thickness of 2-by boards [m] (PS 20; memory)."""

FORM_DENSITY = 500.0
"""Dry softwood [kg/m³] (common practice, no source)."""

SHEET_MASS = {"film": 0.24, "mesh": 1.02}
"""Mass of 10 mil film and of 6x6 W1.4xW1.4 mesh [kg/m²] (memory)."""


def order_slab(slab: Slab, gravel: Gravel, soil: Soil, supplier: Supplier, show: Display) -> Order:
    """Order everything for the slab in one trip, and say what soil is left over."""
    left = BankVolume(max(0.0, slab.dig - slab.reused))
    order = Order(spoil=dig_out(left, soil, supplier.truck, supplier.barrow))
    order = order.plus(concrete_line(slab, show))
    if slab.gravel > 0.0:
        need = gravel_need(CompactedVolume(slab.gravel), gravel, supplier)
        order = order.plus(gravel_line(need, supplier, show, thickness=_thickest(slab)))
    order = order.plus(earth_line(slab, supplier, show))
    order = order.plus(*form_lines(slab, supplier, show), _form_stakes(slab, show))
    for word, sheet in (("film", slab.film), ("mesh", slab.mesh)):
        if sheet is not None:
            order = order.plus(_sheet_line(word, sheet, slab.area, show))
    return order


def _thickest(slab: Slab) -> float:
    """Give the thickest stone [m], for the layers."""
    return slab.spec.base + (slab.fill_most if slab.spec.fill == "gravel" else 0.0)


def earth_line(slab: Slab, supplier: Supplier, show: Display) -> OrderLine:
    """Give the line for earth to bring; it buys nothing where the digging yields enough."""
    soil, loose = slab.spec.soil, slab.earth_loose
    needed = loose * (1.0 + supplier.waste)
    step = EARTH_STEP_US if show.us else EARTH_STEP
    quantity = whole_steps(needed, step) * step
    bank = soil.to_bank(LooseVolume(quantity))
    own = f"{show.volume(slab.reused)} in place comes from the digging" if slab.reused > 0.0 else ""
    loads = loads_of(supplier.truck, loose_m3=quantity, mass_kg=soil.bank.mass(bank)).count
    made = f"makes {show.volume(slab.earth_brought)} compacted, {loads} {supplier.truck.name} load"
    return OrderLine(
        item=f"earth fill, loose, as good as {soil.name}",
        quantity=_shown(quantity, show),
        unit=show.volume_unit,
        computed=_shown(loose, show),
        needed=_shown(needed, show),
        step=_shown(step, show),
        allowance=f"{supplier.waste * 100:.3g} % waste",
        reason="some is lost at the edges and in low spots; no topsoil, nothing that rots",
        mass_kg=soil.bank.mass(bank),
        note="; ".join(part for part in (made + ("" if loads == 1 else "s"), own) if part),
        loose_m3=quantity,
    )


def concrete_line(slab: Slab, show: Display) -> OrderLine:
    """Give the line for concrete, bags or ready-mix, whichever is cheaper; the note tells the other."""
    concrete, sale = slab.concrete, slab.prices.concrete
    waste = f"{slab.spec.waste * 100:.3g} % waste"
    reason = "ground graded by hand is never as high as drawn, and some concrete stays in the mixer"
    bag = show.mass(sale.bag)
    if concrete.cheaper == "bags":
        per_bag = concrete.needed / concrete.bags if concrete.bags else 1.0
        made = concrete.volume / per_bag
        return OrderLine(
            item=f"concrete premix, bags of {bag}",
            quantity=float(concrete.bags),
            unit="bags",
            computed=made,
            needed=float(concrete.bags),
            step=1.0,
            allowance=f"{waste}, whole bags",
            reason=reason,
            mass_kg=concrete.bags_mass,
            note=f"or {show.volume(concrete.mix)} of ready-mix",
        )
    short = ", and pays a short-load charge" if concrete.short else ""
    step = sale.mix_step
    return OrderLine(
        item="ready-mix concrete",
        quantity=_shown(concrete.mix, show),
        unit=show.volume_unit,
        computed=_shown(concrete.volume, show),
        needed=_shown(concrete.needed, show),
        step=_shown(step, show),
        allowance=waste,
        reason=reason,
        mass_kg=concrete.mix * CONCRETE_DENSITY,
        note=f"comes by truck{short}; or {concrete.bags} bags of {bag}",
        by_itself=True,
    )


def _shown(cubic_metres: float, show: Display) -> float:
    return cubic_yards(cubic_metres) if show.us else cubic_metres


def form_lines(slab: Slab, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    """Give the form boards by height and stock length, the cutting solved for the least length bought.

    Boards do not turn corners: each run on a side is cut for itself, and where it ends at a corner it laps
    the end of the next. Runs longer than the longest stock are joined with a cleat behind.
    """
    lines: list[OrderLine] = []
    for height in sorted({run.height for run in slab.form_boards}):
        runs = [run for run in slab.form_boards if run.height == height]
        board = Board(
            f"form board {show.depth(height)} high",
            FORM_THICKNESS,
            height,
            supplier.board.lengths,
            FORM_DENSITY,
            supplier.board.kerf,
        )
        pieces = [
            (slab.sides[run.side].start, piece)
            for run in runs
            for piece in joined(run.length + (board.thickness if run.at_end else 0.0), max(board.lengths))
        ]
        cutting = cut_stock([piece for _, piece in pieces], board.lengths, kerf=board.kerf)
        plan = BoardPlan(board, tuple(pieces), len(pieces) - len(runs), cutting)
        lines += [replace(line, note=f"{line.note}; can be used again") for line in board_lines(plan, show)]
    return tuple(lines)


def _form_stakes(slab: Slab, show: Display) -> OrderLine:
    edge = sum(form.length for form in slab.forms)
    apart = STAKE_SPACING_US if show.us else STAKE_SPACING
    stakes = math.ceil(edge / apart - 1e-9) + 2 * len(slab.sides)
    return OrderLine(
        item="form stakes",
        quantity=float(stakes),
        unit="pieces",
        computed=float(stakes),
        needed=float(stakes),
        step=1.0,
        allowance=f"one each {show.distance(apart)} and two at each corner",
        reason="wet concrete pushes the boards out",
        mass_kg=0.5 * stakes,
    )


def _sheet_line(word: str, sheet: Covering, area: float, show: Display) -> OrderLine:
    kind = sheet.kind
    each = kind.width * kind.length
    strips = f"{sheet.strips} strip{'' if sheet.strips == 1 else 's'} of {show.distance(sheet.strip_length)}"
    return OrderLine(
        item=f"{kind.name}, {show.distance(kind.width)} x {show.distance(kind.length)}",
        quantity=float(sheet.pieces),
        unit="pieces",
        computed=min(area / each, float(sheet.pieces)),
        needed=float(sheet.pieces),
        step=1.0,
        allowance=f"laps of {show.depth(kind.lap)} ({kind.lap_source})",
        reason="without a lap the sheet leaks or the steel does not carry over",
        mass_kg=sheet.pieces * each * SHEET_MASS[word],
        note=f"{strips}{_joined(sheet, show)}; {show.area(sheet.area)} with laps",
    )


def _joined(sheet: Covering, show: Display) -> str:
    """Say of which pieces each strip is laid, where one is not whole."""
    if all(len(cut) == 1 for cut in sheet.cuts):
        return ""
    strips = (" + ".join(show.distance(piece) for piece in cut) for cut in sheet.cuts)
    return ", cut " + "; ".join(strips)
