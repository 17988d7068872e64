"""What a pad, block piers or a slab takes, as lines of the order, and the soil that is left over."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from gradework.earthwork.conditions import BankVolume, CompactedVolume, LooseVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.foundations.buying.money import Paid
from gradework.foundations.pad.quantities import BatteredEdge, BoxedEdge
from gradework.foundations.piers.units import MEASURED
from gradework.foundations.slab.quantities import CONCRETE_DENSITY, strips_told
from gradework.sitework.cutting import Board, cheapest_fabric, joined_ring
from gradework.sitework.heaped import heaped
from gradework.sitework.joints import cut_runs
from gradework.sitework.order import (
    More,
    Order,
    OrderLine,
    dig_out,
    gravel_line,
    gravel_need,
    seed_line,
    whole_line,
)
from gradework.sitework.order_edge import board_lines, clean_stone, edge_lines
from gradework.sitework.order_laid import fabric_line, led_lines, pipe_line
from gradework.sitework.supplier import Supplier, whole_steps
from gradework.units.amounts import M3_PER_YD3, M_PER_FT, cubic_yards, force_words
from gradework.units.display import Display, counted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.edge import EdgeBuilt
    from gradework.foundations.piers.anchors import Anchors
    from gradework.foundations.piers.cover import Cover
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.units import BlockUnit
    from gradework.foundations.slab.design import Slab
    from gradework.foundations.slab.quantities import Covering


NOTHING_REUSED = BankVolume(0.0)


@dataclass(frozen=True, slots=True)
class PadQuantities:
    """What a finished design hands to the order.

    ``thickness`` [m] is the deepest gravel, for the layers, with the soil below it where ``over_soil``;
    ``outline`` the plan of the pad; ``edge`` what holds it, None for a battered one; ``slopes`` the rings
    (k, 2) [m] of a battered pad with its filled slopes; ``reused`` the part of the soil that stays as fill,
    in place; ``beside`` what is dug outside the pad, in place; ``pipe`` [m] leads water out of its stone;
    ``led`` what leads water past it, ``brought`` the soil that lacks to heap what is heaped there, in place.
    """

    gravel: CompactedVolume
    excavation: BankVolume
    thickness: float
    outline: Outline
    edge: EdgeBuilt | None = None
    reused: BankVolume = NOTHING_REUSED
    beside: BankVolume = NOTHING_REUSED
    pipe: float = 0.0
    slopes: tuple[NDArray[np.float64], ...] = ()
    over_soil: bool = False
    led: tuple[Led, ...] = ()
    brought: float = 0.0


def pad_quantities(pad: Pad, measures: Sequence[Led] = ()) -> PadQuantities:
    """Hand the chosen pad and what leads water past it to the order: its edge as it is built, soil that stays
    counted in place."""
    chosen, edge, basin = pad.chosen, pad.edge, pad.basin
    thickness, mixed = _layered(pad)
    dug = sum(one.cut for one in measures)
    soil = heaped(measures, pad.spec.compaction, chosen.hauled)
    return PadQuantities(
        gravel=CompactedVolume(chosen.gravel),
        excavation=BankVolume(chosen.excavation),
        thickness=thickness,
        outline=pad.outline,
        edge=edge.built if isinstance(edge, BoxedEdge) else None,
        beside=BankVolume(chosen.beside + dug),
        pipe=basin.outlet.length if basin is not None and basin.outlet is not None else 0.0,
        reused=BankVolume(chosen.dug - chosen.hauled + soil.own + soil.pad),
        slopes=edge.slopes.filled if isinstance(edge, BatteredEdge) else (),
        over_soil=mixed,
        led=tuple(measures),
        brought=soil.bought,
    )


def _layered(pad: Pad) -> tuple[float, bool]:
    """Tell how thick the gravel lies at the most [m], and whether soil that runs short is part of it."""
    chosen, edge = pad.chosen, pad.edge
    if chosen.native <= 0.0:
        return chosen.deepest_gravel, False
    slopes = edge.slopes.fill_area if isinstance(edge, BatteredEdge) else 0.0
    least = pad.spec.gravel * pad.pieces.area + pad.spec.strip * slopes
    if chosen.gravel > least * (1.0 + 1e-9):
        return chosen.deepest_gravel, True
    # soil makes all fill: gravel is its least layer, and what replaces the strip under filled slopes
    return max(pad.spec.gravel, pad.spec.strip if slopes else 0.0), False


def order_pad(
    pad: PadQuantities,
    gravel: Gravel,
    soil: Soil,
    supplier: Supplier,
    show: Display,
    *,
    fabric: bool = True,
    more: More | None = None,
) -> Order:
    """Order everything for one pad in one trip; the soil left over goes by truck or wheelbarrow.

    Fabric lines the pad's outline, turned up all round, and the ground under filled slopes. Raises
    ``ValueError`` when more soil is reused than dug.
    """
    dug = pad.excavation.m3 + pad.beside.m3
    left = dug - pad.reused.m3
    if abs(left) <= 1e-9 * dug:
        left = 0.0  # all of it is heaped: the sums agree but for their rounding
    order = Order(spoil=dig_out(BankVolume(left), soil, supplier))
    edge = pad.edge
    extra = 0.0
    if edge is not None:
        # clean stone stands behind timbers in place of the pad's own, unless that is clean stone itself
        extra = -edge.parts.behind if clean_stone(edge, gravel) else edge.parts.brought
    need = gravel_need(CompactedVolume(pad.gravel.m3 + extra), gravel, supplier, more)
    order = order.plus(gravel_line(need, supplier, show, thickness=pad.thickness, over_soil=pad.over_soil))
    if fabric:
        ring = pad.outline.grown(supplier.turn_up).rings[0]
        # under filled slopes the fabric runs on to their foot
        lined = joined_ring(ring, pad.slopes) if pad.slopes else ring
        order = order.plus(fabric_line(cheapest_fabric(lined, supplier.fabrics, pad.outline.rings[0]), show))
    order = order.plus(*beside_lines(pad.led, pad.brought, soil, supplier, show))
    if pad.pipe > 0.0:
        order = order.plus(pipe_line(pad.pipe, show))
    return order if edge is None else order.plus(*edge_lines(edge, gravel, supplier, show))


def beside_lines(
    led: Sequence[Led], brought: float, soil: Soil, supplier: Supplier, show: Display
) -> Iterator[OrderLine]:
    """Give a line for each thing that goes into what leads water past a pad or slab; ``brought``: the soil
    that lacks to heap what is heaped there [m³ in place]."""
    yield seed_line(sum(one.bare for one in led), show)
    yield from led_lines(led, supplier, show)
    if brought > 0.0:
        loose, makes = soil.to_loose(BankVolume(brought)), soil.to_compacted(BankVolume(brought))
        own = "; all soil of the dig that is left over goes there first"
        yield earth_line(soil, loose.m3, makes.m3, own, supplier, show)


SPARE_PART = 0.05
"""Spare units for breakage [-], at least one of each kind (common practice, no source)."""


def order_piers(
    piers: Piers, gravel: Gravel, soil: Soil, supplier: Supplier, show: Display, more: More | None = None
) -> Order:
    """Order everything for the piers in one trip, and say what soil is left over.

    The hole around a stack is filled with the soil that came out of it: what is left over is what bed and
    stack take up below the ground, and stripped sod. Piers without a plan order nothing.
    """
    if not piers.piers:
        return Order()
    cover = piers.cover
    order = Order(spoil=dig_out(BankVolume(piers.left), soil, supplier))
    order = order.plus(*unit_lines(piers, show))
    beds = CompactedVolume(sum(pier.bed_volume for pier in piers.piers))
    need = gravel_need(beds, gravel, supplier, more)
    order = order.plus(gravel_line(need, supplier, show, place="beds"))
    if cover is not None:
        order = order.plus(*_cover_lines(cover, supplier, show))
    if piers.anchors is not None:
        order = order.plus(_anchors(piers.anchors, show))
    return order.plus(_shims(len(piers.piers)))


def _anchors(anchors: Anchors, show: Display) -> OrderLine:
    load = force_words(anchors.working, us=show.us)
    return whole_line(
        f"ground anchor with two straps, {load} working load", anchors.count, "pieces",
        mass=5.0 * anchors.count,
        allowance="one near each corner, more where wind or length asks",
        reason="dry stacks hold nothing down",
        note="listed for your soil, zinc-coated; the second strap is for the four corners; ask the "
        "working load, not what it breaks at",
    ).paid_by("anchor", anchors.count)  # fmt: skip


def _cover_lines(cover: Cover, supplier: Supplier, show: Display) -> Iterator[OrderLine]:
    """Give clean stone and fabric under the floor."""
    need = gravel_need(CompactedVolume(cover.stone), supplier.clean, supplier)
    line = gravel_line(need, supplier, show, place="cover")
    yield replace(
        line,
        item=f"{line.item} under the floor",
        note=f"{line.note}; {show.depth(cover.depth)} on the fabric, over {show.area(cover.outline.area)}",
    )
    ring = cover.outline.rings[0]
    line = fabric_line(cheapest_fabric(ring, supplier.fabrics, ring), show)
    yield replace(line, item=f"nonwoven {line.item}", note=f"{line.note}; cut round the blocks")


def spares(laid: NDArray[np.integer[Any]]) -> NDArray[np.int64]:
    """Give how many blocks are bought on top of so many of a kind (k,): one at the least, of none none."""
    more = np.maximum(1, np.ceil(SPARE_PART * laid - 1e-9)).astype(np.int64)
    return np.where(laid > 0, more, 0)


def unit_lines(piers: Piers, show: Display) -> tuple[OrderLine, ...]:
    """Give a line for each kind of unit laid, with spares."""
    kinds = {unit.name: unit for unit in piers.spec.on_hand}
    lines = []
    for name, laid in piers.units_by_kind().items():
        spare = int(spares(np.array(laid)))
        count, unit = laid + spare, kinds[name]
        line = whole_line(
            name, count, "pieces", computed=laid, mass=count * unit.mass,
            allowance=f"{spare} spare",
            reason="one may break, or a pier may need one more than the survey shows",
            note=f"{_measured(unit)} {show.fine.depth(unit.thickness)} thick",
        ).paid_by("blocks", count, unit.price)  # fmt: skip
        lines.append(line)
    return tuple(lines)


def _measured(unit: BlockUnit) -> str:
    return "as measured," if unit.source == MEASURED else "measure them before you lay: planned"


def _shims(piers: int) -> OrderLine:
    return whole_line(
        "shims, hardwood or plastic", piers, "pairs", mass=0.2 * piers,
        allowance="one pair for every pier",
        reason="the last quarter inch is shimmed, in pairs and within 1 in (24 CFR 3285.304, quoted)",
    ).paid_by("shims", piers)  # fmt: skip


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


def order_slab(
    slab: Slab,
    gravel: Gravel,
    soil: Soil,
    supplier: Supplier,
    show: Display,
    measures: Sequence[Led] = (),
    *,
    more: More | None = None,
) -> Order:
    """Order everything for the slab and what leads water past it in one trip, and say what soil is left."""
    heap = heaped(measures, slab.spec.soil.compaction.value, slab.hauled)
    left = max(0.0, slab.hauled + sum(one.cut for one in measures) - heap.own - heap.pad)
    order = Order(spoil=dig_out(BankVolume(left), soil, supplier))
    order = order.plus(concrete_line(slab, show))
    if slab.gravel > 0.0:
        need = gravel_need(CompactedVolume(slab.gravel), gravel, supplier, more)
        thickest = slab.spec.base + (slab.fill_most if slab.spec.fill == "gravel" else 0.0)
        order = order.plus(gravel_line(need, supplier, show, thickness=thickest))
    own = f"; {show.volume(slab.reused)} in place comes from the dig" if slab.reused > 0.0 else ""
    order = order.plus(earth_line(slab.spec.soil, slab.earth_loose, slab.earth_brought, own, supplier, show))
    order = order.plus(*form_lines(slab, supplier, show), _form_stakes(slab, show))
    for word, sheet in (("film", slab.film), ("mesh", slab.mesh)):
        if sheet is not None:
            order = order.plus(_sheet_line(word, sheet, slab.area, show))
    return order.plus(*beside_lines(measures, heap.bought, soil, supplier, show))


def earth_line(
    soil: Soil, loose: float, makes: float, own: str, supplier: Supplier, show: Display
) -> OrderLine:
    """Give the line for earth to bring: ``loose`` [m³] of it ``makes`` so much compacted [m³]; ``own`` says
    what comes from the dig."""
    needed = loose * (1.0 + supplier.waste)  # earth is sold loose, by volume
    step = EARTH_STEP_US if show.us else EARTH_STEP
    quantity = whole_steps(needed, step) * step
    bank = soil.to_bank(LooseVolume(quantity))
    loads = supplier.tipped(loose_m3=quantity, mass_kg=soil.bank.mass(bank))
    trips = counted(loads.count, f"{loads.carrier.name} loads")
    return OrderLine(
        item=f"earth fill, loose, as good as {soil.name}",
        quantity=_sold(quantity, show),
        unit=show.volume_unit,
        computed=_shown(loose, show),
        needed=_shown(needed, show),
        step=_sold(step, show),
        allowance=f"{supplier.waste * 100:.3g} % waste",
        reason="some is lost at the edges and in low spots; no topsoil, nothing that rots",
        mass_kg=soil.bank.mass(bank),
        note=f"makes {show.volume(makes)} compacted, {trips}{own}",
        loose_m3=quantity,
        paid=(Paid("earth", quantity),),
        kind="earth fill",
        place="fill",
    )


def concrete_line(slab: Slab, show: Display) -> OrderLine:
    """Give the line for concrete, bags or ready-mix, whichever is cheaper; the note tells the other."""
    concrete, sale = slab.concrete, slab.prices.concrete
    waste = f"{slab.spec.waste * 100:.3g} % waste"
    reason = "ground graded by hand is never as high as drawn, and some concrete stays in the mixer"
    bag = show.mass(sale.bag).replace(" ", "-")
    if concrete.cheaper == "bags":
        per_bag = concrete.needed / concrete.bags if concrete.bags else 1.0
        return whole_line(
            f"bagged concrete mix, {bag} bags", concrete.bags, "bags",
            computed=concrete.volume / per_bag, mass=concrete.bags_mass,
            allowance=f"{waste}, whole bags", reason=reason,
            note=f"or {show.volume(concrete.mix)} of ready-mix",
        ).paid_by("concrete_bag", concrete.bags)  # fmt: skip
    short = ", with a short-load charge" if concrete.short else ""
    return OrderLine(
        item="ready-mix concrete",
        quantity=_sold(concrete.mix, show),
        unit=show.volume_unit,
        computed=_shown(concrete.volume, show),
        needed=_shown(concrete.needed, show),
        step=_sold(sale.mix_step, show),
        allowance=waste,
        reason=reason,
        mass_kg=concrete.mix * CONCRETE_DENSITY,
        note=f"comes by truck{short}; or {concrete.bags} {bag} bags",
        by_itself=True,
        paid=(Paid("concrete", concrete.mix), *([Paid("short_load", 1.0)] if concrete.short else [])),
    )


def _shown(cubic_metres: float, show: Display) -> float:
    return cubic_yards(cubic_metres) if show.us else cubic_metres


def _sold(cubic_metres: float, show: Display) -> float:
    """What is sold by whole steps, without what adding them up leaves behind: 3.0, not 3.0000000000000004."""
    return round(_shown(cubic_metres, show), 9)


def form_lines(slab: Slab, supplier: Supplier, show: Display) -> tuple[OrderLine, ...]:
    """Give the form boards by height and stock length, the cutting solved for the least length bought.

    Boards do not turn corners: each run on a side is cut for itself, and where it ends at a corner it laps
    the end of the next. Runs longer than the longest stock are joined with a cleat behind, wherever that
    buys least.
    """
    lines: list[OrderLine] = []
    for height in sorted({run.height for run in slab.form_boards}):
        name = f"form board {show.depth(height)} high"
        stock, kerf = supplier.board.lengths, supplier.board.kerf
        board = Board(name, FORM_THICKNESS, height, stock, FORM_DENSITY, kerf)
        runs = [
            run.length + (board.thickness if run.at_end else 0.0)
            for run in slab.form_boards
            if run.height == height
        ]
        own = board_lines(board, cut_runs(runs, stock, kerf=kerf), show, price="forms")
        lines += [replace(line, note=f"{line.note}; can be used again") for line in own]
    return tuple(lines)


def _form_stakes(slab: Slab, show: Display) -> OrderLine:
    edge = sum(form.length for form in slab.forms)
    apart = STAKE_SPACING_US if show.us else STAKE_SPACING
    count = math.ceil(edge / apart - 1e-9) + 2 * len(slab.sides)
    return whole_line(
        "form stakes", count, "pieces", mass=0.5 * count,
        allowance=f"one every {show.distance(apart)} and two at each corner",
        reason="wet concrete pushes the boards out",
    ).paid_by("stakes", count)  # fmt: skip


def _sheet_line(word: str, sheet: Covering, area: float, show: Display) -> OrderLine:
    kind = sheet.kind
    each = kind.width * kind.length
    strips = strips_told(sheet.runs, show.distance)
    if any(len(cut) > 1 for cut in sheet.cuts):  # of which pieces each strip is laid, where one is not whole
        cuts = (" + ".join(show.distance(piece) for piece in cut) for cut in sheet.cuts)
        strips += ", cut " + "; ".join(cuts)
    return whole_line(
        f"{kind.name}, {show.distance(kind.width)} x {show.distance(kind.length)}", sheet.pieces, "pieces",
        computed=min(area / each, float(sheet.pieces)), mass=sheet.pieces * each * SHEET_MASS[word],
        allowance=f"laps of {show.depth(kind.lap)} ({kind.lap_source})",
        reason="without laps the sheet leaks, or the steel does not carry over",
        note=f"{strips}; {show.area(sheet.area)} with laps",
    ).paid_by(word, sheet.bought)  # fmt: skip
