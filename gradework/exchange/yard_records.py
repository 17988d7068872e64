"""Plain cut and fill as a JSON document, always SI."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from gradework.exchange.record import finding_records, known, sure
from gradework.exchange.tables import Cell, table_bytes
from gradework.survey.levelling.heights import worst
from gradework.survey.stations import name_key
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.project.asbuilt import AsBuilt
    from gradework.project.cutfill import PlainCutFill
    from gradework.project.setout import SettingOut
    from gradework.project.stations.join import YardNotes
    from gradework.sitework.asbuilt import SquareCheck
    from gradework.sitework.setout import StakedPoint


# As built as a JSON document, always SI, the unit at the end of each key.


def asbuilt_record(built: AsBuilt) -> dict[str, Any]:
    """Write the verdict: tops, neighbours, corners, findings."""
    check = built.levels
    return {
        "record": 1,
        "job": {"name": built.plan.job.name},
        "foundation": built.kind,
        "passed": built.passed,
        "planned_m": known(check.plan),
        "best_m": known(check.best),
        "tolerance_m": known(check.tolerance),
        "tied_to_known_elevation": built.tied,
        "tops": [
            {
                "name": point.name,
                "elevation_m": known(point.measured),
                "above_plan_m": known(point.off_plan) if built.tied else None,
                "above_best_m": known(point.off_best),
                "rework": point.rework,
                "advice": point.advice,
            }
            for point in check.points
        ],
        "neighbours": [
            {"first": p.first, "second": p.second, "difference_m": known(p.difference), "ok": p.ok}
            for p in check.pairs
        ],
        "not_read": list(built.missing),
        "ignored": list(built.ignored),
        "square": None if built.square is None else _square(built.square),
        "findings": finding_records(built.findings),
    }


def _square(square: SquareCheck) -> dict[str, Any]:
    return {
        "passed": square.passed,
        "diagonals_m": [known(value) for value in square.diagonals],
        "difference_m": known(square.difference),
        "tolerance_m": known(square.tolerance),
        "misfit_m": known(square.misfit),
        "held": list(square.held),
        "moves": [
            {"corner": move.number, "along_m": known(move.along), "across_left_m": known(move.across)}
            for move in square.moves
        ],
    }


# Stakes and readings as a JSON document, always SI, the unit at the end of each key.


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


# Reduced notes as a JSON document, always SI.


def field_book_record(yard: YardNotes) -> dict[str, Any]:
    """Write the stations and the checks of reduced notes.

    ``misclosure_m`` is computed minus known, of the check that misses most for its ``allowable_m``; both are
    null where no known mark was met, ``setups`` and the sums for notes that are no level book, x and y for a
    station whose place is not known. ``ties``: those of stations with more than two; ``residual_m`` is taped
    minus computed, ``distance_m`` made level.
    """
    heights, book = yard.reduced.heights, yard.reduced.book
    closing = worst(heights.checks) if book is None else book.worst
    at: dict[str, tuple[float, float]] = {}
    if yard.places is not None:
        at = {
            name_key(n): (x, y) for n, (x, y) in zip(yard.places.names, yard.places.xy.tolist(), strict=True)
        }
    nowhere: tuple[None, None] = (None, None)
    return {
        "stations": [
            {
                "station": name,
                "x_m": known(at.get(name_key(name), nowhere)[0]),
                "y_m": known(at.get(name_key(name), nowhere)[1]),
                "elevation_m": known(level),
                "raw_elevation_m": known(raw),
                "sd_m": known(sd),
            }
            for name, level, raw, sd in zip(
                heights.names,
                heights.elevation.tolist(),
                heights.raw.tolist(),
                heights.sd.tolist(),
                strict=True,
            )
        ],
        "misclosure_m": None if closing is None else known(closing.misclosure),
        "allowable_m": None if closing is None else known(closing.allowable),
        "setups": None if book is None else book.setups,
        "sum_bs_m": None if book is None else known(book.sum_backsights),
        "sum_fs_m": None if book is None else known(book.sum_foresights),
        "findings": finding_records(yard.findings),
        "ties": [
            {
                "station": tie.station,
                "mark": tie.mark,
                "distance_m": known(tie.length),
                "residual_m": known(tie.residual),
                "line": tie.line,
            }
            for tie in (() if yard.places is None else yard.places.ties)
        ],
    }


def cutfill_record(result: PlainCutFill) -> dict[str, Any]:
    """Write one level as one flat document; several as a list of such documents under ``levels``.

    Keys: level_m, area_m2, cut_m3, fill_m3, net_m3 (cut less fill), cut_area_m2, fill_area_m2, doubt_m3
    (how far cut, fill or net may be off because the shots do not say how squares fold), findings.
    """
    findings = finding_records(result.findings)
    documents = [
        {
            "level_m": sure(answer.level),
            "area_m2": sure(answer.area),
            "cut_m3": sure(answer.cut),
            "fill_m3": sure(answer.fill),
            "net_m3": sure(answer.net),
            "cut_area_m2": sure(answer.cut_area),
            "fill_area_m2": sure(answer.fill_area),
            "doubt_m3": sure(answer.doubt),
            "findings": findings,
        }
        for answer in result.answers
    ]
    return documents[0] if len(documents) == 1 else {"levels": documents, "findings": findings}
