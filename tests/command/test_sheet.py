"""``gradework sheet``: arguments to a file, refusals to words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
JOB = """name = "Shed"
units = "ft"
[survey]
notes = "not-there-yet.csv"
grid = { spacing = 5 }
[building]
size = [16, 12]
corner = [4, 12]
"""


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_grid_without_a_job(run: Run, here: Path) -> None:
    done = run("sheet", "--grid", "4ft", "--cols", 8, "--rows", 6)
    assert (done.status, done.out) == (0, "field-sheet.pdf\n")
    assert "4 pages, 48 stations; print at 100 %" in done.err
    assert (here / "field-sheet.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("method", ["level", "laser", "water-level", "string", "steps", "spots"])
def test_json_says_what_was_made(run: Run, here: Path, method: str) -> None:
    done = run(
        "sheet",
        "--grid",
        "1.5,2",
        "--units",
        "m",
        "--cols",
        4,
        "--rows",
        3,
        "--method",
        method,
        "--json",
        "-o",
        "a.pdf",
    )
    assert (done.status, done.err) == (0, "")
    found = done.document
    assert found["written"] == ["a.pdf"]
    assert (found["method"], found["rows"], found["columns"]) == (method, 3, 4)
    assert found["spacing_m"] == [1.5, 2.0]
    assert found["pages"] == 2


def test_a_job_whose_notes_are_yet_to_be_taken(run: Run, here: Path) -> None:
    (here / "yard").mkdir()
    (here / "yard" / "job.toml").write_text(JOB)
    done = run("sheet", "yard/job.toml")
    assert done.status == 0
    assert done.out.splitlines()[0] == str(Path("yard") / "field-sheet.pdf")
    assert "[sheet-stops-short]" in done.out
    assert (here / "yard" / "field-sheet.pdf").exists()


@pytest.mark.parametrize(
    ("shots", "words"), [("98' 6\"", "feet and inches"), ("98.5", "feet"), ("none", "feet")]
)
def test_the_sheet_is_in_the_form_of_the_notes_that_are_there(
    run: Run, here: Path, monkeypatch: pytest.MonkeyPatch, shots: str, words: str
) -> None:
    """Also where they cannot be read: that is for the plan to tell."""
    made = []
    drawn = "gradework.drawings.field_sheet.sheet.draw_field_sheet"
    monkeypatch.setattr(drawn, lambda sheet: made.append(sheet) or [])
    monkeypatch.setattr("gradework.drawings.paper.pdf_of", lambda *_: b"%PDF-1.4")  # of no pages
    job = JOB.replace("not-there-yet", "yard").replace("grid = { spacing = 5 }\n", "")
    (here / "job.toml").write_text(job)
    rows = [f"S{i}{j},{8 * i},{8 * j},{shots}" for i in range(4) for j in range(4)]
    (here / "yard.csv").write_text("\n".join(["station,x,y,elevation", *rows, ""]))
    assert run("sheet", "job.toml", "--json").status == 0
    assert [sheet.show.unit_title for sheet in made] == [words]
    assert run("sheet", "job.toml", "--show", "tenths", "-f").status == 0
    assert made[-1].show.unit_title == "feet"


def test_an_earlier_sheet_is_renewed_unless_somebody_wrote_into_it(run: Run, here: Path) -> None:
    arguments = ("sheet", "--grid", "4ft", "--cols", 3, "--rows", 3)
    assert run(*arguments).status == 0
    assert run(*arguments, "--method", "laser").status == 0
    with (here / "field-sheet.pdf").open("ab") as stream:  # as a program does that adds a remark to a PDF
        stream.write(b"1 0 obj <</Type /Annot>> endobj\n%%EOF\n")
    done = run(*arguments)
    assert done.status == 74
    assert "Give another name with -o" in done.err


def test_a_file_that_stands_there_is_kept(run: Run, here: Path) -> None:
    (here / "field-sheet.pdf").write_bytes(b"mine")
    arguments = ("sheet", "--grid", "4ft", "--cols", 3, "--rows", 3)
    assert run(*arguments).status == 74
    assert (here / "field-sheet.pdf").read_bytes() == b"mine"
    assert run(*arguments, "--force").status == 0
    assert (here / "field-sheet.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "Give JOB, or --grid"),
        (("--grid", "4ft", "--cols", "3"), "no --rows here"),
        (("--grid", "4", "--cols", "3", "--rows", "3"), "has no unit"),
        (("--grid", "4ft,4ft,4ft", "--cols", "3", "--rows", "3"), "one spacing, or two"),
        (("--grid", "0ft", "--cols", "3", "--rows", "3"), "between 1 cm and 1 km"),
        (("--grid=-4ft", "--cols", "3", "--rows", "3"), "between 1 cm and 1 km"),
        (("--grid", "4ft", "--cols", "1", "--rows", "3"), "[sheet-grid-too-small]"),
        (("--grid", "4ft", "--cols", "99", "--rows", "99"), "[sheet-grid-too-large]"),
        (("--grid", "4ft", "--cols", "0", "--rows", "3"), "--cols"),
        (("--grid", "4ft", "--cols", "3", "--rows", "3", "--method", "guess"), "--method"),
        (("no-such-job.toml",), "[file-missing]"),
    ],
)
def test_wrong_use_and_bad_input_write_nothing(
    run: Run, here: Path, arguments: tuple[str, ...], said: str
) -> None:
    done = run("sheet", *arguments)
    assert (done.status, done.out) == (2, "")
    assert said in done.err
    assert list(here.iterdir()) == []


def test_metres_in_the_spacing_mean_a_metric_sheet(run: Run, here: Path) -> None:
    metric = run("sheet", "--grid", "150 cm", "--cols", 3, "--rows", 3, "-o", "metric.pdf", "--json").document
    assert metric["spacing_m"] == [1.5, 1.5]
    feet = run("sheet", "--grid", "5' 0\"", "--cols", 3, "--rows", 3, "-o", "feet.pdf", "--json").document
    assert feet["spacing_m"] == pytest.approx([1.524, 1.524])
