"""`gradework batch`: a fault harms no other, done ones are kept, processes change no byte, Ctrl-C keeps."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from gradework.command import batch as work
from gradework.command import ending
from gradework.command.processes import done_of
from gradework.exchange.record import record
from gradework.library import figures
from gradework.library.results import table_files

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "batch.schema.json").read_text("utf-8"))


@pytest.fixture
def yards(tmp_path: Path, plane_job: bytes, plane_notes: bytes, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three jobs below a folder, the middle one broken; the last has a start."""
    for name in ("east", "lost", "north/far"):
        folder = tmp_path / "yards" / name
        folder.mkdir(parents=True)
        (folder / "yard.csv").write_bytes(plane_notes)
        (folder / "job.toml").write_bytes(plane_job.replace(b"Tool store", folder.name.encode()))
    (tmp_path / "yards/lost/yard.csv").unlink()
    with (tmp_path / "yards/north/far/job.toml").open("ab") as job:
        job.write(b"[days]\nstart = 2027-04-12\n")
    monkeypatch.chdir(tmp_path)
    return Path("yards")


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the jobs that were planned in this process, in order; nothing is drawn."""
    whole, seen = work.plan, list[str]()

    def seen_plan(job: Any, *notes: Any, **more: Any) -> Any:
        seen.append(job.name)
        return whole(job, *notes, **more)

    def undrawn(made: Any) -> Any:
        document = record(made)
        return table_files(made, document), document

    monkeypatch.setattr(work, "plan", seen_plan)
    monkeypatch.setattr(figures, "all_files", undrawn)
    return seen


def digests(folder: Path) -> dict[str, str]:
    """Every file below a folder by its digest."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_processes_change_no_byte_and_all_is_as_plan_writes_it(run: Callable[..., Any], yards: Path) -> None:
    assert run("batch", yards).status == 1
    made = digests(yards)
    assert run("batch", yards, "--workers", "2", "--again").status == 1
    assert digests(yards) == made
    assert run("plan", yards / "east", "-o", "alone").status == 0
    for one in ("report.html", "sheets.pdf", "order.csv", "stations.csv", "result.json"):
        assert (yards / "east/results" / one).read_bytes() == Path("alone", one).read_bytes()


def test_only_what_changed_is_planned(run: Callable[..., Any], yards: Path, planned: list[str]) -> None:
    first = run("batch", yards)
    assert first.status == 1
    assert planned == ["east", "far"]
    assert "3 jobs: 2 can be built as drawn, 1 with errors." in first.out
    assert "no such file" in first.out
    assert not (yards / "lost/results").exists()
    made = digests(yards)

    again = run("batch", yards)
    assert planned == ["east", "far"]
    assert "2 as planned before" in again.out
    assert digests(yards) == made

    with (yards / "east/yard.csv").open("a") as notes:
        notes.write("S99,15,15,18.5\n")
    assert run("batch", yards).status == 1
    assert planned == ["east", "far", "east"]
    changed = digests(yards)
    assert changed["yards/east/results/result.json"] != made["yards/east/results/result.json"]
    assert changed["yards/north/far/results/result.json"] == made["yards/north/far/results/result.json"]

    (yards / "east/results/order.csv").unlink()  # what is not whole any more is made again
    run("batch", yards)
    assert planned[3:] == ["east"]
    assert digests(yards) == changed
    run("batch", yards, "--again")
    assert planned[4:] == ["east", "far"]


