"""The comparison: ranking, blocked options, prices and slopes at which the winner changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.materials import DEFAULT_GRAVEL, DEFAULT_SOIL
from gradework.earthwork.outline import Outline
from gradework.errors import Finding
from gradework.foundations.buying.money import Amount
from gradework.foundations.comparison import (
    Option,
    Way,
    compare,
    option_of_pad,
    option_of_piers,
    option_of_slab,
    price_switches,
    steeper_tilt,
)
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.rules import least_money
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp, PierPrices, PierSpec
from gradework.foundations.prices import PriceList
from gradework.foundations.slab.design import Slab, design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.foundations.timber.wood import Wood, section_of
from gradework.ground.surface import Surface
from gradework.sitework.order import paid_for
from gradework.sitework.order_foundations import order_pad, order_piers, order_slab, pad_quantities
from gradework.sitework.supplier import Supplier
from gradework.units.display import FEET

Ground = Callable[..., Surface]

HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
STOUT = FloorBuildUp(section_of("6x6"), section_of("2x12"), wood=Wood("southern pine"))
PIERS = PierSpec(layout=RowLayout(rows=2, spacing=1.6), floor=STOUT)


def option(name: str, findings: Sequence[Finding] = (), **paid: tuple[float, float]) -> Option:
    """An option that takes and is paid so much of each thing, at such a price."""
    amounts = {what: Amount(*pair) for what, pair in paid.items()}
    worked = {"digging" if what == "dig" else what: amount.amount for what, amount in amounts.items()}
    return Option(name, 1.0, 1.2, worked, (), tuple(findings), paid=amounts)


def slope(rise: float) -> np.ndarray:
    return np.array([(x, y, 100.0 + rise * x + 0.01 * y) for x in (0.0, 4.5, 9.0) for y in (0.0, 4.0, 8.0)])


def options_on(surface: Surface) -> list[Option]:
    under = clip(surface, HUT)
    piers = design_piers(surface, HUT, PIERS, PierPrices(), FEET)
    slab = design_slab(surface, HUT, SlabSpec(), SlabPrices(), FEET)
    return [bought(option_of_piers(piers, HUT), piers), bought(option_of_slab(slab, HUT, under), slab)]


def bought(option: Option, built: Pad | Piers | Slab) -> Option:
    """The option with what its order buys, nothing for its setting out."""
    if not option.planned:
        return option
    yard, soil = Supplier.us(), DEFAULT_SOIL
    if isinstance(built, Pad):
        order = order_pad(pad_quantities(built), built.spec.material, soil, yard, FEET)
    elif isinstance(built, Piers):
        order = order_piers(built, DEFAULT_GRAVEL, soil, yard, FEET)
    else:
        order = order_slab(built, DEFAULT_GRAVEL, soil, yard, FEET)
    return replace(option, paid=paid_for(order, option.digging, PriceList()), mass=order.mass_kg)


def ways_to(options: Sequence[Option]) -> dict[str, Way]:
    return {o.name: Way(lambda o=o: o, lambda o=o: o.least) for o in options}  # type: ignore[misc]


def test_money_hours_and_digging_add_up() -> None:
    found = option("a", dig=(2.0, 40.0), gravel=(3.0, 60.0), piers=(10.0, 2.5))
    assert found.money == pytest.approx(80.0 + 180.0 + 25.0)
    assert found.at_yard == pytest.approx(180.0 + 25.0)
    assert found.digging == 2.0
    dig, stone = found.rates["digging"], found.rates["gravel"]
    assert found.hours == pytest.approx(
        tuple(2.0 * d + 3.0 * s + 10.0 * p for d, s, p in zip(dig, stone, (0.5, 1.0), strict=True))
    )


def test_blocked_options_come_last_and_do_not_win() -> None:
    stop = Finding("slab-fill-deep", "stop", "low side", 1.0, 0.6, "too deep")
    cheap, dear = option("cheap", [stop], gravel=(1.0, 1.0)), option("dear", gravel=(1.0, 9.0))
    found = compare([cheap, dear], FEET)
    assert found.winner is dear
    assert [o.name for o in found.options] == ["dear", "cheap"]
    assert compare([cheap], FEET).winner is None
    assert compare([], FEET).options == ()


def test_what_has_no_plan_comes_after_what_is_only_blocked() -> None:
    stop = Finding("slab-fill-deep", "stop", "low side", 1.0, 0.6, "too deep")
    blocked = option("blocked", [stop], gravel=(1.0, 900.0))
    nothing = replace(option("nothing", [stop]), level=None, floor=None)
    found = compare([nothing, blocked], FEET)
    assert [o.name for o in found.options] == ["blocked", "nothing"]
    assert [o.planned for o in found.options] == [True, False]


def test_a_price_switch_is_where_both_cost_the_same() -> None:
    stone = option("stone", gravel=(10.0, 5.0))
    blocks = option("blocks", gravel=(2.0, 5.0), blocks=(40.0, 2.0))
    (gravel, each) = price_switches(stone, [blocks])
    # 50 r = 10 r + 80 at r = 2; 50 = 10 + 80 r at r = 0.5.
    assert (gravel.what, gravel.winner) == ("gravel", "blocks")
    assert gravel.factor == pytest.approx(2.0)
    assert gravel.words == "The blocks would win if gravel cost 2.0 times as much."
    assert each.factor == pytest.approx(0.5)
    assert each.words == "The blocks would win if blocks cost 50 % less."
    for switch in (gravel, each):
        assert switch.factor is not None
        changed = [
            replace(o, paid={
                k: replace(a, price=a.price * switch.factor) if k == switch.what else a for k, a in
                o.paid.items()
            }) for o in (stone, blocks)
        ]  # fmt: skip
        assert changed[0].money == pytest.approx(changed[1].money)


def test_prices_that_change_nothing_say_so() -> None:
    cheap, dear = option("cheap", gravel=(1.0, 5.0)), option("dear", gravel=(1.0, 5.0), blocks=(1.0, 500.0))
    units, gravel = price_switches(cheap, [dear])
    assert gravel.factor is None
    assert gravel.words == "No likely price of gravel changes the winner."
    assert units.factor == pytest.approx(0.0)
    assert units.words == "The dear would win if blocks cost nothing."


def test_options_of_real_plans_tell_the_height_of_their_floors(ground: Ground) -> None:
    surface = ground(slope(0.05))
    found = options_on(surface)[0]
    assert len(found.floor_heights) == 4
    lowest = min(h.least for h in found.floor_heights)
    assert found.floor is not None
    assert lowest == pytest.approx(found.floor - clip(surface, HUT).highest)


def test_bags_are_an_option_too(ground: Ground) -> None:
    surface = ground(slope(0.02))
    prices = replace(SlabPrices(), concrete=replace(SlabPrices().concrete, mix_price=5000.0))
    slab = design_slab(surface, HUT, SlabSpec(), prices, FEET)
    found = bought(option_of_slab(slab, HUT, clip(surface, HUT)), slab)
    assert found.takes["concrete from bags"] == pytest.approx(slab.concrete.needed)
    assert found.paid["concrete_bag"].money == pytest.approx(slab.concrete.bags_cost)
    assert {"concrete", "short_load"} & found.paid.keys() == set()


def three_options(surface: Surface, building: Outline) -> list[Option]:
    prices, under = PriceList(), clip(surface, building)
    pad = design_pad(surface, building, PadSpec(), prices.for_pad(), FEET)
    piers = design_piers(surface, building, PierSpec(), prices.for_piers(), FEET)
    slab = design_slab(surface, building, SlabSpec(), prices.for_slab(), FEET)
    return [
        bought(option_of_pad(pad, prices.for_pad(), building, under, FloorBuildUp()), pad),
        bought(option_of_piers(piers, building), piers),
        bought(option_of_slab(slab, building, under), slab),
    ]


def test_a_slab_costs_more_than_a_pad_and_a_pad_more_than_piers(ground: Ground) -> None:
    """Common practice, no source: for a small building a slab costs more than a gravel pad boxed by boards,
    and a boxed pad more than block piers. Sizes of the demo buildings (16 x 12 ft, 10 x 8 ft), ground that
    falls 0 to 8 %. Where timbers must hold the pad, it may cost more than a slab."""
    for size in ((16 * 0.3048, 12 * 0.3048), (10 * 0.3048, 8 * 0.3048)):
        for rise in (0.0, 0.04, 0.08):
            building = Outline.rectangle((2.0, 2.0), size)
            pad, piers, slab = three_options(ground(slope(rise)), building)
            assert (pad.name, piers.name, slab.name) == ("boxed gravel pad", "block piers", "slab")
            assert pad.money > piers.money
            assert slab.money > pad.money or "edge timbers" in pad.takes
            assert ("edge timbers" in pad.takes) == (rise * size[0] > 0.15)


def test_steeper_ground_falls_that_much_more(ground: Ground) -> None:
    surface = ground(slope(0.05))
    under = clip(surface, HUT)
    tilted = surface.tilted(steeper_tilt(under, HUT, 0.3))
    again = clip(tilted, HUT)
    up = np.array([0.05, 0.01]) / np.hypot(0.05, 0.01)
    span = np.ptp(HUT.rings[0] @ up)
    before, after = np.hypot(0.05, 0.01) * span, np.ptp(tilted.elevation(HUT.rings[0]))
    assert after == pytest.approx(before + 0.3, rel=1e-6)
    assert again.mean == pytest.approx(under.mean, abs=1e-9)
    level = ground(slope(0.0) - np.array([0, 0, 0.01]) * slope(0.0)[:, [0, 1, 1]])
    assert np.ptp(level.tilted(steeper_tilt(clip(level, HUT), HUT, 0.2)).elevation(HUT.rings[0])) >= 0.19


def test_on_steep_ground_the_piers_end(ground: Ground) -> None:
    surface = ground(slope(0.26))
    under = clip(surface, HUT)

    def on_steeper(more: float) -> list[Option]:
        return options_on(surface.tilted(steeper_tilt(under, HUT, more)))

    found = compare(options_on(surface), FEET, lambda more: ways_to(on_steeper(more)))
    assert found.winner is not None
    assert found.winner.name == "block piers"
    last = found.switches[-1]
    assert last.what == "fall of the ground"
    assert last.factor is not None
    assert 0.0 < last.factor <= 24 * 0.0254
    before, at = (compare(on_steeper(more), FEET).winner for more in (last.factor - 0.0254, last.factor))
    assert before is not None
    assert before.name == "block piers"
    assert (at.name if at else "none") == last.winner


def test_steeper_ground_is_not_planned_before_it_is_asked_for() -> None:
    asked = []

    def steeper(more: float) -> dict[str, Way]:
        asked.append(more)
        return ways_to([option("cheap", gravel=(1.0, 1.0)), option("dear", gravel=(1.0, 9.0))])

    found = compare([option("cheap", gravel=(1.0, 1.0)), option("dear", gravel=(1.0, 9.0))], FEET, steeper)
    assert found.winner is not None
    assert asked == []
    assert found.switches is found.switches
    assert asked == pytest.approx([0.0254 * step for step in (1, 2, 4, 8, 16, 24)])


def test_a_rival_is_planned_only_where_it_could_win() -> None:
    """Of a rival that costs 6 on any ground nothing is asked until the winner costs that much."""
    planned = []

    def rival(step: int) -> Option:
        planned.append(step)
        return option("rival", gravel=(1.0, 7.0))

    def steeper(more: float) -> dict[str, Way]:
        step = round(more / 0.0254)
        own = Way(lambda: option("own", gravel=(1.0, float(step))), lambda: 0.0)
        return {"own": own, "rival": Way(lambda: rival(step), lambda: 6.0)}

    options = [option("own", gravel=(1.0, 0.0)), replace(option("rival", gravel=(1.0, 7.0)), least=6.0)]
    last = compare(options, FEET, steeper).switches[-1]
    assert (last.winner, round((last.factor or 0.0) / 0.0254)) == ("rival", 8)  # 7 each at 7: the first name
    assert min(planned) == 6


@pytest.mark.parametrize("edge", ["boxed", "battered"])
@pytest.mark.parametrize("rise", [0.0, 0.02, 0.06])
def test_no_level_of_a_pad_costs_less_than_its_ground_alone(ground: Ground, edge: Any, rise: float) -> None:
    """Digging, stone and fabric in its outline; on ground that is steeper still that never grows less."""
    surface, money = ground(slope(rise)), PriceList().for_pad()
    under = clip(surface, HUT)
    bounds = []
    for more in (0.0, 0.1, 0.3):
        tilted = surface.tilted(steeper_tilt(under, HUT, more))
        pad = design_pad(tilted, HUT, PadSpec(edge=edge), money, FEET)
        bounds.append(least_money(pad.spec, money, 0.0, clip(tilted, pad.outline)))
        levels = np.linspace(pad.pieces.lowest - 0.3, pad.pieces.highest + 0.3, 101)
        # soil that is heaped beside it need not be hauled
        at = pad.ground.at(levels)
        free = (money.haul or 0.0) * pad.spec.swell * (at.spoil + at.beside - at.refilled)
        assert bounds[-1] <= (at.cost - free).min() + 1e-9
        fabric = least_money(pad.spec, money, 2.0, clip(tilted, pad.outline)) - bounds[-1]
        assert fabric == pytest.approx(2.0 * pad.outline.area)
    assert bounds == sorted(bounds)
    assert bounds[0] > 0.0


def test_options_cost_at_least_what_flat_ground_takes(ground: Ground) -> None:
    for rise in (0.0, 0.03, 0.09):
        for found in three_options(ground(slope(rise)), HUT):
            assert 0.0 < found.least < found.money
        flat = three_options(ground(slope(0.0)), HUT)
        steep = three_options(ground(slope(rise)), HUT)
        assert all(a.least <= b.money for a, b in zip(flat, steep, strict=True))
        assert all(b.least <= a.money for a, b in zip(flat, steep, strict=True))


def test_piers_without_a_plan_are_a_blocked_option(ground: Ground) -> None:
    surface = ground(slope(0.4))
    piers = design_piers(surface, HUT, PIERS, PierPrices(), FEET)
    found = option_of_piers(piers, HUT)
    assert found.level is None
    assert [f.code for f in found.blockers] == ["piers-no-common-top"]


def test_digging_beside_it_counts_in_hours() -> None:
    """2 m³ of its own and 4 m³ beside it are 6 m³ to dig by hand."""
    own = option("own", dig=(2.0, 30.0))
    more = own.with_beside(4.0)
    assert (more.digging, more.beside) == (6.0, 4.0)
    assert more.hours == pytest.approx(tuple(3.0 * hours for hours in own.hours))
