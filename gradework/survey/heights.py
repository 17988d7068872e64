"""Elevations of named points, however they were measured: one entry per point, repeats brought together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.survey.looks import book_looks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gradework.errors import Finding
    from gradework.survey.field_book import BookLine, FieldBook
    from gradework.survey.looks import Look
    from gradework.units import Unit


@dataclass(frozen=True, slots=True)
class Heights:
    """Elevations of ``n`` named points. ``elevation``, ``raw`` (unadjusted), ``sd``: (n,) [m], read-only.

    ``sd`` is NaN where nothing is known about it. ``lines``: the line of the notes that gave each. ``looks``:
    every reading that went into them, in the order of the notes; ``findings`` say nothing of how those agree.
    """

    names: tuple[str, ...]
    elevation: NDArray[np.float64]
    raw: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: tuple[int, ...]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()
    looks: tuple[Look, ...] = ()


def make_heights(
    names: Sequence[str],
    elevation: Sequence[float],
    sd: Sequence[float],
    lines: Sequence[int],
    *,
    file: str,
    unit: Unit,
    findings: Sequence[Finding] = (),
    looks: Sequence[Look] = (),
) -> Heights:
    """Heights whose raw and final elevations are the same, as methods without an adjustment give them."""
    level = _fixed(elevation)
    return Heights(
        tuple(names), level, level, _fixed(sd), tuple(lines), file, unit, tuple(findings), tuple(looks)
    )


def book_heights(book: FieldBook) -> Heights:
    """One elevation per point of a reduced level book, in the order they first appear.

    A known or assumed mark keeps its own. A point read more than once gets the mean (its ``sd`` that of the
    mean of independent readings of equal weight, so a little hopeful where they share a set-up); in a book
    adjusted as a network they are one already.
    """
    groups: dict[str, list[BookLine]] = {}
    for line in book.lines:
        groups.setdefault(line.row.station, []).append(line)
    known = {line.row.station: line.row.known for line in book.lines if line.row.known is not None}
    if book.assumed:
        known[book.benchmark] = book.lines[0].raw
    level, raw, sd = [], [], []
    for name, lines in groups.items():
        read = _determined(lines)
        raw.append(math.fsum(x.raw for x in read) / len(read))
        if name in known:
            level.append(known[name])
            sd.append(0.0)
            continue
        level.append(math.fsum(x.elevation for x in read) / len(read))
        if book.shared == "network":
            sd.append(read[0].sd)
            continue
        sd.append(math.sqrt(math.fsum(x.sd**2 for x in read)) / len(read))
    return Heights(
        tuple(groups),
        _fixed([float(v) for v in level]),
        _fixed(raw),
        _fixed(sd),
        tuple(lines[0].row.line for lines in groups.values()),
        book.file,
        book.unit,
        book.findings,
        book_looks(book),
    )


def _determined(lines: list[BookLine]) -> list[BookLine]:
    """The lines that measured the point; all of them where none did."""
    read = [x for x in lines if x.rise is not None]
    return read or lines


def _fixed(values: Sequence[float]) -> NDArray[np.float64]:
    array = np.array(values, dtype=float)
    array.setflags(write=False)
    return array
