"""``plan NOTES --size``: an answer without a job, and the job that it stands for."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gradework.project.job.read import read_job

Run = Callable[..., Any]

DATA = Path(__file__).parents[2] / "data"
FOOT = 0.3048


@pytest.fixture
def yard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in, with the notes of the orchard."""
    monkeypatch.setattr("gradework.library.figures.drawing_files", lambda *_, **__: {})
    shutil.copy(DATA / "orchard-studio" / "yard.csv", tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


ASKED = ("plan", "yard.csv", "--size", "16,12", "--units", "ft", "--grid", "5")


def test_the_job_it_writes_gives_the_same_plan(run: Run, yard: Path) -> None:
    done = run(*ASKED, "--corner", "15,12", "--pad", "--json")
    assert done.status == 1, done.err  # water runs to walls of a pad there
    assert "[centred]" not in done.err
    again = run("plan", "results", "--dry-run", "--json")
    for table in ("pad", "footprint", "survey", "order"):
        assert again.document[table] == done.document[table]
    job = read_job((yard / "results" / "job.toml").read_bytes())
    assert job.building.size == pytest.approx((16 * FOOT, 12 * FOOT))
    assert job.building.corner == pytest.approx((15 * FOOT, 12 * FOOT))
    assert (job.survey.notes, job.asked) == ("../yard.csv", ("pad",))


def test_without_a_corner_it_stands_in_the_middle_and_says_so(run: Run, yard: Path) -> None:
    done = run(*ASKED, "--piers")
    assert done.status == 0, done.err
    assert len(done.out.splitlines()) <= 24
    assert "Centred on the survey, first corner at x 14.5 ft, y 11.5 ft." in " ".join(done.out.split())
    job = read_job((yard / "results" / "job.toml").read_bytes())
    # shots from 0 to 45 and 0 to 35 ft: the middle is at 22.5, 17.5
    assert job.building.corner == pytest.approx((14.5 * FOOT, 11.5 * FOOT), abs=1e-6)
    assert job.asked == ("piers",)
    # only into room that nothing else wants
    assert (
        len(done.out.splitlines()) == 24 or "Also     --pad or --slab to compare; [[site.near]]" in done.out
    )
    # a warning like any other: counted by the verdict, and in the record
    warnings = [line for line in done.out.splitlines() if line.startswith("warning: ")]
    record = json.loads((yard / "results" / "result.json").read_text("utf-8"))
    told = [one["code"] for one in record["findings"] if one["severity"] == "warning"]
    assert told.count("centred") == 1
    count = re.search(r"read the (?:(\d+) )?warnings?\.", " ".join(done.out.split()))
    assert count is not None
    assert int(count[1] or 1) == len(told) >= len(warnings) >= 1
    again = run(*ASKED, "--piers", "--dry-run", "--json", "-o", "again")
    assert [one["code"] for one in again.document["findings"]].count("centred") == 1
    turned = run(*ASKED, "--turn", "90", "--dry-run", "-o", "other")
    assert "x 28.5 ft, y 9.5 ft" in " ".join(turned.out.split())


def test_a_job_that_stands_there_is_never_replaced(run: Run, yard: Path) -> None:
    (yard / "results").mkdir()
    (yard / "results" / "job.toml").write_text("# mine\n")
    done = run(*ASKED, "--force")
    assert (done.status, done.out) == (74, "")
    assert "is there already and says something else" in done.err
    assert [path.name for path in (yard / "results").iterdir()] == ["job.toml"]
    assert (yard / "results" / "job.toml").read_text() == "# mine\n"
    assert run(*ASKED, "-o", "fresh").status == 1  # written, and the answer is no
    assert run(*ASKED, "-o", "fresh").status == 1  # the same job again
    kept = yard / "fresh" / "job.toml"
    kept.write_bytes(kept.read_bytes() + b"# mine\n")
    assert run("plan", "yard.csv", "--size", "15,12", *ASKED[4:], "-o", "fresh", "-f").status == 74
    # planning the job into its own folder leaves it there
    assert run("plan", "fresh", "-o", "fresh").status == 1
    assert (yard / "fresh" / "job.toml").exists()


def test_where_another_job_stands_a_dry_run_answers_all_the_same(run: Run, yard: Path) -> None:
    (yard / "results").mkdir()
    (yard / "results" / "job.toml").write_text("# mine\n")
    done = run(*ASKED, "--piers", "--dry-run")
    assert done.status == 0, done.err
    assert "block piers" in done.out.lower()
    assert [path.name for path in (yard / "results").iterdir()] == ["job.toml"]


def test_which_way_a_grid_runs_is_said(run: Run, yard: Path) -> None:
    told = run(*ASKED, "--piers", "--dry-run", "--json").document["findings"]
    (grid,) = [one for one in told if one["code"] == "grid-taken"]
    assert grid["advice"].startswith(
        "Letters are taken as rows along y, numbers along x, as the 16' 0\" side."
    )
    told = run(*ASKED, "--piers", "--turn", "30", "--dry-run", "--json").document["findings"]
    (grid,) = [one for one in told if one["code"] == "grid-taken"]
    assert grid["advice"].startswith("Letters are taken as rows along y, numbers along x. If yours")


def test_which_way_a_grid_runs_is_not_said_of_notes_that_say_where_stations_stand(
    run: Run, yard: Path
) -> None:
    """The orchard with its letters along x, written down with x and y; and as a grid with x on top."""
    shots = [line.split(",")[:2] for line in (yard / "yard.csv").read_text("utf-8").splitlines()[1:] if line]
    placed = {(5 * (ord(name[0]) - 65), 5 * (int(name[1:]) - 1)): (name, z) for name, z in shots if z}
    rows = [f"{name},{x},{y},{z}" for (x, y), (name, z) in placed.items()]
    across, along = (sorted({place[i] for place in placed}) for i in (0, 1))
    top = ["," + ",".join(map(str, across))]
    drawn = [f"{y}," + ",".join(placed.get((x, y), ("", ""))[1] for x in across) for y in along]
    for text in ("\n".join(["station,x,y,elevation", *rows]), "\n".join(top + drawn)):
        (yard / "yard.csv").write_text(text + "\n")
        done = run(*ASKED, "--piers", "--dry-run", "--json")
        codes = [one["code"] for one in done.document["findings"]]
        assert "centred" in codes
        assert "grid-taken" not in codes


def test_several_foundations_are_compared(run: Run, yard: Path) -> None:
    done = run(*ASKED, "--pad", "--piers", "--slab", "--json", "-n")
    assert len(done.document["comparison"]["options"]) == 3


def test_readings_of_a_level_with_a_known_mark(run: Run, yard: Path) -> None:
    rows = [f"{letter}{c},,{4 + 0.1 * c:.2f}," for letter in "ABCDE" for c in range(1, 7)]
    (yard / "book.csv").write_text("station,BS,IS,FS\nBM 1,4.00,,\n" + "\n".join(rows) + "\nBM 1,,,4.00\n")
    done = run(
        *(
            "plan",
            "book.csv",
            "--size",
            "8,6",
            "--units",
            "ft",
            "--grid",
            "5",
            "--known",
            "BM 1=200",
            "--json",
        )
    )
    assert done.status == 1, done.err  # level ground sheds no water
    assert done.document["survey"]["high"]["elevation_m"] == pytest.approx(199.9 * FOOT)
    again = run("plan", "results", "--dry-run", "--json").document
    assert again["pad"]["level_m"] == done.document["pad"]["level_m"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("yard.csv",), "--size with notes, such as --size 16,12"),
        (
            ("yard.csv", "--size", "16,12", "--units", "cm", "--grid", "500"),
            "--size: error: 160 mm by 120 mm; expected a",
        ),
        (
            ("yard.csv", "--size", "16,1200", "--units", "ft", "--grid", "5"),
            "--size: error: 1200; expected at most 328 ft",
        ),
        (("job.toml", "--size", "16,12"), "a job says the size itself"),
        (("job.toml", "--corner", "16,12"), "--corner with notes and --size"),
        (("yard.csv", "--size", "16"), "is not two sides: along and across"),
        (
            ("yard.csv", "--size", "16,12", "--units", "ft", "--grid", "5", "--corner", "500,500"),
            "--corner: error",
        ),
        (("yard.csv", "--size", "16,12", "--units", "ft", "--grid", "5", "--level", "low"), "--level"),
    ],
)
def test_what_does_not_fit_is_told_of_the_option(
    run: Run, yard: Path, words: tuple[str, ...], says: str
) -> None:
    shutil.copy(DATA / "orchard-studio" / "job.toml", yard)
    done = run("plan", *words)
    assert (done.status, done.out) == (2, "")
    assert says in done.err
    assert not (yard / "results").exists()


def test_other_options_replace_a_job_that_nobody_changed(run: Run, yard: Path) -> None:
    """He follows the answer's advice, adds --piers and runs it again."""
    first = run(*ASKED, "--pad")
    assert "add --piers to the command" in " ".join(first.out.split())
    written = yard / "results" / "job.toml"
    pad = written.read_bytes()
    assert run(*ASKED, "--piers").status == 0
    assert read_job(written.read_bytes()).asked == ("piers",)
    for changed in (pad.replace(b"[pad]", b"[slab]"), pad + b"# mine\n", pad[:-1], b"", pad[5:]):
        written.write_bytes(changed)
        assert run(*ASKED, "--piers").status == 74
        assert written.read_bytes() == changed
    written.unlink()
    written.symlink_to(yard / "yard.csv")
    assert run(*ASKED, "--piers").status == 74
