"""Arrays that lie: NaN, other shapes, doubles, names, units; each is refused in words, none gets through."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import gradework as gw

ROOT = Path(__file__).parents[2]
X, Y, Z = [0.0, 8.0, 8.0, 0.0], [0.0, 0.0, 6.0, 6.0], [10.0, 10.4, 11.0, 10.6]
NAN = float("nan")


def refused(*given: Any, **more: Any) -> set[str]:
    """The codes that arrays are refused with."""
    with pytest.raises(gw.InputError) as caught:
        gw.Stations.from_xyz(*given, **more)
    assert "  " not in str(caught.value)
    return {fault.code for fault in caught.value.faults}


@pytest.mark.parametrize(
    ("x", "y", "z"),
    [
        ([X], Y, Z),
        (X, Y, 3.0),
        (X, Y, Z[:3]),
        ("0,8,8,0", Y, Z),
        (X, [None, "a", [], {}], Z),
        (X, Y, [1j, 2, 3, 4]),
        (X, Y, np.zeros((4, 1))),
        (X, Y, [[1], [1, 2], [], [3]]),
        (object(), Y, Z),
        (None, Y, Z),
    ],
)
def test_other_shapes(x: Any, y: Any, z: Any) -> None:
    assert refused(x, y, z) == {"array-shape"}


@pytest.mark.parametrize("bad", [NAN, float("inf"), -float("inf")])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_number_that_is_none(bad: float, axis: int) -> None:
    columns = [list(X), list(Y), list(Z)]
    columns[axis][2] = bad
    with pytest.raises(gw.InputError, match=r"1 not finite, first in row 2 \(counted from 0\)"):
        gw.Stations.from_xyz(*columns)


def test_all_columns_with_nan_are_told_at_once() -> None:
    with pytest.raises(gw.InputError) as caught:
        gw.Stations.from_xyz([NAN, *X[1:]], [NAN, *Y[1:]], Z)
    assert [fault.found[0] for fault in caught.value.faults] == ["x", "y"]


def test_none_in_a_list_is_not_a_number() -> None:
    assert refused([None, 1, 2, 3], Y, Z) == {"array-not-a-number"}


@pytest.mark.parametrize("step", [0.0, 0.0002])
def test_two_rows_in_one_place_are_refused_and_named(step: float) -> None:
    with pytest.raises(
        gw.InputError, match=r"rows 1 and 4 \(counted from 0\) are in the same place"
    ) as caught:
        gw.Stations.from_xyz([*X, 8.0 + step], [*Y, 0.0], [*Z, 10.4])
    assert [fault.code for fault in caught.value.faults] == ["array-same-place"]


def test_two_rows_a_hand_apart_are_two_stations() -> None:
    assert len(gw.Stations.from_xyz([*X, 8.0 - 0.1], [*Y, 0.0], [*Z, 10.4])) == 5


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (["a", "b"], "2 names for 4 rows"),
        (["a", "b", "A ", "d"], "twice"),
        (["a", "", "c", "d"], "an empty name"),
        ("abcd", "1 names for 4 rows"),
    ],
)
def test_names_that_do_not_fit(names: Any, told: str) -> None:
    with pytest.raises(gw.InputError, match=told) as caught:
        gw.Stations.from_xyz(X, Y, Z, names)
    assert [fault.code for fault in caught.value.faults] == ["array-names"]


@pytest.mark.parametrize("unit", ["feet", "", "km", None, 3, "\x1b[2J"])
def test_a_unit_that_is_none(unit: Any) -> None:
    assert refused(X, Y, Z, unit=unit) == {"array-unit"}


def test_what_cannot_carry_a_surface() -> None:
    assert refused([], [], []) == {"too-few-shots"}
    assert refused([0, 1, 2], [0, 1, 2], [1, 2, 3]) == {"shots-on-a-line"}
    assert refused([0, 1, 9e7], [0, 1, 0], [1, 2, 3]) == {"site-too-wide"}
    assert refused([0, 1, 1e308], [0, 1, 0], [1, 2, 3]) == {"site-too-wide"}


@pytest.mark.parametrize(
    "xyz",
    [
        np.zeros((4, 2)),
        np.zeros(3),
        np.zeros((2, 3, 3)),
        [[1, 2, 3], [4, 5]],
        "xyz",
        7,
        None,
        np.zeros((0, 3)),
    ],
)
def test_rows_of_another_shape_make_no_surface(xyz: Any) -> None:
    with pytest.raises(gw.InputError):
        gw.build_surface(xyz)


@pytest.mark.parametrize(
    "corners",
    [7, "abc", None, [1, 2, 3], np.zeros((3, 3)), [[(0, 0, 0)]], [], [[]], [(0, 0), (NAN, 1), (2, 2)]],
)
def test_corners_that_are_none(corners: Any) -> None:
    with pytest.raises(gw.InputError):
        gw.Outline.polygon(corners)


@pytest.mark.parametrize(
    ("corner", "size", "turn"),
    [((0,), (1, 1), 0), ("ab", (1, 1), 0), ((0, 0), 4, 0), ((0, 0), (1, NAN), 0), ((0, 0), (1, 1), "a"),
     ((0, 0), (1, 1), NAN), ((0, 0), (-1, 1), 0), ((0, 0, 0), (1, 1), 0), (None, None, None)],
)  # fmt: skip
def test_rectangles_that_are_none(corner: Any, size: Any, turn: Any) -> None:
    with pytest.raises(gw.InputError):
        gw.Outline.rectangle(corner, size, turn)


@pytest.mark.parametrize("level", [NAN, [10.0, float("inf")], "low", [[10.0]], None])
def test_levels_that_are_none(level: Any) -> None:
    under = gw.clip(np.column_stack([X, Y, Z]), [(1, 1), (5, 1), (5, 4)])
    with pytest.raises(gw.InputError):
        gw.cut_and_fill(under, level)


@pytest.mark.parametrize("compaction", [0.0, -1.0, NAN, "much"])
def test_compaction_that_is_none(compaction: Any) -> None:
    under = gw.clip(np.column_stack([X, Y, Z]), [(1, 1), (5, 1), (5, 4)])
    with pytest.raises(gw.InputError):
        gw.balance_level(under, compaction)


@pytest.mark.parametrize("kind", [np.float32, np.int64, ">f8", object])
def test_the_kind_of_number_does_not_matter(kind: Any) -> None:
    given = [np.array(values, dtype=float).round(0).astype(kind) for values in (X, Y, Z)]
    made = gw.Stations.from_xyz(*given)
    assert made.xyz.dtype == np.float64
    assert made.xyz.tolist() == np.column_stack([X, Y, Z]).round(0).tolist()


def test_what_is_handed_over_is_copied_and_what_comes_out_cannot_be_written() -> None:
    block = np.asfortranarray(np.column_stack([X, Y, Z]))[::-1]
    made = gw.Stations.from_xyz(*block.T)
    kept = made.xyz.copy()
    block[:] = 0.0
    assert (made.xyz == kept).all()
    with pytest.raises(ValueError, match="read-only"):
        made.xyz[0, 0] = 1.0


def test_arrays_and_notes_of_the_same_shots_are_the_same_stations() -> None:
    """Every digit, and every finding but the lines that only a file has."""
    notes = gw.read_spots(ROOT / "data" / "spring-pump-house" / "shots.csv")
    made = gw.Stations.from_xyz(*notes.xyz.T, names=notes.names)
    assert made.xyz.tolist() == notes.xyz.tolist()
    assert [one.code for one in made.findings] == [one.code for one in notes.findings]
    assert gw.build_surface(made).triangles.tolist() == gw.build_surface(notes).triangles.tolist()


def test_feet_are_feet_everywhere() -> None:
    written = "station,x,y,elevation\n" + "".join(
        f"P{i},{x},{y},{z}\n" for i, (x, y, z) in enumerate(zip(X, Y, Z, strict=True))
    )
    notes = gw.read_spots(written.encode(), unit="ft")
    # notes are decimals and exact, an array holds the nearest float already: one last digit between them
    assert gw.Stations.from_xyz(X, Y, Z, unit="ft").xyz == pytest.approx(notes.xyz, rel=4e-16)
    assert gw.build_surface(np.column_stack([X, Y, Z]), unit="ft").area == pytest.approx(48 * 0.3048**2)
    assert gw.Outline.polygon([(0, 0), (10, 0), (0, 10)], unit="ft").area == pytest.approx(50 * 0.3048**2)
    assert gw.Outline.rectangle((1, 2), (3, 4), unit="ftUS").area == pytest.approx(12 * (1200 / 3937) ** 2)


def test_a_misread_shot_among_arrays_is_named() -> None:
    x, y = (grid.ravel() for grid in np.meshgrid(np.arange(6.0), np.arange(6.0)))
    z = 20.0 - 0.05 * x + 0.02 * y
    z[14] += 1.0
    made = gw.Stations.from_xyz(x, y, z)
    assert [one.where for one in made.findings if one.code.startswith("shot-")] == ["P15"]


@pytest.mark.parametrize("source", [7, None, 3.5, ["a"]])
def test_what_is_neither_path_nor_bytes(source: Any) -> None:
    for read in (gw.read_spots, gw.reduce_notes, gw.read_job):
        with pytest.raises(TypeError, match="a path or bytes is needed"):
            read(source)


def test_a_file_that_is_not_there_is_named() -> None:
    for read in (gw.read_spots, gw.reduce_notes, gw.read_job, gw.plan):
        with pytest.raises(gw.InputError, match=r"nowhere/at\.all"):
            read("nowhere/at.all")
