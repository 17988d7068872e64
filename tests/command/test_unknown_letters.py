"""Letters that the drawings cannot show are told once; the answer carries them whole."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

ROOT = Path(__file__).parents[2]
CODE = "[letters-not-drawn]"


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "site"
    shutil.copytree(ROOT / "data" / "spring-pump-house", folder)
    monkeypatch.setattr("gradework.library.figures._figures", lambda _: ({}, ()))
    monkeypatch.chdir(folder)  # short paths, as a builder types them: long ones take lines from the answer
    return folder


def rename(site: Path, file: str, old: str, new: str) -> None:
    text = (site / file).read_text("utf-8")
    assert old in text
    (site / file).write_text(text.replace(old, new), "utf-8")


@pytest.mark.parametrize("options", [(), ("--json",)])
def test_plan_tells_of_them(run: Run, site: Path, options: tuple[str, ...]) -> None:
    rename(site, "job.toml", "Spring pump house", "小屋 by the spring 🙂")
    rename(site, "shots.csv", "P31,", "家,")
    done = run("plan", "job.toml", "-o", "one", *options)
    assert done.status == 0
    assert "小屋 by the spring" in done.out
    assert CODE not in done.err
    kept = json.loads((site / "one" / "result.json").read_text("utf-8"))["findings"]
    assert [one["code"] for one in kept].count("letters-not-drawn") == 1
    if options:
        assert done.document["findings"] == kept
        return
    assert done.out.count(CODE) == 1
    assert "letters-not-drawn" in (site / "one" / "report.html").read_text("utf-8")
    whole = run("plan", "job.toml", "-o", "one", "--full")  # where the screen is full only its code is told
    assert "for 家 小 屋 🙂: it is not in their font" in " ".join(whole.out.split())
    quiet = run("plan", "job.toml", "-o", "two", "-q", *options)
    assert CODE not in quiet.out + quiet.err


def test_piers_have_names_too(run: Run, site: Path) -> None:
    with (site / "job.toml").open("a", encoding="utf-8") as job:
        job.write('\n[piers]\npositions = { "東" = [6, 5], "west" = [7.5, 5.5] }\n')
    short = run("plan", "job.toml").out
    assert "Empty box for 東" in short  # the screen is full: what follows is told by --full
    assert short.count(CODE) == 1
    whole = run("plan", "job.toml", "-o", "whole", "--full").out
    assert "for 東: it is not in their font" in " ".join(whole.split())


def test_setout_and_sheet_tell_of_them(run: Run, site: Path) -> None:
    with (site / "job.toml").open("a", encoding="utf-8") as job:
        job.write('\n[setout]\nmarks = { "門" = [0, 0], oak = [9, 0] }\n')
    done = run("setout", site / "job.toml", "-o", site / "out")
    assert done.status == 0
    assert "門" in done.out
    assert "for 門: it is not in their font" in " ".join(done.out.split())
    codes = [
        f["code"] for f in run("setout", site / "job.toml", "-o", site / "out", "--json").document["findings"]
    ]
    assert codes.count("letters-not-drawn") == 1
    done = run("sheet", "--grid", "4ft", "--cols", 4, "--rows", 4, "--ties", "門,oak", "-o", site / "a.pdf")
    assert done.status == 0
    assert "for 門: it is not in their font" in " ".join(done.out.split())


def test_nothing_is_said_where_all_letters_are_known(run: Run, site: Path) -> None:
    rename(site, "job.toml", "Spring pump house", "Wörterhäuschen Παράγκα сарай ½ ³")
    for arguments in (("plan", site / "job.toml"), ("setout", site / "job.toml", "-o", site / "out")):
        assert CODE not in run(*arguments).out
