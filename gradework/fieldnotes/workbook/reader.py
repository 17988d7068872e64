"""Reads the cells of a workbook in a process of its own: workbook in, JSON out.

The library that reads workbooks ends the whole process where a file is not as its makers thought. Here that
ends this process only. It is run by its path, so it takes nothing from the package::

    python reader.py [SHEET ...] < yard.xlsx
"""

from __future__ import annotations

import contextlib
import datetime
import io
import json
import sys

from python_calamine import (
    CalamineError,
    CalamineWorkbook,
    PasswordError,
    SheetTypeEnum,
    SheetVisibleEnum,
)

if sys.platform != "win32":
    import resource

MOST_MEMORY = 3 * 2**30
"""Bytes; the largest sheet that passes the first look takes a tenth of it."""


def sheets_of(data: bytes, wanted: list[str]) -> dict[str, object]:
    """The sheets of cells by name, or those ``wanted``: whether each is shown, and its rows.

    A cell is text, a number or a truth value; dates come as 2026-05-03. In place of all there may be a
    ``problem``: "password" or "damaged".
    """
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        found: dict[str, object] = {}
        for one in book.sheets_metadata:
            if one.typ == SheetTypeEnum.WorkSheet and (not wanted or one.name in wanted):
                rows = book.get_sheet_by_name(one.name).to_python(skip_empty_area=False)
                found[one.name] = [one.visible == SheetVisibleEnum.Visible, rows]
    except PasswordError:
        return {"problem": "password"}
    except (CalamineError, OSError, ValueError):
        return {"problem": "damaged"}
    return {"sheets": found}


def _as_text(value: object) -> str:
    """What JSON does not know: dates (the hour says nothing of a length), times and spans of time."""
    return value.date().isoformat() if isinstance(value, datetime.datetime) else str(value)


def as_json(data: bytes, wanted: list[str]) -> str:
    """The same as JSON, whoever asks for it."""
    return json.dumps(sheets_of(data, wanted), default=_as_text)


def main() -> None:
    """Read standard input, write standard output."""
    if sys.platform != "win32":
        with contextlib.suppress(ValueError, OSError):  # there may be a limit already
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    sys.stdout.write(as_json(sys.stdin.buffer.read(), sys.argv[1:]))


if __name__ == "__main__":
    main()
