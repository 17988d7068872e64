"""What each foundation of a job takes at the yard, and what is paid for it: its order is the one source."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import BankVolume
from gradework.earthwork.materials import COVER_STONE
from gradework.errors import InputError
from gradework.foundations.buying.money import OWN_WORK, Amount
from gradework.foundations.buying.rates import DUG, machine_hours, middle
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.quantities import PIPE
from gradework.foundations.piers.carrying import place_piers
from gradework.foundations.piers.layout import building_frame
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.project import specs
from gradework.project.job.foundations import PiersTable
from gradework.project.spread import more_for_pad, more_for_piers, more_for_slab, unsure
from gradework.sitework.access import MOST_RISER
from gradework.sitework.heaped import LedPrices
from gradework.sitework.hire import Hired, Work, to_hire
from gradework.sitework.order import More, Order, dig_out, paid_for, seed_line
from gradework.sitework.order_access import access_takes, with_access
from gradework.sitework.order_floor import skids_of, with_floor
from gradework.sitework.order_foundations import order_pad, order_piers, order_slab, pad_quantities
from gradework.sitework.order_marking import marking_lines
from gradework.sitework.order_roof import RoofPrices, with_roof
from gradework.sitework.order_together import together
from gradework.sitework.roof_water import RoofWater
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led, Staked
    from gradework.earthwork.materials import Gravel
    from gradework.earthwork.outline import Outline
    from gradework.foundations.comparison import Option
    from gradework.foundations.prices import PriceList
    from gradework.ground.surface import Surface
    from gradework.project.gate import Around
    from gradework.project.job.model import Job
    from gradework.sitework.setout import Stake
    from gradework.sitework.soil import SoilPlan


def gravel_for(job: Job, kind: str) -> Gravel:
    """Give the gravel of a foundation: its own, else that of the pad, else the default."""
    own = getattr(getattr(job, kind), "material", None) or job.pad.material
    return specs.stone(job, own)


def dug_beside(around: Around | None) -> list[Led]:
    """Give what is dug beside a foundation to lead water past it."""
    return [] if around is None else [one.dug for one in around.led if one.dug is not None]


def laid_beside(around: Around | None, built: Pad | Piers | Slab) -> tuple[Staked, ...]:
    """Give what is staked beside a foundation: what leads water past it, the pipe out of its stone, and those
    of its gutters."""
    own = built.basin.pipes if isinstance(built, Pad) and built.basin is not None else ()
    roof = () if around is None or around.roof is None else around.roof.pipes
    return (*dug_beside(around), *own, *roof)


def order_for(
    job: Job,
    building: Outline,
    built: Pad | Piers | Slab,
    around: Around | None,
    stakes: Sequence[Stake],
    surface: Surface,
) -> Order:
    """Order all that one foundation takes, with what is built beside it, and the ``stakes`` to set it out.

    ``surface`` tells how sure its gravel is, but not where it was made up and nothing is known beside it.
    """
    soil, yard, show = specs.soil(job), specs.supplier(job), job.show
    more = None if around is None else more_of(job, surface, built)
    if isinstance(built, Pad):
        taken = pad_quantities(built, dug_beside(around))
        order = order_pad(taken, built.spec.material, built.spec.soil, yard, show, more=more)
    elif isinstance(built, Piers):
        order = order_piers(built, gravel_for(job, "piers"), soil, yard, show, more)
    else:
        led = dug_beside(around)
        order = order_slab(built, gravel_for(job, "slab"), soil, yard, show, led, more=more)
    if not order.lines:
        return order
    if around is not None and around.roof is not None:
        order = with_roof(order, around.roof, soil, yard, show)
    if around is not None and around.access is not None:
        order = with_access(order, around.access, specs.stone(job, job.pad.material), soil, yard, show)
    if job.floor.order and not isinstance(built, Slab):
        order = _with_floor(job, building, built, order)
    # on made-up ground a line from corner to corner is all that is set up
    marked = [one for one in stakes if around is not None or one.kind != "batter board"]
    strings = _level(built) + (job.setout.string or 0.0)
    return together(order.plus(*marking_lines(building, marked, strings, yard.board, show)))


def _level(built: Pad | Piers | Slab) -> float:
    """Give the level that strings hang at [m]: what is built ends there."""
    if isinstance(built, Piers):
        return built.top or 0.0
    return built.level if isinstance(built, Slab) else built.chosen.level


def _with_floor(job: Job, building: Outline, built: Pad | Piers, order: Order) -> Order:
    """Give an order with the frame of the floor: on a pad its skids lie where they would on piers."""
    spec, carried = specs.pier_spec(job, job.piers or PiersTable()), None
    if isinstance(built, Piers):
        spec, carried = built.spec, built.carried
    else:
        with suppress(InputError):  # rows that cannot be are told with the piers
            carried = place_piers(building, spec, job.show)
    skids = [] if carried is None else skids_of(carried, on_stone=isinstance(built, Pad))
    frame = building_frame(building, spec.layout.along) if carried is None else carried.frame
    rings = [frame.to_local(ring) for ring in building.rings]
    return with_floor(order, rings, skids, spec.floor, specs.supplier(job), job.show)


def more_of(job: Job, surface: Surface, built: Pad | Piers | Slab) -> More:
    """What the order takes beyond what is planned, to suffice as surely as the job asks."""
    if isinstance(built, Pad):
        more = more_for_pad(job, surface, built)
    elif isinstance(built, Piers):
        more = more_for_piers(job, surface, built)
    else:
        more = more_for_slab(job, surface, built)
    return More(more, unsure(job).sure)


def with_soil(order: Order, soil: SoilPlan, job: Job) -> Order:
    """Give an order with the soil that is hauled away, and with seed for all ground that is left bare.

    Raises ``CheckError`` where the order knew of another amount of soil.
    """
    if order.spoil is not None:
        soil.check_left(order.spoil.bank.m3)
    yard, show = specs.supplier(job), job.show
    seeded, lines = seed_line(soil.bare, show), list(order.lines)
    at = next((n for n, line in enumerate(lines) if line.paid and line.paid[0].key == "seed"), None)
    if at is not None:
        lines[at] = seeded
    hauled = dig_out(BankVolume(soil.hauled), soil.soil, yard)
    order = replace(order, lines=tuple(lines), spoil=hauled)
    return order if at is not None else order.plus(seeded)


def paying(
    job: Job,
    option: Option,
    order: Order,
    prices: PriceList,
    around: Around | None,
    soil: SoilPlan | None = None,
) -> Option:
    """Give an option with what its order buys, what is dug for it, how long it takes and what that costs;
    ``soil`` says where what is dug goes, None where that is not known yet."""
    if not option.planned:
        return option
    made = dug_beside(around)
    access = None if around is None else around.access
    door = {} if access is None else access_takes(access, us=job.show.us)
    deeper = 0.0 if soil is None else soil.deeper
    roof = RoofWater((), 0.0) if around is None or around.roof is None else around.roof
    option = option.with_beside(
        sum(one.cut for one in made) + roof.cut + deeper + door.pop("digging", 0.0),
        stone=sum(one.stone for one in made) + roof.stone,
        pipe=sum(one.pipe + one.solid for one in made) + roof.pipe,
        fill=sum(max(one.fill, 0.0) for one in made) + roof.back,
        gutter=roof.gutter,
        more=door | ({"floor frame": order.floor} if order.floor else {}),
    )
    option = replace(option, takes={**option.takes, **_carried(order, soil)}, rates=specs.rates(job))
    hired = [one for one in hired_for(job, option, order) if getattr(prices, one.key) is not None]
    if any(one.key == "excavator_day" for one in hired):
        option = replace(option, takes={DUG.get(name, name): amount for name, amount in option.takes.items()})
    paid = paid_for(order, option.digging, prices)
    paid |= {one.key: Amount(one.days, prices.each(one.key)) for one in hired}
    if prices.hour is not None:
        paid[OWN_WORK] = Amount(middle(option.hours), prices.hour)
    return replace(
        option,
        paid=paid,
        buy=tuple(f"{counted(line.quantity, line.unit)} of {line.item}" for line in order.lines),
        mass=order.mass_kg,
    )


def _carried(order: Order, soil: SoilPlan | None) -> dict[str, float]:
    """Give the soil that is wheeled off the dig and what of it is spread [m³ loose]: all but what goes back
    where it came from. Where ``soil`` is not known all that is left over is hauled."""
    if soil is None:
        carried, spread = 0.0 if order.spoil is None else order.spoil.loose.m3, 0.0
    else:
        swell = soil.soil.swell.value
        spread = swell * (soil.sum_of("relaid") + soil.sum_of("spread"))
        carried = swell * (soil.sum_of("dug") - soil.sum_of("back"))
    return {name: m3 for name, m3 in (("soil carried", carried), ("soil spread", spread)) if m3 > 0.0}


def hired_for(job: Job, option: Option, order: Order) -> tuple[Hired, ...]:
    """Say what to hire for an option that is ordered."""
    laying, levelling = (
        option.takes.get(one, 0.0) * middle(option.rates[one]) for one in ("gravel", "piers")
    )
    work = Work(
        dug=option.digging,
        piers=round(option.takes.get("piers", 0.0)),
        laying=laying,
        machine=machine_hours(option.takes, option.rates),
        levelling=levelling,
        crew=job.crew,
    )
    return to_hire(order, work, specs.soil(job), job.show)


def led_prices(job: Job, built: Pad | Slab) -> LedPrices:
    """Give what it costs to lead water past a pad or slab, and the soil of its dig that may be heaped."""
    prices, soil = specs.price_list(job), specs.soil(job)
    swell = soil.swell.value
    return LedPrices(
        dig=prices.dig,
        haul=prices.haul * swell,
        earth=prices.earth * swell,
        stone=prices.dry(COVER_STONE),
        pipe=prices.edge.pipe / PIPE,
        fabric=prices.fabric,
        compaction=built.spec.soil.compaction.value,
        spare=built.hauled if isinstance(built, Slab) else built.chosen.hauled,
    )


def prices_of(job: Job) -> RoofPrices:
    """Give what it costs to take the rain of the roof."""
    prices = specs.price_list(job)
    haul = prices.haul * specs.soil(job).swell.value
    pipe = prices.edge.pipe / PIPE
    stone, fabric = prices.dry(COVER_STONE), prices.fabric
    return RoofPrices(prices.dig, haul, stone, fabric, pipe, prices.gutter, prices.downspout)


def not_ordered(job: Job, option: Option, order: Order) -> tuple[str, ...]:
    """Say what the building will want and an order does not hold, with the key of the job that brings it."""
    if not order.lines:
        return ()
    told, show = [], job.show
    highest = max((side.most for side in option.floor_heights), default=0.0)
    if job.building.door is None and highest > MOST_RISER:
        high = show.depth(highest)
        told.append(f"steps or a ramp to a floor up to {high} above the ground (write door under [building])")
    if option.floor is not None and option.level is not None and option.floor > option.level:
        told += [] if job.floor.order else ["the frame of the floor (write order = true under [floor])"]
    return tuple(told)
