"""What several rooms' tests need: a surface straight from numbers, and a small job on a plane."""

from __future__ import annotations

import datetime
import io
import os
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from numpy.typing import ArrayLike

from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations

# The same cases on every run, so that a commit that passed still passes. HYPOTHESIS_PROFILE=wander draws new
# ones (docs/testing.md); what it finds becomes a test of its own.
settings.register_profile(
    "settled",
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.filter_too_much],
)
settings.register_profile("wander", deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "settled"))

Ground = Callable[..., Surface]

JOB = """\
name = "Tool store"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [4, 4]
[pad]
level = "least fill"
margin = "500 mm"
strip = "100 mm"
gravel = "100 mm"
freeboard = "0 mm"
"""


@pytest.fixture(scope="session")
def stations_at() -> Callable[..., Stations]:
    """Return a function that makes stations S1, S2 ... of shots (n, 3) [m]."""

    def make(xyz: ArrayLike, unit: str = "m") -> Stations:
        shots = np.array(xyz, dtype=np.float64).reshape(-1, 3)
        names = [f"S{number}" for number in range(1, len(shots) + 1)]
        return Stations(
            names, shots, np.full(len(shots), np.nan), np.arange(len(shots)) + 2, "yard.csv", unit
        )

    return make


@pytest.fixture(scope="session")
def ground(stations_at: Callable[..., Stations]) -> Ground:
    """Return a function that makes a surface of shots (n, 3) [m]."""

    def make(xyz: ArrayLike, unit: str = "m") -> Surface:
        return build_surface(stations_at(xyz, unit))

    return make


@pytest.fixture(scope="session")
def volume() -> Callable[[Surface], float]:
    """Return a function that gives the ground above elevation 0 over a whole surface [m³]."""

    def above_zero(surface: Surface) -> float:
        return float((surface.triangle_areas * surface.vertices[surface.triangles, 2].mean(axis=1)).sum())

    return above_zero


@pytest.fixture
def plane_job() -> bytes:
    """A small job on the yard of ``plane_notes``."""
    return JOB.encode()


@pytest.fixture
def plane_notes() -> bytes:
    """A yard that a person can work out: a plane that falls 1 in 10 along x, in metres."""
    rows = [f"S{i}{j},{2 * i},{2 * j},{20 - 0.2 * i:.3f}" for i in range(8) for j in range(8)]
    return "\n".join(["station,x,y,elevation", *rows, ""]).encode()


# Workbooks, written by libraries of others. A cell is a value; ``(value, format)`` has a number format, such
# as ``(0.375, "# ?/?")`` or ``(0.02, "0%")``; text that begins with = is a formula that nothing has worked
# out, and text such as #REF! an error.

Sheets = dict[str, list[list[Any]]]
Workbook = Callable[..., bytes]


def _xlsx(sheets: Sheets) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for r, row in enumerate(rows, start=1):
            for c, value in enumerate(row, start=1):
                plain, form = value if isinstance(value, tuple) else (value, None)
                cell = sheet.cell(r, c, plain)
                if form is not None:
                    cell.number_format = form
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _xls(sheets: Sheets) -> bytes:
    import xlwt

    book = xlwt.Workbook()
    for name, rows in sheets.items():
        sheet = book.add_sheet(name)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                plain, form = value if isinstance(value, tuple) else (value, None)
                if isinstance(plain, datetime.date):
                    form = "yyyy-mm-dd"
                if isinstance(plain, str) and plain.startswith("#") and plain.endswith("!"):
                    sheet.row(r).set_cell_error(c, plain)
                elif plain is not None:
                    sheet.write(r, c, plain, xlwt.easyxf(num_format_str=form or "General"))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _ods(sheets: Sheets) -> bytes:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    book = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                line.addElement(_ods_cell(value, TableCell, P))
            table.addElement(line)
        book.spreadsheet.addElement(table)
    stream = io.BytesIO()
    book.write(stream)
    return stream.getvalue()


def _ods_cell(value: Any, make: Any, words: Any) -> Any:
    value, form = value if isinstance(value, tuple) else (value, "")
    if value is None:
        return make()
    if isinstance(value, datetime.date):
        cell, shown = make(valuetype="date", datevalue=value.isoformat()), value.strftime("%d.%m.%y")
    elif isinstance(value, str) and value.startswith("="):
        return make(formula=f"of:{value}")
    elif isinstance(value, str) and value.startswith("#") and value.endswith("!"):
        cell, shown = make(formula=f"of:={value}", valuetype="string", stringvalue=""), value
    elif isinstance(value, str):
        cell, shown = make(valuetype="string"), value
    elif "%" in form:
        cell, shown = make(valuetype="percentage", value=str(value)), f"{value:.0%}"
    else:
        unit = form.split('"')[1] if '"' in form else ""
        cell, shown = make(valuetype="float", value=str(value)), f"{value}{unit}"
    cell.addElement(words(text=shown))
    return cell


@pytest.fixture(scope="session")
def workbook() -> Workbook:
    """Return a function that writes a workbook: "xlsx", "ods" or "xls", then its sheets by name."""

    def write(kind: str, sheets: Sheets) -> bytes:
        return {"xlsx": _xlsx, "ods": _ods, "xls": _xls}[kind](sheets)

    return write
