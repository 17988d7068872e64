"""Which marks of the yard have a known elevation: those of the survey and those of the job, each once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from gradework.errors import Faults, visible
from gradework.survey.stations import Benchmark, name_key

if TYPE_CHECKING:
    from gradework.project.job.model import Job
    from gradework.survey.stations import Stations

SAME_ELEVATION = 0.0005
"""Two elevations given for one mark may differ by so much [m]: less than half a millimetre is rounding."""


def known_benchmarks(job: Job, stations: Stations) -> tuple[Benchmark, ...]:
    """Give every mark of known elevation, each once: those of the survey, then those of ``[setout]``.

    A mark of ``[setout]`` stands before one that was only levelled. Raises ``InputError`` that points into
    the job where ``[setout]`` gives another elevation than the one that the survey hangs on: every level of
    the plan would be off by the difference.
    """
    marks = {name_key(mark.name): mark for mark in stations.benchmarks}
    faults = Faults()
    for name, level in (job.setout.benchmarks or {}).items():
        other = marks.get(name_key(name))
        if other is not None and other.basis != "levelled" and abs(other.elevation - level) > SAME_ELEVATION:
            faults.note(
                "benchmark-twice",
                about=("benchmarks", name),
                mark=visible(name),
                level=job.show.elevation(level),
                other=job.show.elevation(other.elevation),
                basis=other.basis,
            )
        elif other is None or other.basis == "levelled":
            marks[name_key(name)] = Benchmark(name, level, "given", "setout")
    faults.raise_if_any()
    return tuple(marks.values())


def known_levels(benchmarks: Iterable[Benchmark], stations: Stations) -> Mapping[str, float]:
    """Give elevations by name [m]: the benchmarks before the stations of the survey."""
    levels = {mark.name: mark.elevation for mark in benchmarks}
    own = {name_key(name) for name in levels}
    shots = zip(stations.names, stations.xyz[:, 2].tolist(), strict=True)
    return levels | {name: level for name, level in shots if name_key(name) not in own}
