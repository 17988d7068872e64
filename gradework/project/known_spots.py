"""Spot elevations and given marks: a mark keeps its own elevation, and what was noted for it is a check."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gradework.project.given_marks import refuse_absent
from gradework.project.readings_form import ReadingsForm
from gradework.survey.closure import KINDS_OF_WORK
from gradework.survey.heights import Heights, make_heights, on_known_marks
from gradework.survey.stations import Stations
from gradework.survey.trust import UNCHECKED

_HINT = "Is it the same mark, and are all elevations from the same start?"


def on_marks(heights: Heights, form: ReadingsForm) -> Heights:
    """Check elevations that were noted as such on the given marks among them.

    Raises ``InputError`` for a mark that is none of them.
    """
    refuse_absent(form.known, set(heights.names), heights.file)
    return on_known_marks(
        heights, form.known, KINDS_OF_WORK[form.work], over="what was noted for it", hint=_HINT
    )


def stations_on_marks(stations: Stations, form: ReadingsForm) -> Stations:
    """The same for stations with their places; one that nothing else checked is checked by them."""
    if not form.known:
        return stations
    heights = on_marks(
        make_heights(
            stations.names,
            stations.xyz[:, 2].tolist(),
            stations.sd.tolist(),
            stations.lines.tolist(),
            file=stations.file,
            unit=stations.unit,
        ),
        form,
    )
    xyz = np.column_stack([stations.xyz[:, :2], heights.elevation])
    xyz.setflags(write=False)
    rest = tuple(f for f in stations.findings if f.code != UNCHECKED)
    return replace(stations, xyz=xyz, findings=(*rest, *heights.findings))
