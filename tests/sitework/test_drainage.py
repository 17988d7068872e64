"""Drainage: falls from walls and slopes of the yard on ground a person can draw, and dense sampling."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.outline import Outline
from gradework.foundations.checks.drainage_rules import IRC_2015, RULES, rule_in_force
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.checks.wall_strips import PadTop, walls_of
from gradework.ground.surface import Surface, build_surface
from gradework.sitework.drainage import LEAST_ZONE, Drainage, check_drainage, slope_zone, told_source
from gradework.survey.stations import Stations
from gradework.units.display import FEET, METRIC

FOOT = 0.3048
Ground = Callable[[np.ndarray, np.ndarray], np.ndarray]


def survey(ground: Ground, *, low: float = -6.0, high: float = 10.0, step: float = 1.0) -> Surface:
    places = np.arange(low, high + step / 2, step)
    x, y = (a.ravel() for a in np.meshgrid(places, places))
    xyz = np.column_stack([x, y, ground(x, y)])
    n = len(xyz)
    names = [f"P{i}" for i in range(n)]
    return build_surface(Stations(names, xyz, np.full(n, np.nan), np.zeros(n, dtype=np.int64), "", "m"))


def grid() -> np.ndarray:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(-6.0, 10.5), np.arange(-6.0, 10.5)))
    return np.column_stack((x, y))


def look(surface: Surface, building: Outline, **options: object) -> Drainage:
    return check_drainage(surface, building, show=METRIC, **options)  # type: ignore[arg-type]


def codes(drainage: Drainage) -> list[str]:
    return [finding.code for finding in drainage.findings]


HUT = Outline.rectangle((0.0, 0.0), (4.0, 3.0))


def roof(fall: float) -> Ground:
    """Ground that falls away from the hut on all sides at one slope, and is level under it."""
    return lambda x, y: -fall * np.maximum.reduce([0 - x, x - 4, 0 - y, y - 3, np.zeros_like(x)])


def test_ground_that_falls_enough_on_all_sides_has_nothing_to_say() -> None:
    drainage = look(survey(roof(0.06)), HUT)
    assert codes(drainage) == []
    assert {ray.verdict for ray in drainage.before} == {"away"}
    assert [r.fall for r in drainage.before] == pytest.approx([0.06 * 3.048] * 4)


def test_what_lacks_less_than_one_reading_is_enough_and_a_hair_more_is_not() -> None:
    assert codes(look(survey(roof(0.05 - 0.0031 / 3.048)), HUT)) == []
    drainage = look(survey(roof(0.05 - 0.0033 / 3.048)), HUT)
    assert codes(drainage) == ["drainage-falls-too-little"] * 4
    assert drainage.findings[0].value == pytest.approx(0.1524 - 0.0033)
    assert drainage.findings[0].limit == pytest.approx(0.1524)  # 6 in
    assert "IRC 2015 R401.3" in drainage.findings[0].advice


def test_a_plane_falls_toward_the_uphill_wall_and_along_the_others() -> None:
    """Ground rising 10 % along +y: toward the far wall, away from the near one, level square to the rest."""
    drainage = look(survey(lambda x, y: 0.1 * y + 0 * x), HUT)
    by_wall = {ray.wall: ray for ray in drainage.before}
    near, right, far, left = (by_wall[w.name] for w in walls_of(HUT))
    assert (near.verdict, far.verdict) == ("away", "toward")
    assert (right.verdict, left.verdict) == ("too little", "too little")
    assert near.fall == pytest.approx(0.3048)
    assert far.rise == pytest.approx(0.3048)
    assert far.rise_at == pytest.approx(3.048)
    assert codes(drainage) == [
        "drainage-toward-building",
        "drainage-falls-too-little",
        "drainage-falls-too-little",
    ]
    toward = drainage.findings[0]
    assert toward.where == "wall (corners 3-4), as surveyed"
    assert toward.value == pytest.approx(-0.3048)
    assert toward.severity == "warning"
    assert "305 mm" in toward.advice


def test_rain_runs_on_under_an_open_floor() -> None:
    """Piers: what would stop a pad is a note, and no shots are asked for."""
    ground = survey(lambda x, y: 0.0 * x + 0.05 * y)
    closed, open_floor = look(ground, HUT), look(ground, HUT, under=True)
    assert {finding.severity for finding in closed.findings} == {"warning"}
    assert codes(open_floor) == codes(closed)
    assert {finding.severity for finding in open_floor.findings} == {"note"}
    assert all("under the open floor" in finding.advice for finding in open_floor.findings)
    near = survey(lambda x, y: 0.0 * x + 0.05 * y, low=-2.0, high=6.0)
    assert "drainage-survey-too-short" in codes(look(near, HUT))
    assert "drainage-survey-too-short" not in codes(look(near, HUT, under=True))


def test_a_hump_between_the_wall_and_ten_feet_out_sends_water_back() -> None:
    """The net fall over 10 ft is enough, but a ridge one metre out stands above the wall."""

    def ridge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return roof(0.1)(x, y) + np.where(y == 4.0, 0.15, 0.0)

    drainage = look(survey(ridge), HUT)
    hump = [ray for ray in drainage.before if ray.verdict == "toward"]
    assert {ray.wall for ray in hump} == {"wall (corners 3-4)"}
    assert hump[0].rise == pytest.approx(0.05, abs=1e-5)
    assert hump[0].rise_at == pytest.approx(1.0, abs=1e-5)
    assert hump[0].fall > hump[0].needed


def test_a_mound_before_a_wall_is_found_wherever_it_stands() -> None:
    """0.7 ft over the wall, 3 ft out, between looks 4 ft apart; the ground falls 6 % everywhere else."""

    def mound(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        top = (np.abs(x - 2.45) < 0.01) & (np.abs(y - 3.0 - 3 * FOOT) < 0.01)
        return np.where(top, 0.7 * FOOT, roof(0.06)(x, y))

    at = np.array([2.45, 3.0 + 3 * FOOT])
    places = np.vstack((grid(), at, at + np.array([(0.3, 0), (-0.3, 0), (0, 0.3), (0, -0.3)])))
    xyz = np.column_stack((places, mound(*places.T)))
    n = len(xyz)
    stations = Stations([f"{i}" for i in range(n)], xyz, np.full(n, np.nan), np.zeros(n, np.int64), "", "m")
    (bad,) = look(build_surface(stations), HUT).findings
    assert (bad.code, bad.where) == ("drainage-toward-building", "wall (corners 3-4), as surveyed")
    assert bad.value == pytest.approx(-0.7 * FOOT, abs=1e-5)
    (fall,) = [f for f in look(build_surface(stations), HUT).before if f.verdict != "away"]
    assert fall.rise_at == pytest.approx(3 * FOOT)
    assert fall.start[0] == pytest.approx(2.45)


def test_a_survey_that_stops_short_says_where_to_shoot_once() -> None:
    """Two walls lack the same corner of ground: three shots take in both, and then all is known."""
    drainage = look(survey(roof(0.1), low=-2.0, high=10.0), HUT)
    (short,) = [f for f in drainage.findings if f.code == "drainage-survey-too-short"]
    assert short.where == "walls (corners 1-2 and 4-1)"
    assert short.value == pytest.approx(2.0)
    assert short.limit == pytest.approx(3.048)
    assert len(drainage.shots) == 3
    assert all(METRIC.place(*place) in short.advice for place in drainage.shots)
    assert [r.verdict for r in drainage.before] == ["survey too short", "away", "away", "survey too short"]
    assert [r.check(IRC_2015).holds for r in drainage.before] == [None, True, True, None]
    told = [[round(x, 2), round(y, 2)] for x, y in drainage.shots]  # as it is told and found
    x, y = np.array(told).T
    places = np.vstack((np.column_stack((x, y)), grid()[(grid() >= -2.0).all(axis=1)]))
    xyz = np.column_stack((places, roof(0.1)(*places.T)))
    n = len(xyz)
    more = Stations([f"{i}" for i in range(n)], xyz, np.full(n, np.nan), np.zeros(n, np.int64), "", "m")
    after = look(build_surface(more), HUT)
    assert {r.verdict for r in after.before} == {"away"}
    assert after.shots == ()


def test_a_fence_beyond_the_end_of_the_survey_does_not_make_it_enough() -> None:
    """Half a metre of ground before the fence was not shot: open, with shots on the near side of it."""
    fences = np.array([[(-3.0, -2.8), (20.0, -2.8)], [(-2.8, -3.0), (-2.8, 20.0)]])
    falls = wall_falls(survey(roof(0.1), low=-2.0, high=10.0), HUT, IRC_2015, barriers=fences)
    assert [fall.check(IRC_2015).holds for fall in falls] == [None, True, True, None]
    assert {round(fall.known, 3) for fall in falls if fall.missing} == {2.0}


@pytest.mark.parametrize(
    ("rule", "country", "feet", "clause", "us", "taken"),
    [
        (None, None, True, "IRC 2015 R401.3", True, "taken for a job in feet"),
        (None, None, False, "IRC 2015 R401.3", False, "taken for a job in metres"),
        (None, "US", False, "IRC 2015 R401.3", True, "country = US"),
        (None, "Canada", True, "IRC 2015 R401.3", False, "country = Canada"),
        (None, "Australia", False, "NCC 2019 Volume Two 3.1.3.3", False, "country = Australia"),
        ("ibc 2018", "UK", False, "IBC 2018 1804.4", False, "your [drainage] rule"),
    ],
)
def test_the_rule_in_force_says_by_what(
    rule: str | None, country: str | None, feet: bool, clause: str, us: bool, taken: str
) -> None:
    """Not the units alone, and never silently; outside the US a code of the US says that it is one."""
    found = rule_in_force(rule, country, feet=feet)
    assert (found.clause, found.us, found.taken) == (clause, us, taken)
    told = told_source(found.source, us=found.us)
    assert told.startswith("no rule where you build") == (not us and not clause.startswith("NCC"))


def test_what_is_known_to_be_wrong_is_told_though_the_survey_stops_short() -> None:
    drainage = look(survey(roof(-0.1), low=-2.0, high=10.0), HUT)
    assert {r.verdict for r in drainage.before} == {"toward"}
    assert drainage.before[0].check(IRC_2015).holds is False


def test_a_wall_on_the_edge_of_the_survey_knows_nothing() -> None:
    drainage = look(survey(roof(0.1), low=0.0), HUT)
    first = drainage.before[0]
    assert (first.known, first.verdict) == (0.0, "survey too short")
    assert math.isnan(first.fall)


def test_a_fence_ends_the_strip_and_needs_no_shots() -> None:
    """Where shots end before two fences strips end, and all 6 in are asked for there."""
    fences = np.array([[(-3.0, -1.9995), (20.0, -1.9995)], [(-1.9995, -3.0), (-1.9995, 20.0)]])
    falls = wall_falls(survey(roof(0.1), low=-2.0, high=10.0), HUT, IRC_2015, barriers=fences)
    assert [(f.verdict, f.missing) for f in falls] == [("away", ())] * 4
    assert (falls[0].length, falls[0].ends_at) == (pytest.approx(1.9995), "barrier")
    assert falls[0].needed == pytest.approx(0.1524)
    gentle = wall_falls(survey(roof(0.06), low=-2.0, high=10.0), HUT, IRC_2015, barriers=fences)
    assert [f.verdict for f in gentle] == ["too little", "away", "away", "too little"]


def test_what_rises_beyond_a_led_bottom_does_not_count() -> None:
    """A bank beyond a swale 1.5 m out; where the bottom ends, the bank counts again."""

    def bank(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.interp(y, [-6.0, 0.0, 3.0, 5.0, 6.0, 10.0], [-0.6, 0.0, 0.0, -0.2, 0.8, 2.0]) + 0 * x

    surface = survey(bank)
    whole, half = np.array([[(-1.0, 5.0), (5.0, 5.0)]]), np.array([[(-1.0, 5.0), (2.0, 5.0)]])
    led = wall_falls(surface, HUT, IRC_2015, inverts=whole)[2]
    assert (led.verdict, led.ends_at, led.length) == ("away", "invert", pytest.approx(2.0))
    assert (led.fall, led.needed) == (pytest.approx(0.2, abs=1e-5), pytest.approx(0.1))
    assert led.check(IRC_2015).source.endswith("fall to a swale: IRC 2006 R401.3")
    partly = wall_falls(surface, HUT, IRC_2015, inverts=half)[2]
    assert (partly.verdict, partly.rise) == ("toward", pytest.approx(0.8145, abs=1e-3))
    assert partly.start[0] > 2.0 - 1e-9


def test_the_error_of_the_survey_is_that_of_its_stations_where_known() -> None:
    """Ground that lacks 8 mm: too little after levels to 2 mm, not after a receiver's 20 mm."""
    xyz = np.column_stack((grid(), roof(0.05 - 0.008 / 3.048)(*grid().T)))
    for sd, verdict in ((0.002, "too little"), (0.020, "away")):
        n = len(xyz)
        shots = Stations([f"{i}" for i in range(n)], xyz, np.full(n, sd), np.zeros(n, np.int64), "", "m")
        falls = wall_falls(build_surface(shots), HUT, IRC_2015)
        assert {f.verdict for f in falls} == {verdict}
        assert falls[0].error == pytest.approx(math.sqrt(2.0) * sd)


