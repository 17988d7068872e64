"""Hostile places: refused in words, never a hang and never a crash of the process."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.ground.triangulation import lay_grid
from gradework.survey.duplicates import NARROWEST_SITE, same_places

HOSTILE = {
    "nothing": ("[]", "too-few-shots"),
    "one": ("[[1, 2, 3]]", "too-few-shots"),
    "two": ("[[1, 2, 3], [2, 2, 3]]", "too-few-shots"),
    "nan place": ("[[0, 0, 1], [1, 0, 1], [float('nan'), 1, 1], [1, 1, 1]]", "shot-not-a-number"),
    "nan height": ("[[0, 0, 1], [1, 0, 1], [0, 1, float('nan')]]", "shot-not-a-number"),
    "infinite": ("[[0, 0, 1], [1, 0, 1], [float('inf'), 1, 1], [1, 1, 1]]", "shot-not-a-number"),
    "too far": ("[[0, 0, 1], [1, 0, 1], [1e300, 1, 1], [1, 1, 1]]", "site-too-wide"),
    "largest numbers": ("[[-1.7e308, 0, 1], [1.7e308, 0, 1], [0, 1, 1]]", "site-too-wide"),
    "too high": ("[[0, 0, 1], [1, 0, 1], [0, 1, 1e300]]", "site-too-wide"),
    "far away": ("[[1e15, 0, 1], [1e15 + 4, 0, 1], [1e15, 4, 1]]", "site-too-wide"),
    "one place": ("[[5, 5, 1]] * 10", "too-few-shots"),
    "line": ("[[i, 0, i % 3] for i in range(10)]", "shots-on-a-line"),
    "line on paper": ("[[0.1 * i, 0.3 * i, i % 3] for i in range(10)]", "shots-on-a-line"),
    "line far off": ("[[0.1 * i + 1.9e6, 0.3 * i + 6e5, 1] for i in range(10)]", "shots-on-a-line"),
    "half a millimetre wide": ("[[i, 5e-4 * (i % 2), 1] for i in range(10)]", "shots-on-a-line"),
    "two in one place": ("[[0, 0, 1], [4, 0, 1], [0, 4, 1], [4, 1e-12, 2]]", "stations-too-close"),
    "two a tenth of a micrometre apart": (
        "[[0, 0, 1], [4, 0, 1], [0, 4, 1], [4, 1e-7, 2]]",
        "stations-too-close",
    ),
    "two places": ("[[0, 0, 1], [4, 0, 1], [0, 0, 1], [4, 0, 1], [4, 1e-7, 1]]", "too-few-shots"),
}

CHILD = """
import sys
import numpy as np
from gradework.errors import InputError
from gradework.ground.surface import build_surface
from gradework.survey.stations import Stations
for text in sys.argv[1:]:
    xyz = np.array(eval(text), dtype=float).reshape(-1, 3)
    n = len(xyz)
    names, lines = [str(i) for i in range(n)], np.arange(n) + 2
    stations = Stations(names, xyz, np.full(n, np.nan), lines, "yard.csv", "ft")
    try:
        build_surface(stations)
    except InputError as error:
        print(" ".join(sorted({fault.code for fault in error.faults})))
    else:
        print("built")
