"""Marks of given elevation: which stations of the notes they are, and what was noted for them as a check."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple, Protocol

import numpy as np

from gradework.errors import Faults, Finding, finding, visible
from gradework.project.stations.forms import ReadingsForm
from gradework.survey.levelling.heights import Heights, make_heights, on_known_marks
from gradework.survey.levelling.tolerances import KINDS_OF_WORK
from gradework.survey.levelling.ways import assumed_level
from gradework.survey.quality import UNCHECKED
from gradework.survey.stations import Basis, Benchmark, Stations, spaceless
from gradework.units.display import Display
from gradework.units.lengths import METRIC_UNITS, Unit

# Which of the given elevations belong to stations of the notes, and which to the mark that all hangs on.
#
# Differences by water level and the steps of a straightedge begin on a mark that the notes need not name.
# A given elevation that belongs to nothing at all is a fault: it may be a slip in the name.


class Row(Protocol):
    """A row of notes that may give the elevation of its station."""

    @property
    def station(self) -> str: ...
    @property
    def known(self) -> float | None: ...
    @property
    def line(self) -> int: ...


def benchmarks_of(
    levels: Mapping[str, float], form: ReadingsForm, basis: Basis = "given"
) -> tuple[Benchmark, ...]:
    """Carry known elevations [m] on by the names of their marks; a mark without a name is of no use later."""
    return tuple(
        Benchmark(name, float(level), basis, "known" if name in form.known else "notes")
        for name, level in levels.items()
        if name
    )


class Datum(NamedTuple):
    """What heights hang on. ``known``: given elevations of stations of the notes [m]; ``level``: that of the
    mark that all was measured from [m], None where a station gives it; ``mark``: its name, "" without one."""

    known: Mapping[str, float]
    level: float | None
    mark: str
    findings: tuple[Finding, ...] = ()

    def benchmarks(self, form: ReadingsForm) -> tuple[Benchmark, ...]:
        """Give the mark that all hangs on, given or assumed, and the stations of given elevation."""
        own = {} if self.level is None else {self.mark: self.level}
        basis: Basis = "given" if self.mark in form.known else "assumed"
        return (*benchmarks_of(own, form, basis), *benchmarks_of(self.known, form))


def given_marks(form: ReadingsForm, rows: Sequence[Row], file: str) -> dict[str, float]:
    """Every given elevation by name [m]: those of the form, then those of the column ``known``.

    Raises ``InputError``: `levels-mark-twice` where two of them differ.
    """
    faults = Faults(file)
    known = dict(form.known)
    for row in rows:
        if row.known is not None and known.setdefault(row.station, row.known) != row.known:
            faults.note("levels-mark-twice", variant="column", line=row.line, mark=visible(row.station))
    faults.raise_if_any()
    return known


def refuse_absent(known: Collection[str], names: Collection[str], file: str, *, or_else: str = "") -> None:
    """Raise ``InputError`` with a `levels-mark-missing` for each given mark that no station is.

    ``or_else``: what the mark might be instead, put behind the advice.
    """
    faults = Faults(file)
    for name in known:
        if name not in names:
            near = _alike(name, names) or difflib.get_close_matches(name, [*names], n=1, cutoff=0.5)
            guess = f"did you mean {visible(near[0])}? " if near else ""
            faults.note("levels-mark-missing", variant="given", mark=visible(name), guess=guess, more=or_else)
    faults.raise_if_any()


def find_datum(form: ReadingsForm, rows: Sequence[Row], *, what: str, file: str, unit: Unit) -> Datum:
    """What differences or steps hang on; ``what`` they do from their mark ("the steps start on").

    The mark is the ``benchmark`` of the form, else the one given mark that is no station, with a note; where
    there is none, a station gives the datum; where nothing is given at all it is assumed, and said so.
    Raises ``InputError`` as `given_marks` and `refuse_absent`.
    """
    known = given_marks(form, rows, file)
    names = dict.fromkeys(row.station for row in rows)
    absent = [name for name in known if name not in names]
    findings: tuple[Finding, ...] = ()
    mark = form.benchmark
    if mark is None and len(absent) == 1 and not _alike(absent[0], names):
        mark = absent[0]
        shown = visible(mark)
        findings = (finding("mark-outside-notes", "note", shown, known[mark], mark=shown, what=what),)
    refuse_absent(
        [name for name in absent if name != mark],
        names,
        file,
        or_else=f", or give it as the mark that {what}: benchmark",
    )
    read = {name: level for name, level in known.items() if name in names}
    if mark in known:
        return Datum(read, known[mark], mark or "", findings)
    if read:
        return Datum(read, None, mark or "")
    level, assumed = assume(mark or "the mark", unit)
    return Datum(read, level, mark or "", (assumed,))


def assume(mark: str, unit: Unit) -> tuple[float, Finding]:
    """The elevation that a mark gets when none is given [m], and the note that says so."""
    level = assumed_level(metric=unit in METRIC_UNITS)
    shown, name = Display(unit).elevation(level), visible(mark)
    told = finding("benchmark-assumed", "note", name, level, variant="mark", mark=name, level=shown)
    return level, told


def _alike(name: str, names: Collection[str]) -> list[str]:
    """The stations of the same name but for capitals and spaces."""
    return [other for other in names if spaceless(other) == spaceless(name)]


def on_marks(heights: Heights, form: ReadingsForm) -> Heights:
    """Check elevations that were noted as such on the given marks among them.

    Raises ``InputError`` for a mark that is none of them.
    """
    refuse_absent(form.known, set(heights.names), heights.file)
    return on_known_marks(
        heights, form.known, KINDS_OF_WORK[form.work], over="what was noted for it", way="spots"
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
    marks = (*benchmarks_of(form.known, form), *(m for m in stations.benchmarks if m.name not in form.known))
    return replace(stations, xyz=xyz, findings=(*rest, *heights.findings), benchmarks=marks)
