"""What was built against the plan: names, marks, ways of reading, the verdict."""

from __future__ import annotations

from functools import lru_cache

import pytest

from gradework.errors import InputError
from gradework.project.asbuilt import AsBuilt, Measured, check_built
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.stations.forms import SurveyForm
from gradework.project.tops import read_tops
from gradework.report.yard import asbuilt_text

TABLES = """
[piers]
rows = 2
spacing = "1.4 m"
block_sizes = "US"
[setout]
benchmarks = { BM = 20.5 }
"""


@lru_cache
def of(job: bytes, notes: bytes) -> Plan:
    return plan(read_job(job), notes)


@pytest.fixture
def yard(plane_job: bytes, plane_notes: bytes) -> Plan:
    return of(plane_job + TABLES.encode(), plane_notes)


def names(done: Plan) -> list[str]:
    assert done.foundations.piers is not None
    return [pier.name for pier in done.foundations.piers.piers]


def top(done: Plan) -> float:
    assert done.foundations.piers is not None
    assert done.foundations.piers.top is not None
    return done.foundations.piers.top


def elevations(done: Plan, **off: float) -> bytes:
    """A table of elevations: every pier at the planned top, but for those named (p1_2=0.01)."""
    moved = {name: off.get("p" + name.replace("-", "_"), 0.0) for name in names(done)}
    rows = [f"pier {name},{top(done) + by:.4f}" for name, by in moved.items()]
    return "\n".join(["station,elevation", *rows, ""]).encode()


def judge(done: Plan, readings: bytes, **how: object) -> AsBuilt:
    tops = read_tops(done, readings, "tops.csv", SurveyForm())
    return check_built(done, tops, "tops.csv", **how)  # type: ignore[arg-type]


def test_everything_level_passes(yard: Plan) -> None:
    built = judge(yard, elevations(yard))
    assert built.passed
    assert (built.kind, built.missing, built.findings) == ("piers", (), ())
    assert built.levels.best == pytest.approx(top(yard), abs=1e-4)


def test_a_low_pier_is_named_and_shimmed(yard: Plan) -> None:
    built = judge(yard, elevations(yard, p1_2=-0.012))
    assert not built.passed
    point = next(point for point in built.levels.points if point.name == "1-2")
    assert point.off_plan == pytest.approx(-0.012, abs=1e-4)
    # the best level is lower by half of what neighbours may differ: the others stay, this one moves less
    assert point.off_best == pytest.approx(-0.012 + 0.00635 / 2, abs=1e-4)
    assert point.advice == "shim it up 9 mm with a pair of shims"
    assert [finding.code for finding in built.findings] == ["asbuilt-not-level"]
    # common practice and 24 CFR 3285.6 (seen): neighbours within 1/4 in, 6.35 mm
    assert judge(yard, elevations(yard, p1_2=-0.006)).passed
    assert judge(yard, elevations(yard, p1_2=-0.012), tolerance=0.013).passed


@pytest.mark.parametrize(
    ("off", "severity"), [(0.006, None), (-0.015, "warning"), (0.019, "warning"), (-0.02, "stop")]
)
def test_a_whole_that_stands_off_its_planned_level_is_told(
    yard: Plan, off: float, severity: str | None
) -> None:
    """Within 1/4 in (6.35 mm) nothing, to 3/4 in (19.05 mm) a warning, beyond it does not pass."""
    built = judge(yard, elevations(yard, **{"p" + name.replace("-", "_"): off for name in names(yard)}))
    assert built.levels.passed
    found = [finding.severity for finding in built.findings if finding.code == "asbuilt-off-plan"]
    assert found == ([] if severity is None else [severity])
    assert built.passed is (severity != "stop")
    assert {point.advice for point in built.levels.points} == {"leave it"}


def test_small_steps_that_add_up_are_told_and_nothing_is_called_for_rework(yard: Plan) -> None:
    along = {name: int(name.split("-")[1]) for name in names(yard)}
    off = {"p" + name.replace("-", "_"): -0.006 * number for name, number in along.items()}
    built = judge(yard, elevations(yard, **off))
    assert built.passed
    assert built.levels.reworked == 0
    (leans,) = [finding for finding in built.findings if finding.code == "asbuilt-leans"]
    assert leans.severity == "warning"
    assert leans.value == pytest.approx(0.006 * (max(along.values()) - 1), abs=2e-4)
    text = asbuilt_text(built)
    assert "See the warning" in text
    assert "the floor slopes" in text