"""


def test_hostile_places_are_refused_in_a_child_that_may_be_killed():
    """The engine alone loops for ever on NaN, deaf to Ctrl-C: a hang here ends with the child."""
    texts = [text for text, _ in HOSTILE.values()]
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", CHILD, *texts],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert run.stderr == ""
    assert run.stdout.splitlines() == [code for _, code in HOSTILE.values()]


def test_stations_in_one_place_with_one_elevation_count_once(ground):
    corners = [[0.0, 0.0, 1.0], [4.0, 0.0, 2.0], [4.0, 4.0, 3.0], [0.0, 4.0, 2.0]]
    again = [[4.0 + 1e-7, 0.0, 2.0], [4.0, 4.0, 3.0], [4.0, 4.0 - 2e-7, 3.0]]
    surface, plain = ground([*corners, *again]), ground(corners)
    assert surface.stations.names == ["S1", "S2", "S3", "S4"]
    assert np.array_equal(surface.vertices, plain.vertices)
    assert np.array_equal(surface.triangles, plain.triangles)
    [told] = [finding for finding in surface.findings if finding.code == "double-shot"]
    assert told.where == "S2"
    assert told.advice.startswith("3 stations are in the same place as another")
    assert "S5, in the place of S2" in told.advice
    assert "double-shot" not in [finding.code for finding in plain.findings]


def test_two_elevations_of_one_place_are_named_with_both(ground):
    with pytest.raises(InputError, match=r"S2 and S4 are in the same place, at 2\.000 m and 2\.500 m"):
        ground([[0, 0, 1], [4, 0, 2], [0, 4, 1], [4 + 1e-7, 1e-7, 2.5], [4, 4, 1]])


def test_the_end_stations_of_a_line_are_named(ground):
    xyz = [[3.0, 6.0, 1], [1.0, 2.0, 1], [2.0, 4.0, 1], [5.0, 10.0, 1]]
    with pytest.raises(InputError, match=r"from S2 to S4.* shots off to one side"):
        ground(xyz)


@pytest.mark.parametrize(
    ("width", "quantum"),
    [(5.0, 1e-7), (6.5, 1e-7), (30.0, 1e-6), (400.0, 1e-5), (3000.0, 1e-4), (15_000.0, 1e-4)],
)
def test_the_grid_is_the_finest_that_keeps_the_arithmetic_exact(stations_at, width, quantum):
    places = lay_grid(stations_at([[0, 0, 1], [width, 0, 1], [0, width / 2, 1]]))
    assert places.quantum == pytest.approx(quantum)
    assert places.whole.max() == round(width / quantum)
    assert places.whole.min() == 0


def test_a_site_of_fifteen_kilometres_still_builds(ground):
    rng = np.random.default_rng(1)
    xyz = np.column_stack([rng.random((300, 2)) * 15_000, rng.random(300)])
    assert len(ground(xyz).triangles) > 500


@pytest.mark.parametrize("seed", range(40))
def test_nasty_places_build_or_are_refused(ground, seed):
    """Lines, clusters a few grid steps wide, circles, rasters at state-plane offsets: integer checks pass."""
    rng = np.random.default_rng(seed)
    parts = []
    for _ in range(rng.integers(1, 4)):
        n = int(rng.integers(3, 40))
        kind = rng.integers(5)
        if kind == 0:
            xy = np.outer(np.arange(n), rng.random(2)) + rng.normal(0, 1e-6, (n, 2)) * rng.integers(2)
        elif kind == 1:
            xy = rng.random(2) * 10 + rng.integers(0, 6, (n, 2)) * 4e-4
        elif kind == 2:
            a = np.arange(n) * 2 * np.pi / n
            xy = rng.random(2) * 5 + np.column_stack([np.cos(a), np.sin(a)]) * rng.integers(1, 9)
        elif kind == 3:
            xy = rng.integers(0, 7, (n, 2)) * 0.1
        else:
            xy = rng.random((n, 2)) * 20
        parts.append(xy)
    xy = np.unique(np.round(np.concatenate(parts), 7), axis=0) + rng.integers(3) * 1e6
    keep = np.unique(same_places(xy))
    xyz = np.column_stack([xy[keep], rng.random(len(keep))])
    angle = np.linspace(0, np.pi, 2000)
    if np.ptp((xy[keep] - xy[0]) @ [np.cos(angle), np.sin(angle)], axis=0).min() < NARROWEST_SITE:
        with pytest.raises(InputError, match=r"on one line|at least 3"):
            ground(xyz)
        return
    surface = ground(xyz)
    assert np.array_equal(surface.elevation(xyz[:, :2]), xyz[:, 2])
    assert (surface.triangle_areas > -1e-6).all()