def test_the_document_keeps_its_schema_and_adds_up(
    run: Callable[..., Any], yards: Path, planned: list[str]
) -> None:
    done = run("batch", yards, "--json", "--sort", "stops", "-o", "table")
    jsonschema.validate(done.document, SCHEMA)
    assert json.loads(Path("table/batch.json").read_text("utf-8")) == done.document
    jobs = {one["job"]: one for one in done.document["jobs"]}
    assert [Path(name).parent.name for name in jobs] == ["lost", "east", "far"]
    assert "[file-missing]" in jobs["yards/lost/job.toml"]["faults"][0]
    own = [
        json.loads((yards / name / "results/result.json").read_text("utf-8"))
        for name in ("east", "north/far")
    ]
    whole = sum(record["order_total"]["mass_kg"] for record in own)
    for rows in ("jobs", "deliveries", "order"):
        assert sum(one["mass_kg"] for one in done.document[rows]) == pytest.approx(whole)
    assert sum(one["loads"] for one in done.document["deliveries"]) == own[0]["order_total"]["loads"] * 2
    assert {one["day"] for one in done.document["deliveries"]} == {"", "2027-04-12"}
    page = Path("table/batch.html").read_text("utf-8")
    links = re.findall(r'href="([^"]*)"', page)
    assert sorted(links) == ["../yards/east/results/report.html", "../yards/north/far/results/report.html"]
    assert "[file-missing]" in page
    assert Path("table/batch.csv").read_text("utf-8-sig").count("\n") == 4
    stone = sum(line["quantity"] for line in own[0]["order"] if line["from"] == "quarry")
    added = [one for one in done.document["order"] if one["from"] == "quarry" and one["day"]]
    assert sum(one["quantity"] for one in added) == pytest.approx(stone)


