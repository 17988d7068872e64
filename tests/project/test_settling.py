"""Readings after a winter: what went down or up, against the mark or against the others, and what shim."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.exchange.yard_records import settled_record
from gradework.project.settling import MOVED, Settled, check_settled
from gradework.project.stations.forms import SurveyForm
from gradework.project.tops import read_tops
from gradework.report.later import settled_text
from tests.project.test_digging import DEMO, FOOT, done

FIRST, SPRING = (DEMO / "tops.csv").read_bytes(), (DEMO / "spring.csv").read_bytes()
INCH = 0.0254


def since(first: bytes, later: bytes, **how: object) -> Settled:
    before, after = (read_tops(done(), data, "tops.csv", SurveyForm()) for data in (first, later))
    return check_settled(done(), before, after, "tops.csv", **how)  # type: ignore[arg-type]


def test_the_demo_has_two_piers_down_and_one_up() -> None:
    """HI was 108.00, now 108.48: 1-4 read 6.46 and 7.00, so it went from 101.54 to 101.48."""
    made = since(FIRST, SPRING)
    moved = {point.name: point.moved / FOOT for point in made.points}
    assert moved["1-4"] == pytest.approx(-0.06)
    assert moved["2-3"] == pytest.approx(0.02)
    assert [point.name for point in made.points if point.lift] == ["1-3", "1-4"]
    assert next(p for p in made.points if p.name == "1-4").lift == pytest.approx(0.06 * FOOT)
    assert {f.code for f in made.findings} >= {"settled-down", "settled-up"}
    assert not made.passed
    text = settled_text(made)
    assert "shim it up 3/4 in with a pair of shims" in text
    assert max(map(len, text.splitlines())) <= 80
    assert settled_record(made)["tops"][3]["up_m"] == pytest.approx(-0.06 * FOOT)


def test_each_lift_brings_a_top_back_against_the_others() -> None:
    made = since(FIRST, SPRING)
    for point in made.points:
        assert point.later - point.first == pytest.approx(point.moved)
        left = point.moved + point.lift - made.base
        assert point.lift == 0.0 or left == pytest.approx(0.0)
        assert left >= -0.5 * made.tolerance - 1e-9


def shifted(by: float, names: tuple[str, ...] = ()) -> bytes:
    """The first tops, each lower by so many feet (those named, or all), as elevations."""
    tops = read_tops(done(), FIRST, "tops.csv", SurveyForm()).levels
    rows = [f"{n},{z / FOOT - (by if not names or n in names else 0.0):.4f}" for n, z in tops.items()]
    return "\n".join(["station,elevation", *rows, ""]).encode()


def test_what_went_down_together_is_left_and_the_mark_is_doubted() -> None:
    made = since(FIRST, shifted(0.05))
    assert made.passed
    assert made.base == pytest.approx(-0.05 * FOOT, abs=1e-6)
    assert "settled-all" in {f.code for f in made.findings}
    assert since(FIRST, shifted(MOVED / FOOT / 2)).findings == ()


def test_more_than_shims_may_fill_is_no_shim() -> None:
    made = since(FIRST, shifted(1.5 / 12, ("pier 1-1",)))
    (low,) = [point for point in made.points if point.lift]
    assert low.name == "1-1"
    assert "shim" not in low.advice


def test_without_a_mark_only_moves_against_the_others_are_known() -> None:
    loose = FIRST.replace(b"BM,", b"a stone,")
    made = since(loose, SPRING)
    assert not made.tied
    codes = {f.code for f in made.findings}
    assert "settled-not-tied" in codes
    assert sorted(point.moved for point in made.points)[4] == pytest.approx(0.0, abs=0.002)
    assert "against the others" in next(f.advice for f in made.findings if f.code == "settled-down")


def test_a_pier_not_read_again_is_missing_and_other_names_are_no_comparison() -> None:
    lines = [line for line in SPRING.splitlines() if b"2-4" not in line]
    made = since(FIRST, b"\n".join([*lines, b""]))
    assert made.missing == ("2-4",)
    assert not made.passed
    pad = since(b"station,elevation\nP1,100\n", b"station,elevation\np1,99.9\nP9,99\n", kind="pad")
    assert [point.advice for point in pad.points] == ["leave it"]
    assert pad.ignored == ("P9",)
    with pytest.raises(InputError) as told:
        since(b"station,elevation\nP1,100\n", b"station,elevation\nP2,100\n", kind="pad")
    assert [fault.code for fault in told.value.faults] == ["settled-nothing-twice"]
