"""Volumes that hang on how the squares of a survey fold, and the shot that would settle most of it.

It knows what a volume may be off by; it never changes one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.errors import Finding

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.ground import Surface
    from gradework.units import Display

SLIGHT = 0.1
"""[-] Up to this part of a volume the doubt is told beside it only: the waste ordered with stone covers as
much (see the supplier's figures)."""


class Amount(NamedTuple):
    """A volume [m³], what it is called at the start of a sentence, and how far it may be off [m³]."""

    name: str
    volume: float
    doubt: float


def volume_in_doubt(
    surface: Surface, pieces: Pieces, amounts: Sequence[Amount], show: Display
) -> tuple[Finding, ...]:
    """``volume-in-doubt`` for the amount whose doubt is the largest part of it, where that is over a tenth.

    The value is the doubt, the limit a tenth of the volume [m³]. It names the middle of the square, of those
    under the outline, that leaves most of the doubt.
    """
    shaky = [one for one in amounts if one.doubt > SLIGHT * one.volume and _shows(one.doubt, show)]
    if not shaky:
        return ()
    worst = max(shaky, key=lambda one: one.doubt / max(one.volume, 1e-9))
    where = show.place(*_worst_fold(surface, pieces))
    return (
        Finding(
            "volume-in-doubt",
            "warning",
            where,
            worst.doubt,
            SLIGHT * worst.volume,
            f"{worst.name}, {show.volume(worst.volume)}, may be off by up to {show.volume(worst.doubt)}: "
            "the shots do not say how the ground folds between the corners of a square. Shoot the middle of "
            f"the squares too, first at {where}.",
        ),
    )


def _shows(volume: float, show: Display) -> bool:
    return show.volume_number(volume) != show.volume_number(0.0)


def _worst_fold(surface: Surface, pieces: Pieces) -> tuple[float, float]:
    """Where the fold stands that adds most to the doubt: its gap times the ground of it that is covered."""
    folds = surface.folds
    ring_of = np.full(len(surface.triangles), -1)
    ring_of[folds.triangles] = np.repeat(np.arange(len(folds)), np.diff(folds.starts))
    ring = ring_of.take(pieces.source)
    held = ring >= 0
    covered = np.bincount(ring[held], pieces.areas[held], minlength=len(folds))
    # the first of equals by place, so that the order of the shots decides nothing
    xy = surface.vertices[folds.centres, :2] + surface.origin
    share = np.round(covered * folds.gaps, 9)
    first = np.lexsort((xy[:, 0], xy[:, 1], -share))[0]
    x, y = xy[first].tolist()
    return x, y