@pytest.mark.parametrize(
    ("name", "clause", "fall"),
    [("ibc 2009", "1804.3", 0.1524), ("ibc 2012", "1804.3", 0.1524), ("ibc 2015", "1804.4", 0.1524),
     ("ibc 2006", "1803.3", 0.1524), ("hud", "3285.203", 0.127), ("irc 2006", "R401.3", 0.1524)],
)  # fmt: skip
def test_clauses_and_falls_by_edition(name: str, clause: str, fall: float) -> None:
    """IBC 1803.3 until 2006, 1804.3 in 2009 and 2012, 1804.4 from 2015; HUD 5 in over 10 ft."""
    rule = RULES[name]
    assert clause in rule.source
    assert rule.fall * rule.reach == pytest.approx(fall)


def test_paved_ground_asks_for_less() -> None:
    surface = survey(roof(0.03))
    assert len(look(surface, HUT).findings) == 4
    paved = look(surface, HUT, rule=IRC_2015.changed(paved=True))
    assert codes(paved) == []
    assert paved.rule.fall == pytest.approx(0.02)


def test_a_raised_edge_counts_as_fall_only_where_no_ground_rises_from_it() -> None:
    """Ground rising 2 % along +y: a pad well above all of it mends three walls, not the uphill one."""
    surface = survey(lambda x, y: 0.02 * y + 0 * x)
    pad_outline = HUT.grown(0.3)
    before = look(surface, HUT)
    assert "drainage-toward-building" in codes(before)
    high = look(surface, HUT, pad=PadTop(0.02 * (3.0 + 3.048) + 0.16, pad_outline))
    assert [r.verdict for r in high.after] == ["away", "away", "toward", "away"]
    assert [r.shown for r in high.after] == [True, True, False, True]
    assert high.after[2].rise == pytest.approx(0.02 * (3.048 - 0.3), abs=1e-6)
    assert {(f.severity, f.where.partition(",")[0]) for f in high.findings if "shot" not in f.code} == {
        ("warning", "wall (corners 3-4)"), ("note", "wall (corners 1-2)"),
        ("note", "wall (corners 2-3)"), ("note", "wall (corners 4-1)"),
    }  # fmt: skip
    low = look(surface, HUT, pad=PadTop(0.02 * 3.0, pad_outline))
    after = [f for f in low.findings if f.severity == "warning"]
    assert after[0].code == "drainage-toward-building"
    assert "with the pad at 0.060 m" in after[0].where


