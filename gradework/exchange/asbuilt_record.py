"""As built as a JSON document, always SI, the unit at the end of each key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.findings import finding_records, known

if TYPE_CHECKING:
    from gradework.project.built import AsBuilt
    from gradework.sitework.asbuilt_square import SquareCheck


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
