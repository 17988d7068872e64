"""Pad, piers and slab of one job: what is asked for is planned, compared, and one of them is chosen."""

from __future__ import annotations

import math
from functools import lru_cache

import pytest

from gradework.errors import InputError
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, drawn_with, plan
from gradework.sitework.drainage import WALL_CODES

WOOD = 'floor = { skid = "6x6", joist = "2x12", species = "southern pine" }\n'
PIERS = f'[piers]\nrows = 2\nspacing = "1.4 m"\nblock_sizes = "US"\n{WOOD}'
SLAB = "[slab]\n"
PRICES = """
[prices]
gravel = "40 per tonne"
dig = "50 per m3"
haul = "20 per m3"
boards = "30 per m2"
stakes = 3
screws = 0.1
timbers = "70 per m2"
pins = 4
timber_screws = 2
forms = "20 per m2"
film = "1 per m2"
mesh = "4 per m2"
fabric = "1.5 per m2"
anchor = 30
concrete = "250 per m3"
short_load = 100
concrete_bag = "7 per 25 kg"
shims = 2
setout_stakes = 1.2
string = 9
lumber = "500 per m3"
seed = "10 per kg"
date = "invented, January 2026"
"""


@lru_cache
def of(job: bytes, notes: bytes) -> Plan:
    return plan(read_job(job), notes)


def planned(job: bytes, notes: bytes, tables: str = "", *, build: str = "", pad: bool = True) -> Plan:
    text = job.decode()
    if not pad:
        text = text.partition("[pad]")[0]
    top = f'build = "{build}"\n' if build else ""
    return of((top + text + tables).encode(), notes)


def test_a_pad_alone_is_not_compared(plane_job: bytes, plane_notes: bytes) -> None:
    found = planned(plane_job, plane_notes).foundations
    assert (found.asked, found.chosen, found.comparison) == (("pad",), "pad", None)
    assert (found.piers, found.slab) == (None, None)


def test_all_three_side_by_side_in_the_order_of_the_trade(plane_job: bytes, plane_notes: bytes) -> None:
    """A slab costs more than a boxed pad, a boxed pad more than block piers: common practice, no source."""
    done = planned(plane_job, plane_notes, PIERS + SLAB + PRICES)
    comparison = done.foundations.comparison
    assert comparison is not None
    assert [option.name for option in comparison.options] == ["block piers", "boxed gravel pad", "slab"]
    assert done.foundations.chosen == "piers"
    assert done.foundations.invented == ()
    assert set(done.orders) == {"pad", "piers", "slab"}
    assert done.order is done.orders["piers"]


def test_the_money_of_the_piers_is_what_is_bought_for_them(plane_job: bytes, plane_notes: bytes) -> None:
    done = planned(plane_job, plane_notes, PIERS + PRICES)
    piers = done.foundations.piers
    assert piers is not None
    kinds = {unit.name: unit.price for unit in piers.spec.on_hand}
    lines = {line.item: line for line in done.orders["piers"].lines}
    (fabric,) = (line for item, line in lines.items() if "fabric" in item)
    (string,) = (line for item, line in lines.items() if "string" in item)
    stone = sum(line.mass_kg for item, line in lines.items() if "stone" in item)
    expected = sum(kinds[item] * line.quantity for item, line in lines.items() if item in kinds)
    expected += stone * 40 / 1000 + fabric.quantity * 2.0 * 25.0 * 1.5  # whole rolls, 2 m x 25 m
    expected += lines["shims, hardwood or plastic"].quantity * 2
    stakes = [lines["stakes"], lines["stakes for batter boards"]]
    expected += sum(line.quantity for line in stakes) * 1.2
    boards = [line for line in lines.values() if line.place == "batter boards"]
    assert {line.paid[0].key for line in boards} == {"lumber", "screws"}
    expected += sum(line.paid[0].amount * done.foundations.prices.each(line.paid[0].key) for line in boards)
    expected += string.quantity * 9
    assert piers.anchors is not None
    expected += piers.anchors.count * 30
    option = done.foundations.options["piers"]
    expected += lines["grass seed"].quantity * 10  # kg, for the soil that is spread
    assert option.at_yard == pytest.approx(expected)
    soil = done.foundations.soils["piers"].soil
    assert soil.hauled < piers.left  # the rest is spread
    earthwork = piers.dug * 50 + soil.hauled * soil.soil.swell.value * 20
    assert option.money == pytest.approx(expected + earthwork)
    (judged,) = (one for one in done.foundations.judged if one.foundation == "piers")
    assert judged.cost == option.money


