"""Spot elevations to stations: doubles merged, contradictions refused, misread shots named.

It never invents a shot and never corrects one: doubles are merged with a finding, contradictions are faults,
and a shot that looks misread is named and left as it is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, finding
from gradework.survey.breaklines import with_breaklines
from gradework.survey.duplicates import (
    SURFACE_SHOTS,
    check_numbers,
    check_spread,
    distant_points,
    merge_doubles,
    name_clashes,
    same_places,
)
from gradework.survey.outliers import misread_findings
from gradework.survey.repeats import ELEVATIONS, unchecked
from gradework.survey.stations import Benchmark, Stations, basis_named, name_key
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.columns import BreaklinePoint
    from gradework.fieldnotes.spots import SpotNotes


def stations_from_spots(
    notes: SpotNotes, breaklines: Sequence[BreaklinePoint] = (), breaklines_file: str = ""
) -> Stations:
    """Stations in the order of the file, doubles merged; ``breaklines``: those told besides in another file.

    Two shots within 0.3 mm are one place: equal elevations are merged with a note, elevations within 0.02 ft
    are averaged with a warning (`double-shot`, `double-shot-averaged`). Raises ``InputError`` with all
    faults: `same-place-two-elevations`, `same-name-two-places`, and what `check_spread` refuses. Further
    findings: `only-three-shots`, `place-far-off`, `place-sign`, `shot-misread`, `shot-off-the-ground`,
    `blunder-check-left-out`, `survey-not-checked`.
    """
    show = Display(notes.unit)
    xyz = np.column_stack(
        [np.asarray(column, dtype=np.float64) for column in (notes.x, notes.y, notes.elevation)]
    )
    lines = np.asarray(notes.lines, dtype=np.int64)
    faults = Faults(notes.file)
    check_numbers(notes.names, xyz, lines, faults, show)
    faults.raise_if_any()
    name_clashes(notes.names, xyz, lines, faults, show)
    keep, merged, doubled = merge_doubles(notes.names, xyz, lines, faults, show)
    faults.raise_if_any()
    names: Sequence[str] = notes.names
    findings = [*notes.findings, *doubled]
    chains, kept = (*notes.breaklines, *breaklines), dict[str, str]()
    if len(keep) < len(xyz):
        if chains:
            first = same_places(xyz[:, :2])
            kept = {name_key(notes.names[i]): notes.names[k] for i, k in enumerate(first.tolist()) if i != k}
        names, lines, xyz = [notes.names[i] for i in keep.tolist()], lines[keep], merged
    check_spread(names, xyz, lines, notes.file, show)
    if len(xyz) == SURFACE_SHOTS:
        findings.append(finding("only-three-shots", "warning", "the whole survey", 3.0, 4.0))
    findings += distant_points(names, xyz[:, :2], lines, show)
    sd = np.full(len(xyz), np.nan)
    for array in (xyz, sd, lines):
        array.setflags(write=False)
    found = Stations(names, xyz, sd, lines, notes.file, notes.unit, tuple(findings))
    found = with_breaklines(found, chains, breaklines_file, kept=kept)
    alone = unchecked(found.findings, len(found), ELEVATIONS)
    marks = tuple(Benchmark(name, level, basis_named(word)) for name, level, word in notes.marks)
    return replace(found, findings=(*found.findings, *misread_findings(found), *alone), benchmarks=marks)