def test_a_wall_is_told_once_and_what_the_pad_mends_is_a_note() -> None:
    """Along the slope the pad lies above the ground of one half of each side wall and below the other's."""
    surface = survey(lambda x, y: 0.1 * y + 0 * x)
    low = look(surface, HUT, pad=PadTop(0.2, HUT.grown(0.3)))
    told = [f.where.partition(",")[0] for f in low.findings]
    assert len(told) == len(set(told))
    state = {f.where.partition(",")[0]: (f.severity, f.code) for f in low.findings}
    assert state["wall (corners 2-3)"] == ("warning", "drainage-toward-building")
    high = look(surface, HUT, pad=PadTop(0.7, HUT.grown(0.3)))
    assert {(f.severity, f.where) for f in high.findings} >= {("note", "wall (corners 2-3), as surveyed")}


def test_ground_that_meets_the_pad_above_its_level_counts_from_the_edge_of_the_pad() -> None:
    surface = survey(lambda x, y: 0.1 * y + 0 * x)
    low = look(surface, HUT, pad=PadTop(0.0, HUT.grown(0.3)))
    far = next(r for r in low.after if r.wall == "wall (corners 3-4)")
    assert far.rise == pytest.approx(0.1 * (3.0 + 3.048))
    near = next(r for r in low.after if r.wall == "wall (corners 1-2)")
    assert near.fall == pytest.approx(0.3048)