def test_build_says_what_is_ordered(plane_job: bytes, plane_notes: bytes) -> None:
    done = planned(plane_job, plane_notes, PIERS + SLAB + PRICES, build="slab")
    assert done.foundations.chosen == "slab"
    slab = done.foundations.slab
    assert slab is not None
    codes = {finding.code for finding in done.findings}
    assert {finding.code for finding in slab.findings} <= codes
    assert "pier-uplift" not in codes
    assert any("concrete" in line.item for line in done.order.lines) is not done.held_back


def test_piers_alone_need_no_ground_beyond_the_building(plane_job: bytes, plane_notes: bytes) -> None:
    at_the_edge = plane_job.replace(b"corner = [4, 4]", b"corner = [4, 10.9]")
    with pytest.raises(InputError):
        planned(at_the_edge, plane_notes)  # the margin of the pad reaches outside the survey
    done = planned(at_the_edge, plane_notes, PIERS, pad=False)
    assert done.foundations.asked == ("piers",)
    assert done.foundations.comparison is None
    assert not any(finding.code.startswith("pad-") for finding in done.findings)


def test_a_foundation_that_is_stopped_does_not_win(plane_job: bytes, plane_notes: bytes) -> None:
    """A top that no stack reaches blocks the piers, so that the pad is ordered."""
    done = planned(plane_job, plane_notes, PIERS + "top = 25\n" + PRICES)
    comparison = done.foundations.comparison
    assert comparison is not None
    assert comparison.options[-1].name == "block piers"
    assert done.foundations.chosen == "pad"
    assert "piers-no-common-top" not in {finding.code for finding in done.findings}


@pytest.mark.parametrize(
    ("table", "told"),  # each fault: code, line of the table's own, column, words
    [
        ('end_inset = "3 m"\n', [("pier-rows-impossible", 1, 13, "inset of 3.000 m")]),
        (
            'rows = 12\nspacing = "420 mm"\n',  # in even steps less than a hole is long
            [
                ("piers-overlap", 1, 8, "'1-1' and '2-1' overlap"),
                ("piers-overlap", 2, 11, "'1-1' and '1-2' overlap"),
            ],
        ),
        ('row_spacing = "20 cm"\n', [("pier-spec-impossible", 1, 15, "row_spacing of 0.2 m")]),
        (
            'row_spacing = "660 mm"\n',  # in even steps less than a hole
            [("piers-overlap", 1, 15, "give a wider row_spacing")],
        ),
        (
            '\nspacing = "1 mm"\n',
            [("job-out-of-range", 2, 11, 'spacing: "1 mm"; expected 100 mm to 20 m')],
        ),
        (
            "positions = { a = [5, 5], b = [5.2, 5], c = [5, 5.1], d = [7.5, 6.5] }\n",
            [
                ("piers-overlap", 1, 31, "'a' and 'b' overlap"),
                ("piers-overlap", 1, 45, "'a' and 'c' overlap"),
                ("piers-overlap", 1, 45, "'b' and 'c' overlap"),
            ],
        ),
        (
            "[piers.positions]\na = [5, 5]\nb = [9, 9]\nc = [5, 5]\n",
            [
                ("pier-outside-building", 3, 5, "pier 'b' at"),
                ("piers-overlap", 4, 5, "'a' and 'c' are in the same place"),
            ],
        ),
        (
            'margin = "3 m"\nbed_least = "4 m"\n',
            [
                ("job-out-of-range", 1, 10, 'margin: "3 m"; expected at most 2 m'),
                ("job-out-of-range", 2, 13, 'bed_least: "4 m"'),
            ],
        ),
    ],
)
def test_faults_of_piers_point_at_the_key(
    plane_job: bytes, plane_notes: bytes, table: str, told: list[tuple[str, int, int, str]]
) -> None:
    head = plane_job.decode().count("\n") + 1  # the line of [piers]
    with pytest.raises(InputError) as refused:
        planned(plane_job, plane_notes, "[piers]\n" + table)
    faults = sorted((f.code, f.line - head, f.column, str(f)) for f in refused.value.faults)
    assert [fault[:3] for fault in faults] == sorted(one[:3] for one in told)
    assert all(any(words in fault[3] for fault in faults) for *_, words in told), faults


def test_a_fault_of_what_the_job_does_not_say_points_at_the_table(
    plane_job: bytes, plane_notes: bytes
) -> None:
    """The rows are too near for blocks of this size, and no key of the job says how near."""
    narrow = plane_job.replace(b"size = [4, 3]", b"size = [4, 0.9]")
    with pytest.raises(InputError) as refused:
        planned(narrow, plane_notes, "[piers]\n", pad=False)
    (fault,) = refused.value.faults
    assert (fault.code, fault.line, fault.column) == ("piers-overlap", 8, 1)


def test_prices_that_are_not_given_are_named(plane_job: bytes, plane_notes: bytes) -> None:
    found = planned(plane_job, plane_notes, PIERS).foundations
    held = ("stakes", "screws", "timbers", "pins", "timber_screws")
    small = ("shims", "lumber", "setout_stakes", "string", "seed", "anchor")
    assert set(found.invented) == {"dig", "haul", "gravel", "boards", "fabric", *held, *small}
    assert found.prices.invented


