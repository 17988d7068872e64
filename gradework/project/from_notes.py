"""The job that notes and a few words stand for: where no job was written, it is written down here.

Text out, so that it can be kept, read again and changed like any other job.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, finding
from gradework.fieldnotes.lettered import row_and_column
from gradework.ground.surface import build_surface
from gradework.project.job.read import read_job
from gradework.project.stations.notes import noticed, read_stations
from gradework.units.lengths import METRES_PER

if TYPE_CHECKING:
    from collections.abc import Callable

    from gradework.fieldnotes.lettered import LetteredGrid
    from gradework.project.job.model import Job
    from gradework.project.stations.forms import NotesForm
    from gradework.survey.stations import Stations
    from gradework.units.lengths import Unit

    Lengths = Callable[[Unit], Sequence[float]]


Value = str | float | Sequence[float] | Mapping[str, float]
"""A value of the job; lengths [m]."""


@dataclass(frozen=True)
class Wanted:
    """What is to be built on the ground that the notes tell of.

    ``size`` and ``corner`` read the words for them once the unit of the notes is known, [m]; ``corner`` None
    centres the building on the survey. ``survey`` holds further keys of ``[survey]`` as they are, ``lengths``
    those that are lengths [m].
    """

    name: str
    notes: str
    size: Lengths
    corner: Lengths | None = None
    turn: float = 0.0
    foundations: tuple[str, ...] = ("pad",)
    survey: Mapping[str, str] = field(default_factory=dict)
    lengths: Mapping[str, float | Sequence[float] | Mapping[str, float]] = field(default_factory=dict)


@dataclass(frozen=True)
class Written:
    """The text of the job, the job itself, and what is to be said of how it came about."""

    text: bytes
    job: Job
    findings: tuple[Finding, ...]


def job_of(notes: bytes, file: str, form: NotesForm, wanted: Wanted) -> Written:
    """Write the job for notes that no job was written for; ``file`` names them in messages.

    Raises ``InputError`` with every fault of the notes, or of what is wanted.
    """
    stations = read_stations(notes, file, form)
    size = wanted.size(stations.unit)
    told: tuple[Finding, ...] = ()
    if wanted.corner is not None:
        corner = wanted.corner(stations.unit)
    else:
        with noticed(stations.findings):
            corner = _centred(stations, size, wanted.turn)
        place = stations.show.place(*corner)
        told = (finding("centred", "warning", place, place=place),)
    if form.grid is not None and _placed_by_name(stations, form.grid):
        variant, long = "turned" if wanted.turn % 180.0 else "", stations.show.length(size[0])
        told = (*told, finding("grid-taken", "warning", "the grid", variant=variant, size=long))
    text = _sealed("\n".join(_lines(wanted, stations.unit, size, corner)) + "\n")
    return Written(text, read_job(text), told)


_SEAL = b"# As written: "
"""What the last line of a job begins with that we wrote; a digest of all above it follows."""


def _sealed(text: str) -> bytes:
    data = text.encode()
    return data + b"\n" + _SEAL + _digest(data + b"\n") + b"\n"


def _digest(data: bytes) -> bytes:
    return hashlib.sha256(data).hexdigest()[:16].encode()


def untouched(job: bytes) -> bool:
    """Tell whether a job is as `job_of` wrote it, so that nothing is lost where another takes its place."""
    text, seal, rest = job.rpartition(_SEAL)
    return bool(seal) and rest == _digest(text) + b"\n"


def _placed_by_name(stations: Stations, grid: LetteredGrid) -> bool:
    """Whether stations stand where the grid has their names; not of a pasted block, which has no names."""
    named = [
        math.dist(grid.place(*place), (x, y))
        for name, (x, y, _) in zip(stations.names, stations.xyz.tolist(), strict=True)
        if (place := row_and_column(name)) is not None
    ]
    pasted = any(one.code == "notes-pasted-grid" for one in stations.findings)
    return bool(named) and max(named) < _SAME_PLACE and not pasted


_SAME_PLACE = 1e-6  # [m]


def _centred(stations: Stations, size: Sequence[float], turn: float) -> tuple[float, float]:
    """Give the first corner of a rectangle whose middle is the middle of the surveyed ground [m].

    Whole tenths of the unit, so that it can be found with a tape.
    """
    surface = build_surface(stations)
    areas = surface.triangle_areas
    middles = surface.vertices[surface.triangles, :2].mean(axis=1)
    middle = (middles * areas[:, None]).sum(axis=0) / areas.sum() + surface.origin
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    half = np.array([[c, -s], [s, c]]) @ (np.array(size) / 2.0)
    step = float(METRES_PER["m" if stations.unit == "m" else "ft"]) / 10.0
    x, y = (round(value / step) * step for value in (middle - half).tolist())
    return x, y


def _lines(wanted: Wanted, unit: Unit, size: Sequence[float], corner: Sequence[float]) -> Iterator[str]:
    yield "# Written by gradework for notes without a job; change it as you like."
    yield "# A changed one is never replaced."
    yield f"name  = {_written(wanted.name, unit)}"
    yield f'units = "{unit}"'
    if len(wanted.foundations) > 1:
        yield (
            "# build = " + json.dumps(wanted.foundations[0]) + "    # what to order; without it the cheapest"
        )
    yield from ("", "[survey]", f"notes = {_written(wanted.notes, unit)}")
    for key, word in wanted.survey.items():
        yield f"{key} = {_written(word, unit)}"
    for key, value in wanted.lengths.items():
        yield f"{key} = {_written(value, unit)}"
    yield from ("", "[building]", f"size   = {_written(size, unit)}", f"corner = {_written(corner, unit)}")
    if wanted.turn:
        yield f"turn   = {_figure(wanted.turn)}"
    for kind in wanted.foundations:
        yield from ("", f"[{kind}]")


def _written(value: Value, unit: Unit) -> str:
    """Write a word, a length [m] in ``unit``, several, or several by name, as a job holds them.

    >>> _written([4.8768, 3.6576], "ft"), _written({"BM 1": 30.48}, "ft"), _written('a "b"', "m")
    ('[16, 12]', '{ "BM 1" = 100 }', '"a \\\\"b\\\\""')
    """
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, Mapping):
        pairs = (f"{_written(name, unit)} = {_written(one, unit)}" for name, one in value.items())
        return f"{{ {', '.join(pairs)} }}"
    if isinstance(value, Sequence):
        return f"[{', '.join(_written(one, unit) for one in value)}]"
    return _figure(value / float(METRES_PER[unit]))


def _figure(value: float) -> str:
    return f"{round(value, 6):f}".rstrip("0").rstrip(".")
