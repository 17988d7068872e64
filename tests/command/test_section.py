"""`gradework section`: the answer, the table, the drawing, the record, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "section.schema.json").read_text("utf-8"))
TERRACE = ROOT / "data" / "terrace-yard"
Run = Callable[..., Any]


def rows_of(folder: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((folder / "section.csv").read_text("utf-8-sig"))))


def test_the_page_shows_what_it_says_and_the_record_keeps_its_schema(run: Run, tmp_path: Path) -> None:
    page = (ROOT / "docs" / "commands" / "section.md").read_text("utf-8")
    shown = re.search(r"```text\n(Terrace yard: .*?)```", page, re.DOTALL)
    assert shown is not None
    asked = ("section", TERRACE, "--from", "A4", "--to", "H4", "-o", tmp_path / "out")
    done = run(*asked)
    assert done.status == 0
    assert done.out.startswith(shown[1])
    assert (tmp_path / "out" / "section.pdf").read_bytes().startswith(b"%PDF")
    document = run(*asked, "--json").document
    jsonschema.validate(document, SCHEMA)
    assert document["foundation"] == "pad"
    assert [one["station"] for one in document["stations"]][::7] == ["A4", "H4"]
    told = {
        (round(float(row["distance SI (m)"]), 6), row["ground SI (m)"]) for row in rows_of(tmp_path / "out")
    }
    points = {(round(one["distance_m"], 6), str(one["ground_m"])) for one in document["points"]}
    assert len(points & told) > 0.9 * len(points)  # the table has even distances besides


def test_without_a_plan_it_is_the_surveyed_ground_in_the_unit_asked_for(run: Run, tmp_path: Path) -> None:
    asked = ("section", TERRACE, "--from", "A4", "--to", "H4", "--surveyed", "--every", "7")
    done = run(*asked, "-o", tmp_path / "out", "--show", "m")
    assert done.status == 0
    assert "finished" not in done.out
    rows = rows_of(tmp_path / "out")
    assert "finished (m)" not in rows[0]
    at = np.array([float(row["distance SI (m)"]) for row in rows])
    for even in 7 * 0.3048 * np.arange(8):
        assert np.abs(at - even).min() < 1e-6
    assert (rows[0]["station"], rows[-1]["station"]) == ("A4", "H4")
    assert float(rows[-1]["ground (m)"]) == pytest.approx(float(rows[-1]["ground SI (m)"]), abs=1e-4)
    quiet = run(*asked, "-o", tmp_path / "out", "-q", "--force")
    assert quiet.out.count("\n") <= 3
    assert run(*asked, "-o", tmp_path / "out", "--json").document["foundation"] is None


def test_both_ends_are_refused_at_once_and_nothing_is_written(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run("section", TERRACE, "--from", "Z9", "--to", "1,2,3", "--surveyed", "-o", out)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith("--from: error: Z9, which is no station")
    assert "--to: error: 1,2,3, which" in done.err
    assert done.err.count("[section-end-unknown]") == 2
    for last, code in (("A4", "section-no-length"), ("900,900", "")):
        first = "A4" if code else "800,800"
        done = run("section", TERRACE, "--from", first, "--to", last, "--surveyed", "-o", out)
        assert done.status == 2
        assert f"[{code or 'section-off-survey'}]" in done.err
    for wrong in ("0", "-3", "0.001", "nan"):
        line = ("--from", "A4", "--to", "H4", "--surveyed")
        assert run("section", TERRACE, *line, "--every", wrong, "-o", out).status == 2
    both = ("--surveyed", "--foundation", "pad")
    assert run("section", TERRACE, "--from", "A4", "--to", "H4", *both, "-o", out).status == 2
    assert not out.exists()
