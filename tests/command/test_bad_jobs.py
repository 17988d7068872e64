"""Bad and odd jobs through the whole command: each is refused at its line, or planned with a word about it.

The numbers are those of the project's list of bad input: units and numbers 47 to 60, job files 61 to 71,
geometry 72 to 84.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

SITE = Path(__file__).parents[2] / "data" / "spring-pump-house"
JOB = """\
name = "Pump house"
units = "m"
[survey]
notes = "shots.csv"
[building]
size = [3.0, 2.4]
corner = [5.2, 4.4]
"""
RECTANGLE = "size = [3.0, 2.4]\ncorner = [5.2, 4.4]\n"


@pytest.fixture
def plan(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """Plan a job beside the demo's shots; nothing is drawn or written."""
    monkeypatch.setattr("gradework.library.figures._figures", lambda _: ({}, ()))
    shutil.copy(SITE / "shots.csv", tmp_path)

    def call(text: str | bytes, *arguments: str) -> Any:
        (tmp_path / "job.toml").write_bytes(text.encode() if isinstance(text, str) else text)
        done = run("plan", tmp_path / "job.toml", "--dry-run", "--full", *arguments)
        assert "Traceback" not in done.err
        return done

    return call


def outline(corners: str) -> str:
    return JOB.replace(RECTANGLE, f"outline = {corners}\n")


