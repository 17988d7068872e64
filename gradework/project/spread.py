"""How sure the figures of a job are: what the ground between the shots, topsoil and stone leave open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.earthwork.likely import likely_at, likely_under
from gradework.errors import Finding, finding
from gradework.foundations.pad.likely import WIDE, PadSpread, pad_spread
from gradework.foundations.piers.likely import PiersSpread, hole_points, piers_spread
from gradework.foundations.slab.likely import SlabSpread, slab_spread
from gradework.foundations.unsure import Unsure

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.foundations.slab.design import Slab
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.units.display import Display


def unsure(job: Job) -> Unsure:
    """What the job says of topsoil, stone and how sure the order shall be; else the defaults."""
    return Unsure(**job.order.given(Unsure))


def spread_of_pad(job: Job, surface: Surface, pad: Pad) -> PadSpread:
    """The spread of a pad where the job puts it."""
    return pad_spread(pad, likely_under(surface, pad.outline), unsure(job))


def spread_of_piers(job: Job, surface: Surface, piers: Piers) -> PiersSpread:
    """The spread of piers that are planned."""
    return piers_spread(piers, likely_at(surface, hole_points(piers)), unsure(job))


def spread_of_slab(job: Job, surface: Surface, slab: Slab) -> SlabSpread:
    """The spread of a slab where the job puts it."""
    return slab_spread(slab, likely_under(surface, slab.outline), unsure(job))


def more_for_pad(job: Job, surface: Surface, pad: Pad) -> float:
    """How much more compacted gravel [m³] than planned a pad takes, to suffice as surely as it shall."""
    return spread_of_pad(job, surface, pad).wanted - pad.chosen.gravel


def more_for_piers(job: Job, surface: Surface, piers: Piers) -> float:
    """The same for the beds of piers."""
    beds = sum(pier.bed_volume for pier in piers.piers)
    return spread_of_piers(job, surface, piers).wanted - beds if piers.piers else 0.0


def more_for_slab(job: Job, surface: Surface, slab: Slab) -> float:
    """The same for a slab."""
    return spread_of_slab(job, surface, slab).wanted - slab.gravel


def spread_findings(spread: PadSpread, gravel: float, show: Display) -> Iterator[Finding]:
    """Tell of a pad whose order takes far more than its ``gravel`` [m³], and which shots would narrow it.

    Where the ground is known well enough, no shots would, and nothing is told.
    """
    more = spread.wanted / gravel - 1.0
    if more > WIDE and spread.shots:
        places = "; ".join(show.place(shot.x, shot.y) for shot in spread.shots)
        yield finding(
            "order-wide", "warning", "the gravel", more, WIDE,
            percent=f"{100.0 * more:.0f}", often=f"{100.0 * spread.sure:.0f}", places=places,
            saves=show.volume(sum(shot.saves for shot in spread.shots)), gravel=show.volume(gravel),
        )  # fmt: skip


MAY_CHANGE = 0.10
"""[-] A stack that does not suffice in more than one case of ten is told."""


def pier_findings(spread: PiersSpread, piers: Piers, show: Display) -> Iterator[Finding]:
    """Tell the piers whose bed may get too thick, and the unit that their stack then takes more."""
    changing = [one for one in spread.piers if one.taller > MAY_CHANGE]
    if changing:
        worst = max(one.taller for one in changing)
        laid_on = [unit for unit in piers.spec.on_hand if unit.may_carry and not unit.only_base]
        thinnest = min(laid_on or piers.spec.on_hand, key=lambda unit: (unit.thickness, unit.name))
        yield finding(
            "pier-may-change", "note", ", ".join(one.name for one in changing), worst, MAY_CHANGE,
            often=f"{100.0 * worst:.0f}", bed=show.depth(piers.spec.bed_most), unit=thinnest.name,
            planned="; ".join(f"{pier.name}: {_stack(pier)}" for pier in piers.piers
                              if any(one.name == pier.name for one in changing)),
        )  # fmt: skip


def _stack(pier: Pier) -> str:
    return " + ".join(f"{part.count} x {part.unit.name}" for part in pier.stack)