def test_the_wing_of_the_same_building_ends_a_ray() -> None:
    ell = Outline.polygon([[0, 0], [5, 0], [5, 4], [3, 4], [3, 2], [0, 2]])
    surface = survey(lambda x, y: -0.06 * y + 0 * x)
    rays = look(surface, ell).before
    inner = [r for r in rays if r.start[0] == pytest.approx(3.0) and r.end[0] < 3.0 - 0.1]
    assert {round(r.length, 3) for r in inner} == {3.048}  # looks over the low part's open side
    short = Outline.polygon([[0, 0], [5, 0], [5, 4], [3, 4], [3, 2], [2, 2], [2, 4], [0, 4]])
    facing = {r.wall: r for r in look(surface, short).before}["wall (corners 4-5)"]
    assert facing.start[0] == pytest.approx(3.0)
    assert (facing.length, facing.needed) == (pytest.approx(1.0), pytest.approx(0.05))


def test_the_least_fall_is_found_between_regular_stations() -> None:
    """One low shot at the wall makes the least fall there; regular stations of 4 ft pass it by."""

    def dip(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return roof(0.1)(x, y) - np.where((x == 1.0) & (y == 3.0), 0.25, 0.0)

    drainage = look(survey(dip), HUT)
    far = [r for r in drainage.before if r.wall == "wall (corners 3-4)"]
    worst = min(far, key=lambda r: r.fall)
    assert worst.start == pytest.approx((1.0, 3.0))
    assert worst.fall == pytest.approx(0.3048 - 0.25)


@settings(deadline=None, max_examples=20)
@given(st.floats(-500.0, 500.0), st.floats(-500.0, 500.0), st.floats(-100.0, 100.0))
def test_a_shift_of_the_site_changes_no_fall(dx: float, dy: float, dz: float) -> None:
    def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.round(0.3 * np.sin(x) + 0.05 * y * y / 10, 3)

    places = np.arange(-6.0, 11.0)
    x, y = (a.ravel() for a in np.meshgrid(places, places))
    n, z = len(x), hill(x, y)

    def falls(shift: np.ndarray) -> list[float]:
        xyz = np.column_stack([x, y, z]) + shift
        stations = Stations(
            [f"{i}" for i in range(n)], xyz, np.full(n, np.nan), np.zeros(n, np.int64), "", "m"
        )
        hut = Outline.rectangle((float(shift[0]) + 0.37, float(shift[1]) + 0.21), (4.0, 3.0))
        walls: dict[str, float] = {}
        for ray in look(build_surface(stations), hut).before:
            walls[ray.wall] = min(ray.fall, walls.get(ray.wall, math.inf))
        return list(walls.values())

    assert falls(np.array([dx, dy, dz])) == pytest.approx(falls(np.zeros(3)), abs=1e-7)


def test_slopes_of_a_yard_of_four_terraces() -> None:
    """Strips of known slope along x: 0.5 %, 10 %, 40 %, 60 %; each strip is 4 m by 16 m, less the hut."""

    def terraces(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.interp(x, [-6, -2, 2, 6, 10], [0, 0.02, 0.42, 2.02, 4.42]) + 0 * y

    hut = Outline.rectangle((-1.0, 0.0), (2.0, 2.0))  # wholly on the 10 % strip
    marks = look(survey(terraces), hut)
    assert marks.flat is not None
    assert marks.steep is not None
    assert marks.very_steep is not None
    for zone, slope, x in ((marks.flat, 0.005, -4.0), (marks.steep, 0.4, 4.0), (marks.very_steep, 0.6, 8.0)):
        assert zone.area == pytest.approx(64.0)
        assert (zone.patches, zone.largest) == (1, pytest.approx(64.0))
        assert zone.slope == pytest.approx(slope)
        assert zone.place == pytest.approx((x, 2.0))


def test_ground_under_the_pad_is_not_flat_ground() -> None:
    surface = survey(lambda x, y: 0 * x * y)
    drainage = look(surface, HUT, pad=PadTop(0.5, HUT.grown(0.5)))
    assert drainage.flat is not None
    assert drainage.flat.area == pytest.approx(16 * 16 - 5 * 4)
    flat = next(f for f in drainage.findings if f.code == "slope-too-flat")
    assert flat.value == pytest.approx(236.0)
    assert "GSA P100 (2003)" in flat.advice


@pytest.mark.parametrize(
    ("slope", "found"),
    [
        (0.0099, ["slope-too-flat"]),
        (0.01, []),
        (1 / 3, []),
        (0.34, ["slope-steeper-than-3-to-1"]),
        (0.5, ["slope-steeper-than-3-to-1"]),
        (0.51, ["slope-steeper-than-2-to-1"]),
    ],
)
def test_limits_of_slope(slope: float, found: list[str]) -> None:
    drainage = look(survey(lambda x, y: slope * x + 0 * y), HUT)
    assert [c for c in codes(drainage) if c.startswith("slope")] == found


def test_two_flat_patches_are_one_finding_with_the_larger_place() -> None:
    def two(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.interp(x, [-6, -4, 6, 10], [0, 0, 1.0, 1.0]) + 0 * y

    drainage = look(survey(two), HUT)
    flat = drainage.flat
    assert flat is not None
    assert (flat.patches, flat.area, flat.largest) == (2, pytest.approx(96.0), pytest.approx(64.0))
    assert flat.place == pytest.approx((8.0, 2.0))
    assert "in 2 patches" in next(f.advice for f in drainage.findings if f.code == "slope-too-flat")


def test_other_rules_and_own_figures() -> None:
    surface = survey(roof(0.03))
    australian = look(surface, HUT, rule=RULES["ncc 2019"])
    assert australian.findings[0].limit == pytest.approx(0.05)
    assert "NCC 2019" in australian.findings[0].advice
    own = look(surface, HUT, rule=IRC_2015.changed(fall=0.02))
    assert codes(own) == []
    assert IRC_2015.changed() is IRC_2015
    assert "own figures" in IRC_2015.changed(reach=2.0).source


def test_a_round_building_gets_one_finding_for_all_walls() -> None:
    angle = np.linspace(0, 2 * math.pi, 24, endpoint=False)
    round_house = Outline.polygon(np.column_stack([2 + 2 * np.cos(angle), 2 + 2 * np.sin(angle)]))
    found = [
        f for f in look(survey(lambda x, y: 0 * x * y), round_house).findings if f.code.startswith("drain")
    ]
    assert len(found) == 1
    assert found[0].where.startswith("24 walls, worst at the wall (corners ")


def test_the_advice_in_feet_tells_wall_place_height_and_rule() -> None:
    surface = survey(lambda x, y: 0.1 * y + 0 * x)
    told = check_drainage(surface, HUT, show=FEET).findings[0].advice
    for fact in ("wall (corners 3-4)", "10.0 ft", "x 13.1 ft, y 9.8 ft", "12 in", "6 in", "IRC 2015"):
        assert fact in told


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 10_000))
def test_patches_agree_with_walking_from_triangle_to_triangle(seed: int) -> None:
    random = np.random.default_rng(seed)
    surface = survey(lambda x, y: random.normal(0, 0.3, len(x)) + 0 * y, low=0.0, high=12.0)
    zone = slope_zone(surface, 0.2, 0.6)
    member = {i for i, s in enumerate(surface.triangle_slopes) if 0.2 < s <= 0.6}
    patches = []
    while member:
        patch, waiting = set(), [member.pop()]
        while waiting:
            here = waiting.pop()
            patch.add(here)
            beyond = [int(k) for k in surface.neighbours[here] if k in member]
            member.difference_update(beyond)
            waiting += beyond
        patches.append((float(surface.triangle_areas[list(patch)].sum()), patch))
    kept = [(area, patch) for area, patch in patches if area >= LEAST_ZONE]
    assert zone is not None
    assert zone.patches == len(kept)
    assert zone.largest == pytest.approx(max(area for area, _ in kept))
    assert set(zone.triangles.tolist()) == set().union(*(patch for _, patch in kept))
    assert zone.area == pytest.approx(sum(area for area, _ in kept))


def test_a_look_along_the_next_wall_inside_the_pad_is_no_look_away() -> None:
    """A U round a court of 3 x 3 m: at its inner corners a look square to one wall runs along the next."""
    ring = np.array([[0, 0], [5, 0], [5, 4], [4, 4], [4, 1], [1, 1], [1, 4], [0, 4]], dtype=float)
    building = Outline.polygon(ring)
    surface = survey(lambda x, y: 0.0 * (x + y) - 0.4, step=2.0)
    pad = PadTop(0.0, building.grown(0.3))
    drainage = look(surface, building, pad=pad)
    assert [r.wall for r in drainage.after if r.verdict == "too little"] == []
    court = [r for r in drainage.after if r.wall == "wall (corners 4-5)"]
    assert court
    assert [r.fall for r in court] == pytest.approx([0.4] * len(court))
    assert all(r.start[1] > 1.3 for r in court)
    # a court that the pad covers from wall to wall is level: that is said
    narrow = PadTop(0.0, Outline.rectangle((-0.3, -0.3), (5.6, 4.6)))
    covered = look(surface, building, pad=narrow)
    assert {r.wall for r in covered.after if r.verdict == "too little"} == {
        "wall (corners 4-5)",
        "wall (corners 5-6)",
        "wall (corners 6-7)",
    }
