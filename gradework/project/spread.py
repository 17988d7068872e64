"""How sure the figures of a job are: what the ground between the shots, topsoil and stone leave open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.earthwork.likely import Band, band_of, likely_under
from gradework.foundations.pad.likely import PadSpread, Unsure, pad_spread

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.design import Pad
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job


@dataclass(frozen=True, slots=True)
class PlainSpread:
    """The 10, 50 and 90 % figures of plain cut and fill to a level: cut, fill and cut less fill [m³]."""

    cut: Band
    fill: Band
    net: Band


def plain_spread(surface: Surface, outline: Outline, levels: Iterable[float]) -> tuple[PlainSpread, ...]:
    """Cut and fill of every likely ground under an outline to each level [m]."""
    likely = likely_under(surface, outline)
    found = []
    for level in levels:
        cut, fill = likely.cut_and_fill(level)
        found.append(PlainSpread(band_of(cut), band_of(fill), band_of(cut - fill)))
    return tuple(found)


def unsure(job: Job) -> Unsure:
    """What the job says of topsoil, stone and how sure the order shall be; else the defaults."""
    return Unsure(**job.order.given(Unsure))


def spread_of_pad(job: Job, surface: Surface, pad: Pad) -> PadSpread:
    """The spread of a pad where the job puts it."""
    return pad_spread(pad, likely_under(surface, pad.outline), unsure(job))
