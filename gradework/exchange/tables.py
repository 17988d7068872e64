"""Tables that spreadsheets open safely: UTF-8 with its mark, CRLF lines, no cell that runs as a formula."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import CheckError
from gradework.sitework.days_told import dated, numbered
from gradework.survey.stations import name_key
from gradework.units.display import Display, fixed

if TYPE_CHECKING:
    from gradework.foundations.checks.check import Check
    from gradework.sitework.days import Task
    from gradework.sitework.hire import Hired
    from gradework.sitework.order import OrderLine
    from gradework.survey.stations import Benchmark, Stations


Cell = str | float | int | None

MARK = b"\xef\xbb\xbf"
"""Spreadsheets know UTF-8 by these three bytes only."""

# What starts a formula in one spreadsheet or another, the full-width forms included (OWASP, CWE-1236).
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def safe_text(text: str) -> str:
    """Make user text harmless in a cell: an apostrophe before what would start a formula, NULs taken out.

    >>> safe_text("=1+1"), safe_text("A1"), safe_text(" @x")
    ("'=1+1", 'A1', "' @x")
    """
    clean = text.replace("\0", "")
    starts = text.startswith(_FORMULA_STARTS) or clean.lstrip().startswith(_FORMULA_STARTS)
    return f"'{clean}" if starts else clean


def table_bytes(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Write a table as CSV bytes; numbers stay numbers (a real -0.25 is not touched), None is empty."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([safe_text(name) for name in header])
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return MARK + buffer.getvalue().encode("utf-8", "replace")


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return safe_text(value)
    return repr(value) if math.isfinite(value) else ""


NOT_BUILDABLE = "not buildable as drawn"
"""How the rows of an order begin that name a check that fails."""


def order_table(
    lines: Iterable[OrderLine],
    total: tuple[float, str] | None = None,
    *,
    stops: Mapping[str, str] | None = None,
    beside: Iterable[list[Cell]] = (),
    failing: Iterable[Check] = (),
    nothing: bool = False,
) -> bytes:
    """Write the order list: what, how much, how it was calculated, what it weighs, who sells it; at the end
    of the row the same in kg and m³, in full, and what is counted as it is.

    ``lines`` stand as they are bought; ``stops`` adds a row above those of each supplier, its loads as the
    note; what stands ``beside`` the order (see ``rows_beside``) comes before the ``total``: the mass of
    everything [kg] and, as its note, the loads it takes. A row for each of the checks that are ``failing``
    comes first, without an amount, its place as the reason and its source as the note; after them a row says
    where ``nothing`` is ordered because of them. Raises ``CheckError`` where the masses as written do not
    add up to it within half a last digit for each row.
    """
    header = ["item", "to buy", "unit", "calculated", "with allowance", "allowance", "reason", "weight (kg)"]
    header += ["note", "from", "to buy SI", "calculated SI", "with allowance SI", "unit SI", "weight SI (kg)"]
    fails = [(f"{NOT_BUILDABLE}: {check.check}", check.where, check.source) for check in failing]
    rows: list[list[Cell]] = [
        [item, *[None] * 5, where, None, source, *[None] * 6] for item, where, source in fails
    ]
    rows += [["nothing is ordered", 0, *[None] * 13]] if nothing else []
    weights, told = [], dict(stops or {})
    for line in lines:
        if (words_of := told.pop(line.shop, None)) is not None:
            rows.append([f"from the {line.shop}", *[None] * 7, words_of, line.shop, *[None] * 5])
        weights.append(float(fixed(line.mass_kg, 1)))
        amounts = [_short(line.quantity), line.unit, _short(line.computed), _short(line.needed)]
        per, unit = line.si_unit
        in_si = (line.quantity * per, line.computed * per, line.needed * per, unit, line.mass_kg)
        words: list[Cell] = [line.allowance, line.reason, weights[-1], line.note, line.shop]
        rows.append([line.item, *amounts, *words, *in_si])
    rows += beside
    if total is not None:
        rowwise, in_all = math.fsum(weights), float(fixed(total[0], 1))
        if abs(rowwise - in_all) > 0.05 * (len(weights) + 1) + 1e-9 * in_all:
            raise CheckError(f"the weights on the order add up to {rowwise} kg, not to {in_all} kg")
        rows.append(["total", *[None] * 6, in_all, total[1], *[None] * 5, total[0]])
    return table_bytes(header, rows)


def rows_beside(
    hired: Iterable[Hired],
    soil: Iterable[tuple[str, float, float]],
    work: Iterable[Task],
    rent: str = "hire",
    said: Iterable[tuple[str, str]] = (),
) -> list[list[Cell]]:
    """Give the rows of what is ``hired`` (``rent`` is the word), of what becomes of the ``soil`` (its name,
    in place and loose [m³], in columns of SI), of what is ``said`` (what of, and the words), of the ``work``
    in its order (hours, least and most, there).
    """
    rows: list[list[Cell]] = [[f"{rent}: {one.item}", *[None] * 5, one.why, *[None] * 8] for one in hired]
    rows += [
        [f"soil: {name}", *[None] * 5, "in place, then loose", *[None] * 4, bank, loose, "m³", None]
        for name, bank, loose in soil
    ]
    rows += [[f"{what}: {text}", *[None] * 14] for what, text in said]
    for one in work:
        days, note = f"hours, least, then most; day {numbered(one)}", (dated(one), one.hold)
        told = [days, None, "; ".join(part for part in note if part), *[None] * 2]
        rows.append([f"work: {one.name}", *[None] * 5, *told, *one.hours, "h", None])
    return rows


def _short(value: float) -> float | int:
    """Three decimals at most, and a whole number as such: nobody orders 6.000000001 tons."""
    rounded = float(fixed(value, 3))
    return int(rounded) if rounded.is_integer() else rounded


def stations_table(stations: Stations, show: Display, benchmarks: Sequence[Benchmark] = ()) -> bytes:
    """Write the stations as they were measured: station, x, y, elevation, readable again as notes.

    What is said in feet and inches has such cells, all else decimals of feet or metres. A column ``sd`` with
    the standard errors follows where at least one is known, a column ``benchmark`` (given, assumed, levelled)
    where there are marks; one without a place has a row without x and y. At the end of the row stand all
    lengths in metres, in full; they are taken when the row is read again, so that nothing is lost.
    """
    marked, coarse = show.form == "inches", replace(show, parts=8, sd=0.0)
    unit = "US survey ft" if show.length_unit == "ftUS" else f"{show.length_unit}{' in' if marked else ''}"

    def number(metres: float, error: bool = False) -> Cell:
        if not math.isfinite(metres):
            return None
        if not marked:
            return float(fixed(show.in_units(metres), 4 if show.metric else 3))
        # a cell that begins with a hyphen would run as a formula
        text = f'{show.error_number(metres)}"' if error else coarse.elevation_number(metres)
        return text.replace("-", "\u2212")

    known = any(math.isfinite(sd) for sd in stations.sd.tolist())
    lengths = ["x", "y", "elevation", *(["sd"] if known else [])]
    header = ["station", *(f"{name} ({unit})" for name in lengths), *(["benchmark"] if benchmarks else [])]
    header += [f"{name} SI (m)" for name in lengths]
    marks = {name_key(mark.name): mark for mark in benchmarks}
    rows: list[list[Cell]] = []
    for name, xyz, sd in zip(stations.names, stations.xyz.tolist(), stations.sd.tolist(), strict=True):
        own = marks.pop(name_key(name), None)
        # a shot named as a mark of another elevation is not that mark
        basis = own.basis if own is not None and abs(own.elevation - xyz[2]) < 0.5e-3 else None
        errors = [sd] if known else []
        said = [*map(number, xyz), *(number(one, error=True) for one in errors)]
        rows.append([name, *said, *([basis] if benchmarks else []), *xyz, *errors])
    for mark in marks.values():
        level, none = mark.elevation, [None] if known else []
        rows.append([mark.name, None, None, number(level), *none, mark.basis, None, None, level, *none])
    return table_bytes(header, rows)
