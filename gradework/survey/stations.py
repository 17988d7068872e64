"""Stations: the places of the yard with x, y, elevation and spread, as every reduction hands them on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding, visible
from gradework.units.display import METRIC, Display, counted
from gradework.units.form import Form, form_in_force
from gradework.units.lengths import Unit

# Names of stations and marks as they are compared; they are shown as they were written.


def name_key(name: str) -> str:
    """A name without regard to capitals and outer spaces: what joins heights and places.

    >>> name_key(" p4 ") == name_key("P4")
    True
    """
    return name.strip().casefold()


def numbered(names: Sequence[str]) -> dict[str, int]:
    """Which of ``names`` is meant by a name, without regard to capitals; as it is spelled goes first.

    Look up with ``number_of``.
    """
    rows = list(enumerate(names))[::-1]
    return {name_key(name): k for k, name in rows} | {name: k for k, name in rows}


def number_of(name: str, known: Mapping[str, int]) -> int | None:
    """The number of a name among those ``numbered``; None of one that is not there.

    >>> known = numbered(["A1", "a1", "B2"])
    >>> number_of("a1", known), number_of("A1", known), number_of("b2 ", known), number_of("C", known)
    (1, 0, 2, None)
    """
    return known.get(name, known.get(name_key(name)))


def spaceless(name: str) -> str:
    """A name without capitals and any spaces: two that differ only there are likely one, miswritten.

    >>> spaceless("BM 1") == spaceless("bm1")
    True
    """
    return "".join(name.split()).casefold()


def located(name: str, line: int) -> str:
    """Where in the notes a finding points: the name, and its line where that is known (not 0).

    >>> located("P4", 12), located("P4", 0), located("line 7", 7)
    ('P4, line 12', 'P4', 'line 7')
    """
    # a shot without a name is called by its line
    return f"{visible(name)}, line {line}" if line and name != f"line {line}" else visible(name)


# The middle value of shots, without numpy's own, which loads its masked arrays to look for NaN.


def median(values: NDArray[np.float64]) -> float:
    """The median of ``values`` (n,): the middle one, or half the sum of the middle two; NaN for none.

    A NaN among them makes it NaN.

    >>> median(np.array([3.0, 1.0, 2.0])), median(np.array([4.0, 1.0, 2.0, 3.0])), median(np.array([]))
    (2.0, 2.5, nan)
    """
    n = len(values)
    if n == 0 or np.isnan(values).any():
        return float("nan")
    ordered = np.sort(values)
    return float((ordered[(n - 1) // 2] + ordered[n // 2]) / 2)


# Marks whose elevation is known, so that any later set-up can begin on them.

Basis = Literal["given", "assumed", "levelled"]
"""Why an elevation is known: it was given, or assumed for want of any, or levelled from such a mark."""


def basis_named(word: str) -> Basis:
    """Give the basis that a word of the notes means: whatever is neither assumed nor levelled was given.

    >>> basis_named("Assumed"), basis_named("yes")
    ('assumed', 'given')
    """
    start = word.strip().casefold()
    return "assumed" if start.startswith("assum") else "levelled" if start.startswith("level") else "given"


@dataclass(frozen=True, slots=True)
class Benchmark:
    """A mark that stays in the yard: ``elevation`` [m] on the datum of the plan, and why it is known.

    ``source`` says where it was written: "notes", "known" (``[survey]`` or an option), "setout" (``[setout]``
    benchmarks). All that one survey knows hang on the same datum, whether that is given or assumed.
    """

    name: str
    elevation: float
    basis: Basis
    source: str = "notes"


class Breakline(NamedTuple):
    """A line along which the ground breaks, straight from station to station: ``name``, and ``stations`` by
    name in the order in which it runs; the last is the first where it closes."""

    name: str
    stations: tuple[str, ...]

    def through(self, kept: Mapping[str, str]) -> Breakline:
        """The same line where stations go by another name: that of the one kept of several in one place."""
        return self._replace(stations=tuple(kept.get(name, name) for name in self.stations))


def survey_mark(xyz: NDArray[np.float64]) -> str:
    """Eight letters and figures that change with any shot (n, 3) [m]: whether two sheets go together."""
    import hashlib  # what only sheets and pages ask for

    return hashlib.sha256(np.ascontiguousarray(xyz, dtype="<f8").tobytes()).hexdigest()[:8]


class OnEarth(Protocol):
    """How a site is placed on earth, where a reference system says so."""

    def world(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places of the yard (m, 2) [m] as longitude and latitude (m, 2) [degrees] of WGS 84."""
        ...  # pragma: no cover - what a frame can do, without the library that it needs


@dataclass(frozen=True)
class Stations:
    """What the survey knows.

    ``names`` (n,); ``xyz`` (n, 3) [m], site frame; ``sd`` (n,) [m], standard error of the elevation, NaN
    where unknown; ``lines`` (n,) the line of each shot in ``file``, 0 unknown; ``unit``: the unit of the
    notes, in which results are shown back; ``findings``: what was noticed; ``benchmarks``: marks of known
    elevation, which need no place; ``breaklines``: along which the ground breaks; ``frame``: where on earth
    the site is, if a reference system says so. Arrays are read-only.
    """

    names: Sequence[str]
    xyz: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: NDArray[np.int64]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()
    form: Form = field(default_factory=form_in_force)
    benchmarks: tuple[Benchmark, ...] = ()
    breaklines: tuple[Breakline, ...] = ()
    frame: OnEarth | None = None

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote these notes."""
        return Display(self.unit, self.form)

    @property
    def ground(self) -> Display:
        """How the ground is shown: no finer than the middle standard error of its stations, where known."""
        known = self.sd[np.isfinite(self.sd) & (self.sd > 0.0)]
        return self.show.known_to(median(known))

    def __repr__(self) -> str:
        if not len(self):
            return "<Stations: none>"
        low, high = (
            METRIC.elevation(float(self.xyz[:, 2].min())),
            METRIC.elevation(float(self.xyz[:, 2].max())),
        )
        told = f", {counted(len(self.findings), 'findings')}" if self.findings else ""
        return f"<Stations: {len(self)}, elevations {low} to {high}{told}>"

    def __len__(self) -> int:
        return len(self.xyz)
