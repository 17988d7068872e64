"""Pad, piers and slab of one job: each that is asked for, side by side, and the one that is ordered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.materials import Gravel
from gradework.earthwork.outline import Outline
from gradework.errors import Finding, InputError
from gradework.foundations.comparison import Comparison, Option, compare
from gradework.foundations.comparison_options import (
    option_of_pad,
    option_of_piers,
    option_of_slab,
    steeper_ground,
)
from gradework.foundations.gravelpad import Pad, design_pad
from gradework.foundations.pier_spec import FloorBuildUp
from gradework.foundations.piers import Piers, design_piers
from gradework.foundations.price_list import PriceList
from gradework.foundations.slab import Slab, design_slab
from gradework.project import specs
from gradework.project.foundation_specs import pier_spec, slab_spec
from gradework.project.job import Job
from gradework.project.pointing import pointing_into
from gradework.project.pricing import price_list, prices_missing
from gradework.sitework.fall_rays import PadTop
from gradework.sitework.order import Order
from gradework.sitework.order_piers import order_piers
from gradework.sitework.order_slab import order_slab

if TYPE_CHECKING:
    from gradework.ground.surface import Surface


Water = Callable[[PadTop | None], Sequence[Finding]]
"""Findings about the falls from the walls, with this in place of the ground."""


@dataclass(frozen=True, eq=False)
class Foundations:
    """What was asked for and what came of it.

    ``asked`` holds "pad", "piers", "slab" in this order; ``pad`` is worked out in any case, the others are
    None when not asked for. ``comparison`` is None for one alone. ``chosen`` is the one that is ordered and
    set out. ``invented`` names the prices that the job does not give.
    """

    asked: tuple[str, ...]
    pad: Pad
    piers: Piers | None
    slab: Slab | None
    prices: PriceList
    invented: tuple[str, ...]
    comparison: Comparison | None
    chosen: str

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said about the one that is chosen."""
        found = {"pad": self.pad, "piers": self.piers, "slab": self.slab}[self.chosen]
        return () if found is None else found.findings


def design_foundations(
    job: Job, surface: Surface, building: Outline, pad: Pad, water: Water | None = None
) -> Foundations:
    """Plan what the job asks for beside the pad, compare, and choose.

    The one named by ``build`` is chosen; else the cheapest that nothing blocks; else the first asked for.
    ``water`` tells how the ground falls from the walls with each of them, for the comparison.
    Raises ``InputError`` pointing into the job.
    """
    piers, slab = plan_piers(job, surface, building), plan_slab(job, surface, building)
    comparison, kinds = None, {}
    if len(job.asked) > 1:
        under = clip(surface, building)
        options = _options(job, building, under, (pad, piers, slab))
        if water is not None:
            tops = {kind: top_of(kind, pad, slab) for kind in options}
            options = {
                kind: replace(option, findings=(*option.findings, *water(tops[kind])))
                for kind, option in options.items()
            }
        kinds = {option.name: kind for kind, option in options.items()}

        def steeper(more: float) -> Sequence[Option]:
            return _on_steeper_ground(job, surface, building, under, more)

        comparison = compare(tuple(options.values()), job.show, steeper)
    winner = comparison.winner if comparison else None
    chosen = job.build or (kinds[winner.name] if winner else job.asked[0])
    return Foundations(job.asked, pad, piers, slab, price_list(job), prices_missing(job), comparison, chosen)


def top_of(kind: str, pad: Pad, slab: Slab | None) -> PadTop | None:
    """Give what covers the ground around the walls once it is built; piers leave the ground as it is."""
    if kind == "slab" and slab is not None:
        return PadTop(slab.level, slab.outline, "slab")
    return PadTop(pad.chosen.level, pad.outline) if kind == "pad" else None


def plan_piers(job: Job, surface: Surface, building: Outline) -> Piers | None:
    """Plan the piers, where the job asks for them."""
    if job.piers is None:
        return None
    gravel = gravel_for(job, "piers")
    prices = price_list(job, gravel).for_piers(gravel, specs.soil(job))
    with pointing_into(job, "piers"):
        return design_piers(surface, building, pier_spec(job, job.piers), prices, job.show)


def plan_slab(job: Job, surface: Surface, building: Outline) -> Slab | None:
    """Plan the slab, where the job asks for it."""
    if job.slab is None:
        return None
    gravel = gravel_for(job, "slab")
    prices = price_list(job, gravel).for_slab(gravel, specs.soil(job))
    with pointing_into(job, "slab"):
        return design_slab(surface, building, slab_spec(job, job.slab), prices, job.show)


def gravel_for(job: Job, kind: str) -> Gravel:
    """Give the gravel of a foundation: its own, else that of the pad, else the default."""
    own = getattr(getattr(job, kind), "material", None) or job.pad.material
    return specs.stone(job, own)


def orders_of_others(job: Job, found: Foundations) -> dict[str, Order]:
    """Order what piers and slab take, each by itself: one of them is built, the others are only compared."""
    soil, yard = specs.soil(job), specs.supplier(job)
    orders = {}
    if found.piers is not None:
        orders["piers"] = order_piers(found.piers, gravel_for(job, "piers"), soil, yard, job.show)
    if found.slab is not None:
        orders["slab"] = order_slab(found.slab, gravel_for(job, "slab"), soil, yard, job.show)
    return orders


def _options(
    job: Job, building: Outline, under: Pieces, planned: tuple[Pad, Piers | None, Slab | None]
) -> dict[str, Option]:
    """Give what is asked for as options, by kind, in the order of ``asked``."""
    pad, piers, slab = planned
    options: dict[str, Option] = {}
    if "pad" in job.asked:
        # on a pad the building brings its own beams and floor as on piers, asked for or not
        floor = piers.spec.floor if piers is not None else FloorBuildUp()
        prices = price_list(job, pad.spec.material).for_pad()
        options["pad"] = option_of_pad(pad, prices, building, under, job.show, floor)
    if piers is not None:
        options["piers"] = option_of_piers(piers, building, job.show, gravel_for(job, "piers"))
    if slab is not None:
        options["slab"] = option_of_slab(slab, building, under, job.show, gravel_for(job, "slab"))
    return options


def _on_steeper_ground(
    job: Job, surface: Surface, building: Outline, under: Pieces, more: float
) -> tuple[Option, ...]:
    """Plan everything anew on steeper ground; what cannot be planned there is no option."""
    steep = steeper_ground(surface, under, building, more)
    try:
        pad = design_pad(steep, building, specs.pad_spec(job), specs.pad_prices(job), job.show)
        planned = (pad, plan_piers(job, steep, building), plan_slab(job, steep, building))
        return tuple(_options(job, building, clip(steep, building), planned).values())
    except InputError:
        return ()
