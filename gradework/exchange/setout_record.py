"""Stakes and readings as a JSON document, always SI, the unit at the end of each key."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from gradework.exchange.findings import finding_records, known
from gradework.exchange.tables import Cell, table_bytes
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.project.stakes import SettingOut
    from gradework.sitework.setout import StakedPoint


def setout_record(made: SettingOut) -> dict[str, Any]:
    """Write a sheet: heights of instrument and string, marks, stakes with all levels, lengths to measure."""
    sheet = made.sheet
    return {
        "record": 1,
        "job": {"name": made.plan.job.name},
        "foundation": made.kind,
        "level_m": known(made.level),
        "instrument_m": known(sheet.instrument),
        "string_m": known(sheet.string),
        "marks": [{"name": mark.name, "x_m": known(mark.x), "y_m": known(mark.y)} for mark in made.marks],
        "stakes": [_stake(point) for point in sheet.points],
        "measures": [
            {"kind": m.kind, "from": m.first, "to": m.second, "length_m": known(m.length)}
            for m in sheet.checks
        ],
        "diagonals_may_differ_m": known(sheet.allowed),
        "steps": list(sheet.steps),
        "findings": finding_records(made.findings),
    }


def _stake(point: StakedPoint) -> dict[str, Any]:
    stake, tie, base, mark = point.stake, point.tie, point.baseline, point.mark
    readings = {reading.what: reading for reading in point.readings}
    strings = dict(point.from_string)
    return {
        "name": stake.name,
        "kind": stake.kind,
        "x_m": known(stake.x),
        "y_m": known(stake.y),
        "ground_m": known(stake.ground),
        "grade_m": known(stake.grade),
        "mark": None if mark is None else mark.kind,
        "mark_m": None if mark is None else known(mark.amount),
        "mark_for": point.marked_for,
        "tie": None
        if tie is None
        else {
            "from": [tie.first, tie.second],
            "tapes_m": [known(tie.from_first), known(tie.from_second)],
            "side": tie.side,
            "angle_degrees": known(tie.angle),
            "weak": tie.weak,
        },
        "along_m": None if base is None else known(base.along),
        "offset_left_m": None if base is None else known(base.offset),
        "levels": [
            {
                "what": what,
                "level_m": known(level),
                "rod_m": known(readings[what].reading) if what in readings else None,
                "reach": readings[what].reach if what in readings else None,
                "above_string_m": known(strings.get(what)),
            }
            for what, level in stake.worked_to
        ],
    }


def stake_table(made: SettingOut) -> bytes:
    """Write one row for each level of each stake, in the user's unit, for spreadsheets and collectors.

    The mark (C, F, GRADE) stands in the row of the level that it leads to; the ties stand in each row.
    """
    show = made.plan.job.show
    per = show.metres_per_unit
    digits = 3 if show.us else 4

    def number(metres: float | None) -> float | None:
        return None if metres is None else float(fixed(metres / per, digits))

    unit = show.unit_name
    header = [
        "stake",
        "what",
        *(f"{name} ({unit})" for name in ("x", "y", "elevation", "rod", "above string")),
    ]
    header += ["mark", f"cut or fill ({unit})", f"along ({unit})", f"offset left ({unit})"]
    header += ["first mark", f"first tape ({unit})", "second mark", f"second tape ({unit})", "side"]
    rows = []
    for point in made.sheet.points:
        stake = _stake(point)
        place = [number(stake["along_m"]), number(stake["offset_left_m"]), *_tapes(stake["tie"], number)]
        for level in stake["levels"] or [dict.fromkeys(("what", "level_m", "rod_m", "above_string_m"))]:
            lengths = (stake["x_m"], stake["y_m"], level["level_m"], level["rod_m"], level["above_string_m"])
            marked = stake["mark"] is not None and level["what"] == stake["mark_for"]
            mark = [stake["mark"], number(stake["mark_m"])] if marked else [None, None]
            rows.append([stake["name"], level["what"], *map(number, lengths), *mark, *place])
    return table_bytes(header, rows)


def _tapes(tie: dict[str, Any] | None, number: Callable[[float | None], float | None]) -> list[Cell]:
    """The two marks, the tape from each, and the side of the line from the first to the second."""
    if tie is None:
        return [None] * 5
    (first, second), (one, two) = tie["from"], tie["tapes_m"]
    return [first, number(one), second, number(two), tie["side"]]
