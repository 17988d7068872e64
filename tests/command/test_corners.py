"""``corners``: four drops to piers, on one screen and one sheet."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from gradework.errors import Finding
from gradework.project.corners import Measured, plan_corners
from gradework.report.corners import corners_text
from gradework.units.display import FEET

Run = Callable[..., Any]
DROPS = ("--drops", "0, 4 1/2, 13, 9")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_one_screen_says_back_what_was_understood(run: Run, here: Path) -> None:
    done = run("corners", "12x8", *DROPS)
    assert (done.status, done.err) == (0, "")
    lines = done.out.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    flat = " ".join(done.out.split())
    assert flat.startswith(
        "12 ft x 8 ft, drops in inches: block piers can be built, if the ground is firm, was never "
        "filled and suits the ground anchors, and if skids and joists are treated for ground contact. All "
        "tops "
    )
    named = [name for line in lines for name in re.findall(r"^ +([12]-\d)(?: to ([12]-\d))?", line)]
    # 4x4 skids carry piers some 3 ft apart, so five to a row; piers of one stack share a line
    told = [(first, last or first) for first, last in named]
    assert told[0][0] == "1-1"
    more = re.search(r"^ +(\d+) more piers? ", done.out, re.MULTILINE)
    count = sum(int(last[2]) - int(first[2]) + 1 for first, last in told)
    assert count + (int(more[1]) if more else 0) == 10
    assert count >= 6
    for words in (
        "8 in hollow block",
        "crushed stone",
        "where water runs",
        "corners 1-2: 12 ft, 2-3: 8 ft",
        "12 in beyond",
    ):
        assert words in flat
    assert {p.name for p in (here / "corners").iterdir()} == {
        *("corners.pdf", "corners.txt", "order.csv", "result.json", "manifest.json")
    }
    pdf = (here / "corners" / "corners.pdf").read_bytes()
    assert pdf.startswith(b"%PDF")
    assert pdf.count(b"/Type /Page ") + pdf.count(b"/Type /Page\n") <= 1
    assert run("corners", "12x8", *DROPS).status == 0  # ours, so it may be replaced


def test_holes_are_told_by_their_own_sizes(run: Run, here: Path) -> None:
    """A double pier needs a wider hole: one size for all would leave no room for its blocks."""
    done = run("corners", "12x8", *DROPS)
    record = json.loads((here / "corners" / "result.json").read_text("utf-8"))
    sizes = Counter((one["hole_along_m"], one["hole_across_m"]) for one in record["piers"]["piers"])
    assert len(sizes) == 2
    flat = " ".join(done.out.split())
    for (along, across), count in sizes.items():
        assert f"{count} of {FEET.depth(along)} x {FEET.depth(across)}" in flat


@pytest.mark.parametrize(
    ("size", "drops", "options"),
    [
        ("12,8", "0, 4 1/2, 13, 9", ()),
        ("12 ft x 8 ft", "0 in, 11.43 cm, 13 in, 0.75 ft", ()),
        ("144 x 96", "0, 4 1/2, 13, 9", ("--units", "in")),
    ],
)
def test_a_unit_that_is_written_wins(run: Run, size: str, drops: str, options: tuple[str, ...]) -> None:
    told = run("corners", size, "--drops", drops, "-n", *options).out
    usual = run("corners", "12x8", *DROPS, "-n").out
    assert told.splitlines()[1:10] == usual.splitlines()[1:10]  # a size in inches says lengths in them, too


def test_metric_drops_are_in_centimetres(run: Run, here: Path) -> None:
    done = run("corners", "3.6x2.4", "--units", "m", "--drops", "0, 12, 33, 24", "-n")
    assert done.out.startswith("3.6 m x 2.4 m, drops in cm: block piers can be built, if")
    same = run("corners", "3.6x2.4m", "--drops", "0, 120 mm, 33, 0.24 m", "-n")
    assert same.out == done.out
    assert "  100 mm dense, 140 mm dense" in done.out  # what all end in stands in the heading alone
    run("corners", "3.6x2.4", "--units", "m", "--drops", "0, 12, 33, 24")
    assert (here / "corners" / "corners.pdf").read_bytes().count(b"/Type /Page\n") <= 1


@pytest.mark.parametrize(
    ("size", "unit", "drops"), [("360x240", "cm", "0, 12, 33, 24"), ("3600x2400", "mm", "0, 120, 330, 240")]
)
def test_every_metric_unit_is_metric(run: Run, size: str, unit: str, drops: str) -> None:
    """Drops beside a size in cm or mm are no inches."""
    done = run("corners", size, "--units", unit, "--drops", drops, "-n")
    usual = run("corners", "3.6x2.4", "--units", "m", "--drops", "0, 12, 33, 24", "-n")
    said, rest = done.out.split(": ", 1)
    assert said == f"3.6 m x 2.4 m, drops in {unit}"
    assert rest == usual.out.split(": ", 1)[1]


def test_a_drop_may_end_in_a_half(run: Run) -> None:
    usual = run("corners", "12x8", *DROPS, "-n").out
    for drops in ("0, 4½, 13, 9", "0, 4.5, 13, 9", "0,4 1/2 in,13,9"):
        assert run("corners", "12x8", "--drops", drops, "-n").out == usual


def test_piers_too_shallow_for_a_building_of_this_size_are_not_ordered(run: Run, here: Path) -> None:
    """Frost asks 12 in of more than 600 sq ft (IRC R403.1.4); the order and the sheet say so."""
    done = run("corners", "40x24", *DROPS)
    assert done.status == 1
    first = " ".join(done.out.split()).partition(". ")[0]
    assert (
        first == "40 ft x 24 ft, drops in inches: block piers not buildable as drawn: too shallow for frost"
    )
    assert set(re.findall(r"\[([\w-]+)\]", done.out)) == {"pier-frost"}
    assert "Order    Nothing, since it cannot be built as drawn." in done.out
    record = json.loads((here / "corners" / "result.json").read_text("utf-8"))
    assert (record["ordered"], record["blocked_by"], record["order"]) == ("nothing", ["frost"], [])
    assert "nothing is ordered,0," in (here / "corners" / "order.csv").read_text("utf-8-sig")


def test_warnings_are_counted_where_it_says_that_it_can_be_built() -> None:
    warned = tuple(Finding("odd-thing", "warning", f"at {n}", 1.0, 2.0, "Odd here. Do it.") for n in range(2))
    measured = Measured("ft", (3.6576, 2.4384), (0.0, 0.1143, 0.3302, 0.2286))
    told = corners_text(replace(plan_corners(measured), findings=warned), measured, "12 ft x 8 ft")
    first = " ".join(told.split()).partition(". ")[0]
    assert first.startswith("12 ft x 8 ft: block piers can be built, if ")
    assert first.endswith("; read the 2 warnings")


def test_the_text_that_is_kept_is_as_wide_as_ever(
    run: Run, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for terminal in (60, 100):
        monkeypatch.setattr("gradework.command.options.columns", lambda wide=terminal: wide)
        done = run("corners", "12x8", *DROPS)
        assert done.status == 0
        assert max(map(len, done.out.splitlines())) <= terminal
        kept = (here / "corners" / "corners.txt").read_text("utf-8")
        assert 60 < max(map(len, kept.splitlines())) <= 80


def test_drops_go_with_the_metric_unit_of_the_size(run: Run) -> None:
    """A size in mm has its drops in mm: 60 there are 60 mm, not 60 cm."""
    sized = run("corners", "3600mm x 2400mm", "--drops", "0, 20, 60, 40", "-n", "--json").document
    asked = run("corners", "3600x2400", "--units", "mm", "--drops", "0, 20, 60, 40", "-n", "--json").document
    assert sized["footprint"]["high_m"] - sized["footprint"]["low_m"] == pytest.approx(0.06)
    assert sized["piers"] == asked["piers"]


def test_blocks_on_hand_need_their_thickness_only(run: Run) -> None:
    done = run("corners", "12x8", *DROPS, "--blocks", "2, 4 in", "-n")
    assert done.status == 0, done.err
    assert "4 in block" in done.out
    assert "hollow" not in done.out


def test_too_steep_is_a_stop(run: Run) -> None:
    done = run("corners", "24x16", "--drops", "0, 14, 90, 9", "-n")
    assert done.status == 1
    assert done.out.startswith("24 ft x 16 ft, drops in inches: block piers not buildable as drawn: ")
    assert json.loads(run("corners", "24x16", "--drops", "0, 14, 90, 9", "-n", "--json").out)["findings"]
    assert next(line for line in done.out.splitlines()[1:] if line[:1] != " ").startswith("stop: ")
    assert run("corners", "24x16", "--drops", "0, 14, 90, 9", "-nq").out.startswith("24 ft x 16 ft")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("12", *DROPS), "is not two sides"),
        (("12x8", "--drops", "0, 4, 13"), "3 values where 4 should be"),
        (("12x8", "--drops", "0, 4, 13, 9 ft"), "write the unit"),
        (("12x8", "--drops", "0, -4, 13, 9"), "measured down from the line"),
        (("12x8", "--drops", "0, x, 13, 9"), "--drops"),
        (("12x8", *DROPS, "--point", "13,2=4"), "outside the building"),
        (("12x8", *DROPS, "--blocks", "thick"), "--blocks"),
        (("12x8", *DROPS, "--units", "cm"), "SIZE: error: size: 120 mm by 80 mm; expected a building of"),
    ],
)
def test_what_does_not_fit_is_told(run: Run, here: Path, words: tuple[str, ...], says: str) -> None:
    done = run("corners", *words)
    assert (done.status, done.out) == (2, "")
    assert says in done.err
    assert list(here.iterdir()) == []
