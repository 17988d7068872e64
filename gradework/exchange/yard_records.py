"""Cut and fill, setting out, as built and reduced notes as documents, always SI, the unit ending each key."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from gradework.errors import CheckError
from gradework.exchange.record import (
    BENCHMARK,
    FINDING,
    PLAIN_SPREAD,
    RECORD,
    SAME_LEVEL,
    finding_records,
)
from gradework.exchange.tables import Cell, table_bytes
from gradework.exchange.written import Table, known, rows, written
from gradework.survey.stations import name_key

if TYPE_CHECKING:
    from gradework.project.asbuilt import AsBuilt
    from gradework.project.cutfill import PlainCutFill
    from gradework.project.digging import AsDug
    from gradework.project.place import Placing, Spot
    from gradework.project.setout import SettingOut
    from gradework.project.settling import Settled
    from gradework.project.stations.join import YardNotes
    from gradework.sitework.pier_stakes import RowString
    from gradework.sitework.setout import SharedLevel, StakedPoint


# As built.

_TOP: Table = (
    ("name", "name"), ("measured?", "elevation_m"), ("off_plan?", "above_plan_m"),
    ("off_best?", "above_best_m"), ("rework", "rework"), ("advice", "advice"),
)  # fmt: skip
_PAIR: Table = (("first", "first"), ("second", "second"), ("difference?", "difference_m"), ("ok", "ok"))
_MOVE: Table = (("number", "corner"), ("along?", "along_m"), ("across?", "across_left_m"))
_SQUARE: Table = (
    ("passed", "passed"), ("diagonals", "diagonals_m"), ("difference?", "difference_m"),
    ("tolerance?", "tolerance_m"), ("misfit?", "misfit_m"), ("held", "held"), ("moves", "moves", _MOVE),
)  # fmt: skip
_BUILT: Table = (
    ("plan.job", "job", (("name", "name"),)), ("kind", "foundation"), ("passed", "passed"),
    ("levels.plan?", "planned_m"), ("levels.best?", "best_m"), ("levels.tolerance?", "tolerance_m"),
    ("tied", "tied_to_known_elevation"), ("plan.benchmarks", "benchmarks", BENCHMARK),
    ("levels.points", "tops", _TOP),
    ("levels.pairs", "neighbours", _PAIR), ("missing", "not_read"), ("ignored", "ignored"),
    ("square", "square", _SQUARE), ("findings", "findings", FINDING),
)  # fmt: skip


def asbuilt_record(built: AsBuilt) -> dict[str, Any]:
    """Write the verdict: tops, neighbours, corners, findings."""
    made = {"record": RECORD, **written(built, _BUILT)}
    if not built.tied:
        for top in made["tops"]:
            top["above_plan_m"] = None
    return made


# As dug, as bedded, and what has settled.

_PART: Table = (("unit.name", "unit"), ("count", "courses"), ("pieces", "pieces"))
_REBUILT: Table = (
    ("pier.name", "name"), ("read.bottom", "read_bottom_m"), ("read.bed_top?", "read_bed_top_m"),
    ("read.stuck", "on_rock"), ("pier.bottom", "planned_bottom_m"), ("deeper", "dig_deeper_m"),
    ("bottom", "bottom_m"), ("bed", "bed_m"), ("gravel", "bed_add_m"), ("stack", "stack", _PART),
    ("height", "stack_m"), ("shim", "shim_m"), ("top", "top_m"), ("kept", "as_planned"),
)  # fmt: skip
_DUG_POINT: Table = (
    ("name", "name"), ("read", "read_m"), ("wanted", "wanted_m"), ("off", "above_wanted_m"),
    ("at_stake", "at_stake"), ("wrong", "to_put_right"),
)  # fmt: skip
_DUG: Table = (
    ("plan.job", "job", (("name", "name"),)), ("kind", "foundation"), ("stage", "stage"),
    ("passed", "passed"), ("level", "planned_m"), ("points", "points", _DUG_POINT), ("missing", "not_read"),
    ("ignored", "ignored"), ("findings", "findings", FINDING),
)  # fmt: skip


def asdug_record(made: AsDug) -> dict[str, Any]:
    """Write what is built on what was dug: piers with bottom, bed, stack and shim; or the points of a pad.

    ``top_m`` is null where no top suits all piers. Raises ``CheckError`` where a pier as written does not add
    up: top less bottom is bed, stack and shim.
    """
    design = made.design
    piers = [] if design is None else rows(design.piers, _REBUILT)
    for one in piers:
        if abs(one["top_m"] - one["bottom_m"] - one["bed_m"] - one["stack_m"] - one["shim_m"]) > SAME_LEVEL:
            raise CheckError(f"pier {one['name']} as written does not add up to its top")
    buy = [] if design is None else [{"unit": unit.name, "pieces": count} for unit, count in design.buy]
    answer = {
        "top_m": known(made.level if design is None else design.top),
        "piers": piers,
        "on_hand": [{"unit": name, "pieces": count} for name, count in made.on_hand.items()],
        "buy": buy,
        "buy_cost": None if design is None else known(design.money),
    }
    return {"record": RECORD, **written(made, _DUG), **answer}


_SETTLED_POINT: Table = (
    ("name", "name"), ("first", "first_m"), ("later", "later_m"), ("moved", "up_m"), ("lift", "lift_m"),
    ("advice", "advice"),
)  # fmt: skip
_SETTLED: Table = (
    ("plan.job", "job", (("name", "name"),)), ("kind", "foundation"), ("passed", "passed"),
    ("base", "all_up_m"), ("tolerance", "tolerance_m"), ("tied", "tied_to_known_elevation"),
    ("points", "tops", _SETTLED_POINT), ("missing", "not_read"), ("ignored", "ignored"),
    ("findings", "findings", FINDING),
)  # fmt: skip


def settled_record(made: Settled) -> dict[str, Any]:
    """Write what moved between two sets of readings; ``up_m`` is negative for what went down."""
    return {"record": RECORD, "stage": "later", **written(made, _SETTLED)}


# Stakes and readings.

_MARK: Table = (("name", "name"), ("x?", "x_m"), ("y?", "y_m"))
_MEASURE: Table = (("kind", "kind"), ("first", "from"), ("second", "to"), ("length?", "length_m"))
_STAKE: Table = (
    ("stake.name", "name"), ("stake.kind", "kind"), ("stake.x?", "x_m"), ("stake.y?", "y_m"),
    ("stake.ground?", "ground_m"), ("stake.grade?", "grade_m"),
)  # fmt: skip
_TIE: Table = (("side", "side"), ("angle?", "angle_degrees"), ("weak", "weak"))


_ASIDE: Table = (
    ("x", "x_m"),
    ("y", "y_m"),
    ("distance", "distance_m"),
    ("toward", "toward_side"),
    ("away", "away_from"),
)
_ROW: Table = (
    ("row", "row"), ("first", "from"), ("second", "to"), ("length", "length_m"), ("beside", "side"),
    ("inside", "inside_m"), ("line", "building_line_m"),
)  # fmt: skip
_SHARED: Table = (("level", "level_m"), ("stakes", "stakes"))


def _row(string: RowString) -> dict[str, Any]:
    places = [{"pier": name, "along_m": known(along)} for name, along in string.places]
    return {**written(string, _ROW), "piers": places}


def _shared(level: SharedLevel) -> dict[str, Any]:
    rod = None if level.reading is None else known(level.reading.reading)
    return {**written(level, _SHARED), "rod_m": rod, "above_string_m": known(level.from_string)}


def _stake(point: StakedPoint) -> dict[str, Any]:
    tie, base, mark, stake = point.tie, point.baseline, point.mark, point.stake
    readings = {reading.what: reading for reading in point.readings}
    strings = dict(point.from_string)
    tied = None
    if tie is not None:
        tapes = [known(tie.from_first), known(tie.from_second)]
        tied = {"from": [tie.first, tie.second], "tapes_m": tapes, **written(tie, _TIE)}
    return {
        **written(point, _STAKE),
        "mark": None if mark is None else mark.kind,
        "mark_m": None if mark is None else known(mark.amount),
        "mark_for": point.marked_for,
        "finish": None if point.finish is None else point.finish.kind,
        "finish_m": None if point.finish is None else known(point.finish.amount),
        "aside": None if stake.aside is None else written(stake.aside, _ASIDE),
        "tie": tied,
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
            for what, level in point.stake.worked_to
        ],
    }


_SHEET: Table = (
    ("plan.job", "job", (("name", "name"),)), ("kind", "foundation"), ("level?", "level_m"),
    ("sheet.instrument?", "instrument_m"), ("sheet.string?", "string_m"), ("marks", "marks", _MARK),
    ("plan.benchmarks", "benchmarks", BENCHMARK),
    ("rows", "rows", _row), ("sheet.shared", "shared_levels", _shared), ("sheet.points", "stakes", _stake),
    ("sheet.checks", "measures", _MEASURE),
    ("sheet.allowed?", "diagonals_may_differ_m"), ("sheet.steps", "steps"),
    ("findings", "findings", FINDING),
)  # fmt: skip


def setout_record(made: SettingOut) -> dict[str, Any]:
    """Write a sheet: heights of instrument and string, marks, stakes with all levels, lengths to measure."""
    own = made.plan.foundations.judged_of(made.kind)
    return {"record": RECORD, "blocked_by": list(own.failing) if own else [], **written(made, _SHEET)}


def stake_table(made: SettingOut) -> bytes:
    """Write one row for each level of each stake, for spreadsheets and collectors: each length as the user
    says it, and at the end of the row the same in metres, in full.

    The mark (C, F, GRADE) stands in the row of the level that it leads to; the ties stand in each row.
    """
    show = made.plan.job.show
    taped, rod = show.taped_number, show.rod_number
    level, reading = show.heading, show.rod_heading
    lengths: list[tuple[str, str, Callable[[float], str]]] = [
        ("x", level("x"), taped), ("y", level("y"), taped),
        ("elevation", level("elevation"), show.elevation_number), ("rod", reading("rod"), rod),
        ("above string", reading("above string"), show.hung if show.form == "inches" else rod),
        ("cut or fill", reading("cut or fill"), show.stake), ("along", level("along"), taped),
        ("offset left", level("offset left"), taped), ("first tape", level("first tape"), taped),
        ("second tape", level("second tape"), taped),
    ]  # fmt: skip
    words = ["mark", "first mark", "second mark", "side"]
    heads = ["stake", "what", *_between([head for _, head, _ in lengths], words)]
    header = [*map(str, heads), *(f"{name} SI (m)" for name, _, _ in lengths)]
    lines: list[list[Cell]] = []
    for point in made.sheet.points:
        stake = _stake(point)
        for row in stake["levels"] or [dict.fromkeys(("what", "level_m", "rod_m", "above_string_m"))]:
            marked = stake["mark"] is not None and row["what"] == stake["mark_for"]
            tie = stake["tie"] or {"from": [None, None], "tapes_m": [None, None], "side": None}
            metres = [stake["x_m"], stake["y_m"], row["level_m"], row["rod_m"], row["above_string_m"]]
            metres += [stake["mark_m"] if marked else None, stake["along_m"], stake["offset_left_m"]]
            metres += tie["tapes_m"]
            said = [_said(say, value) for (_, _, say), value in zip(lengths, metres, strict=True)]
            words = [stake["mark"] if marked else "", *tie["from"], tie["side"]]
            lines.append([stake["name"], row["what"], *_between(said, words), *metres])
    return table_bytes(header, lines)


def _between(lengths: Sequence[Cell], words: Sequence[Cell]) -> list[Cell]:
    """The mark before its cut or fill, the name of each mark before its tape, the side last."""
    mark, first, second, side = words
    return [*lengths[:5], mark, *lengths[5:8], first, lengths[8], second, lengths[9], side]


def _said(say: Callable[[float], str], metres: float | None) -> Cell:
    """A length as ``say`` writes it: a number where that is one, so that a spreadsheet can add it up."""
    if metres is None:
        return None
    text = say(metres)
    try:
        return float(text)
    except ValueError:
        return text


# Reduced notes, and plain cut and fill.

_TIED: Table = (
    ("station", "station"), ("mark", "mark"), ("length?", "distance_m"), ("residual?", "residual_m"),
    ("line", "line"),
)  # fmt: skip


def field_book_record(yard: YardNotes) -> dict[str, Any]:
    """Write the stations and the checks of reduced notes.

    ``misclosure_m`` is computed minus known, of the check that misses most for its ``allowable_m``; both are
    null where no known mark was met, ``setups`` and the sums for notes that are no level book, x and y for a
    station whose place is not known. ``ties``: those of stations with more than two; ``residual_m`` is taped
    minus computed, ``distance_m`` made level.
    """
    heights, book, places = yard.reduced.heights, yard.reduced.book, yard.places
    closing = heights.worst if book is None else book.worst
    found = () if places is None else zip(places.names, places.xy.tolist(), strict=True)
    at = {name_key(name): xy for name, xy in found}
    figures = (heights.elevation.tolist(), heights.raw.tolist(), heights.sd.tolist())
    keys = ("x_m", "y_m", "elevation_m", "raw_elevation_m", "sd_m")
    stations = []
    for name, *levels in zip(heights.names, *figures, strict=True):
        all_known = map(known, (*at.get(name_key(name), (None, None)), *levels))
        stations.append({"station": name, **dict(zip(keys, all_known, strict=True))})
    return {
        "stations": stations,
        "misclosure_m": None if closing is None else known(closing.misclosure),
        "allowable_m": None if closing is None else known(closing.allowable),
        "setups": None if book is None else book.setups,
        "sum_bs_m": None if book is None else known(book.sum_backsights),
        "sum_fs_m": None if book is None else known(book.sum_foresights),
        "findings": finding_records(yard.findings),
        "benchmarks": rows(yard.reduced.benchmarks, BENCHMARK),
        "ties": rows(() if places is None else places.ties, _TIED),
    }


_CUTFILL: Table = (
    ("level", "level_m"), ("area", "area_m2"), ("cut", "cut_m3"), ("fill", "fill_m3"), ("net", "net_m3"),
    ("cut_area", "cut_area_m2"), ("fill_area", "fill_area_m2"), ("doubt", "doubt_m3"),
)  # fmt: skip


def cutfill_record(result: PlainCutFill) -> dict[str, Any]:
    """Write one level as one flat document; several as a list of such documents under ``levels``.

    ``net_m3`` is cut less fill; ``doubt_m3`` how far cut, fill or net may be off because a square of the
    grid can fold along either diagonal; ``spread``, where it was asked for, the 10, 50 and 90 % figures.
    """
    findings = finding_records(result.findings)
    answers = rows(result.answers, _CUTFILL)
    for answer, spread in zip(answers, result.spreads, strict=bool(result.spreads)):
        answer["spread"] = written(spread, PLAIN_SPREAD)
    documents = [{**answer, "findings": findings} for answer in answers]
    return documents[0] if len(documents) == 1 else {"levels": documents, "findings": findings}


# Places.

_PLACED: Table = (
    ("level?", "level_m"), ("gravel?", "gravel_m3"), ("excavation?", "excavation_m3"), ("fall?", "fall_m"),
)  # fmt: skip


def place_record(placing: Placing) -> dict[str, Any]:
    """Write where it stands now and the best places; ``missed`` is the most that an allowed place can be
    better than the best of them, in what was searched for."""
    return {
        "record": RECORD,
        "job": {"name": placing.job.name},
        "foundation": placing.kind,
        "least": placing.least,
        "now": _placed(placing.here),
        "placements": rows(placing.spots, _placed),
        "missed": known(placing.missed),
        "looked_at": placing.sited.looked,
        "stopped": placing.stopped,
        "findings": finding_records(placing.findings),
    }


def _placed(spot: Spot) -> dict[str, Any]:
    x, y, turn = spot.corner.tolist()
    judged = spot.judged
    beside = () if judged is None else judged.measures
    return {
        "corner_m": [x + 0.0, y + 0.0],
        "turn_degrees": turn + 0.0,
        **written(spot, _PLACED),
        "cost": None if judged is None else known(judged.cost),
        "buildable": spot.buildable,
        "barred_by": spot.barred or None,
        "failing": [] if judged is None else list(judged.failing),
        "measures": list(dict.fromkeys(one.kind for one in beside)),
        "searched": known(spot.value),
    }