REFUSED: list[tuple[int, str | bytes, str, str, int]] = [  # row, job, code, words, line
    (47, JOB.replace('units = "m"\n', ""), "job-missing-key", "units", 1),
    (53, JOB + '[pad]\ngravel = "0 mm"\n', "job-value", "above zero", 9),
    (53, JOB + '[pad]\nstrip = "-10 mm"\n', "job-value", "zero or more", 9),
    (53, JOB + '[pad]\ngravel = "4"\n', "job-length", "has no unit", 9),
    (53, JOB + "[pad]\ngravel = 4\n", "job-length", "has no unit", 9),
    (53, JOB + '[pad]\ngravel = "1e6 in"\n', "job-out-of-range", "at most 2 m", 9),
    (53, JOB + '[pad]\nstrip = "1e9 mm"\n', "job-out-of-range", "at most 2 m", 9),
    (54, JOB + '[supplier]\nwaste = "60 %"\n', "job-value", "0 % to 50 %", 9),
    (54, JOB + '[supplier]\nmoisture = "60 %"\n', "job-value", "0 % to 25 %", 9),
    (  # 1.25 t/m³ is a loose figure
        54,
        JOB + '[supplier]\ndensity = { "crusher run" = "1.25 tonnes/m3" }\n',
        "job-value",
        "1916 to 2430 kg/m³",
        9,
    ),
    (
        54,
        JOB + '[supplier]\ndensity = { "crusher run" = "2250" }\n',
        "job-value",
        "has no unit",
        9,
    ),
    (54, JOB + "[supplier]\ndensity = 2250\n", "job-value", 'such as "crusher run" = ', 9),
    (54, JOB + '[supplier]\ndensity = { granite = "2250 kg/m3" }\n', "job-value", "dense-graded", 9),
    (
        54,
        JOB + '[supplier]\ndensity = { "crusher run" = "2250 kg/m3", "dga" = "2200 kg/m3" }\n',
        "job-value",
        "twice",
        9,
    ),
    (54, JOB + "[soil]\nswell = 25\n", "job-value", "1.045 to 1.575", 9),
    (54, JOB + "[soil]\nswell = 0.25\n", "job-value", "1.25 for a quarter more", 9),
    (54, JOB + "[soil]\ncompaction = 0.1\n", "job-value", "0.76 to 1.365", 9),
    (54, JOB + '[soil]\ncompaction = "10 %"\n', "job-value", "0.9 for compaction", 9),
    (55, JOB + '[supplier]\nsold_by = "tons"\n', "job-value", "did you mean 'tonnes'?", 9),
    (55, JOB + '[prices]\ngravel = "38 per ton"\n', "job-value", "tonne", 9),
    (56, JOB + "[supplier]\nwaste = 0.1\n", "job-value", "percent sign", 9),
    (56, JOB + '[supplier]\nwaste = "0.1"\n', "job-value", "no percent sign", 9),
    (56, JOB + '[supplier]\nwaste = "0.1 %"\n', "job-value", 'write "10 %" if', 9),
    (56, JOB + '[supplier]\nwaste = "0.9 %"\n', "job-value", 'write "1 %" if', 9),
    (56, JOB + '[slab]\nwaste = "0.08 %"\n', "job-value", 'write "8 %" if', 9),
    (
        53,
        JOB + '[slab]\n\nbase = "6 ft"\n',
        "slab-spec-impossible",
        'expected 0 m (0") to 1 m (3\' 3 3/8")',
        10,
    ),
    (53, JOB + '[slab]\nstrip = "1 in"\nthickness = "2 m"\n', "slab-spec-impossible", "of 2 m (6' 6", 10),
    (54, JOB + '[slab]\nwaste = "60 %"\n', "job-value", "0 % to 50 %", 9),
    (57, JOB + "[pad]\nlevel = " + "9" * 5000 + "\n", "job-value", "digits", 9),
    (61, JOB + "[pad\n", "job-syntax", "[pad^", 8),
    (61, JOB + '[pad]\nstrip = "4 in"\nstrip = "5 in"\n', "job-syntax", "^", 10),
    (64, JOB + '[pad]\nmargn = "1 ft"\n', "job-unknown-key", "did you mean margin?", 9),
    (65, JOB.replace("[3.0, 2.4]", '["12", "x"]'), "job-length", "'12'", 6),
    (66, JOB.replace("[3.0, 2.4]", "[nan, 2]"), "job-value", "nan", 6),
    (66, JOB + "[pad]\nlevel = inf\n", "job-value", "inf", 9),
    (68, JOB + "#" * 2**20, "file-too-large", "1 MB", 0),
    (69, JOB + "grid = { spacing = 5,\n  turn = 0 }\n", "job-", "job.toml:8", 8),
    (71, JOB.replace("shots.csv", "../../../../../../etc/hostname"), "notes-no-header", "hostname", 1),
    (73, outline("[[1, 1], [8, 8], [8, 1], [1, 8]]"), "outline-crosses-itself", "x 4.50 m, y 4.50 m", 5),
    (74, outline("[]"), "job-value", "a list of 0; expected a list of at least 3", 6),
    (74, outline("[[1, 1], [4, 4]]"), "job-value", "a list of 2; expected a list of at least 3", 6),
    (74, outline("[[1, 1], [4, 4], [8, 8, 8]]"), "job-value", "a list of 3; expected a list of 2", 6),
    (74, outline("[[1, 1], [4, 4], [8]]"), "job-value", "a list of 1; expected a list of 2", 6),
    (74, outline("[[1, 1], [4, 4], [8, 8]]"), "outline-no-area", "on one line", 5),
    (74, outline("[[1, 1], [8, 1], [8, 1]]"), "outline-too-few-corners", "2 different corners", 5),
    (
        74,
        outline("[[2, 2], [7, 2], [7, 7], [4, 7], [4, 8.5], [4, 7], [2, 7]]"),
        "outline-spike",
        "y 8.50 m",
        5,
    ),
    (72, JOB.replace("corner = [5.2", "corner = [10.2"), "outline-outside-survey", "no surveyed ground", 5),
    (76, JOB.replace("corner = [5.2", "corner = [905.2"), "outline-far-from-survey", "toward +x", 5),
    (
        72,
        JOB.replace("corner = [5.2", "corner = [10.2") + "[pad]\n",
        "outline-outside",
        "its margin of 300 mm",
        8,
    ),
    (52, JOB + "[pad]\nlevel = 0.6\n", "level-far-from-ground", "below the lowest ground", 9),
    (61, JOB + '[pad]\nlevel = "least cost"\n', "pad-prices-missing", "no price for dig", 9),
]


@pytest.mark.parametrize(
    ("row", "text", "code", "words", "line"),
    REFUSED,
    ids=[f"{number}-row{case[0]}" for number, case in enumerate(REFUSED)],
)
def test_refused_with_code_place_and_mend(
    plan: Callable[..., Any], row: int, text: str | bytes, code: str, words: str, line: int
) -> None:
    done = plan(text)
    assert (done.status, done.out) == (2, ""), row
    place = f":{line}:" if line else "job.toml: error"
    told = [one for one in done.err.splitlines() if place in one and f"[{code}" in one]
    assert any(words in one for one in told), done.err
    assert all(len(one) < 500 for one in told)


TAKEN: list[tuple[int, str | bytes, str]] = [  # row, job, words in the summary
    (62, ("\ufeff" + JOB).encode(), "The pad"),
    (58, JOB.replace("5.2, 4.4", '"5.2 m", "14 ft 5 1/4 in"'), "The pad"),
    (53, JOB + '[pad]\ngravel = "1.6 m"\n', "[pad-gravel-deep]"),
    (72, outline("[[2, 2], [2, 7], [5, 7], [5, 5], [7, 5], [7, 2], [2, 2]]"), "The pad"),  # clockwise, closed
]


