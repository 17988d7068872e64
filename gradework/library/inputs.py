"""What Python hands over: a path or bytes to the bytes of a file, arrays to checked numbers in metres."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gradework.errors import Fault, Faults, InputError, fault, visible
from gradework.fieldnotes.workbook.door import notes_in
from gradework.files.read import MOST_NOTES, read_bytes
from gradework.survey.duplicates import check_numbers, same_places
from gradework.units.display import Display
from gradework.units.lengths import in_metres

if TYPE_CHECKING:
    from gradework.units.lengths import Unit

Source = str | os.PathLike[str] | bytes
"""A file: its path, or what is in it."""

Table = Source | tuple[Source, str]
"""A table: a file, or a workbook and the name of one of its sheets."""

Floats = NDArray[np.float64]


class Given(NamedTuple):
    """The bytes of a file, its name in messages, and the folder it stands in (None for bytes)."""

    data: bytes
    file: str
    folder: Path | None


def bytes_of(source: Source, called: str, *, most: int = MOST_NOTES) -> Given:
    """Read a path; take bytes as they are, ``called`` so in messages.

    Raises ``InputError`` for a file that cannot be read, ``TypeError`` for what is neither.
    """
    if isinstance(source, bytes | bytearray | memoryview):
        return Given(bytes(source), called, None)
    if isinstance(source, str | os.PathLike):
        return Given(read_bytes(source, most=most), os.fspath(source), Path(source).parent)
    raise TypeError(f"a path or bytes is needed, not {type(source).__name__}")


def table_of(table: Table, called: str) -> tuple[bytes, str]:
    """The text of a table, and its name in messages; of a workbook the sheet that is named or found.

    Raises what ``bytes_of`` does, and ``InputError`` for a sheet that is not there or not clear.
    """
    source, sheet = table if isinstance(table, tuple) else (table, None)
    given = bytes_of(source, called)
    return notes_in(given.data, given.file, sheet)


# Arrays. Nothing is repaired: what is not a number, or stands where another one does, is told by its row.


def column(values: ArrayLike, called: str) -> Floats:
    """One number for each station (n,), as they are; raises ``InputError`` for another shape."""
    try:
        found = np.array(values, dtype=np.float64)
    except (ValueError, TypeError):
        found = np.zeros((0, 0))
    if found.ndim != 1 or isinstance(values, str | bytes):
        wanted = "one number for each station, shape (n,)"
        raise InputError([fault("array-shape", what=called, wanted=wanted)])
    return found


def rows_of_xyz(x: ArrayLike, y: ArrayLike, z: ArrayLike, unit: Unit) -> Floats:
    """Put columns (n,) side by side in metres (n, 3); raises ``InputError`` with all that is wrong."""
    columns = [column(values, called) for values, called in ((x, "x"), (y, "y"), (z, "z"))]
    if len({len(one) for one in columns}) > 1:
        what = f"x, y, z of {', '.join(str(len(one)) for one in columns)} numbers"
        raise InputError([fault("array-shape", what=what, wanted="as many of each")])
    faults: list[Fault] = []
    for called, one in zip("xyz", columns, strict=True):
        bad = np.flatnonzero(~np.isfinite(one))
        if len(bad):
            faults.append(fault("array-not-a-number", what=called, count=len(bad), row=int(bad[0])))
    if faults:
        raise InputError(faults)
    with np.errstate(over="ignore"):  # what overflows is told as too wide a site
        xyz: Floats = in_metres(np.column_stack(columns), unit)
    wide, show = Faults(), Display(unit)
    check_numbers([f"row {row}" for row in range(len(xyz))], xyz, np.zeros(len(xyz), np.int64), wide, show)
    wide.raise_if_any()
    _refuse_same_place(xyz, show)
    return xyz


def _refuse_same_place(xyz: Floats, show: Display) -> None:
    """Two stations within 0.3 mm on plan: the first such pair is named."""
    group = same_places(xyz[:, :2])
    second = np.flatnonzero(group != np.arange(len(group)))
    if len(second):
        row = int(second[0])
        place = show.place(*xyz[row, :2].tolist())
        raise InputError([fault("array-same-place", first=int(group[row]), second=row, place=place)])


def checked_names(names: Sequence[str] | None, count: int) -> list[str]:
    """The names as text, P1, P2 ... where none are given; raises ``InputError`` unless each is its own."""
    if names is None:
        return [f"P{number}" for number in range(1, count + 1)]
    told = [names] if isinstance(names, str) else [str(name) for name in names]
    if len(told) != count:
        raise InputError([fault("array-names", found=f"{len(told)} names for {count} rows")])
    seen: set[str] = set()
    for name in told:
        key = name.strip().casefold()
        if not key or key in seen:
            found = f"the name {visible(name)!r} twice" if key else "an empty name"
            raise InputError([fault("array-names", found=found)])
        seen.add(key)
    return told


def three_columns(xyz: ArrayLike) -> tuple[Any, Any, Any]:
    """The columns of rows of x, y, z (n, 3); raises ``InputError`` for another shape."""
    try:
        rows = np.array(xyz, dtype=np.float64)
    except (ValueError, TypeError):
        rows = np.zeros(0)
    if rows.ndim != 2 or rows.shape[1] != 3:
        raise InputError([fault("array-shape", what="stations", wanted="x, y, z of each: shape (n, 3)")])
    return rows[:, 0], rows[:, 1], rows[:, 2]
