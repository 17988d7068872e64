"""A tight yard: distances against brute force, and nothing staked or asked to be shot beyond a wall."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.exchange.record import record
from gradework.foundations.checks.nearby import NearLook
from gradework.foundations.checks.nearby_told import near_findings
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.report.plan import summary
from gradework.units.display import METRIC

ROOT = Path(__file__).parents[2]
DATA = ROOT / "data" / "tight-yard"
JOB = (DATA / "job.toml").read_text("utf-8")
NOTES = (DATA / "yard.csv").read_bytes()
FOOT = 0.3048


@lru_cache
def tight(job: str = JOB, notes: bytes = NOTES) -> Plan:
    return plan(read_job(job.encode()), notes)


def with_all(job: str = JOB) -> str:
    return job.replace("[pad]\n", "[pad]\n[piers]\n[slab]\n")


def looks(made: Plan, kind: str = "pad") -> dict[str, NearLook]:
    return {look.neighbour.name: look for look in made.near[kind]}


def held(look: NearLook) -> dict[str, bool | None]:
    return {check.check: check.holds for check in look.checks}


def along(ring: np.ndarray, closed: bool = True) -> np.ndarray:
    """Places every 2 mm along a line, ends included."""
    ends = np.roll(ring, -1, axis=0) if closed else ring[1:]
    return np.concatenate(
        [
            a + np.linspace(0.0, 1.0, max(2, int(np.hypot(*(b - a)) / 0.002)))[:, None] * (b - a)
            for a, b in zip(ring if closed else ring[:-1], ends, strict=True)
        ]
    )


def apart(one: np.ndarray, other: np.ndarray) -> float:
    return min(float(np.hypot(*(other - place).T).min()) for place in one)


@pytest.mark.parametrize("kind", ["pad", "piers", "slab"])
def test_distances_agree_with_brute_force(kind: str) -> None:
    made = tight(with_all())
    found = made.foundations
    stakes = [p.stake for p in set_out_plan(made, Wanted(kind=kind)).sheet.points]
    boards = np.array([(s.x, s.y) for s in stakes if s.kind == "batter board"])
    others = np.array([(s.x, s.y) for s in stakes if s.kind != "batter board"])
    outlines: dict[str, list[Outline]] = {
        "pad": [found.pad.outline],
        "slab": [found.slab.outline] if found.slab else [],
        "piers": [pier.hole for pier in found.piers.piers] if found.piers else [],
    }
    built = np.concatenate([one.rings[0] for one in outlines[kind]])
    for look in made.near[kind]:
        places = along(look.neighbour.places, look.neighbour.closed) if len(look.neighbour.places) > 1 else (
            look.neighbour.places
        )  # fmt: skip
        # all are convex and apart, so the nearest place of one of the two is a corner; lines are cut fine
        expected = {
            "walls": apart(along(made.building.rings[0])[::25], places),
            kind: apart(built, places) if len(places) > 1 else apart(places, along(built)),
            "boards": apart(boards, places),
            "stakes": apart(others, places),
        }
        told = dict(look.distances)
        for word, metres in expected.items():
            assert told[word] == pytest.approx(metres, abs=0.003), (look.neighbour.name, word)
        assert told["digging"] == told[kind]


def test_checks_of_the_demo() -> None:
    found = looks(tight())
    assert held(found["garage of number 12"]) == {
        "room to walk": True, "own side": True, "digging below 1:1": True, "water stays away": True,
        "outlet runs clear": True,
    }  # fmt: skip
    assert held(found["old well"]) == {"setback": True, "outlet runs clear": True}
    assert held(found["lot line"]) == {"setback": None, "room to walk": True, "own side": True}
    assert held(found["power to the shed"]) == {"dug or staked near": None}
    codes = [finding.code for finding in tight().findings if finding.code.startswith("near-")]
    assert codes == ["near-pipe", "near-setback-unknown"]


MOVES = {
    "too near to walk": ("[4, 32], [34, 32]", "[4, 30], [34, 30]", "near-no-room", "warning"),
    "nobody gets between": ("[4, 32], [34, 32]", "[4, 29.4], [34, 29.4]", "near-no-room", "stop"),
    "over the cable": ("[0, 12], [40, 12]", "[0, 20], [40, 20]", "near-pipe", "stop"),
    "in the setback": ('setback = "10 ft"', 'setback = "20 ft"', "near-setback", "stop"),
    "the pad in the wall": ("[4, 32], [34, 32]", "[4, 29], [34, 29]", "near-over", "stop"),
    "the fence through the pad": ("[41, -5], [41, 50]", "[26.5, -5], [26.5, 50]", "near-over", "stop"),
    "a fence that ends in the pad": ("[41, -5], [41, 50]", "[26.5, 23], [41, 23]", "near-over", "stop"),
}


@pytest.mark.parametrize("move", MOVES)
def test_each_failing_check_is_told(move: str) -> None:
    before, after, code, severity = MOVES[move]
    told = [f for f in tight(JOB.replace(before, after)).findings if f.code == code]
    assert [f.severity for f in told] == [severity]


def test_how_far_the_pad_reaches_over() -> None:
    level = NOTES.split(b"\n")
    flat = b"\n".join([level[0], *(row.rpartition(b",")[0] + b",100.00" for row in level[1:] if row.strip())])
    over = JOB.replace("[4, 32], [34, 32]", "[4, 29], [34, 29]")  # on level ground, where no swale is dug
    (check,) = [c for c in looks(tight(over, flat))["garage of number 12"].checks if c.check == "own side"]
    assert check.value == pytest.approx(0.5 * FOOT)
    fence = JOB.replace("[41, -5], [41, 50]", "[26.5, -5], [26.5, 50]")
    (check,) = [c for c in looks(tight(fence, flat))["board fence"].checks if c.check == "own side"]
    assert check.value == pytest.approx(0.5 * FOOT)


def test_a_deep_hole_beside_the_wall_stops_the_plan() -> None:
    deep = with_all().replace("[piers]", '[piers]\nleast_dig = "5 ft"\ntallest = "9 ft"\ndouble = true')
    (check,) = [c for c in looks(tight(deep), "piers")["garage of number 12"].checks if "1:1" in c.check]
    piers = tight(deep).foundations.piers
    assert piers is not None
    assert piers.piers
    foot = tight(deep).surface.elevation(np.array([(20.0 * FOOT, 31.0 * FOOT)]))[0]
    rough = max(foot - p.bottom - (32.0 * FOOT - p.hole.rings[0][:, 1].max()) for p in piers.piers)
    assert check.value == pytest.approx(rough, abs=0.1)  # the foot bends a little along the wall
    assert check.holds is False


@pytest.mark.parametrize("kind", ["pad", "piers", "slab"])
def test_nothing_is_staked_beyond_a_wall(kind: str) -> None:
    made = tight(with_all())
    sheet = set_out_plan(made, Wanted(kind=kind))
    at = np.array([(p.stake.x, p.stake.y) for p in sheet.sheet.points]) / FOOT
    assert (at[:, 1] <= 31.52).all()
    for string in sheet.rows:
        assert max(string.start[1], string.end[1]) <= 31.52 * FOOT
    boards = sum(point.stake.kind == "batter board" for point in sheet.sheet.points)
    lines = {line.item: line for line in made.orders[kind].lines}
    strung = sum(point.stake.kind == "row string" for point in sheet.sheet.points)
    assert lines["stakes"].computed == len(sheet.sheet.points) - boards - strung
    assert lines["stakes for batter boards"].computed == 2 * boards + strung


def test_without_the_garage_a_stake_stands_inside_it() -> None:
    """With it the boards behind the pad stand 6 in before its wall, not 4 ft behind the pad."""
    free = JOB[: JOB.index("[[site.near]]")]
    at = [p.stake.y / FOOT for p in set_out_plan(tight(free), Wanted()).sheet.points]
    assert max(at) == pytest.approx(33.5)
    barred = [p.stake.y / FOOT for p in set_out_plan(tight(), Wanted()).sheet.points]
    assert max(barred) == pytest.approx(32.0 - 0.15 / FOOT)


def shots(made: Plan) -> Iterator[tuple[float, float]]:
    """Every place in feet that a finding asks to be shot."""
    for found in made.findings:
        if found.code == "shots-missing":
            for x, y in re.findall(r"x (-?[\d.]+) ft, y (-?[\d.]+) ft", found.advice):
                yield float(x), float(y)


def test_no_shot_is_asked_for_indoors() -> None:
    rows = [row for row in NOTES.decode().splitlines() if not re.match(r"\d+,\d+,(24|31),", row)]
    rows += ["40,12,29.6,101.3", "41,28,29.6,101.4", "42,8,29.6,101.2", "43,32,29.6,101.5"]
    notes = "\n".join(rows).encode() + b"\n"
    free = JOB[: JOB.index("[[site.near]]")]
    beyond = [place for place in shots(tight(free, notes)) if place[1] > 32.0 and 4.0 < place[0] < 34.0]
    assert beyond  # without the garage the tool asks for them
    asked = list(shots(tight(JOB, notes)))
    assert [place for place in asked if place[1] > 31.0 and 4.0 < place[0] < 34.0] == []


def test_a_survey_that_ends_at_a_wall_is_enough() -> None:
    assert [
        f.code for f in tight().findings if f.code in ("drainage-survey-too-short", "shots-missing")
    ] == []
    free = JOB[: JOB.index("[[site.near]]")]
    assert "drainage-survey-too-short" in [f.code for f in tight(free).findings]
    known = {fall.wall: fall for fall in tight().foundations.around["pad"].drainage.after}
    behind = known["wall (corners 3-4)"]
    # raised until the fall lacks no more than a reading: that is no finding
    assert (behind.verdict, behind.missing) == ("away", ())
    assert behind.fall == pytest.approx(behind.needed - 0.003175, abs=1e-4)
    assert "drainage-falls-too-little" not in [f.code for f in tight().findings if f.severity != "note"]
    assert behind.length == pytest.approx(2.5 * FOOT)  # a foot before the garage


def uphill(slope: float = 0.12) -> bytes:
    """Ground that rises toward the garage, so that water comes to the wall there."""
    head, *rows = NOTES.decode().splitlines()
    parts = [row.split(",") for row in rows]
    made = [f"{n},{x},{y},{100.0 + slope * float(y) + 0.01 * float(x):.2f}" for n, x, y, _ in parts]
    return ("\n".join([head, *made]) + "\n").encode()


def test_no_swale_runs_over_the_garage_or_the_fence() -> None:
    free = JOB[: JOB.index("[[site.near]]")].replace("18.5", "14")
    near = JOB.replace("18.5", "14").replace("[4, 32], [34, 32]", "[4, 27], [34, 27]")
    drawn = [one.made for one in tight(free, uphill()).measures if one.made is not None]
    reach = max(float(swale.ground.shaped[:, :, 1].max()) for swale in drawn)
    assert reach > 27.0 * FOOT  # without the garage a swale goes there
    barred = tight(near, uphill())
    for one in barred.measures:
        if one.made is not None:
            assert not barred.nearby.beyond(one.made.ground.shaped.reshape(-1, 2)).any()
            assert not barred.nearby.beyond(one.shots).any()


def test_the_record_and_the_text_tell_it() -> None:
    made = record(tight())
    json.dumps(made)
    assert [one["name"] for one in made["neighbours"]] == [n.name for n in tight().nearby.neighbours]
    assert "What stands near\n  garage of number 12: walls 3' 6\"" in summary(tight())
    free = JOB[: JOB.index("[[site.near]]")]
    assert record(tight(free))["neighbours"] == []
    assert "What stands near" not in summary(tight(free))


def test_the_page_shows_what_the_demo_prints() -> None:
    page = (ROOT / "docs" / "neighbours.md").read_text("utf-8")
    shown, printed = re.findall(r"```(?:toml|text)\n(.*?)```", page, re.DOTALL)
    assert shown == JOB[JOB.index("[[site.near]]") :]
    whole = summary(tight())
    assert printed.strip() in whole
    assert printed.startswith("What stands near\n")


def test_boards_that_a_wall_moves_or_leaves_out_are_told() -> None:
    (told,) = [f for f in set_out_plan(tight(), Wanted()).findings if f.code == "stakes-before-wall"]
    assert (told.severity, told.where) == ("note", "board 3 ahead, board 4 behind")
    close = JOB.replace("[4, 32], [34, 32]", "[4, 30.5], [34, 30.5]")
    (told,) = [f for f in set_out_plan(tight(close), Wanted()).findings if f.code == "stakes-before-wall"]
    assert (told.severity, told.where) == ("warning", "board 3 ahead, board 4 behind")
    names = {p.stake.name for p in set_out_plan(tight(close), Wanted()).sheet.points}
    assert not names & {"board 3 ahead", "board 4 behind"}
    free = JOB[: JOB.index("[[site.near]]")]
    assert [f for f in set_out_plan(tight(free), Wanted()).findings if "wall" in f.code] == []


FALLING = "\n".join(
    [NOTES.decode().splitlines()[0]]
    + [
        f"{n},{x},{y},{100.0 - 0.04 * float(y):.2f}"
        for n, x, y, _ in (row.split(",") for row in NOTES.decode().splitlines()[1:])
    ]
).encode()
"""The same shots on ground that falls 4 % to the wall of the garage."""


def test_a_roof_that_drips_to_their_wall_is_no_plan_without_a_gutter() -> None:
    """Three ways on ground that falls to their wall: asked to drip it stops; left alone it gets a gutter, and
    the water of that comes out on this side of the wall."""
    asked = tight(f'{JOB}\n[drainage]\nroof_water = "drip strip"\n', FALLING)
    (check,) = [c for c in looks(asked)["garage of number 12"].checks if c.check == "water stays away"]
    assert (check.value, check.holds) == (0.0, False)
    (told,) = [f for f in asked.findings if f.code == "near-water"]
    assert told.severity == "stop"
    assert 'Write roof_water = "gutter" under [drainage]' in told.advice
    assert asked.judged is not None
    assert not asked.judged.buildable
    left = tight(JOB, FALLING)
    roof = left.foundations.roof
    assert roof is not None
    assert [(one.eave.wall.name, one.kind) for one in roof.eaves] == [
        ("wall (corners 1-2)", "own stone"), ("wall (corners 3-4)", "gutter"),
    ]  # fmt: skip
    check = next(c for c in looks(left)["garage of number 12"].checks if c.check == "water stays away")
    assert check.holds is (None if roof.eaves[1].lost else True)


def test_what_no_gutter_catches_is_a_condition() -> None:
    """A pad of 30 in beyond the walls reaches past the eaves: the rain on it may be led away, or not."""
    wide = tight(JOB.replace("[pad]\n", '[pad]\nmargin = "30 in"\n'), FALLING)
    (check,) = [c for c in looks(wide)["garage of number 12"].checks if c.check == "water stays away"]
    assert (check.value, check.holds) == (0.0, None)
    (told,) = [f for f in wide.findings if f.code == "near-water"]
    assert told.severity == "warning"
    assert "Hang a gutter on that side and run its downspout elsewhere" in told.advice
    (metric,) = [f for f in near_findings(wide.near["pad"], METRIC) if f.code == "near-water"]
    assert "run its downpipe elsewhere" in metric.advice


def test_a_lot_line_round_the_yard_is_a_line() -> None:
    around = "outline = [[-3, -5], [45, -5], [45, 50], [-3, 50]]"
    lot = JOB.replace("line = [[-3, -5], [-3, 50]]", around)
    assert lot != JOB
    assert held(looks(tight(lot))["lot line"]) == {"setback": None, "room to walk": True, "own side": True}


def test_one_name_inside_another_stops_nothing() -> None:
    second = '\n[[site.near]]\nname = "power to the shed 2"\nkind = "pipe"\nline = [[0, 12], [40, 12]]\n'
    under = JOB.replace("[0, 12], [40, 12]", "[0, 20], [40, 20]")
    told = [one for one in tight(under + second).findings if one.code == "near-pipe"]
    assert [one.severity for one in told] == ["stop", "warning"]