def test_ctrl_c_keeps_what_is_done(
    run: Callable[..., Any], yards: Path, planned: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = work.plan

    def stopped(job: Any, *notes: Any, **more: Any) -> Any:
        if planned:
            raise KeyboardInterrupt
        return whole(job, *notes, **more)

    monkeypatch.setattr(work, "plan", stopped)
    monkeypatch.setattr(ending, "_interrupted", lambda _: 130)
    done = run("batch", yards)
    assert done.status == 130
    assert "1 not done yet" in done.out
    told = json.loads((yards / "batch/batch.json").read_text("utf-8"))
    assert told["stopped"]
    assert [one["outcome"] for one in told["jobs"]] == ["buildable", "fault", "not done"]
    monkeypatch.setattr(work, "plan", whole)
    assert "1 as planned before" in run("batch", yards).out
    assert planned == ["east", "far"]


class _Deadly:
    """A job that ends the process it comes to."""

    def __reduce__(self) -> tuple[Any, tuple[int]]:
        return os._exit, (3,)

    def __str__(self) -> str:
        return "deadly/job.toml"


def test_a_process_that_is_killed_harms_no_other_job(yards: Path) -> None:
    deadly: Any = _Deadly()
    tasks = [work.Task(deadly), work.Task(yards / "lost/job.toml")]
    told = {yard.job: yard.faults[0] for yard in done_of(work.do, tasks, 2, work._died)}
    assert "[batch-job-broke]" in told["deadly/job.toml"]
    assert "[file-missing]" in told["yards/lost/job.toml"]


def test_a_fault_of_ours_is_told_in_its_row(
    run: Callable[..., Any], yards: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any, **__: Any) -> Any:
        raise RuntimeError("bent")

    monkeypatch.setattr(work, "plan", broken)
    done = run("batch", yards / "east", "-q")
    assert done.status == 1
    assert "RuntimeError: bent" in done.out
    assert "[batch-job-broke]" in done.out


def test_files_that_are_not_ours_stay_and_named_jobs_have_results_of_their_own(
    run: Callable[..., Any], yards: Path, planned: list[str]
) -> None:
    (yards / "east/results").mkdir()
    (yards / "east/results/order.csv").write_text("mine")
    (yards / "east/job.toml").rename(yards / "east/shed.toml")
    (yards / "east/results-shed").mkdir()
    (yards / "east/results-shed/order.csv").write_text("mine")
    done = run("batch", yards / "east/shed.toml", "--json")
    assert done.status == 1
    assert "was not made by this program" in done.document["jobs"][0]["faults"][0]
    assert (yards / "east/results-shed/order.csv").read_text() == "mine"
    assert run("batch", yards / "east/shed.toml", "--force").status == 0
    assert (yards / "east/results/order.csv").read_text() == "mine"


def test_where_there_is_no_job_it_says_so(run: Callable[..., Any], tmp_path: Path) -> None:
    (tmp_path / ".hidden").mkdir()
    (tmp_path / ".hidden/job.toml").write_text("")
    done = run("batch", tmp_path)
    assert done.status == 2
    assert "[batch-no-job]" in done.err
    assert not (tmp_path / "batch").exists()


def test_a_folder_that_cannot_be_read_is_told_and_the_others_are_planned(
    run: Callable[..., Any], yards: Path, planned: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = os.scandir

    def barred(path: Any = ".") -> Any:
        if Path(path).name == "north":
            raise PermissionError(13, "Permission denied", str(path))
        return whole(path)

    monkeypatch.setattr(os, "scandir", barred)
    done = run("batch", yards, "--json")
    assert (done.status, planned) == (1, ["east"])
    rows = {one["job"]: one["faults"] for one in done.document["jobs"]}
    assert set(rows) == {"yards/east/job.toml", "yards/lost/job.toml", "yards/north"}
    assert "cannot be looked into (Permission denied)" in rows["yards/north"][0]
    alone = run("batch", yards / "north")
    assert (alone.status, alone.out) == (2, "")
    assert "[batch-barred]" in alone.err


def test_links_that_lead_in_circles_end_nowhere(
    run: Callable[..., Any], yards: Path, planned: list[str]
) -> None:
    (yards / "east/again").symlink_to("..", target_is_directory=True)
    (yards / "loop").mkdir()
    (yards / "loop/job.toml").symlink_to("job.toml")
    (yards / "twin").mkdir()
    (yards / "twin/job.toml").symlink_to("../east/job.toml")
    done = run("batch", yards, "--json")
    assert (done.status, planned) == (1, ["east", "far"])  # the twin is the same job
    told = {one["job"]: one["faults"] for one in done.document["jobs"]}
    assert len(told["yards/loop/job.toml"]) == 1
    assert "[batch-job-broke]" not in told["yards/loop/job.toml"][0]


def test_two_jobs_never_write_over_each_other(
    run: Callable[..., Any], yards: Path, planned: list[str]
) -> None:
    for name in ("shed.toml", "shed.txt"):
        (yards / "east" / name).write_bytes((yards / "east/job.toml").read_bytes())
    done = run("batch", yards / "east/shed.toml", yards / "east/shed.txt")
    assert (done.status, planned) == (2, [])
    assert "[batch-shared]" in done.err
    assert "shed.toml" in done.err


def test_the_table_does_not_take_the_place_of_results(
    run: Callable[..., Any], yards: Path, planned: list[str]
) -> None:
    run("batch", yards)
    made = digests(yards)
    done = run("batch", yards, "-o", yards / "north/../east/results")
    assert (done.status, done.out) == (2, "")
    assert "is where the results of yards/east/job.toml go" in done.err
    assert digests(yards) == made


def test_a_name_that_leads_nowhere_is_told_and_no_table_is_written(
    run: Callable[..., Any], yards: Path
) -> None:
    done = run("batch", "yars")
    assert (done.status, done.out) == (2, "")
    assert "yars: error: no such file" in done.err
    assert not Path("batch").exists()


def test_results_that_look_like_ours_but_are_not_are_made_anew(
    run: Callable[..., Any], yards: Path, planned: list[str]
) -> None:
    run("batch", yards / "east")
    results = yards / "east/results"
    manifest = json.loads((results / "manifest.json").read_text())
    for text in ("[]", "{}", "no JSON", '{"chosen": "pad", "options": 3}'):
        (results / "result.json").write_text(text)
        manifest["files"]["result.json"]["sha256"] = hashlib.sha256(text.encode()).hexdigest()
        (results / "manifest.json").write_text(json.dumps(manifest))
        assert run("batch", yards / "east").status == 0
    assert planned == ["east"] * 5


@pytest.mark.parametrize("words", [("",), (" ",), (".", "-o", ""), (".", "-o", "a\nb")])
def test_a_name_that_is_none_is_wrong_use(
    run: Callable[..., Any], yards: Path, words: tuple[str, ...]
) -> None:
    before = digests(yards)
    done = run("batch", *words)
    assert (done.status, done.out) == (2, "")
    assert "See 'gradework batch --help'" in done.err
    assert digests(yards) == before
