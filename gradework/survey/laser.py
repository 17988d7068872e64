"""Elevations below one level plane: a rotating laser, or any instrument whose height is known."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import Faults, visible
from gradework.survey.heights import Heights, make_heights
from gradework.survey.instruments import INSTRUMENTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.height_notes import RodReading
    from gradework.units import Unit

LASER = INSTRUMENTS["rotating laser"]


def below_laser(
    readings: Sequence[RodReading],
    plane: float,
    *,
    file: str = "",
    unit: Unit = "m",
    reading_sd: float = LASER.reading_sd,
) -> Heights:
    """Elevation of each station: the plane [m] less the reading; ``sd`` is that of one reading.

    The plane's own error is common to all and tilts nothing, so it is left out. Notes that begin and end on
    a benchmark belong to ``levels.reduce_levels``, which checks them. Raises InputError for values that are
    not finite.

    >>> from gradework.fieldnotes.height_notes import RodReading
    >>> below_laser([RodReading("A", 1.25), RodReading("B", 1.75)], 31.5).elevation.tolist()
    [30.25, 29.75]
    """
    faults = Faults(file)
    for r in readings:
        if not (math.isfinite(r.reading) and math.isfinite(plane)):
            faults.add(
                "laser-reading-unusable",
                f"the reading at {visible(r.station)}",
                "a rod reading below a plane of known elevation",
                "write the reading, or leave the line out",
                line=r.line,
            )
    faults.raise_if_any()
    return make_heights(
        [r.station for r in readings],
        [plane - r.reading for r in readings],
        [reading_sd] * len(readings),
        [r.line for r in readings],
        file=file,
        unit=unit,
    )