def test_falls_from_the_walls_are_compared_with_each_foundation_in_place(
    plane_job: bytes, plane_notes: bytes
) -> None:
    done = planned(plane_job, plane_notes, PIERS + SLAB + PRICES)
    assert done.foundations.comparison is not None
    found = {o.name: o.findings for o in done.foundations.comparison.options}
    for name, kind in (("block piers", "piers"), ("boxed gravel pad", "pad"), ("slab", "slab")):
        alone = drawn_with(done, kind).drainage.findings
        expected = [(f.code, f.where) for f in alone if f.code in WALL_CODES and f.severity == "warning"]
        assert [(f.code, f.where) for f in found[name] if f.code in WALL_CODES] == expected
        assert all(f" {kind} at " in where for _, where in expected)
        assert (kind == "piers") == (not expected)  # the plane falls toward a wall, and under an open floor
    failing = {one.foundation for one in done.foundations.judged if not one.buildable}
    for name, kind in (("boxed gravel pad", "pad"), ("slab", "slab")):
        stopped = {f.severity for f in found[name] if f.code in WALL_CODES}
        assert stopped == ({"stop"} if kind in failing else {"warning"})
    # what a foundation has against it stands in its own list once, and orders nothing twice
    assert [f for f in done.findings if f.code in WALL_CODES] == [
        f for f in done.drainage.findings if f.code in WALL_CODES
    ]


def test_drawn_with_another_foundation_only_the_choice_changes(plane_job: bytes, plane_notes: bytes) -> None:
    done = planned(plane_job, plane_notes, PIERS, build="pad")
    other = drawn_with(done, "piers")
    assert other.foundations.chosen == "piers"
    assert other.foundations.piers is done.foundations.piers
    assert other.pad is done.pad


def test_cautions_follow_the_deepest_dig_of_what_is_chosen(plane_job: bytes, plane_notes: bytes) -> None:
    deep = PIERS + 'least_dig = "900 mm"\ntallest = "1.5 m"\n'
    piers, pad = (planned(plane_job, plane_notes, deep, build=kind) for kind in ("piers", "pad"))
    assert len([text for text in piers.cautions if "knee:" in text]) == 1
    assert not [text for text in pad.cautions if "knee:" in text]


def test_piers_leave_the_ground_at_the_walls_as_it_is(plane_job: bytes, plane_notes: bytes) -> None:
    """The plane falls 10 % along x: water runs to the wall at x = 4 whatever the pad would do."""
    done = planned(plane_job, plane_notes, PIERS, build="piers")
    (told,) = (f for f in done.findings if f.code == "drainage-toward-building")
    assert told.severity == "note"
    assert "under the open floor" in told.advice
    assert math.isclose(done.footprint.slope, 0.1, rel_tol=1e-9)


def test_one_that_leaves_the_survey_is_no_option_and_the_others_are_answered(
    plane_job: bytes, plane_notes: bytes
) -> None:
    at_the_edge = plane_job.replace(b"corner = [4, 4]", b"corner = [4, 10.9]")
    done = planned(at_the_edge, plane_notes, PIERS)
    found = done.foundations
    pad, piers = found.judged
    assert (found.asked, found.chosen) == (("piers",), "piers")
    assert (pad.foundation, pad.buildable, pad.level) == ("pad", False, None)
    assert [(check.check, check.holds) for check in pad.checks] == [("survey", False)]
    assert found.winner is piers
    with pytest.raises(InputError):
        planned(at_the_edge, plane_notes, PIERS, build="pad")


@pytest.mark.parametrize(("ground", "holds"), [("firm", True), ("soft", False), ("filled", False)])
def test_ground_that_was_tried_is_an_if_no_more(
    plane_job: bytes, plane_notes: bytes, ground: str, holds: bool
) -> None:
    tried, untried = (
        planned(plane_job, plane_notes, PIERS + more) for more in (f'[soil]\nground = "{ground}"\n', "")
    )
    for done, expected in ((tried, holds), (untried, None)):
        for one in done.foundations.judged:
            assert [check.holds for check in one.checks if check.check == "ground"] == [expected]
    assert holds or tried.foundations.winner is None


def test_outside_the_us_no_rule_of_the_us_is_cited_without_saying_so(
    plane_job: bytes, plane_notes: bytes
) -> None:
    done = planned(plane_job, plane_notes, PIERS + SLAB)
    sources = {check.source for one in done.foundations.judged for check in one.checks}
    assert any("IRC" in source for source in sources)
    for source in sources:
        assert source.startswith("no rule where you build") or not any(n in source for n in ("IRC", "CFR"))
