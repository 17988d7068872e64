"""How sure the figures of a job are: what the ground between the shots, topsoil and stone leave open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.clip import signed_areas
from gradework.earthwork.likely import Band, band_of, likely_at, likely_under
from gradework.errors import Finding, finding
from gradework.foundations.pad.likely import WIDE, PadSpread, pad_spread
from gradework.foundations.piers.likely import PiersSpread, hole_points, piers_spread
from gradework.foundations.slab.likely import SlabSpread, slab_spread
from gradework.foundations.unsure import Unsure

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from gradework.earthwork.grading.led import Led
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


PLACES = 150
"""The ground over what is dug beside is drawn at so many places, those of the largest triangles."""


def spread_of_dig_beside(surface: Surface, measures: Iterable[Led]) -> Band | None:
    """The 10, 50 and 90 % figures of what is dug for swales and aprons, in place [m³]; None without any.

    They stay where they are set out: where the ground lies higher, as much more is dug over the same area.
    That its edge wanders is left out, and so are trenches of pipes, which are dug to a depth.
    """
    made = [one for one in measures if one.kind in ("swale", "apron")]
    if not made:
        return None
    corners = np.concatenate([one.bottoms for one in made])
    middles, areas = corners.mean(axis=1), np.abs(signed_areas(corners))
    ground = surface.elevation(middles[:, :2])
    areas = np.where(ground > middles[:, 2], areas, 0.0)  # what is filled is not dug; NaN off the survey
    kept = np.argsort(-areas, kind="stable")[:PLACES]
    kept = kept[areas[kept] > 0.0]
    cut = sum(one.cut for one in made)
    if not len(kept):
        return Band(cut, cut, cut)
    higher = likely_at(surface, middles[kept, :2]) - ground[kept]
    more = higher @ (areas[kept] * areas.sum() / areas[kept].sum())
    return band_of(np.maximum(cut + more, 0.0))


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
