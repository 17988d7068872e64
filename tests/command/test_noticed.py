"""What was noticed before a fault stopped the run is told with the fault, not lost until it is mended."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gradework.errors import Fault, Faults, Finding, InputError
from gradework.project.stations.notes import noticed

Run = Callable[..., Any]

SHOTS = [(f"S{i}{j}", 2.5 * i, 2.5 * j, 100 - 0.1 * i + 0.05 * j) for i in range(5) for j in range(5)]
JOB = """\
name = "Shed"
units = "ft"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [40, 2]
"""


def notes(*more: str, misread: str = "") -> str:
    rows = [f"{name},{x},{y},{z + (name == misread):.2f}" for name, x, y, z in SHOTS]
    return "\n".join(["station,x,y,elevation", *rows, *more]) + "\n"


def cutfill(run: Run, folder: Path, text: str, *more: str) -> Any:
    path = folder / "yard.csv"
    path.write_bytes(text.encode("cp1252"))
    return run(
        "cutfill", path, "--units", "ft", "--level", "99.8", "--corner", "40,2", "--size", "4,3", *more
    )


def test_a_misread_shot_is_told_when_the_outline_lies_off_the_survey(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, notes(misread="S22"))
    assert (done.status, done.out) == (2, "")
    assert done.err.index("[shot-misread]") < done.err.index("[outline-far-from-survey]")
    done = cutfill(run, tmp_path, notes(misread="S22"), "--json")
    assert (done.status, done.err) == (2, "")
    assert [f["code"] for f in done.document["findings"]] == ["shot-misread"]
    assert [f["code"] for f in done.document["faults"]] == ["outline-far-from-survey"]


@pytest.mark.parametrize("table", ["station,x,y,elevation", "station,reading"])
def test_what_the_notes_are_read_as_is_told_with_a_cell_that_cannot_be_read(
    run: Run, tmp_path: Path, table: str
) -> None:
    rows = ["BM,1.2", "Zür,x1.3", "B,1.4", "BM,1.2"]
    text = notes("Zür,3,3.3,x") if "elevation" in table else "\n".join([table, *rows]) + "\n"
    done = cutfill(run, tmp_path, text) if "elevation" in table else None
    if done is None:
        (tmp_path / "b.csv").write_bytes(text.encode("cp1252"))
        done = run("reduce", tmp_path / "b.csv", "--units", "ft")
    assert (done.status, done.out) == (2, "")
    assert "[notes-old-letters]" in done.err
    assert "[notes-cell]" in done.err.splitlines()[-1]


def test_a_plan_tells_them_as_well_and_quiet_leaves_out_the_notes(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB)
    (tmp_path / "yard.csv").write_text(notes("S00,0,0,100.00", misread="S22"))
    done = run("plan", tmp_path / "job.toml", "-n")
    assert (done.status, done.out) == (2, "")
    codes = ("[shot-misread]", "[double-shot]", "[outline-far-from-survey]")
    assert [done.err.count(code) for code in codes] == [1, 1, 1]
    done = run("plan", tmp_path / "job.toml", "-nq")
    assert [done.err.count(code) for code in codes] == [1, 0, 1]


def test_without_anything_noticed_only_the_fault_is_told(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, notes())
    assert done.err.count("\n") == 1
    assert "findings" not in cutfill(run, tmp_path, notes(), "--json").document


def test_each_is_told_once_and_other_errors_pass() -> None:
    first, second = (Finding(code, "note", "", None, None, "") for code in ("a-b", "c-d"))
    fault = Fault("e-f", "x", "y", "z")
    with pytest.raises(InputError) as told, noticed([first]):
        raise InputError([fault], [second, first])
    assert (told.value.faults, told.value.findings) == ((fault,), (first, second))
    with pytest.raises(ZeroDivisionError), noticed([first]):
        raise ZeroDivisionError
    faults = Faults()
    faults.noticed = (first,)
    with pytest.raises(InputError) as told:
        faults.stop("e-f", "x", "y", "z")
    assert told.value.findings == (first,)
