"""A profile as data: the record of a line over the ground, and its rows as a table."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from gradework.exchange.record import RECORD, finding_records
from gradework.exchange.tables import Cell, table_bytes
from gradework.exchange.written import known, sure
from gradework.units.display import fixed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.project.profile import End, Profile
    from gradework.units.display import Display


def profile_record(profile: Profile, job: str) -> dict[str, Any]:
    """Write a profile with every place at which a ground bends; a step has two points at one distance."""
    return {
        "record": RECORD,
        "job": {"name": job},
        "from": _end(profile.first),
        "to": _end(profile.last),
        "length_m": sure(profile.length),
        "foundation": profile.foundation,
        "points": [
            {
                "distance_m": sure(row.at), "x_m": sure(row.x), "y_m": sure(row.y),
                "ground_m": known(row.ground), "finished_m": known(row.finished),
            }
            for row in profile.rows(profile.bends())
        ],
        "stations": [
            {"station": one.name, "distance_m": sure(one.at), "elevation_m": sure(one.elevation)}
            for one in profile.stations
        ],
        "building": [{"from_m": sure(first), "to_m": sure(last)} for first, last in profile.walls],
        "findings": finding_records(profile.findings),
    }  # fmt: skip


def _end(end: End) -> dict[str, Any]:
    return {"station": end.station or None, "x_m": sure(end.x), "y_m": sure(end.y)}


def profile_table(profile: Profile, show: Display, even: NDArray[np.float64]) -> bytes:
    """Write the rows of a profile: every place at which a ground bends, and the distances ``even`` (n,) [m].

    Lengths in the user's unit, and in metres in full at the end of the row. Each row says which station it
    is; one with ``finished`` above or below the ground says by how much.
    """
    unit = "US survey ft" if show.length_unit == "ftUS" else show.length_unit
    planned = profile.finished is not None
    names = ["distance", "x", "y", "ground", *(["finished", "up or down"] if planned else [])]
    passes = [one.at for one in profile.stations]
    at = np.unique(np.concatenate((profile.bends(), passes, even)).round(9))
    at = at[np.concatenate(([True], np.diff(at) > 1e-6))]
    plain = replace(show, form="m") if show.metric else replace(show, form="tenths")
    rows: list[list[Cell]] = []
    for row in profile.rows(at):
        change = None
        if row.ground is not None and row.finished is not None:
            change = row.finished - row.ground
        figures = [row.at, row.x, row.y, row.ground, *([row.finished, change] if planned else [])]
        shown = [None if one is None else _number(one, plain) for one in figures]
        passed = [one.name for one in profile.stations if abs(one.at - row.at) < 2e-6]
        rows.append([*shown, ", ".join(passed), *(known(one) for one in figures)])
    header = [*(f"{name} ({unit})" for name in names), "station", *(f"{name} SI (m)" for name in names)]
    return table_bytes(header, rows)


def _number(metres: float, show: Display) -> float:
    return float(fixed(show.in_units(metres), 4 if show.metric else 3)) + 0.0
