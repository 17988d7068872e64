"""``gradework asbuilt``: the exit status is the answer, the words say what to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
DEMO = Path(__file__).parents[2] / "data" / "orchard-studio"
JOB, TOPS = DEMO / "job.toml", DEMO / "tops.csv"
HOLES = (DEMO / "holes.csv").read_text("utf-8")


@pytest.fixture
def level(tmp_path: Path) -> Path:
    """The demo's readings with both slips put right."""
    mended = TOPS.read_text("utf-8").replace("6.52", "6.46").replace("6.41", "6.46")
    (tmp_path / "level.csv").write_text(mended, "utf-8")
    return tmp_path / "level.csv"


def test_the_demo_has_one_low_and_one_high_pier(run: Run) -> None:
    ended = run("asbuilt", JOB, TOPS)
    assert ended.status == 1
    flat = " ".join(ended.out.split())
    assert "Not yet." in flat
    assert "2 of 8 to rework" in flat
    assert "shim it up" in flat
    assert "leave out one 2 in solid block: bed 1 in thicker" in flat
    assert "[asbuilt-not-level]" in ended.out
    assert "Neighboring tops may differ by 0.02 ft (1/4 in)" in flat  # a job in feet
    assert "ighbour" not in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80


def test_how_far_a_top_is_off_has_the_form_of_its_elevation(run: Run) -> None:
    """Read in tenths it is 0.06 ft low, as 101.48 for 101.54; what is shimmed is a thickness, in inches."""
    measured = ("--sides", "16,12,16,12", "--diagonals", "20,20.05")
    for show, row, corners in (
        (
            "tenths",
            ("1-3", "101.48", "0.06 ft low", "0.06 ft low"),
            "20.05 ft differ by 0.05 ft; 0.02 ft (1/4 in)",
        ),
        (
            "inches",
            ("1-3", "101' 5 3/4\"", "11/16 in low", "11/16 in low"),
            "20' 0 5/8\" differ by 5/8 in; 1/4 in",
        ),
    ):
        told = run("asbuilt", JOB, TOPS, "--show", show, *measured).out
        flat = " ".join(told.split())
        assert f"{' '.join(row)} shim it up 11/16 in" in flat
        assert corners in flat
        differ = re.findall(r"(?:is|differ by) ([\d./ ]+ (?:ft|in))\b", flat)
        assert len(differ) >= 6
        assert {text[-2:] for text in differ} == {"ft" if show == "tenths" else "in"}


def test_readings_on_no_mark_are_told_what_does_help(run: Run, tmp_path: Path) -> None:
    """A laser reads no mark, so --known cannot name one: the height of its plane can be given."""
    plain = [f"{row},{rod}" for row, rod in re.findall(r"^(pier [12]-\d),,(\d.\d\d)", HOLES, re.MULTILINE)]
    (tmp_path / "rods.csv").write_text("\n".join(["station,rod", *plain, ""]), "utf-8")
    refused = run("asbuilt", JOB, tmp_path / "rods.csv", "--stage", "dug")
    assert refused.status == 2
    assert "--known" in refused.err
    assert "--hi" in refused.err
    told = run("asbuilt", JOB, tmp_path / "rods.csv", "--stage", "dug", "--hi", "108.00")
    assert "Holes as dug" in told.out
    assert told.err == ""


def test_level_and_square_passes(run: Run, level: Path) -> None:
    ended = run("asbuilt", JOB, level, "--sides", "16,12,16,12", "--diagonals", "20,20.01")
    assert ended.status == 0
    assert "Pass: level and square within what is allowed." in ended.out


def test_out_of_square_does_not_pass(run: Run, level: Path) -> None:
    ended = run("asbuilt", JOB, level, "--sides", "16,12,16,12", "--diagonals", "20.03,19.97", "--json")
    assert ended.status == 1
    document = ended.document
    assert not document["passed"]
    assert document["square"]["difference_m"] == pytest.approx(0.06 * 0.3048)
    assert document["square"]["moves"]
    assert all(top["rework"] is False for top in document["tops"])