@pytest.mark.parametrize(("row", "text", "words"), TAKEN, ids=[f"row{case[0]}" for case in TAKEN])
def test_taken_and_told(plan: Callable[..., Any], row: int, text: str | bytes, words: str) -> None:
    done = plan(text)
    assert done.status in (0, 1), (row, done.err)
    assert words in done.out
    assert max(map(len, done.out.splitlines())) <= 80
    assert not re.search(r"-0\.0+(?!\d)", done.out)


def checkerboard(half: float) -> str:
    """A lettered grid at 1 m whose shots stand ``half`` above and below 50 m in turn."""
    marks = [(i, j) for i in range(12) for j in range(12)]
    rows = [f"{'ABCDEFGHIJKL'[i]}{j + 1},{50 + half * (-1) ** (i + j)}" for i, j in marks]
    return "station,elevation\n" + "\n".join(rows) + "\n"


def test_row_81_the_band_of_a_grid_is_printed(plan: Callable[..., Any], tmp_path: Path) -> None:
    job = JOB.replace("[building]", "grid = { spacing = 1 }\n[building]") + '[pad]\nmargin = "0 mm"\n'
    job = job.replace("corner = [5.2, 4.4]", "corner = [4, 4]").replace("[3.0, 2.4]", "[3, 2]")
    # six whole squares of 1 m², their diagonals 2 x half apart: 6 x 2 x half / 6 m³ either way
    for half, severe in ((0.03, False), (0.2, True)):
        (tmp_path / "shots.csv").write_text(checkerboard(half))
        said = plan(job)
        document = plan(job, "--json").document
        assert document["pad"]["gravel_doubt_m3"] == pytest.approx(2 * half)
        found = [f for f in document["findings"] if f["code"] == "volume-in-doubt"]
        assert [f["severity"] for f in found] == (["warning"] if severe else [])
        assert ("[volume-in-doubt]" in said.out) == severe
        for one in found:
            assert one["value"] == pytest.approx(2 * half)
            assert one["limit"] == pytest.approx(document["pad"]["gravel_m3"] / 10)
            assert one["where"] == "x 4.50 m, y 4.50 m"
    (tmp_path / "shots.csv").write_text(checkerboard(0.0))
    assert "+/-" not in plan(job).out


def test_row_60_orders_are_rounded_up_to_what_is_sold(plan: Callable[..., Any]) -> None:
    for (
        words,
        step,
    ) in (("half tonnes", 0.5), ("tonnes", 1.0), ("bulk bags", 1.0), ("25 kg bags", 1.0)):
        done = plan(JOB + f'[supplier]\nsold_by = "{words}"\n', "--json", "--anyway")
        stone = done.document["order"][0]
        assert stone["quantity"] % step == 0
        assert stone["needed"] <= stone["quantity"] < stone["needed"] + step


def test_row_82_a_gap_under_the_pad_says_where_to_shoot(plan: Callable[..., Any], tmp_path: Path) -> None:
    rows = [f"S{i}{j},{i},{j},{50 - 0.05 * i}" for i in range(6) for j in range(6)]
    rows += [f"T{i}{j},{15 + i},{j},{49 - 0.05 * i}" for i in range(6) for j in range(6)]
    (tmp_path / "shots.csv").write_text("station,x,y,elevation\n" + "\n".join(rows) + "\n")
    done = plan(JOB.replace("[5.2, 4.4]", "[8, 1]"), "--json")
    found = [f for f in done.document["findings"] if f["code"] == "gap-under-outline"]
    assert found
    assert all("Take one more shot at" in f["advice"] for f in found)


def test_rows_59_and_84_flat_ground_at_the_level(plan: Callable[..., Any], tmp_path: Path) -> None:
    rows = [f"S{i}{j},{3 * i},{3 * j},50" for i in range(6) for j in range(6)]
    (tmp_path / "shots.csv").write_text("station,x,y,elevation\n" + "\n".join(rows) + "\n")
    done = plan(JOB + "[pad]\nlevel = 50\n")
    assert done.status == 1, done.err
    assert "nearly level" in done.out
    assert "[flat-site]" in done.out
    document = plan(JOB + "[pad]\nlevel = 50\n", "--json").document
    stops = {one["code"] for one in document["findings"] if one["severity"] == "stop"}
    assert stops == {"drainage-falls-too-little"}  # level ground sheds no water
    pad = document["pad"]
    assert [str(pad[key]) for key in ("cut_m3", "fill_m3")] == ["0.0", "0.0"]
    # the strip comes off and the least gravel goes in, whatever the level
    assert pad["excavation_m3"] == pytest.approx(0.1 * pad["area_m2"])
    assert pad["gravel_m3"] == pytest.approx(0.1 * pad["area_m2"])