def test_piers_given_one_by_one_are_neighbours_by_their_places(plane_job: bytes, plane_notes: bytes) -> None:
    """Round the building, 6 mm lower each: the last stands beside the first, 18 mm lower."""
    (x0, y0), (x1, y1) = (of(plane_job, plane_notes).building.rings[0] + 0.0)[[0, 2]].tolist()
    x0, x1, y0, y1 = x0 + 0.5, x1 - 0.5, y0 + 0.5, y1 - 0.5
    given = f"NW = [{x0}, {y1}], NE = [{x1}, {y1}], SE = [{x1}, {y0}], SW = [{x0}, {y0}]"
    table = f'[piers]\nblock_sizes = "US"\npositions = {{ {given} }}\n'
    done = of(plane_job + table.encode(), plane_notes)
    round_about = {name: -0.006 * number for number, name in enumerate(("NW", "NE", "SE", "SW"))}
    built = judge(done, elevations(done, **{"p" + name: off for name, off in round_about.items()}))
    assert not built.passed
    assert [{p.first, p.second} for p in built.levels.pairs if not p.ok] == [{"NW", "SW"}]
    assert built.levels.reworked > 0


def test_readings_of_a_level_are_reduced_from_the_benchmark_of_the_job(yard: Plan) -> None:
    rows = [f"{name},,{21.75 - top(yard):.3f}," for name in names(yard)]
    book = "\n".join(["station,BS,IS,FS", "BM,1.25,,", *rows, "BM,,,1.25", ""]).encode()
    built = judge(yard, book)
    assert built.tied
    assert built.passed
    assert all(abs(point.off_plan) < 0.001 for point in built.levels.points)


def test_without_a_known_mark_tops_are_compared_with_each_other(yard: Plan) -> None:
    rows = [f"{name},,1.250," for name in names(yard)]
    book = "\n".join(["station,BS,IS,FS", "peg,1.25,,", *rows, "peg,,,1.25", ""]).encode()
    built = judge(yard, book)
    assert not built.tied
    assert built.levels.passed
    assert [finding.code for finding in built.findings if finding.severity == "stop"] == [
        "asbuilt-height-not-checked"
    ]
    assert not built.passed


def test_a_pier_not_read_is_no_pass(yard: Plan) -> None:
    readings = b"\n".join(elevations(yard).split(b"\n")[:-2])
    built = judge(yard, readings)
    assert built.missing == (names(yard)[-1],)
    assert [finding.code for finding in built.findings] == ["asbuilt-not-read"]
    assert not built.passed


def test_names_nearly_right_are_asked_about_and_others_left_out(yard: Plan) -> None:
    with pytest.raises(InputError) as told:
        judge(yard, elevations(yard).replace(b"pier 1-2", b"pier 1-22"))
    (fault,) = told.value.faults
    assert (fault.code, fault.fix) == ("asbuilt-pier-unknown", "did you mean '1-2'?")
    assert (fault.file, fault.line) == ("tops.csv", 3)
    rows = [f"{name},,1.250," for name in names(yard)]
    book = "\n".join(["station,BS,IS,FS", "peg,1.25,,", *rows, "1-22,,1.25,", "peg,,,1.25", ""]).encode()
    with pytest.raises(InputError) as told:
        judge(yard, book)
    (fault,) = told.value.faults
    assert (fault.code, fault.file, fault.line) == ("asbuilt-pier-unknown", "tops.csv", len(rows) + 3)
    built = judge(yard, elevations(yard) + b"door step,20.0\n")
    assert built.ignored == ("door step",)


def test_readings_of_marks_only_hold_nothing_to_compare(yard: Plan) -> None:
    with pytest.raises(InputError) as told:
        judge(yard, b"station,BS,IS,FS\nBM,1.25,,\nBM,,,1.25\n")
    assert [fault.code for fault in told.value.faults] == ["asbuilt-nothing-read"]


def test_points_of_a_pad_are_neighbours_in_their_order(yard: Plan) -> None:
    level = yard.pad.chosen.level
    rows = [f"P{number},{level + (0.02 if number == 3 else 0.0):.3f}" for number in range(1, 6)]
    built = judge(yard, "\n".join(["station,elevation", *rows, ""]).encode(), kind="pad")
    assert [(p.first, p.second) for p in built.levels.pairs if not p.ok] == [("P2", "P3"), ("P3", "P4")]
    # 20 mm less the half of 1/4 in by which the others may stay low
    assert built.levels.points[2].advice == "rake 17 mm of gravel off"


def test_squareness_of_what_was_measured(yard: Plan) -> None:
    """POS-5: the diagonals of a 3-4-5 rectangle are 5 (exact)."""
    good = judge(yard, elevations(yard), measured=Measured([4, 3, 4, 3], [5, 5]))
    assert good.square is not None
    assert good.passed
    bad = judge(yard, elevations(yard), measured=Measured([4, 3, 4, 3], [5.03, 4.97]))
    assert bad.square is not None
    assert not bad.passed
    assert "asbuilt-not-square" in {finding.code for finding in bad.findings}
    with pytest.raises(InputError) as told:
        judge(yard, elevations(yard), measured=Measured([4, 3, 4, 3], [9, 5]))
    assert [fault.code for fault in told.value.faults] == ["asbuilt-lengths"]