def test_json_has_every_top_against_plan_and_best(run: Run) -> None:
    document = run("asbuilt", JOB, TOPS, "--json").document
    assert document["foundation"] == "piers"
    tops = {top["name"]: top for top in document["tops"]}
    assert len(tops) == 8
    # BM 103.46 + 4.54 - 6.52 = 101.48 ft
    assert tops["1-3"]["elevation_m"] == pytest.approx(101.48 * 0.3048)
    assert tops["1-3"]["above_plan_m"] == pytest.approx(101.48 * 0.3048 - document["planned_m"])
    assert [name for name, top in tops.items() if top["rework"]] == ["1-3", "2-2"]


def test_a_wider_tolerance_lets_it_pass(run: Run) -> None:
    assert run("asbuilt", JOB, TOPS, "--tolerance", "2 in").status == 0


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--sides", "16,12,16,12"), "--diagonals together"),
        (("--sides", "16,12,16", "--diagonals", "20,20"), "--sides"),
        (("--tolerance", "0 in"), "--tolerance"),
        (("--tolerance", "much"), "--tolerance"),
        (("--known", "BM"), "--known"),
    ],
)
def test_wrong_use_is_told(run: Run, options: tuple[str, ...], says: str) -> None:
    ended = run("asbuilt", JOB, TOPS, *options)
    assert ended.status == 2
    assert says in ended.err


def test_readings_that_cannot_be_read_end_with_two(run: Run, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("station,BS,IS,FS\nBM,4.54,,\npier 1-1,,six,\n", "utf-8")
    ended = run("asbuilt", JOB, bad)
    assert ended.status == 2
    assert "bad.csv:3" in ended.err


def test_impossible_lengths_end_with_two(run: Run, level: Path) -> None:
    ended = run("asbuilt", JOB, level, "--sides", "16,12,16,12", "--diagonals", "40,20")
    assert ended.status == 2
    assert "[asbuilt-lengths]" in ended.err
    assert "no four corners have; expected four sides near 16' 0\"" in ended.err
    near = run("asbuilt", JOB, level, "--sides", "16,12,16,12", "--diagonals", "26,20")
    assert near.status == 2
    off = re.search(r"no four corners have: off by (?:(\d+)' )?([\d /]+)\"; expected", near.err)
    assert off is not None, near.err


def test_the_words_of_our_own_pier_table_head_the_readings(run: Run, tmp_path: Path) -> None:
    text = (DEMO / "holes.csv").read_text("utf-8")
    (tmp_path / "holes.csv").write_text(text.replace("station,", "pier,").replace("pier 1-", "1-"), "utf-8")
    asked = ("--stage", "dug", "--json")
    own = run("asbuilt", JOB, tmp_path / "holes.csv", *asked).document
    assert own["piers"] == run("asbuilt", JOB, DEMO / "holes.csv", *asked).document["piers"]


def test_stages_tell_what_to_build_on_what_was_dug(run: Run) -> None:
    dug = run("asbuilt", JOB, DEMO / "holes.csv", "--stage", "dug")
    assert dug.status == 1
    assert "Holes as dug: the top stays" in dug.out
    assert "[asdug-shallow]" in dug.out
    bed = run("asbuilt", JOB, DEMO / "beds.csv", "--stage", "bed", "--first", DEMO / "holes.csv", "--json")
    assert (bed.status, bed.document["stage"], bed.document["buy"]) == (1, "bed", [])
    later = run("asbuilt", JOB, DEMO / "spring.csv", "--stage", "later", "--first", TOPS, "--json")
    assert (later.status, later.document["stage"]) == (1, "later")
    assert run("asbuilt", JOB, TOPS, "--stage", "later", "--first", TOPS).status == 0


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--stage", "later"), "--first tops.csv"),
        (("--first", TOPS), "--first goes with --stage bed or --stage later only"),
        (("--rock", "1-1"), "--rock goes with --stage dug only"),
        (("--stage", "dug", "--rock", "9-9"), "no pier"),
        (("--stage", "dug", "--sides", "1,2,3,4"), "--sides goes with"),
    ],
)
def test_options_of_other_stages_are_refused(run: Run, options: tuple[str, ...], says: str) -> None:
    ended = run("asbuilt", JOB, DEMO / "holes.csv", *options)
    assert ended.status == 2
    assert says in " ".join(ended.err.split())
