"""What a job allows and asks of a place: keep-outs, boundary, lot lines, turns, the text it writes."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.siting.placements import LevelRule
from gradework.earthwork.siting.search import Search
from gradework.ground.surface import Surface, build_surface
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.place import snapped
from gradework.project.place_job import moved_text
from gradework.project.siting import as_turned, better_near, job_at, search_of, written
from gradework.survey.stations import Stations

LEAST = """name = "Invented"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [8, 8]
"""


@pytest.fixture(scope="module")
def ground() -> Surface:
    xyz = np.array(
        [(2.0 * i, 2.0 * j, 40 + 0.05 * i + 0.01 * (i * j % 5)) for i in range(16) for j in range(12)]
    )
    count = len(xyz)
    names = [f"S{k}" for k in range(count)]
    return build_surface(Stations(names, xyz, np.full(count, np.nan), np.arange(count), "made up", "m"))


def search(ground: Surface, rest: str = "[slab]", kind: str = "slab") -> Search:
    return search_of(read_job((LEAST + rest).encode()), ground, kind, "gravel")


def may(found: Search, *place: float) -> bool:
    return bool(found.allowed.may(np.array([place]))[0])


def test_the_setback_of_what_is_near_is_kept(ground: Surface) -> None:
    near = '[slab]\n[[site.near]]\nname="fence"\nkind="fence"\nline=[[20, -1], [20, 30]]\n'
    usual, own = search(ground, near), search(ground, near + 'setback = "2 m"\n')
    assert may(usual, 20 - 2 - 0.61, 8, 0.0)
    assert not may(usual, 20 - 2 - 0.59, 8, 0.0)
    assert may(own, 20 - 2 - 2.01, 8, 0.0)
    assert not may(own, 20 - 2 - 1.99, 8, 0.0)
    assert own.allowed.barred_by(np.array([17.0, 8.0, 0.0])) == "fence"


@pytest.mark.parametrize(
    "thing",
    ['kind="tree"\nline=[[20, 8]]', 'kind="well"\nline=[[20, 8]]',
     'kind="septic"\noutline=[[19, 7], [21, 7], [21, 9], [19, 9]]'],
)  # fmt: skip
def test_nothing_is_put_on_what_has_no_setback(ground: Surface, thing: str) -> None:
    found = search(ground, f'[slab]\n[[site.near]]\nname="it"\n{thing}\n')
    assert not may(found, 20.0, 8.0, 0.0)
    assert found.allowed.barred_by(np.array([20.0, 8.0, 0.0])) == "it"
    assert may(found, 12.0, 8.0, 0.0)


def test_a_building_that_leans_on_a_house_stands_beside_it_and_not_in_it(ground: Surface) -> None:
    house = 'name="house"\nkind="house"\noutline=[[12, 4], [20, 4], [20, 16], [12, 16]]\n'
    found = search(ground, f"[slab]\n[[site.near]]\n{house}")
    assert may(found, 10.0, 9.5, 0.0)  # where it stands: its wall touches that of the house
    assert not may(found, 11.0, 9.5, 0.0)


def test_square_to_a_tree_is_as_it_stands(ground: Surface) -> None:
    """One place has no side."""
    place = '[slab]\n[place]\nturns="square"\n'
    near = place + 'square_to="oak"\n[[site.near]]\nname="oak"\nkind="tree"\nline=[[24, 8]]\n'
    assert search(ground, near).turns == search(ground, place).turns


def test_nothing_is_put_on_the_other_side_of_a_lot_line(ground: Surface) -> None:
    found = search(ground, '[slab]\n[[site.near]]\nname="lot"\nkind="lot line"\nline=[[16, -5], [16, 40]]\n')
    assert may(found, 10, 8, 0.0)
    assert not may(found, 24, 8, 0.0)
    assert found.allowed.barred_by(np.array([24.0, 8.0, 0.0])) == "boundary"


def test_the_boundary_with_its_setback_and_the_survey(ground: Surface) -> None:
    site = '[slab]\n[site]\nboundary = [[2, 2], [28, 2], [28, 20], [2, 20]]\nsetback = "1 m"\n'
    found = search(ground, site)
    assert may(found, 2 + 1 + 2.0, 8, 0.0)
    assert not may(found, 2 + 1 + 1.99, 8, 0.0)
    bare = search(ground)
    assert may(bare, 2.0, 8, 0.0)
    assert not may(bare, 1.99, 8, 0.0)
    assert bare.allowed.barred_by(np.array([1.0, 8.0, 0.0])) == "survey"
    pad = search(ground, "[pad]\nmargin = '500 mm'", "pad")  # the gravel needs surveyed ground, too
    assert may(pad, 2.5, 8, 0.0)
    assert not may(pad, 2.49, 8, 0.0)


def test_a_tree_is_kept_off_by_the_pad_and_a_house_by_the_walls(ground: Surface) -> None:
    near = 'outline = [[20, 4], [24, 4], [24, 12], [20, 12]]\nsetback = "1 m"\nname = "it"\nkind = '
    pad = f"[pad]\nmargin = '500 mm'\n[[site.near]]\n{near}"
    tree, house = search(ground, pad + '"tree"', "pad"), search(ground, pad + '"house"', "pad")
    assert (may(tree, 16.9, 8, 0.0), may(house, 16.9, 8, 0.0)) == (False, True)
    assert may(tree, 16.49, 8, 0.0)
    assert not may(house, 17.01, 8, 0.0)


def test_turns_square_to_a_line(ground: Surface) -> None:
    near = '[slab]\n[[site.near]]\nname="lane"\nkind="fence"\nline=[[28, 0], [30, 20]]\n'
    square = search(ground, near + '[place]\nturns = "square"\nsquare_to = "lane"\n')
    way = math.atan2(20, 2)
    assert square.turns == pytest.approx((way, way + math.pi / 2))
    assert search(ground, near + '[place]\nturns = "square"\n').turns == pytest.approx((0.0, math.pi / 2))
    assert search(ground, near + '[place]\nturns = "given"\n').turns == (0.0,)
    assert search(ground, near).turns is None


def test_the_level_that_is_asked_of_each_foundation(ground: Surface) -> None:
    assert search(ground).rule == LevelRule(highest=0.0)
    assert search(ground, '[pad]\nlevel = "balanced"', "pad").rule == LevelRule(mean=0.0)
    pad = search(
        ground, '[pad]\nstrip = "150 mm"\ngravel = "100 mm"\nmax_cut = "400 mm"\nfreeboard = "30 mm"', "pad"
    )
    assert pad.rule == pytest.approx(LevelRule(lowest=0.0, highest=-0.25, edge=0.08))
    drained = search(ground, '[pad]\ndrain = true\nstrip = "150 mm"\nmax_cut = "400 mm"', "pad")
    assert drained.rule == pytest.approx(LevelRule(lowest=0.0, highest=-0.25))
    given = search(ground, '[pad]\nlevel = 41\nstrip = "150 mm"\ngravel = "100 mm"', "pad")
    assert given.rule == pytest.approx(LevelRule(given=41.05))


def test_a_place_is_written_in_round_steps_where_that_loses_next_to_nothing(ground: Surface) -> None:
    found = search(ground)
    job = read_job((LEAST + "[slab]").encode())
    rough = found.here + np.array([3.131, -1.037, math.radians(11.7)])
    place, corner = snapped(job, found, rough)
    assert np.abs(place[:2] - rough[:2]).max() <= 0.25
    [value], [best] = found.values_of(place[None]), found.values_of(rough[None])
    assert value <= best + 4 * found.slack
    [again], [there] = written(job, place[None])
    assert again == pytest.approx(corner)
    assert there == pytest.approx(place)
    put = job_at(job, corner)
    assert put.building.corner == pytest.approx(tuple(corner[:2]))


def test_a_turn_is_told_by_the_nearer_way() -> None:
    [near] = as_turned(np.array([[1.0, 2.0, math.radians(170)]]), np.zeros(3))
    assert math.degrees(near[2]) == pytest.approx(-10)


MARKS = "[survey.marks]\na = [8, 5]\nb = [12, 8]"


def there(text: str) -> Job:
    return job_at(read_job(text.encode()), np.array([9.125, 7.0, -12.5]))


@pytest.mark.parametrize(
    "building",
    [
        "[building]   # here\nsize = [4, 3]  # along\ncorner = [8, 8] # first\nturn = 5\neave = '3 m'",
        "[building]\ncorner = [\n  8,  # x\n  8,\n]\nsize = [4, 3]",
        '[building]\nside = "left"\nsize = [4, 3]\n[building.ties]\n"a" = 5\nb = 5\n' + MARKS,
        "[building]\nsize = [4, 3]\n[building.ties]\na = 5\nb = 5\n" + MARKS,
        'building = { size = [4, 3], corner = [8, 8], roof = "rafters" }',
        "building.size = [4, 3]\nbuilding.corner = [8, 8]\nbuilding.turn = 3",
        "[ building ]\r\nsize = '4 m x 3 m'\r\nturn = 3\r\ncorner = [8, 8]",
        'building = { size = [4, 3], corner = [8, 8], door = { side = "1-2" } }',
        '[building.ties]\na = 5\nb = 5\n[building.door]\nside = "1-2"\n[building]\nsize = [4, 3]\n' + MARKS,
    ],
)
def test_the_job_that_is_written_says_all_else_as_before(building: str) -> None:
    head, tail = (
        'name = "Invented [building]"  # corner = [1, 2]\nunits = "m"\n',
        "\n[survey]\nnotes = 'a.csv'\n",
    )
    text = f"{head}{building}\n{tail}[pad]\nmargin = '1 m'\n"
    made = moved_text(text.encode(), there(text)).decode()
    old, new = tomllib.loads(text.replace("\r\n", "\n")), tomllib.loads(made)
    assert new["building"].pop("corner") == [9.125, 7]
    assert new["building"].pop("turn") == -12.5
    for key in ("corner", "turn", "ties", "side"):
        old["building"].pop(key, None)
    assert new == old
    assert all(remark in made for remark in ("# along", "# first", "# here") if remark in text)
    assert "# corner = [1, 2]" in made


def test_a_better_place_near_is_told_and_none_where_it_is_little_better(ground: Surface) -> None:
    job = read_job((LEAST + "[slab]").encode())
    xyz = ground.stations.xyz.copy()
    xyz[:, 2] = 40 + 0.1 * xyz[:, 1]
    even = build_surface(replace(ground.stations, xyz=xyz))
    assert better_near(read_job((LEAST + '[slab]\n[place]\nturns = "given"').encode()), even, "slab") is None
    xyz = ground.stations.xyz.copy()
    xyz[:, 2] = 40 + 0.15 * np.maximum(11.0 - xyz[:, 0], 0.0)  # level from x = 11 on
    level = build_surface(replace(ground.stations, xyz=xyz))
    near = better_near(job, level, "slab")
    assert near is not None
    assert near.shift[0] >= 1.2
    search = search_of(job, level, "slab", "gravel")
    there = search.here + np.array([*near.shift, math.radians(near.turn)])
    own, other = search.values_of(np.array([search.here, there]))
    assert near.less == pytest.approx(own - other)
    assert near.less >= 0.5
    apart = read_job((LEAST + "[slab]\n[site]\nboundary = [[0, 0], [10, 0], [10, 20], [0, 20]]\n").encode())
    assert better_near(apart, level, "slab") is None  # it stands where it may not: that is for place to say
